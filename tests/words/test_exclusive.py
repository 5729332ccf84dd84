"""Findings that cannot both be meant, on names made here as signed words."""

from __future__ import annotations

from types import SimpleNamespace
from typing import cast

import pytest

import diagnose.understanding.parts as kinds
from diagnose.understanding.exclusive import compatible, exclude
from diagnose.understanding.index import NameIndex
from diagnose.understanding.parts import TextPart
from diagnose.understanding.signed_likeness import PRESENT
from diagnose.words.polarity import DENIED, SOUND, THERE
from diagnose.words.stems import stem

CRANK, START, SMOKE, COLD = stem("crank"), stem("start"), stem("smoke"), stem("cold")
NAMES = {
    "no_crank": {CRANK: DENIED},
    "cranks_no_start": {CRANK: THERE, START: DENIED},
    "starts_and_dies": {START: THERE},
    "smokes": {SMOKE: THERE},
    "smokes_not": {SMOKE: DENIED},
    "cold": {COLD: THERE},
    "not_cold": {COLD: DENIED},
    "cranks_well": {CRANK: SOUND},
}
IDS = tuple(NAMES)
INDEX = cast(NameIndex, SimpleNamespace(ids=IDS, name=lambda finding: NAMES[IDS[finding]]))


@pytest.mark.parametrize(
    ("one", "other", "excluded"),
    [
        ("no_crank", "cranks_no_start", True),
        ("cranks_no_start", "starts_and_dies", True),
        ("no_crank", "starts_and_dies", False),
        ("smokes", "smokes_not", False),  # smoke is nothing that should be there
        ("cold", "not_cold", False),  # when it shows is denied of nothing
        ("no_crank", "cranks_well", False),
        ("no_crank", "no_crank", False),
    ],
)
def test_what_one_name_says_and_the_other_denies(one: str, other: str, excluded: bool) -> None:
    a, b = IDS.index(one), IDS.index(other)
    assert exclude(INDEX, a, b) is excluded
    assert exclude(INDEX, b, a) is excluded


def part(id: str, kind: str = kinds.FINDING, state: str = PRESENT, sure: bool = True) -> TextPart:
    return TextPart(kind, 0, 1, id, id, state, sure=sure)


Said = frozenset[tuple[str, str]]
NOT_CRANKED: Said = frozenset({(CRANK, DENIED)})
NOTHING: Said = frozenset()


def kept(one: TextPart, own: Said, other: TextPart, others: Said) -> list[str]:
    return [left.id for left in compatible(INDEX, [one, other], [own, others])]


def test_what_takes_for_granted_what_was_denied_in_so_many_words_is_not_meant() -> None:
    """Who says that it does not crank, and something that looks like "cranks but does not start"."""
    assert kept(part("cranks_no_start"), NOTHING, part("no_crank"), NOT_CRANKED) == ["no_crank"]
    assert kept(part("no_crank"), NOT_CRANKED, part("cranks_no_start"), NOTHING) == ["no_crank"]


@pytest.mark.parametrize(
    ("own", "others"),
    [
        (frozenset({(CRANK, THERE)}), NOT_CRANKED),  # it was spoken of
        (frozenset({(CRANK, DENIED)}), NOT_CRANKED),
        (NOTHING, NOTHING),  # nobody denied it
        (NOTHING, frozenset({(CRANK, THERE)})),
        (NOTHING, frozenset({(CRANK, SOUND)})),
        (NOTHING, frozenset({(START, DENIED)})),  # another thing was denied
    ],
)
def test_else_both_are(own: Said, others: Said) -> None:
    assert kept(part("cranks_no_start"), own, part("no_crank"), others) == ["cranks_no_start", "no_crank"]


@pytest.mark.parametrize(
    "other",
    [
        part("no_crank", kind=kinds.READING),
        part("no_crank", state="absent"),
        part("no_crank", sure=False),
        part("cranks_no_start"),
        part("starts_and_dies"),
    ],
    ids=str,
)
def test_only_what_was_surely_found_speaks_against(other: TextPart) -> None:
    assert len(kept(part("cranks_no_start"), NOTHING, other, NOT_CRANKED)) == 2
