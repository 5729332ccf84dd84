"""Slang against the shipped knowledge: the right finding is among the first three, no wrong one is clear."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
import yaml

from diagnose.knowledge.loader import load
from diagnose.knowledge.records import Knowledge
from diagnose.knowledge.words import find, resolve

WANTED_RATE = 0.9


@pytest.fixture(scope="module")
def shipped() -> Knowledge:
    return load()


def phrases(file: str) -> Iterator[tuple[str, frozenset[str]]]:
    text = (Path(__file__).parent / file).read_text(encoding="utf-8")
    for group in yaml.safe_load(text):
        yield from ((str(phrase), frozenset(group["findings"])) for phrase in group["phrases"])


def test_enough_phrases_name_findings_that_exist(shipped: Knowledge) -> None:
    expected = list(phrases("phrases.yaml"))
    assert len(expected) >= 120
    unknown = {key for _, keys in expected for key in keys} - set(shipped.findings)
    assert not unknown


def test_the_right_finding_is_among_the_first_three(shipped: Knowledge) -> None:
    held = [(phrase, meant) for phrase, meant in phrases("phrases.yaml") if meant]
    missed = [phrase for phrase, meant in held if meant.isdisjoint(m.id for m in find(shipped, phrase, 3))]
    assert 1 - len(missed) / len(held) >= WANTED_RATE, missed


def test_no_wrong_finding_is_taken_for_clear(shipped: Knowledge) -> None:
    """Never a silent guess: where the program does not ask, it must be right."""
    clear = [(phrase, resolve(shipped, phrase).clear, meant) for phrase, meant in phrases("phrases.yaml")]
    assert sum(1 for _, match, _ in clear if match) >= 80  # and it does not ask about everything
    assert not [(phrase, match.id) for phrase, match, meant in clear if match and match.id not in meant]
