"""A shop's own words: an overlay adds them, and what is said in them is heard."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from diagnose import caching
from diagnose.errors import DataError, Place
from diagnose.knowledge.assemble import assemble
from diagnose.knowledge.files import FileText
from diagnose.knowledge.records import Knowledge
from diagnose.understanding.index import index_of
from diagnose.words.expression import Expression, as_slang
from diagnose.words.expression_form import read_expressions
from diagnose.words.expressions import FILE, expressions
from tests.words.small import finding, knowledge

PLAIN = knowledge([finding("low_power", "Low power"), finding("smoke_black", "Black smoke")])
SHOP = b"""
slang:
  no_power_here: {means: power-, said: [as much go as a brick, won't shift for toffee]}
  chimney: {means: black smoke, said: [does a chimney]}
"""
SYSTEM = b"system: test\nname: Test\nslang:\n  shipped_word: {means: black smoke, said: [sooty plume]}\n"


def with_slang(*said: tuple[str, str]) -> Knowledge:
    own = {
        f"word_{i}": Expression(f"word_{i}", means, (one,), Place("shop"))
        for i, (one, means) in enumerate(said)
    }
    return replace(PLAIN, slang=own)


def heard(known: Knowledge, text: str) -> set[tuple[str, str]]:
    """The plain words with their signs."""
    return {(token.word, token.sign) for clause in index_of(known).clauses(text) for token in clause.tokens}


@pytest.mark.parametrize("text", ["she won't shift for toffee", "wont shift for toffee uphill"])
def test_what_a_shop_says_is_heard(text: str) -> None:
    own = with_slang(("won't shift for toffee", "power-"))
    assert ("power", "-") in heard(own, text)
    assert "shift" not in {word for word, _ in heard(own, text)}
    assert "shift" in {word for word, _ in heard(PLAIN, text)}


def test_a_word_of_the_shop_goes_before_what_is_built_in() -> None:
    own = with_slang(("no guts", "black smoke"))
    assert heard(PLAIN, "no guts") == {("power", "-")}
    assert heard(own, "no guts") == {("black", "+"), ("smok", "+")}


def test_names_are_read_with_the_words_of_the_shop_as_well() -> None:
    own = replace(
        with_slang(("chimney day", "black smoke")), findings={"one": finding("one", "A chimney day")}
    )
    assert index_of(own).name(0) == {"black": "+", "smok": "+"}


def test_an_overlay_adds_expressions_and_changes_them() -> None:
    changed = b"slang:\n  shipped_word: {said: [grey plume]}\n"
    found, problems = assemble(
        [
            FileText("one.yaml", SYSTEM),
            FileText("shop.yaml", SHOP, overlay=True),
            FileText("more.yaml", changed, overlay=True),
        ]
    )
    assert not problems
    assert found is not None
    assert found.slang["no_power_here"].said == ("as much go as a brick", "won't shift for toffee")
    assert (found.slang["shipped_word"].means, found.slang["shipped_word"].said) == (
        "black smoke",
        ("grey plume",),
    )


def test_what_a_shop_writes_in_the_form_of_what_ships_is_read_alike(tmp_path: Path) -> None:
    file = tmp_path / "words.yaml"
    file.write_bytes(SHOP)
    found, problems = assemble([FileText("one.yaml", SYSTEM), FileText("shop.yaml", SHOP, overlay=True)])
    assert found is not None, problems
    alone = {one.id: (one.means, one.said) for one in read_expressions(file)}
    assert alone == {id: (one.means, one.said) for id, one in found.slang.items() if id in alone}


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("slang:\n  flat: {means: power-, says: [flat]}\n", ["2:9: K011", "2:25: K010"]),
        ("slang:\n  flat: {means: power-, said: [flat, no]}\n", ["2:38: K007"]),
        ("slang:\n  a: {means: stall, said: [died]}\n  b: {means: low, said: [died]}\n", ["3:26: K017"]),
        ("slang:\n  a: {means: stall, said: []}\n", ["2:27: K012"]),
        ("slang: [died]\n", ["1:8: K012"]),
        ("", ["1:1: K011"]),
    ],
)
def test_what_is_wrong_with_a_file_of_expressions_is_told_with_its_place(
    tmp_path: Path, text: str, said: list[str]
) -> None:
    file = tmp_path / "words.yaml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(DataError) as caught:
        read_expressions(file)
    told = [str(one).removeprefix(f"{file}:") for one in caught.value.problems]
    assert [one[: len(start)] for one, start in zip(told, said, strict=True)] == said


def test_what_ships_is_kept_for_the_next_call_and_read_anew_where_it_is_not(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(caching.CACHE_VARIABLE, str(tmp_path))
    anew = expressions.__wrapped__()
    (kept,) = tmp_path.glob("expressions-*.json")
    assert expressions.__wrapped__() == anew == as_slang(read_expressions(FILE))
    kept.write_bytes(kept.read_bytes().replace(b"gutless", b"strong"))
    assert expressions.__wrapped__() == anew
