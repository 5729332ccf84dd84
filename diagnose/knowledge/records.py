"""The knowledge as frozen records: what each YAML file says, checked, with the place of everything."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from diagnose.errors import Place
from diagnose.knowledge.bands import Reading
from diagnose.knowledge.machine_facts import Fact, Family, Requirement
from diagnose.knowledge.number import Number
from diagnose.knowledge.removable import Removable
from diagnose.words.expression import Expression

BINARY = ("absent", "present")
PER = ("rate", "per_start", "per_night", "share")
"""What a cause's frequency counts: occurrences per 1,000 running hours, per start, per standing night; or the
share of machines in service that have it."""


@dataclass(frozen=True, slots=True)
class Link:
    """One arrow: the parent, in a state other than its first, brings the effect about.

    `strengths[s - 1][t - 1]` is the probability that the parent in state s alone puts the effect
    into state t (s and t count from 1; state 0 is "absent" or "normal"). Binary to binary is 1 x 1.
    `source`: id of the published source that names this parent for this effect ("" where none is given). It speaks
    for the arrow alone; how strong the arrow is has the basis of its numbers.
    """

    effect: str
    strengths: tuple[tuple[Number, ...], ...]
    place: Place
    source: str = ""


@dataclass(frozen=True, slots=True)
class Modifier:
    """A machine fact with this value multiplies the hazard of the cause (the odds of one that has a share)."""

    fact: str
    value: str
    odds: Number


@dataclass(frozen=True, slots=True)
class Age:
    """Weibull ageing of this shape. `reference_hours`: the age at which the hazard is the cause's rate; None: the
    part is replaced at failure over and over, and the rate is the steady one of that (network/priors.py).
    `as_machine`: the part is seldom replaced, so that it is as old as the machine where nobody says else."""

    shape: Number
    reference_hours: float | None
    place: Place
    as_machine: bool = False


@dataclass(frozen=True, slots=True)
class Damage:
    """What the cause wrecks if the machine goes on: `cost` (parts, labour, downtime; shop's money) comes with
    probability `running` on the way to the shop and back to work, `moving` if it is only moved."""

    what: str
    cost: Number
    running: Number
    moving: Number
    place: Place


@dataclass(frozen=True, slots=True)
class Cause:
    """A part's failure: how often it arises of itself on a machine in ordinary care.

    `frequency` counts what `per` says, one of `PER`: it happens, so many times per 1,000 running hours, start or
    standing night; or it builds up unnoticed, and this share of machines in service has it. `located`: each
    cylinder or bank can have it by itself (one of `located.LOCATED`; empty: it is the machine's), or, `several`, it
    is one thing at one or more of them.
    """

    id: str
    name: str
    system: str
    part: str
    about: str
    frequency: Number
    per: str
    age: Age | None
    modifiers: tuple[Modifier, ...]
    only_if: tuple[Requirement, ...]
    leads_to: tuple[Link, ...]
    place: Place
    damage: Damage | None = None
    formerly: tuple[str, ...] = ()
    located: str = ""
    several: bool = False


@dataclass(frozen=True, slots=True)
class Condition:
    """A hidden physical state between causes and findings. `states[0]` is the sound state, the only one where
    the machine does not meet `only_if`. `located`: as of a cause."""

    id: str
    name: str
    system: str
    about: str
    states: tuple[str, ...]
    leak: tuple[Number, ...]
    leads_to: tuple[Link, ...]
    place: Place
    only_if: tuple[Requirement, ...] = ()
    located: str = ""


@dataclass(frozen=True, slots=True)
class Finding:
    """What can be observed. The first state is normal/absent; `leak[t-1]` = P(state t with no parent present), of
    which the share `misleads` is the observation itself misleading, and the rest something that is not listed.

    `other` is given for complaints only: the prior of a cause that the knowledge does not list. `without`: what the
    machine cannot do while it is found not normal (`dismantling.ABILITIES`); `wants`: what it must be able to do
    for this to show, so that, where it is found, the machine can. `clears`: causes, conditions and findings that
    were sound where this shows: it cannot show while one of them is not. `only_if`: on other machines it never
    shows. `kind_of`: the general findings that this says more closely (black smoke: smoke). `general`: a
    complaint that none says more generally. `formerly`: ids that it had before, as of causes, checks and repairs.
    `located`: it shows at one cylinder or bank, which can be told with it. `circuit_codes`: so many parts with
    circuit codes show it. `after_hours`: of work or standing until it can be seen again after a repair.
    `past`: told of the time before the machine came in, so that no repair takes it away.

    For the understanding of a text: `denied_with` what, denied, denies it as well; `sound_with` what, sound, does;
    `only_when` and `outright` the words in which it is told how the trouble comes.
    """

    id: str
    name: str
    system: str
    kind: str
    states: tuple[str, ...]
    leak: tuple[Number, ...]
    other: Number | None
    aliases: tuple[str, ...]
    observe: str
    reading: Reading | None
    codes: tuple[str, ...]
    place: Place
    without: tuple[str, ...] = ()
    clears: tuple[str, ...] = ()
    only_if: tuple[Requirement, ...] = ()
    misleads: float = 0.5
    kind_of: tuple[str, ...] = ()
    general: bool = False
    formerly: tuple[str, ...] = ()
    wants: tuple[str, ...] = ()
    located: str = ""
    denied_with: tuple[str, ...] = ()
    sound_with: tuple[str, ...] = ()
    only_when: tuple[str, ...] = ()
    outright: tuple[str, ...] = ()
    circuit_codes: float | None = None
    after_hours: float = 0.0
    past: bool = False

    @property
    def in_passing(self) -> bool:
        """Whether people tell it or anyone sees it in passing, with nothing measured or opened."""
        return self.kind in ("question", "symptom")

    @property
    def normal(self) -> str:
        """The state in which nothing is wrong."""
        return self.states[0]

    def in_words(self, state: str) -> str:
        """The finding in a state: `White smoke`, `White smoke: absent`, `Oil pressure is low: none`."""
        return self.name if self.states[1:] == ("present",) == (state,) else f"{self.name}: {state}"


HARMS = ("deadly", "maims", "wrecks", "hurts")
"""How bad a hazard is, the worst first; `wrecks`: the engine."""


@dataclass(frozen=True, slots=True)
class Hazard:
    """What can hurt a person or wreck an engine, with the caution to show. `words`: a check or repair
    whose text has one of them must name this hazard. `stop`: rule out before anything else.

    `suspect`: causes, conditions or findings that make it likely; while the last, worst state of one of them is
    more likely than `above`, the checks and repairs that name this hazard or one of `blocks`, or want one of
    `forbids` (`dismantling.ABILITIES`), are held back, but for those in `cleared_by`, which rule it out.
    `harm`: one of HARMS; `short`: the caution in one line; `wants`: what the machine must be able to do for it to
    hurt (no exhaust gas comes from an engine that does not run)."""

    id: str
    name: str
    caution: str
    basis: str
    words: tuple[str, ...]
    stop: bool
    place: Place
    suspect: tuple[str, ...] = ()
    blocks: tuple[str, ...] = ()
    cleared_by: tuple[str, ...] = ()
    forbids: tuple[str, ...] = ()
    above: float = 0.1
    harm: str = "hurts"
    short: str = ""
    wants: tuple[str, ...] = ()

    @property
    def in_short(self) -> str:
        """The caution in one line."""
        return self.short or self.name


@dataclass(frozen=True, slots=True)
class Access:
    """A state of dismantling; `needs` are the states to reach first, `without` is what the machine cannot do or
    does not hold while it is open (`dismantling.ABILITIES`)."""

    id: str
    name: str
    needs: tuple[str, ...]
    minutes: float
    restore_minutes: float
    hazards: tuple[str, ...]
    place: Place
    without: tuple[str, ...] = ()

    @property
    def both_ways(self) -> float:
        """Minutes to reach and to restore it."""
        return self.minutes + self.restore_minutes


@dataclass(frozen=True, slots=True)
class Check:
    """A procedure that reveals findings. `wants`: what the machine must be able to do, or hold, for it
    (`dismantling.ABILITIES`). `wait`: working hours that the machine stands until the result is there."""

    id: str
    name: str
    system: str
    minutes: Number
    access: tuple[str, ...]
    tools: tuple[str, ...]
    hazards: tuple[str, ...]
    reveals: tuple[str, ...]
    steps: tuple[str, ...]
    only_if: tuple[Requirement, ...]
    place: Place
    wants: tuple[str, ...] = ()
    formerly: tuple[str, ...] = ()
    wait: float = 0.0


@dataclass(frozen=True, slots=True)
class Part:
    """A part or consumable of a repair. `single_use`: never put back."""

    name: str
    quantity: float
    price: float
    single_use: bool


@dataclass(frozen=True, slots=True)
class Cure:
    """The repair removes the cause with this probability (its effectiveness)."""

    cause: str
    effectiveness: Number
    place: Place


@dataclass(frozen=True, slots=True)
class Life:
    """How long the renewed part lasts: Weibull with this characteristic life in machine hours and shape."""

    hours: Number
    shape: float
    place: Place


@dataclass(frozen=True, slots=True)
class Repair:
    """What is done about causes. `together`: repairs worth doing while this one is open.
    `infant`: probability that the renewed part fails at once. `life`: how long the renewed part lasts.
    `proven_after`: for each step of `verify` the hours of work or standing before it can be done."""

    id: str
    name: str
    system: str
    minutes: Number
    access: tuple[str, ...]
    hazards: tuple[str, ...]
    parts: tuple[Part, ...]
    cures: tuple[Cure, ...]
    infant: Number | None
    together: tuple[str, ...]
    verify: tuple[str, ...]
    only_if: tuple[Requirement, ...]
    place: Place
    life: Life | None = None
    formerly: tuple[str, ...] = ()
    proven_after: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Source:
    """A published source: the basis of numbers, limits and cautions, or what names a link."""

    id: str
    title: str
    confidence: str
    place: Place


@dataclass(frozen=True, slots=True)
class System:
    """One system of the engine: the heading of a knowledge file."""

    id: str
    name: str
    about: str
    place: Place


@dataclass(frozen=True, slots=True)
class Knowledge:
    """Everything the program knows, by id, in file order. `version` is a hash of the files' content."""

    version: str
    systems: Mapping[str, System]
    causes: Mapping[str, Cause]
    conditions: Mapping[str, Condition]
    findings: Mapping[str, Finding]
    checks: Mapping[str, Check]
    repairs: Mapping[str, Repair]
    access: Mapping[str, Access]
    hazards: Mapping[str, Hazard]
    facts: Mapping[str, Fact]
    families: Mapping[str, Family]
    sources: Mapping[str, Source]
    removable: Mapping[str, Removable] = field(default_factory=dict)
    slang: Mapping[str, Expression] = field(default_factory=dict)

    @property
    def parents(self) -> tuple[Cause | Condition, ...]:
        """Everything that links start from."""
        return *self.causes.values(), *self.conditions.values()
