"""One exercise at work: the entries so far, the case that they leave, and what each move shows. Pure but for time.

Entry kinds: `started`, `said` (which causes rise and fall), `guessed` (own probabilities), `hinted`, `stopped` (a
dangerous move), `safe`, `missed` (the danger of a job known or not), `checked`, `repaired`, `handed_over`,
`given_up`, `debriefed` (the best path, worked out once). Case events stand in them as their own JSON.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from diagnose.cases.case import Case
from diagnose.cases.events import Checked, Event, Learnt, Noted, OpenedUp, Repaired, to_json
from diagnose.knowledge.away import GONE, STILL_THERE, is_away, split
from diagnose.knowledge.observable import FACT, fact_name, fact_of, observable
from diagnose.knowledge.records import Finding, Hazard, Knowledge, Repair
from diagnose.moves.advice import Advice
from diagnose.moves.standing import Action, Price, cheapest_cure
from diagnose.planning.options import CheckOption
from diagnose.planning.shop import Shop
from diagnose.practice.course import Beginning, Course, events_of
from diagnose.practice.exercise import Exercise
from diagnose.practice.plausible_readings import plausible, siblings
from diagnose.practice.seal import new_key, seal, unseal
from diagnose.practice.store import ExerciseEntry

ENDS = ("handed_over", "given_up")
FOLLOWED = 40
"""How many causes' probabilities are kept with each move, for the story."""


@dataclass(frozen=True, slots=True)
class MoveResult:
    """What a move showed: entry to keep, and the findings with their words."""

    entry: ExerciseEntry
    noted: tuple[Noted, ...] = ()


def started(knowledge: Knowledge, exercise: Exercise, apprentice: str) -> ExerciseEntry:
    """The first entry of an exercise."""
    key = new_key()
    return ExerciseEntry(
        "started",
        {
            "apprentice": apprentice,
            "knowledge": knowledge.version,
            "opening": _plain(exercise.opening),
            "key": key,
            "sealed": seal(exercise.truth.to_values(), key),
        },
    )


