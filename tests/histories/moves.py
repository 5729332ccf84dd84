"""Following the next move through each real history, from its complaint alone:
`python -m tests.histories.moves [ID ...]`.

Counted in two ways. *As at first contact*: each check is a move of its own, and of what the history does not tell
nothing is noted, so a check that it does not speak of is a move made for nothing. *As in a shop*: what is asked in
one go is one move, and what the history does not tell is answered as the machine most probably would with the
proved cause in it and all that was noted so far (a machine answers every check; its owner only wrote down what he
was asked). Exposed is a cause by a check that shows a finding which it mostly brings about and which is seldom
there without reason, or by the repair that cures it.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from diagnose.cases.case import Case, fold
from diagnose.cases.events import Checked, Event, Noted, Opened, Repaired
from diagnose.knowledge.paths import links_of, strengths_below
from diagnose.knowledge.records import Knowledge
from diagnose.moves.advice import LOOKS, Advice
from diagnose.moves.move import REPAIR, Move
from diagnose.network.predict import predict
from diagnose.planning.shop import Shop
from tests.histories.reading import HistoryCase, histories, state_of
from tests.shipped import shipped_knowledge

MOVES, SOON = 6, 3
TELLING, SELDOM = 0.5, 0.06


def exposing(knowledge: Knowledge, cause: str) -> set[str]:
    """The checks that would show the cause."""
    shown = strengths_below(lambda id: links_of(knowledge, id), cause, TELLING)
    telling = {
        id
        for id in shown
        if (finding := knowledge.findings.get(id))
        and finding.kind in ("inspection", "reading")
        and sum(number.value for number in finding.leak) <= SELDOM
    }
    return {check.id for check in knowledge.checks.values() if telling.intersection(check.reveals)}


def told(one: HistoryCase, knowledge: Knowledge) -> dict[str, str]:
    """What the history tells of each finding."""
    tokens = [t for seen in one.told for t in seen.tokens if t.partition(":")[0] not in ("repaired", "fact")]
    return {token.partition("=")[0]: state_of(token, knowledge) for token in tokens}


def complaint(one: HistoryCase, knowledge: Knowledge) -> list[Event]:
    """The opening, and what was told first."""
    first = next(seen for seen in one.told if seen.bearing)
    said = [t for t in first.tokens if t.partition(":")[0] not in ("repaired", "fact")]
    noted = [Noted(token.partition("=")[0], state_of(token, knowledge)) for token in said]
    return [Opened(one.id, facts=one.facts, complaint=one.title), *noted]


def exposed(move: Move, one: HistoryCase, knowledge: Knowledge, shop: bool) -> bool:
    """Whether the move shows or cures the proved cause."""
    if move.kind == REPAIR:
        cured = {cure.cause for id in move.ids for cure in knowledge.repairs[id].cures}
        return bool(cured.intersection(one.causes))
    exposes = {check for cause in one.causes for check in exposing(knowledge, cause)}
    return move.kind in LOOKS and bool(exposes.intersection(asked(move, shop)))


def answered(advice: Advice, one: HistoryCase, answers: dict[str, str], shop: bool) -> list[Event]:
    """What the history says to the move, and in the shop what the machine does; a repair that does not cure leaves
    the complaint."""
    move, knowledge = advice.move, advice.knowledge
    if move.kind == REPAIR:
        cures = tuple(cure.cause for id in move.ids for cure in knowledge.repairs[id].cures)
        still = [Noted(o.finding, o.state) for o in advice.case.epochs[0].observations[:1]]
        return [Repaired(move.ids, cures), *still]
    return [event for id in asked(move, shop) for event in shown(advice, one, id, answers, shop)]


def asked(move: Move, shop: bool) -> tuple[str, ...]:
    """The checks that are one move."""
    return (move.id, *move.along) if shop else (move.id,)


def shown(
    advice: Advice, one: HistoryCase, check: str, answers: dict[str, str], shop: bool
) -> Iterator[Event]:
    """What a check shows; of codes only those that are there."""
    option, findings = advice.check_option(check), advice.knowledge.findings
    seen = option.findings if option else ()
    told = {id: answers[id] for id in seen if id in answers}
    said = probably(advice, one, [id for id in seen if id in findings and id not in told]) if shop else {}
    yield Checked(check)
    for id, state in (said | told).items():
        if id not in said or findings[id].kind != "code" or state != findings[id].states[0]:
            yield Noted(id, state)


def probably(advice: Advice, one: HistoryCase, ids: list[str]) -> dict[str, str]:
    """The likeliest state of each finding with the proved cause there, by all that was noted."""
    built, engine, knowledge = advice.diagnosis.built, advice.diagnosis.engine, advice.knowledge
    causes = [built.variable(id) for id in one.causes if id in built.versions]
    there = [v for v in causes if v in engine.region and v not in engine.fixed][:1]
    variables = {id: built.variable(id) for id in ids}
    chances = predict(engine, [dict.fromkeys(there, 1)], variables.values()) if ids else {}
    return {
        id: knowledge.findings[id].states[int(np.argmax(chances[v][:, 0]))] for id, v in variables.items()
    }


def as_case(events: list[Event]) -> Case:
    return fold(0, [replace(event, sequence=n) for n, event in enumerate(events, 1)])


def played(one: HistoryCase, shop: bool, most: int = MOVES) -> tuple[int, list[Move]]:
    """At which move the proved cause is exposed (0: not within so many), and the moves."""
    knowledge = shipped_knowledge()
    events, answers, moves = complaint(one, knowledge), told(one, knowledge), list[Move]()
    for number in range(1, most + 1):
        advice = Advice(knowledge, as_case(events), Shop())
        moves.append(advice.move)
        if exposed(advice.move, one, knowledge, shop):
            return number, moves
        if advice.move.kind not in (*LOOKS, REPAIR):
            return 0, moves
        events += answered(advice, one, answers, shop)
    return 0, moves


def lines(ids: tuple[str, ...], shop: bool) -> Iterator[str]:
    """One line a history, and the shares."""
    places = []
    for one in histories():
        if not ids or one.id in ids:
            place, moves = played(one, shop)
            places.append(place)
            way = ", ".join(f"{move.kind} {'+'.join(asked(move, shop))}" for move in moves)
            yield f"{one.id} {place or '-'}  {'/'.join(one.causes)}  <- {way}"
    soon, reached = sum(0 < p <= SOON for p in places), sum(p > 0 for p in places)
    counted = "as in a shop" if shop else "as at first contact"
    yield f"{counted}: within {SOON} moves {soon} of {len(places)}, within {MOVES} {reached} of {len(places)}"


if __name__ == "__main__":
    for way in (False, True):
        for line in lines(tuple(sys.argv[1:]), way):
            print(line, flush=True)
