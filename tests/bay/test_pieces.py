"""What the screens of the bay are made of, each for a class of absurdity found in whole cases (common practice)."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from diagnose.cases.events import Noted
from diagnose.cli.bay.results import asked_name, asked_once
from diagnose.cli.bay.session import noted_words
from diagnose.cli.show import rendered
from diagnose.knowledge.observable import noted
from diagnose.moves.ending import A_SHIFT, ProofStep
from diagnose.moves.stops import DO_NOT_CRANK, Stop
from diagnose.planning.keep_running import MOVE, STOP
from diagnose.planning.shop import Shop
from diagnose.report.move import stop_lines
from diagnose.report.ranking import WRECKED_BY, ranking
from tests.shipped import diagnosed, shipped_knowledge


def test_no_general_question_beside_one_of_its_kinds() -> None:
    """A warning lamp, beside the amber and the red one."""
    knowledge = shipped_knowledge()
    dropped = 0
    for check in knowledge.checks.values():
        found = [one for id in check.reveals if (one := noted(knowledge, id)) is not None]
        left = asked_once(found)
        ids = {one.id for one in left}
        assert not any(ids.intersection(one.kind_of) for one in left)
        assert ids or not found
        dropped += len(found) - len(left)
    assert dropped


def test_a_question_does_not_say_that_it_was_not_told() -> None:
    names = [asked_name(one) for one in shipped_knowledge().findings.values()]
    assert [name for name in names if "not told" in name] == []


def test_what_is_denied_in_general_is_said_once() -> None:
    knowledge = shipped_knowledge()
    general = "smoke_any"
    kinds = [one.id for one in knowledge.findings.values() if general in one.kind_of]
    assert kinds
    events = [Noted(id, "absent") for id in (general, *kinds)]
    words = [knowledge.findings[event.finding].in_words("absent") for event in events]
    assert list(noted_words(knowledge, events, words)) == [f"not so: {knowledge.findings[general].name}"]
    assert len(list(noted_words(knowledge, events[1:], words[1:]))) == len(kinds)


@pytest.mark.parametrize(("hours", "later"), [(0.0, False), (1.0, False), (8.0, True), (50.0, True)])
def test_a_proof_that_takes_a_shift_falls_due_later(hours: float, later: bool) -> None:
    assert ProofStep("x", 1, "Filter cut.", hours=hours).takes_hours == later


@pytest.mark.parametrize(
    "words", [r"after (?:a|the) night", r"after a (?:day|week)\b", r"\b[1-9]\d+ (?:h|hours)\b"]
)
def test_the_knowledge_says_how_long_such_a_proof_takes(words: str) -> None:
    told = [
        (line, hours)
        for one in shipped_knowledge().repairs.values()
        for line, hours in zip(one.verify, one.proven_after, strict=True)
        if re.search(words, line)
    ]
    assert told
    assert [line for line, hours in told if hours < A_SHIFT] == []


def test_nothing_is_told_as_wrecked_by_what_is_not_half_as_likely() -> None:
    diagnosis = diagnosed("pump_worn_plough")
    first, *others = diagnosis.causes
    likely = next(one for one in others if 2 * one.probability >= first.probability)
    unlikely = next(one for one in others if one.relevant and 2 * one.probability < first.probability)
    for by, told in ((likely, True), (unlikely, False)):
        wrecked = replace(diagnosis, causes=(replace(first, wrecked_by=by.id), *others))
        shown = rendered(ranking(wrecked, 1), 100)
        assert (WRECKED_BY in shown) == told


def _stop(word: str, name: str, probability: float) -> Stop:
    return Stop(word, name, "it wrecks more", frozenset(), (), None, name, probability, 1000.0, 500.0)


def test_what_must_not_be_done_is_one_paragraph() -> None:
    """Of the strictest word: who stops it does not move it."""
    stops = [_stop(STOP, f"Bearing {n}", 0.5) for n in range(5)] + [_stop(MOVE, "Belt", 0.4)]
    told = "".join(rendered(one, 60) for one in stop_lines(stops, Shop()))
    assert told.count(STOP.upper()) == 1
    assert "bearing 1 (50 %), bearing 2 (50 %) and 2 more" in " ".join(told.split())
    assert "Belt" not in told
    everything = "".join(rendered(one, 60) for one in stop_lines(stops, Shop(), everything=True))
    assert everything.count(STOP.upper()) == 5
    assert "Belt" in everything
    assert DO_NOT_CRANK.upper() not in everything
