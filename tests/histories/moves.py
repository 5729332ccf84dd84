"""Following the next move through each real history, from its complaint alone:
`python -m tests.histories.moves [ID ...]`.

Each check is answered from what the history tells; of what it does not tell nothing is noted. Exposed is a cause by
a check that shows a finding which it mostly brings about and which is seldom there without reason, or by the repair
that cures it.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import replace

from diagnose.cases.case import Case, fold
from diagnose.cases.events import Checked, Event, Noted, Opened, Repaired
from diagnose.knowledge.paths import links_of, strengths_below
from diagnose.knowledge.records import Knowledge
from diagnose.moves.advice import LOOKS, Advice
from diagnose.moves.move import REPAIR, Move
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


def exposed(move: Move, one: HistoryCase, knowledge: Knowledge) -> bool:
    """Whether the move shows or cures the proved cause."""
    if move.kind == REPAIR:
        cured = {cure.cause for id in move.ids for cure in knowledge.repairs[id].cures}
        return bool(cured.intersection(one.causes))
    return move.kind in LOOKS and any(move.id in exposing(knowledge, cause) for cause in one.causes)


def answered(advice: Advice, answers: dict[str, str]) -> list[Event]:
    """What the history says to the move; a repair that does not cure leaves the complaint."""
    move, knowledge = advice.move, advice.knowledge
    if move.kind == REPAIR:
        cures = tuple(cure.cause for id in move.ids for cure in knowledge.repairs[id].cures)
        still = [Noted(o.finding, o.state) for o in advice.case.epochs[0].observations[:1]]
        return [Repaired(move.ids, cures), *still]
    option = advice.check_option(move.id)
    shown = option.findings if option else ()
    return [Checked(move.id), *(Noted(id, answers[id]) for id in shown if id in answers)]


def as_case(events: list[Event]) -> Case:
    return fold(0, [replace(event, sequence=n) for n, event in enumerate(events, 1)])


def played(one: HistoryCase, most: int = MOVES) -> tuple[int, list[Move]]:
    """At which move the proved cause is exposed (0: not within so many), and the moves."""
    knowledge = shipped_knowledge()
    events, answers, moves = complaint(one, knowledge), told(one, knowledge), list[Move]()
    for number in range(1, most + 1):
        advice = Advice(knowledge, as_case(events), Shop())
        moves.append(advice.move)
        if exposed(advice.move, one, knowledge):
            return number, moves
        if advice.move.kind not in (*LOOKS, REPAIR):
            return 0, moves
        events += answered(advice, answers)
    return 0, moves


def lines(ids: tuple[str, ...]) -> Iterator[str]:
    """One line a history, and the shares."""
    places = []
    for one in histories():
        if not ids or one.id in ids:
            place, moves = played(one)
            places.append(place)
            way = ", ".join(f"{move.kind} {move.id}" for move in moves)
            yield f"{one.id} {place or '-'}  {'/'.join(one.causes)}  <- {way}"
    soon, reached = sum(0 < p <= SOON for p in places), sum(p > 0 for p in places)
    yield f"within {SOON} moves {soon} of {len(places)}, within {MOVES} {reached} of {len(places)}"


if __name__ == "__main__":
    for line in lines(tuple(sys.argv[1:])):
        print(line, flush=True)
