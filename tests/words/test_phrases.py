"""Slang against the shipped knowledge: the right finding is among the first three, no wrong one is clear."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from unittest.mock import patch

import pytest
import yaml

from diagnose.knowledge import lookup
from diagnose.knowledge.lookup import find, resolve
from diagnose.knowledge.observable import noted
from diagnose.knowledge.records import Knowledge
from diagnose.words.likeness import Match, PhraseIndex, search
from tests.shipped import shipped_knowledge

HELD_OUT, BLIND = "phrases_held_out.yaml", "phrases_blind.yaml"
WANTED = {
    "phrases.yaml": 0.95,
    "phrases_engine.yaml": 0.95,
    HELD_OUT: 0.87,
    BLIND: 0.93,
}  # right among the first three
CLEAR = {
    "phrases.yaml": 80,
    "phrases_engine.yaml": 110,
    HELD_OUT: 60,
    BLIND: 15,
}  # and it does not ask about everything
FILES = pytest.mark.parametrize("file", list(WANTED))


@pytest.fixture(scope="module")
def shipped() -> Iterator[Knowledge]:
    """Each phrase is searched once, for what is shown and for what is taken for clear."""
    known: dict[tuple[str, float], tuple[Match, ...]] = {}

    def once(index: PhraseIndex, text: str, weak: float) -> tuple[Match, ...]:
        if (text, weak) not in known:
            known[text, weak] = search(index, text, weak)
        return known[text, weak]

    with patch.object(lookup, "search", once):
        yield shipped_knowledge()


def phrases(file: str) -> Iterator[tuple[str, frozenset[str]]]:
    text = (Path(__file__).parent / file).read_text(encoding="utf-8")
    for group in yaml.safe_load(text):
        yield from ((str(phrase), frozenset(group["findings"])) for phrase in group["phrases"])


def test_there_are_many_phrases_and_each_stands_once() -> None:
    typed = [phrase for file in WANTED for phrase, _ in phrases(file)]
    assert len(typed) >= 800
    assert not {phrase for phrase in typed if typed.count(phrase) > 1}


@FILES
def test_the_findings_meant_exist(shipped: Knowledge, file: str) -> None:
    meant = {key for _, keys in phrases(file) for key in keys}
    assert not [key for key in meant if noted(shipped, key) is None]


@FILES
def test_the_right_finding_is_among_the_first_three(shipped: Knowledge, file: str) -> None:
    meant = [(phrase, keys) for phrase, keys in phrases(file) if keys]
    missed = [phrase for phrase, keys in meant if keys.isdisjoint(m.id for m in find(shipped, phrase, 3))]
    assert 1 - len(missed) / len(meant) >= WANTED[file], missed


@FILES
def test_no_wrong_finding_is_taken_for_clear(shipped: Knowledge, file: str) -> None:
    """Never a silent guess: where the program does not ask, it must be right."""
    clear = [(phrase, resolve(shipped, phrase).clear, keys) for phrase, keys in phrases(file)]
    assert sum(1 for _, match, _ in clear if match) >= CLEAR[file]
    assert not [(phrase, match.id) for phrase, match, keys in clear if match and match.id not in keys]
