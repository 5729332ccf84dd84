"""A case as it stands: all that can be said of it and of what can be done, worked out once, when asked for.

Worth is the planner's: expected money from here to a proven repair when this is done first and repairs alone follow
(planning/planner.py). Which action is the next move is chosen in move.py.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from diagnose.cases.case import Case
from diagnose.diagnosis import Diagnosis, RankedCause, diagnose
from diagnose.knowledge.records import Hazard, Knowledge, Repair
from diagnose.moves.stops import Stop, stops
from diagnose.network.predict import rough_marginals
from diagnose.planning.checks import Order, in_which_order
from diagnose.planning.decide import TO_A_SPECIALIST
from diagnose.planning.keep_running import KeepRunning, keep_running, settles, tells_of
from diagnose.planning.options import (
    CheckOption,
    access_path,
    all_hazards,
    check_options,
    held_back,
    open_states,
    suspected,
)
from diagnose.planning.planner import Glance, Planner
from diagnose.planning.problem import together
from diagnose.planning.repairs import RepairChoice, repair_choices
from diagnose.planning.shop import Shop
from diagnose.planning.since import MATTERS
from diagnose.planning.situation import Situation, situation

NOTHING = 1e-6  # of a share or a sum: below it is rounding
HARDLY, HOURS = 0.1, 1.5
"""A check that saves less than this share of what is expected to be spent, and less than so many hours in the shop,
is no reason to wait once the leading cause is sure: the likely fault sets leave about so much out (judgement)."""
EVERY = 10_000  # choices; all that were weighed
LIKELY, MOST_CODES = 0.05, 12
"""Codes that were this likely count as not stored where they were not read; so many at most (judgement)."""
CHECK, REPAIR, HAND_OVER = "check", "repair", "hand over"
SURE = 0.9
"""Probability of a cause from which it is treated as there (judgement)."""
LITTLE = 0.05
"""A look comes before a repair of what is not sure, where it takes at most this share of its money (judgement)."""
MOMENT = 10.0
"""Or so many minutes (judgement)."""


@dataclass(frozen=True, slots=True)
class Action:
    """One move. `ids`: the check, or the repairs done together; none for handing over. `expected`: money from here
    to the end if it is done first."""

    kind: str
    ids: tuple[str, ...]
    name: str
    expected: float


@dataclass(frozen=True, slots=True)
class Price:
    """What a move takes: minutes with dismantling, and money with parts."""

    minutes: float
    money: float


class Standing:
    """A case as it stands, with all that can be said of the next move; worked out once, when asked for."""

    def __init__(self, knowledge: Knowledge, case: Case, shop: Shop, diagnosis: Diagnosis | None = None):
        self.knowledge, self.case, self.shop = knowledge, case, shop
        self._diagnosis = diagnosis

    @cached_property
    def diagnosis(self) -> Diagnosis:
        """The exact posterior. Raises ImpossibleEvidence."""
        return self._diagnosis or diagnose(self.knowledge, self.case)

    @cached_property
    def situation(self) -> Situation:
        """The planning problem."""
        return situation(self.diagnosis, self.shop, self.running)

    @cached_property
    def order(self) -> Order:
        """What each check saves, and in which order those that save are best done."""
        return in_which_order(self.diagnosis, self.situation)

    @property
    def leading(self) -> RankedCause | None:
        """The likeliest cause of those that can be behind what was found."""
        first = next(iter(self.diagnosis.causes), None)
        return first if first and first.relevant else None

    @cached_property
    def checks(self) -> tuple[CheckOption, ...]:
        """Everything that can be looked at, asked or measured, those held back too."""
        return check_options(self.diagnosis)

    @cached_property
    def hazards(self) -> tuple[Hazard, ...]:
        """The stop hazards not ruled out."""
        return suspected(self.diagnosis)

    @cached_property
    def running(self) -> tuple[KeepRunning, ...]:
        """Whether the machine may run on, cause by cause."""
        return keep_running(self.diagnosis, self.shop)

    @cached_property
    def stops(self) -> tuple[Stop, ...]:
        """What must not be done with it as it stands, the worst first."""
        return stops(self.diagnosis, self.running)

    @cached_property
    def choices(self) -> tuple[RepairChoice, ...]:
        """The sets of repairs that were weighed, the cheapest expected first."""
        return repair_choices(self.diagnosis, self.situation, EVERY)

    @property
    def best_repair(self) -> RepairChoice | None:
        """The cheapest of those that nothing holds back."""
        return next((one for one in self.choices if one.held_back is None), None)

    def curing(self, cause: str) -> RepairChoice | None:
        """The cheapest set of repairs that cures a cause."""
        return next(
            (o for o in self.choices if any(c.cause == cause for r in o.repairs for c in r.cures)), None
        )

    def expected(self, findings: Sequence[str]) -> tuple[str, ...]:
        """Of codes those likely to be stored, the likeliest first: that they were not read says something."""
        known = self.knowledge.findings
        codes = [id for id in findings if id in known and known[id].kind == "code"]
        chances = rough_marginals(self.diagnosis.engine, [self.diagnosis.built.variable(id) for id in codes])
        stored = {id: 1 - float(chances[self.diagnosis.built.variable(id)][0]) for id in codes}
        likely = sorted((id for id in codes if stored[id] >= LIKELY), key=lambda id: -stored[id])
        return tuple(likely[:MOST_CODES])

    @property
    def slack(self) -> float:
        """What a check must save to be a reason to wait, once the leading cause is sure."""
        return min(HARDLY * self.repairs_alone, self.shop.time(60 * HOURS))

    @property
    def none_worth_its_price(self) -> bool:
        """Whether a repair is the way on and each check that saves something saves less than it costs, and less
        than a twentieth of what is expected to be spent: so little is within what the likely fault sets leave out
        (judgement)."""
        if self.hands_over or self.order.question:
            return False
        little = MATTERS * self.repairs_alone
        steps = [self.order.saved[n] for n in (*self.order.ahead, *self.order.saving)]
        return all(one.money < min(one.step.cost, little) for one in steps)

    @property
    def best_saving(self) -> float:
        """The most that a check saves."""
        asked = [self.order.question.value] if self.order.question else []
        return max([0.0, *asked, *(self.order.saved[n].money for n in self.order.saving)])

    @cached_property
    def hands_over(self) -> bool:
        """Whether handing over is expected to cost less than any repair."""
        start = self._planner.start(self.situation.open_now)
        return self._planner.repair_only(start).kind == "hand over"

    @cached_property
    def _planner(self) -> Planner:
        return Planner(self.situation.problem)

    @cached_property
    def _glances(self) -> Sequence[Glance]:
        return self._planner.glances(self._planner.start(self.situation.open_now))

    @cached_property
    def repairs_alone(self) -> float:
        """Expected money with repairs alone from here."""
        return float(self._planner.values([self._planner.start(self.situation.open_now)])[0])

    def proof_first(self, choice: RepairChoice) -> int | None:
        """The number of the check that shows whether the cause is there before its repair is done, where that is
        little beside the repair, and nothing has shown it yet; none where the cause is sure. Nobody renews bearings
        without a look into the filter (common practice)."""
        cured = {cure.cause for repair in choice.repairs for cure in repair.cures}
        cause = next((one for one in self.diagnosis.causes if one.relevant and one.id in cured), None)
        if cause is None or cause.probability >= SURE:
            return None
        telling = tells_of(self.knowledge, cause.id)
        if not self.diagnosis.known.isdisjoint(telling):
            return None
        most, checks = max(LITTLE * choice.cash, self.shop.time(MOMENT)), self.situation.checks
        prices = [self.check_price(one).money for one in checks]
        cheap = sorted((n for n in range(len(checks)) if prices[n] <= most), key=lambda n: (prices[n], n))
        return next((n for n in cheap if settles(telling, checks[n])), None)

    def check_option(self, id: str) -> CheckOption | None:
        """The check of this id, if it is still open."""
        return next((one for one in self.checks if one.id == id), None)

    def held(self, hazards: Sequence[str], id: str) -> Hazard | None:
        """The hazard to rule out before this, if any."""
        return held_back(hazards, id, self.hazards)

    def held_check(self, option: CheckOption) -> Hazard | None:
        """The hazard to rule out before this check, if any."""
        return held_back(option.hazards, option.id, self.hazards, option.wants)

    def held_repair(self, repairs: Sequence[Repair]) -> Hazard | None:
        """The hazard that forbids these repairs for now, if any."""
        found = (self.held(all_hazards(self.knowledge, r.hazards, r.access), r.id) for r in repairs)
        return next((hazard for hazard in found if hazard), None)

    def check(self, option: CheckOption) -> Action:
        """A check as a move. One that tells nothing costs its price on top."""
        expected = self._glanced("test", option.id)
        price = self.repairs_alone + self.check_price(option).money if expected is None else expected
        return Action(CHECK, (option.id,), option.name, price)

    def repair(self, repairs: Sequence[Repair]) -> Action:
        """Repairs done together as a move."""
        ids = tuple(sorted(r.id for r in repairs))
        found = [
            n for n, done in enumerate(self.situation.repairs) if tuple(sorted(r.id for r in done)) == ids
        ]
        expected = self._fixed(found[0]) if found else self._unusual(repairs)
        return Action(REPAIR, ids, " + ".join(r.name for r in repairs), expected)

    def hand_over(self) -> Action:
        """Handing the machine to somebody who surely finds it."""
        expected = self._planner.hand_over(self._planner.start(self.situation.open_now))
        return Action(HAND_OVER, (), TO_A_SPECIALIST, expected)

    def check_price(self, option: CheckOption) -> Price:
        """Work and dismantling as things stand; the money of handing over is not in here."""
        minutes = option.minutes + self._reach(option.access)
        return Price(minutes, self.shop.time(minutes) + self.shop.waiting(option.wait))

    def repair_price(self, repairs: Sequence[Repair]) -> Price:
        """Work, dismantling paid once, and parts."""
        minutes = sum(r.minutes.value for r in repairs) + self._reach([a for r in repairs for a in r.access])
        return Price(minutes, self.shop.time(minutes) + sum(self.shop.parts(r.parts) for r in repairs))

    @cached_property
    def actions(self) -> tuple[Action, ...]:
        """Every sensible action, the cheapest expected first."""
        found = [self._action(glance) for glance in self._glances]
        return tuple(sorted([*found, self.hand_over()], key=lambda one: one.expected))

    def _action(self, glance: Glance) -> Action:
        if glance.kind == "test":
            check = self.situation.checks[glance.number]
            return Action(CHECK, (check.id,), check.name, glance.estimate)
        return replace(self.repair(self.situation.repairs[glance.number]), expected=glance.estimate)

    def _glanced(self, kind: str, id: str) -> float | None:
        numbers = {n for n, check in enumerate(self.situation.checks) if check.id == id}
        found = (g.estimate for g in self._glances if g.kind == kind and g.number in numbers)
        return next(found, None)

    def _fixed(self, number: int) -> float:
        found = (g.estimate for g in self._glances if g.kind == "fix" and g.number == number)
        return next(found, self._in_vain(self.situation.repairs[number]))

    def _in_vain(self, repairs: Sequence[Repair]) -> float:
        return self.repairs_alone + self.repair_price(repairs).money + self.shop.comeback

    def _unusual(self, repairs: Sequence[Repair]) -> float:
        """A set of repairs that the planner did not think of: those that can cure something, done as one; what the
        others cost comes on top."""
        alone = {done[0].id: n for n, done in enumerate(self.situation.repairs) if len(done) == 1}
        useful = [alone[r.id] for r in repairs if r.id in alone]
        if not useful:
            return self._in_vain(repairs)
        fix = together(self.situation.problem, useful)
        planner = Planner(replace(self.situation.problem, fixes=(*self.situation.problem.fixes, fix)))
        start = planner.start(self.situation.open_now)
        last = len(planner.problem.fixes) - 1
        found = next(
            (g.estimate for g in planner.glances(start) if (g.kind, g.number) == ("fix", last)), None
        )
        spare = [r for r in repairs if r.id not in alone]
        extra = self.repair_price(spare).money if spare else 0.0
        return self._in_vain(repairs) if found is None else found + extra

    def _reach(self, access: Sequence[str]) -> float:
        opened = open_states(self.knowledge, self.case.access_open)
        return sum(a.minutes + a.restore_minutes for a in access_path(self.knowledge, access, opened))


def cheapest_cure(knowledge: Knowledge, cause: str, shop: Shop) -> float:
    """What the cheapest repair of a cause costs with its own dismantling; 0 where none is known."""
    fresh = Standing(knowledge, Case(0), shop)
    cures = [r for r in knowledge.repairs.values() if any(c.cause == cause for c in r.cures)]
    return min((fresh.repair_price([r]).money for r in cures), default=0.0)
