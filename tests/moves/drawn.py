"""Machines drawn from the shipped knowledge, played by one who does what the next move says and tells the truth."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import cache, partial

import numpy as np

from diagnose.cases.case import Case, fold
from diagnose.cases.events import Checked, Event, Noted, Opened, OpenedUp, Repaired
from diagnose.cases.waiting import PROOF
from diagnose.diagnosis import diagnose
from diagnose.evidence.renewals import history
from diagnose.knowledge.observable import FACT, LAST_RIGHT, observable
from diagnose.knowledge.records import Finding, Knowledge
from diagnose.moves.advice import LOOKS, Advice
from diagnose.moves.ending import complaints
from diagnose.moves.move import CLOSE, HAND_OVER, PROVE, REPAIR
from diagnose.network.build import build
from diagnose.network.machine import Machine
from diagnose.planning.options import CheckOption, access_path, open_states
from diagnose.planning.shop import Shop
from diagnose.practice.world import World
from tests.benchmarks.workshop import held_as_drawn, noise_of, renew, states_of
from tests.shipped import shipped_knowledge

HOURS = 9000.0
LOT = 200
SHOP = Shop()


@cache
def _came_in(family: str, seed: int) -> list[tuple[Callable[[], World], str]]:
    """Machines of a family that come in, made when wanted, each with one of its complaints."""
    knowledge = shipped_knowledge()
    facts = dict(knowledge.families[family].facts)
    built, random = build(knowledge, Machine("x", family, facts, HOURS)), np.random.default_rng(seed)
    noise = noise_of(built, random, LOT)
    states = states_of(built, noise)
    complaints = [f.id for f in knowledge.findings.values() if f.other]
    there = {id: states[built.variable(id)] > 0 for id in complaints}
    came: list[tuple[Callable[[], World], str]] = []
    for number in range(LOT):
        shown = [id for id in complaints if there[id][number]]
        if shown:
            came.append((partial(held_as_drawn, built, noise, number), str(random.choice(shown))))
    return came


def arrivals(seed: int) -> Iterator[Play]:
    """Machines as they come in, of one family after the other, without end."""
    random, knowledge = np.random.default_rng(seed), shipped_knowledge()
    while True:
        for family in sorted(knowledge.families):
            came = _came_in(family, seed)
            world, complaint = came[int(random.integers(len(came)))]
            yield Play(knowledge, world().as_it_came(), family, complaint, int(random.integers(1 << 30)))


class Play:
    """One machine in the shop. `events`: all that was told and done."""

    def __init__(self, knowledge: Knowledge, world: World, family: str, complaint: str, seed: int):
        self.knowledge, self.world, self.complaint = knowledge, world, complaint
        self.random = np.random.default_rng(seed)
        facts = knowledge.families[family].facts
        self.events: list[Event] = [
            Opened("x", complaint=complaint, family=family, hours=HOURS, facts=facts),
            Noted(complaint, world.shows(complaint)),
        ]

    @property
    def case(self) -> Case:
        return fold(1, [replace(event, sequence=n) for n, event in enumerate(self.events, 1)])

    @property
    def advice(self) -> Advice:
        return Advice(self.knowledge, self.case, SHOP)

    def look(self, option: CheckOption) -> None:
        """Do a check; each of its findings is told as the machine shows it, a code only where it is stored."""
        opened = open_states(self.knowledge, self.case.access_open)
        path = access_path(self.knowledge, option.access, opened)
        self.events += [OpenedUp(state.id) for state in path]
        seen = [observable(self.knowledge, id) for id in option.findings if id != LAST_RIGHT]
        self.events += [self._told(one) for one in seen if self._tells(one)]
        self.events.append(Checked(option.id))

    def _tells(self, one: Finding) -> bool:
        if one.kind == FACT or one.id not in self.world.network.index:
            return False  # a fact not asked of the owner, a test by taking away
        return one.kind != "code" or not self.world.normal(one.id)

    def _told(self, one: Finding) -> Noted:
        return Noted(one.id, self.world.shows(one.id))

    def repair(self, ids: tuple[str, ...]) -> None:
        """Do repairs together, and try the machine."""
        cures = [cure.cause for id in ids for cure in self.knowledge.repairs[id].cures]
        self.events.append(Repaired(ids, tuple(dict.fromkeys(cures))))
        case = self.case
        renew(self.world, history(self.knowledge, case, ()).repairs[-1], self.random)
        self.events.append(Noted(self.complaint, self.world.shows(self.complaint)))

    def make(self, advice: Advice) -> bool:
        """Make the next move; False where it ends the case."""
        move = advice.move
        if move.kind in LOOKS:
            for id in (move.id, *move.along):
                option = advice.check_option(id)
                if option:
                    self.look(option)
                else:
                    self.events.append(Checked(id))
        elif move.kind == REPAIR:
            self.repair(move.ids)
        elif move.kind == PROVE:
            if move.id.startswith(PROOF):
                self.events.append(Checked(move.id))
            else:
                tried = {self.complaint, *(one.id for one in complaints(self.knowledge, self.case))}
                self.events += [Noted(id, self.world.shows(id)) for id in sorted(tried)]
        return move.kind not in (CLOSE, HAND_OVER)

    def wander(self, steps: int) -> None:
        """Do some checks at random, none that is held back: a moment of any play."""
        for _ in range(steps):
            advice = self.advice
            free = [o for o in advice.checks if advice.held_check(o) is None and len(o.findings) <= 8]
            if free:
                self.look(free[int(self.random.integers(len(free)))])


def diagnosed(play: Play) -> Advice:
    """The advice with its diagnosis worked out. Raises ImpossibleEvidence."""
    case = play.case
    return Advice(play.knowledge, case, SHOP, diagnose(play.knowledge, case))
