"""A case as a report tells it: frozen, in words and numbers, before anyone is spoken to. Sums are in `currency`."""

from __future__ import annotations

from dataclasses import dataclass

from diagnose.cases.events import Confirmed
from diagnose.report.document.work_records import (
    Caution,
    Money,
    NextCheck,
    NextMove,
    RunOn,
    Spent,
    Tried,
    Work,
)

LIKELY = 0.66
"""Probability from which on a cause may be called likely (the scale of `wording.likelihood`)."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """The machine: facts by their names, and hours run since parts were renewed, by the names of causes."""

    number: str
    family: str
    hours: float | None
    facts: tuple[tuple[str, str], ...]
    renewed: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True)
class CodeSeen:
    """A fault code; `findings`: what it stands for here, nothing where it could not be used."""

    code: str
    findings: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CauseStanding:
    """A cause as it stands. `rank` counts from 1; `wrecked_by`: the name of what most likely brought it about."""

    id: str
    name: str
    about: str
    probability: float
    rank: int
    wrecked_by: str


@dataclass(frozen=True, slots=True)
class WeighedFinding:
    """Something found, and its weight for one cause in decibans; `plain`: for who does not know the trade."""

    words: str
    plain: str
    decibans: float


@dataclass(frozen=True, slots=True)
class Argument:
    """A cause with all that was found, by its weight given the rest, the heaviest first. `raised`: how much
    likelier all of it together has made the cause, in decibans. `step`: as it stood before the repair of that
    step; 0: as it stands now."""

    cause: CauseStanding
    step: int
    raised: float
    reasons: tuple[WeighedFinding, ...]


@dataclass(frozen=True, slots=True)
class ProbabilityChange:
    """How one step changed the probability of a cause; `decibans`: the factor on its odds."""

    id: str
    name: str
    before: float
    after: float
    decibans: float


@dataclass(frozen=True, slots=True)
class CaseStep:
    """One entry of the case. `number` counts from 1, `entries` are the numbers of its events in the record.

    `plain`: the same for who does not know the trade. `typed`: the words in which it was noted. `moves`: the causes
    that it moved most. `impossible`: names of findings that cannot all be true from here on. `by`: who noted it.
    """

    number: int
    entries: tuple[int, ...]
    time: str
    kind: str
    words: str
    plain: str
    typed: str
    moves: tuple[ProbabilityChange, ...]
    impossible: tuple[str, ...]
    by: str = ""


@dataclass(frozen=True, slots=True)
class Trace:
    """One cause's probability at the start and after each step of `steps`. `repaired`: the last step that dealt
    with it, 0 for none."""

    id: str
    name: str
    values: tuple[float, ...]
    repaired: int = 0


@dataclass(frozen=True, slots=True)
class Story:
    """The steps in order; `moments`: the numbers of those that change what is known, 0 for the start."""

    steps: tuple[CaseStep, ...]
    moments: tuple[int, ...]
    traces: tuple[Trace, ...]


@dataclass(frozen=True, slots=True)
class Excluded:
    """A cause that was thought of and is hardly left: its highest probability, the present one, and what spoke
    against it when it was found. `repaired`: the step that dealt with it, 0 for none."""

    id: str
    name: str
    highest: float
    now: float
    because: tuple[WeighedFinding, ...]
    repaired: int


@dataclass(frozen=True, slots=True)
class Compared:
    """Something looked at before a repair and after it, in words. `tells`: whether it changed."""

    name: str
    before: str
    after: str
    tells: bool


@dataclass(frozen=True, slots=True)
class Proof:
    """What stands for the repair: what is known of the complaint since, and which complaints that is said of; what
    was looked at before and after; what was not normal and was not looked at again."""

    tried: Tried
    complaints: tuple[str, ...]
    compared: tuple[Compared, ...]
    not_again: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CauseAtClosing:
    """A cause as named at the closing, how it was confirmed, and the probability that the record gave it before it
    was dealt with (None where it cannot be on this machine or is no longer known)."""

    id: str
    name: str
    about: str
    confirmed: Confirmed
    probability: float | None


@dataclass(frozen=True, slots=True)
class Closing:
    """How a visit ended."""

    time: str
    found: tuple[CauseAtClosing, ...]
    proven: bool
    remark: str


@dataclass(frozen=True, slots=True)
class Visit:
    """One stay in the shop: why the machine came (again), `comeback` where it came back, and how it was closed."""

    time: str
    why: str
    comeback: bool
    closing: Closing | None


@dataclass(frozen=True, slots=True)
class Doubt:
    """Something that is not settled, for the technician and in plain words (empty: of no use to a customer)."""

    full: str
    plain: str


@dataclass(frozen=True, slots=True)
class CaseReport:
    """Everything that a report tells of a case. `void`: it was opened by mistake. `causes`: the leading ones;
    `combinations`: sets of faults together; `impossible`: findings that cannot all be true, then nothing is ranked.
    """

    case: int
    made: str
    knowledge: str
    void: bool
    machine: Sheet
    complaint: str
    visits: tuple[Visit, ...]
    codes: tuple[CodeSeen, ...]
    story: Story
    causes: tuple[CauseStanding, ...]
    other_cause: float
    combinations: tuple[tuple[tuple[str, ...], float], ...]
    arguments: tuple[Argument, ...]
    excluded: tuple[Excluded, ...]
    move: NextMove | None
    stops: tuple[Caution, ...]
    run_on: tuple[RunOn, ...]
    works: tuple[Work, ...]
    proposal: Work | None
    checks: tuple[NextCheck, ...]
    proof: Proof
    currency: str
    spent: tuple[Spent, ...]
    doubts: tuple[Doubt, ...]
    impossible: tuple[str, ...]
    withdrawn: tuple[str, ...]

    @property
    def closing(self) -> Closing | None:
        """How the last visit ended; None while the case is open."""
        return self.visits[-1].closing if self.visits else None

    @property
    def likely(self) -> tuple[CauseStanding, ...]:
        """The causes told as what is wrong: all that are likely, at least the first."""
        return tuple(one for one in self.causes if one.rank == 1 or one.probability >= LIKELY)

    @property
    def total(self) -> Money:
        """What all that was recorded cost together."""
        return sum((line.money for line in self.spent if line.recorded), Money())

    @property
    def came_back(self) -> bool:
        """Whether the machine came back after a visit."""
        return any(visit.comeback for visit in self.visits)
