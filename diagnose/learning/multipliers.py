"""By how much the facts and the age of a machine multiply what is to be expected of each cause, and what it
cannot have.

Measured against the reference machine (`reference`): occurrences of what happens, odds of what has a share.
Facts that nobody has told count with their mean multiplier, those that decide whether a machine can have the
cause with the share of machines that can. The factor is that at the knowledge's own rate."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from math import gamma

import numpy as np
from numpy.typing import NDArray

from diagnose.knowledge.machine_facts import Fact
from diagnose.knowledge.records import Cause, Condition, Finding, Knowledge
from diagnose.learning import reference
from diagnose.network.arising import Arising
from diagnose.network.facts import Facts
from diagnose.network.machine import LAST_RIGHT, Machine
from diagnose.network.network import Array
from diagnose.network.priors import SHARE_BOUNDS, Exposures, exposures

BIN = 0.05
"""Width of a bin of the logarithm of a factor; machines whose factors fall into one bin are taken as one."""
LAST_BIN = 200
"""A factor of more than exp(10), or less than exp(-10), counts as that."""
KEPT = 1000  # kinds of machines remembered; a fleet has far fewer


@dataclass(frozen=True, slots=True, eq=False)
class ByFacts:
    """What facts alone do. `factor`: on what is to be expected of each cause; `per_hour`: what its frequency
    counts, per running hour (1 of a share). `lacking`: the conditions that the machine cannot have;
    `doubtful`: those of which that is not known; `silent`: findings that it cannot show, or perhaps
    cannot."""

    factor: Array
    per_hour: Array
    possible: NDArray[np.bool_]
    lacking: frozenset[str]
    doubtful: frozenset[str]
    silent: frozenset[str]


class Factors:
    """For every machine the bin of each cause's factor, in the order of the knowledge's causes. The same as
    `network.arising` has, for many machines in less time."""

    def __init__(self, knowledge: Knowledge):
        self.knowledge = knowledge
        self.causes = tuple(knowledge.causes.values())
        self.number = {cause.id: number for number, cause in enumerate(self.causes)}
        self.happens = np.array([cause.per != "share" for cause in self.causes], dtype=bool)
        self.conditions = tuple(one for one in knowledge.conditions.values() if one.only_if)
        self.findings = tuple(one for one in knowledge.findings.values() if one.only_if)
        self._rate = np.array([cause.frequency.value for cause in self.causes])
        self._exposures, self._near = exposures(knowledge), _Near(knowledge.facts)
        self._asked: dict[str, list[str]] = {}
        self._found: dict[tuple[str, tuple[tuple[str, str], ...]], _One] = {}
        self._ageing = _Ageing(self.causes)
        self._by_facts: dict[tuple[tuple[str, str], ...], ByFacts] = {}

    def bins(self, machine: Machine) -> NDArray[np.int16]:
        """The bin of each cause, shape (causes,)."""
        facts = self.by_facts(machine.facts)
        with np.errstate(divide="ignore"):
            found = np.log(facts.factor) + np.log(self._by_age(machine, facts))
        return np.clip(np.rint(found / BIN), -LAST_BIN, LAST_BIN).astype(np.int16)

    def by_facts(self, facts: Mapping[str, str]) -> ByFacts:
        """What these facts do. Raises ImpossibleFacts."""
        key = tuple(sorted(facts.items()))
        if key not in self._by_facts:
            if len(self._by_facts) >= KEPT:
                self._by_facts.clear()
            self._by_facts[key] = self._looked_up(facts)
        return self._by_facts[key]

    def _by_age(self, machine: Machine, facts: ByFacts) -> Array:
        renewed = np.full(len(self.causes), np.nan)
        for cause, run in machine.renewed.items():
            if cause in self.number:
                renewed[self.number[cause]] = run
        shares = self._ageing.shares(machine, renewed)
        return np.where(
            self.happens, self._ageing.hazards(machine, renewed, self._rate * facts.per_hour), shares
        )

    def _looked_up(self, known: Mapping[str, str]) -> ByFacts:
        _demand_possible(Facts(self.knowledge.facts, known))
        causes = [self._one(cause, known) for cause in self.causes]
        usual = np.array([one.usual for one in causes])
        return ByFacts(
            np.divide([one.mean for one in causes], usual, out=np.ones(len(usual)), where=usual > 0),
            np.array([one.per_hour for one in causes]),
            np.array([one.chance > 0 for one in causes], dtype=bool),
            frozenset(id for id, one in self._conditions(known) if one.chance == 0),
            frozenset(id for id, one in self._conditions(known) if 0 < one.chance < 1),
            frozenset(one.id for one in self.findings if self._one(one, known).chance < 1),
        )

    def _conditions(self, known: Mapping[str, str]) -> Iterator[tuple[str, _One]]:
        return ((one.id, self._one(one, known)) for one in self.conditions)

    def _one(self, record: Cause | Condition | Finding, known: Mapping[str, str]) -> _One:
        """Looked up by those facts alone that can matter to it: few values for each record, however many
        machines."""
        if record.id not in self._asked:
            self._asked[record.id] = _facts_of(record, self._exposures)
        told = self._near.around(self._asked[record.id], known)
        found = self._found.get((record.id, told))
        if found is None:
            found = self._found[record.id, told] = self._worked_out(record, dict(told))
        return found

    def _worked_out(self, record: Cause | Condition | Finding, known: Mapping[str, str]) -> _One:
        facts = Facts(self.knowledge.facts, known)
        chance = min((facts.chance(one) for one in record.only_if), default=1.0)
        if not isinstance(record, Cause):
            return _One(chance)
        arising = Arising(self.knowledge, Machine(facts=known), facts)
        mean = _mean(arising, facts, record) if chance > 0 else 0.0
        per_hour = 1.0 if record.per == "share" else arising.per_hour(record)
        usual = float(reference.to_expect(record.per != "share", np.array(reference.present(record))))
        return _One(chance, mean, usual, per_hour)


@dataclass(frozen=True, slots=True)
class _One:
    """What some facts do to one record. `chance`: the least of the chances that each of its requirements is met, of
    which 0 and 1 are certain; `mean`, `usual`: what is to be expected of a cause with these facts, averaged
    over the others, and on the reference machine; `per_hour`: what its frequency counts."""

    chance: float
    mean: float = 0.0
    usual: float = 0.0
    per_hour: float = 1.0


class _Near:
    """Which facts tell of each other: those next to each other in the forest of facts."""

    def __init__(self, facts: Mapping[str, Fact]):
        self._beside: dict[str, list[str]] = {id: [] for id in facts}
        for id, fact in facts.items():
            if fact.given in facts:
                self._beside[id].append(fact.given)
                self._beside[fact.given].append(id)

    def around(self, asked: Iterable[str], known: Mapping[str, str]) -> tuple[tuple[str, str], ...]:
        """All of what is known that tells of these facts: what is known of them, and of the unknown ones the
        nearest known facts on every way (they part the rest of the tree from these)."""
        found, waiting, seen = dict[str, str](), [one for one in asked if one], set[str]()
        while waiting:
            one = waiting.pop()
            if one in seen:
                continue
            seen.add(one)
            if one in known:
                found[one] = known[one]
            else:
                waiting += self._beside.get(one, ())
        return tuple(sorted(found.items()))


def _facts_of(record: Cause | Condition | Finding, exposures: Exposures) -> list[str]:
    """The facts that matter to it."""
    asked = [one.fact for one in record.only_if]
    if isinstance(record, Cause):
        asked += [one.fact for one in record.modifiers] + [exposures.fact(record.per)]
    return asked


def _demand_possible(facts: Facts) -> None:
    """Raises ImpossibleFacts."""
    for fact in facts.all.values():
        if facts.unknown(fact.id) and not fact.several:
            facts.table(facts.variables(fact.id)[0])
            return


def _mean(arising: Arising, facts: Facts, cause: Cause) -> float:
    """What is to be expected on average over the facts not known."""
    variables = arising.variables(cause)
    each = reference.to_expect(cause.per != "share", arising.table(cause)[..., 1])
    return float((facts.joint(variables) * each).sum() if variables else each)


class _Ageing:
    """What the hours do: `priors.expected` for all causes at once, over what it is on the reference machine."""

    def __init__(self, causes: tuple[Cause, ...]):
        self.shape = np.array([cause.age.shape.value if cause.age else 1.0 for cause in causes])
        given = [cause.age.reference_hours if cause.age else None for cause in causes]
        self.reference = np.array([np.nan if one is None else one for one in given], dtype=float)
        self.as_machine = np.array(
            [cause.age is not None and cause.age.as_machine for cause in causes], dtype=bool
        )
        self.mean = np.array([gamma(1 + 1 / shape) for shape in self.shape])

    def shares(self, machine: Machine, renewed: Array) -> Array:
        """The factor on the odds of what builds up; `renewed`: age of the part, nan where nobody says."""
        hours = np.nan if machine.hours is None else machine.hours
        age = np.where(np.isnan(renewed), hours, renewed)
        ratio = np.maximum(age / self.reference, 1e-6) ** (self.shape - 1)
        return np.where(np.isnan(ratio), 1.0, np.clip(ratio, *SHARE_BOUNDS))

    def hazards(self, machine: Machine, renewed: Array, rate: Array) -> Array:
        """The factor on occurrences of what happens at `rate` per hour."""
        window = machine.window
        steady = np.where(np.isnan(renewed), window, np.fmin(window, renewed))
        ages = (self.shape != 1) & (rate > 0)
        safe = np.where(ages, rate, 1.0)
        life = np.where(
            np.isnan(self.reference),
            1 / (safe * self.mean),
            (self.shape * self.reference ** (self.shape - 1) / safe) ** (1 / self.shape),
        )
        hours = np.full(len(rate), window)
        known = ages & ~np.isnan(renewed)
        hours[known] = (self._grown(renewed, life) - self._grown(np.maximum(renewed - window, 0.0), life))[
            known
        ] / safe[known]
        if machine.hours is not None:
            with_it = ages & ~known & self.as_machine
            hours[with_it] = (
                self._perhaps_original(machine.hours - window, machine.hours, life)[with_it] / safe[with_it]
            )
        return np.where(ages, hours, steady) / LAST_RIGHT

    def _grown(self, age: Array, life: Array) -> Array:
        grown: Array = (age / life) ** self.shape
        return grown

    def _perhaps_original(self, start: float, end: float, life: Array) -> Array:
        """As `priors.expected` of a part that is seldom replaced."""
        at_start, middle, at_end = (
            -np.expm1(-((at / life) ** self.shape)) for at in (start, (start + end) / 2, end)
        )
        later: Array = at_end - at_start + middle * (end - start) / (life * self.mean)
        return later
