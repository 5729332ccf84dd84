"""What can be done next in an exercise, what each move is worth, and which one is best.

Worth is the planner's: expected money from here to a proven repair when this is done first and repairs alone follow
(planning/planner.py). Regret of a move = its expected money less that of the best one. A check that rules out a
suspected stop hazard is always right, whatever it costs: safety before money.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from diagnose.cases.case import Case
from diagnose.diagnosis import Diagnosis, diagnose
from diagnose.knowledge.records import Hazard, Knowledge, Repair
from diagnose.planning.keep_running import RUN, KeepRunning, keep_running
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
from diagnose.planning.shop import Shop
from diagnose.planning.situation import Situation, situation

NOTHING = 1e-6
HARDLY, SURE = 0.05, 0.9
"""A check that saves less than this share of what a repair is expected to cost is no reason to wait, once the
leading cause has at least this probability (judgement)."""
CHECK, REPAIR, HAND_OVER = "check", "repair", "hand over"


@dataclass(frozen=True, slots=True)
class Move:
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

    def __init__(self, knowledge: Knowledge, case: Case, shop: Shop):
        self.knowledge, self.case, self.shop = knowledge, case, shop

    @cached_property
    def diagnosis(self) -> Diagnosis:
        """The exact posterior."""
        return diagnose(self.knowledge, self.case)

    @cached_property
    def now(self) -> Situation:
        """The planning problem."""
        return situation(self.diagnosis, self.shop)

    @cached_property
    def checks(self) -> tuple[CheckOption, ...]:
        """Everything that can be looked at, asked or measured, those held back too."""
        done = self.case.epochs[-1].checks
        return tuple(one for one in check_options(self.diagnosis) if one.id not in done)

    @cached_property
    def hazards(self) -> tuple[Hazard, ...]:
        """The stop hazards not ruled out."""
        return suspected(self.diagnosis)

    @cached_property
    def running(self) -> tuple[KeepRunning, ...]:
        """The causes that forbid to run the machine on."""
        return tuple(one for one in keep_running(self.diagnosis, self.shop) if one.advice != RUN)

    @cached_property
    def _planner(self) -> Planner:
        return Planner(self.now.problem)

    @cached_property
    def _glances(self) -> Sequence[Glance]:
        done = self.case.epochs[-1].checks  # a code read and not stored leaves its question open
        found = self._planner.glances(self._planner.start(self.now.open_now))
        return [g for g in found if g.kind != "test" or self.now.checks[g.number].id not in done]

    @cached_property
    def repairs_alone(self) -> float:
        """Expected money with repairs alone from here."""
        return float(self._planner.values([self._planner.start(self.now.open_now)])[0])

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

    def check(self, option: CheckOption) -> Move:
        """A check as a move. One that tells nothing costs its price on top."""
        expected = self._glanced("test", option.id)
        price = self.repairs_alone + self.check_price(option).money if expected is None else expected
        return Move(CHECK, (option.id,), option.name, price)

    def repair(self, repairs: Sequence[Repair]) -> Move:
        """Repairs done together as a move."""
        ids = tuple(sorted(r.id for r in repairs))
        found = [n for n, done in enumerate(self.now.repairs) if tuple(sorted(r.id for r in done)) == ids]
        expected = self._fixed(found[0]) if found else self._unusual(repairs)
        return Move(REPAIR, ids, " + ".join(r.name for r in repairs), expected)

    def hand_over(self) -> Move:
        """Handing the machine to somebody who surely finds it."""
        expected = self._planner.hand_over(self._planner.start(self.now.open_now))
        return Move(HAND_OVER, (), "Hand over to a specialist", expected)

    def check_price(self, option: CheckOption) -> Price:
        """Work and dismantling as things stand; the money of handing over is not in here."""
        minutes = option.minutes + self._reach(option.access)
        return Price(minutes, self.shop.time(minutes))

    def repair_price(self, repairs: Sequence[Repair]) -> Price:
        """Work, dismantling paid once, and parts."""
        minutes = sum(r.minutes.value for r in repairs) + self._reach([a for r in repairs for a in r.access])
        return Price(minutes, self.shop.time(minutes) + sum(self.shop.parts(r.parts) for r in repairs))

    @cached_property
    def moves(self) -> tuple[Move, ...]:
        """Every sensible move, the cheapest expected first."""
        found = [self._move(glance) for glance in self._glances]
        return tuple(sorted([*found, self.hand_over()], key=lambda move: move.expected))

    @cached_property
    def best(self) -> Move:
        """The move that `diagnose next` and `diagnose repair` lead to: what rules out a suspected stop hazard;
        where one cause is as good as sure, a repair hardly dearer than a check; else the cheapest expected."""
        return self._clearing or self._due or self.moves[0]

    def regret(self, move: Move) -> float:
        """Money that the move is expected to cost beyond the best one; 0 for the best one."""
        same = move.kind == self.best.kind and move.ids == self.best.ids
        more = move.expected - self.moves[0].expected
        return 0.0 if same or more < NOTHING else more

    @property
    def _due(self) -> Move | None:
        """The best repair, where waiting for another check is hardly worth it."""
        leading = next((cause for cause in self.diagnosis.causes if cause.relevant), None)
        repair = next((move for move in self.moves if move.kind == REPAIR), None)
        if leading is None or repair is None or leading.probability < SURE:
            return None
        return repair if repair.expected * (1 - HARDLY) <= self.moves[0].expected else None

    @cached_property
    def _clearing(self) -> Move | None:
        ids = [id for hazard in self.hazards for id in hazard.cleared_by]
        options = [one for one in map(self.check_option, ids) if one is not None]
        moves = sorted(map(self.check, options), key=lambda move: move.expected)
        return moves[0] if moves else None

    def _move(self, glance: Glance) -> Move:
        if glance.kind == "test":
            check = self.now.checks[glance.number]
            return Move(CHECK, (check.id,), check.name, glance.estimate)
        return replace(self.repair(self.now.repairs[glance.number]), expected=glance.estimate)

    def _glanced(self, kind: str, id: str) -> float | None:
        numbers = {n for n, check in enumerate(self.now.checks) if check.id == id}
        found = (g.estimate for g in self._glances if g.kind == kind and g.number in numbers)
        return next(found, None)

    def _fixed(self, number: int) -> float:
        found = (g.estimate for g in self._glances if g.kind == "fix" and g.number == number)
        return next(found, self._in_vain(self.now.repairs[number]))

    def _in_vain(self, repairs: Sequence[Repair]) -> float:
        return self.repairs_alone + self.repair_price(repairs).money + self.shop.comeback

    def _unusual(self, repairs: Sequence[Repair]) -> float:
        """A set of repairs that the planner did not think of: those that can cure something, done as one; what the
        others cost comes on top."""
        alone = {done[0].id: n for n, done in enumerate(self.now.repairs) if len(done) == 1}
        useful = [alone[r.id] for r in repairs if r.id in alone]
        if not useful:
            return self._in_vain(repairs)
        fix = together(self.now.problem, useful)
        planner = Planner(replace(self.now.problem, fixes=(*self.now.problem.fixes, fix)))
        start = planner.start(self.now.open_now)
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