class ExerciseRun:
    """The exercise as its entries leave it."""

    def __init__(
        self,
        knowledge: Knowledge,
        shop: Shop,
        entries: Sequence[ExerciseEntry],
        number: int = 0,
        course: Course | None = None,
    ):
        self.knowledge, self.shop, self.number = knowledge, shop, number
        self.entries = tuple(entries)
        began = course.beginning if course else Beginning(knowledge, shop, self.entries[0])
        since = tuple(e for entry in self.entries[1:] for e in events_of(entry.values.get("events", ())))
        self.course = course if course and course.since == since else Course(began, since)

    @property
    def beginning(self) -> Beginning:
        """What it began with, and what holds throughout."""
        return self.course.beginning

    def with_entries(self, entries: Sequence[ExerciseEntry]) -> ExerciseRun:
        """The same exercise as these entries leave it. What still holds is not worked out again."""
        return ExerciseRun(self.knowledge, self.shop, entries, self.number, self.course)

    def more(self, entry: ExerciseEntry) -> ExerciseRun:
        """The same with an entry more."""
        return self.with_entries((*self.entries, entry))

    @property
    def since(self) -> tuple[Event, ...]:
        """The case events since the opening."""
        return self.course.since

    @property
    def case(self) -> Case:
        """The case as it stands."""
        return self.course.case

    @property
    def standing(self) -> Advice:
        """What can be said of the next move."""
        return self.course.standing

    @property
    def minutes(self) -> float:
        """Work so far."""
        return sum(float(entry.values.get("minutes", 0.0)) for entry in self.entries)

    @property
    def money(self) -> float:
        """The bill so far."""
        return sum(float(entry.values.get("money", 0.0)) for entry in self.entries)

    def count(self, kind: str) -> int:
        """How many entries of a kind there are."""
        return sum(entry.kind == kind for entry in self.entries)

    @property
    def ended(self) -> str:
        """How it ended: repaired, handed over, given up; empty while it goes on."""
        ends = (e.kind.replace("_", " ") for e in self.entries if e.kind in ENDS)
        return "repaired" if any(e.values.get("cured") for e in self.entries) else next(ends, "")

    # ---- moves ----

    def do_check(self, option: CheckOption) -> MoveResult:
        """Do a check or a look: what it shows by the hidden truth. A code that is not stored is no evidence (its
        test may not have run), so it is not noted."""
        if observable(self.knowledge, option.findings[0]).kind == FACT:
            return self._asked(option)
        noted: dict[str, Noted] = {}
        for id in option.findings:
            shown = (
                [self._with_part_out(id)] if is_away(id) else self._shown(self.knowledge.findings[id], noted)
            )
            for one in shown:
                noted.setdefault(one.finding, one)
        done = Checked(option.id)
        opened = [OpenedUp(id) for id in option.access if id not in self.case.access_open]
        told = tuple(one for one in noted.values() if not self._silent(one))
        price = self.standing.check_price(option)
        values = self._judged(self.standing.check(option), price)
        return MoveResult(
            ExerciseEntry("checked", {**values, "events": _plain([done, *opened, *told])}),
            told,
        )

    def _asked(self, option: CheckOption) -> MoveResult:
        """The answer to a question about the machine, by the hidden truth."""
        fact = self.knowledge.facts[fact_of(option.findings[0])[0]]
        variables = self.course.world.network.index
        if fact.several:
            names = [value for value in fact.values[1:] if fact_name(fact.id, value) in variables]
            yes = (value for value in names if not self.course.world.normal(fact_name(fact.id, value)))
            value = next(yes, fact.values[0])
        else:
            value = self.course.world.shows(fact.id)
        values = self._judged(self.standing.check(option), self.standing.check_price(option))
        events = [Checked(option.id), Learnt(facts={fact.id: value})]
        return MoveResult(
            ExerciseEntry("checked", {**values, "events": _plain(events)}), (Noted(fact.id, value),)
        )

    def do_repair(self, repairs: Sequence[Repair]) -> MoveResult:
        """Repair, put together, and try again: is the complaint still there?"""
        price, move = self.standing.repair_price(repairs), self.standing.repair(repairs)
        causes = tuple(dict.fromkeys(c.cause for r in repairs for c in r.cures))
        done = Repaired(tuple(r.id for r in repairs), causes)
        world = self.beginning.world((*self.since, done))
        causes_there = self.beginning.exercise.truth.causes
        gone = bool(causes_there) and all(world.normal(id) for id in causes_there)
        states = {id: world.shows(id) for id in self.beginning.complaints}
        if gone:  # rare: what is left is chance, of which an exercise has no cure
            states = {id: self.knowledge.findings[id].normal for id in states}
        noted = tuple(Noted(id, state) for id, state in states.items())
        cured = gone or all(world.normal(id) for id in self.beginning.complaints)
        back = 0.0 if cured else self.shop.comeback
        values = self._judged(move, Price(price.minutes, price.money + back)) | {"comeback": back}
        return MoveResult(
            ExerciseEntry("repaired", {**values, "cured": cured, "events": _plain([done, *noted])}), noted
        )

    def hand_over(self) -> MoveResult:
        """Somebody else finds it for sure, and cures it."""
        there = [id for id in self.beginning.exercise.truth.causes if not self.course.world.normal(id)]
        cure = sum(cheapest_cure(self.knowledge, id, self.shop) for id in there)
        price = Price(0.0, self.shop.hand_over + cure)
        return MoveResult(ExerciseEntry("handed_over", self._judged(self.standing.hand_over(), price)))

    def _silent(self, one: Noted) -> bool:
        finding = observable(self.knowledge, one.finding)
        return finding.kind == "code" and one.state == finding.normal

    def stopped(self, hazard: Hazard, name: str) -> ExerciseEntry:
        """A dangerous move that was stopped."""
        return ExerciseEntry("stopped", {"hazard": hazard.id, "name": name, "caution": hazard.caution})

    def _judged(self, move: Action, price: Price) -> dict[str, Any]:
        """The move with its price; sealed, how it compares with the best one and where the causes stood before."""
        best, ranked = self.standing.best, self.standing.diagnosis.causes
        verdict = {
            "regret": self.standing.regret(move),
            "best": best.name,
            "best_kind": best.kind,
            "value": self.standing.actions[0].expected,
            "before": {cause.id: cause.probability for cause in ranked[:FOLLOWED]},
        }
        told = {"move": list(move.ids), "name": move.name, "minutes": price.minutes, "money": price.money}
        return {**told, "verdict": self.hidden(verdict)}

    def verdict(self, entry: ExerciseEntry) -> dict[str, Any]:
        """How a move compared with the best one: regret, best, best_kind, value (of the best), before."""
        return self.opened(entry.values["verdict"])

    def hidden(self, values: dict[str, Any]) -> str:
        """Values sealed with the key of this exercise."""
        return seal(values, self.beginning.key)

    def opened(self, sealed: str) -> dict[str, Any]:
        """What `hidden` sealed."""
        return unseal(sealed, self.beginning.key)

    def _with_part_out(self, id: str) -> Noted:
        """What a finding does with a part out of the hidden machine, the noise of all else as it is; the same each
        time it is tried."""
        known = split(self.knowledge, id)
        assert known is not None
        finding, part = known
        index, random = (
            self.course.world.network.index,
            np.random.default_rng([self.beginning.exercise.truth.seed, *id.encode()]),
        )
        out = [
            index[one.id]
            for one in part.carries
            if one.id in index and random.random() < one.effectiveness.value
        ]
        brought = any(
            random.random() < sum(n.value for n in one.strengths)
            for one in part.brings
            if one.effect == finding.id
        )
        gone = self.course.world.states_without(out)[index[finding.id]] == 0 and not brought
        return Noted(id, GONE if gone else STILL_THERE)

    def _shown(self, finding: Finding, before: dict[str, Noted]) -> Iterable[Noted]:
        """The finding, and those read from the same value, as the hidden machine shows them."""
        if finding.id in before:
            return
        family = siblings(self.knowledge, finding)
        wanted = {one.id: self.course.world.shows(one.id) for one in family}
        value, unit = self._value(finding, wanted)
        for one in family if value is not None else [finding]:
            code = one.codes[0] if one.codes and not self.course.world.normal(one.id) else ""
            yield Noted(one.id, wanted[one.id], value=value, unit=unit, code=code)

    def _value(self, finding: Finding, wanted: dict[str, str]) -> tuple[float | None, str]:
        """The value told by the trainer, else one drawn; the same each time it is read."""
        truth = self.beginning.exercise.truth
        for known in truth.known:
            if known.finding == finding.id and known.value is not None and wanted[finding.id] == known.state:
                return known.value, known.unit
        variable = self.course.world.network.index[finding.id]
        drawn = plausible(
            self.knowledge,
            finding,
            wanted,
            np.random.default_rng([truth.seed, variable, len(self.case.epochs)]),
            self.case,
        )
        return (None, "") if drawn is None else (drawn.value, f"{drawn.unit} {drawn.reference}".strip())


def _plain(events: Iterable[Event]) -> list[Any]:
    return [json.loads(to_json(event)) for event in events]
