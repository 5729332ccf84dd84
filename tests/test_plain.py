"""The gate of text: what a terminal obeys comes neither in nor out, and one module alone prints."""

from __future__ import annotations

import ast
import json
import unicodedata
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.cases.events import Noted, Opened, from_json, to_json
from diagnose.cli.show import rendered
from diagnose.errors import SHOWN, CallError, DataError, Place, Problem
from diagnose.forms.reader import read_text
from diagnose.learning.jsonl import from_dict
from diagnose.plain import json_safe, on_screen, one_line, shortened, typed
from tests.test_layout import FILES

TEXTS = st.text(st.characters(), max_size=40)
"""Every letter of Unicode, half surrogate pairs among them."""
HOSTILE = "D-07\nSTOP NOW nothing: RUN ON\x1b[2J\x1b]0;title\x07\x9b31m\u202etfel\r\ufeff\udce9"


def obeyed(text: str) -> set[str]:
    """What a terminal would obey, by the general categories of Unicode (control, surrogate, line and paragraph
    separator) and the bidirectional formats of its annex 9."""
    turning = {letter for letter in text if unicodedata.bidirectional(letter) in _TURNING}
    return turning | {x for x in text if unicodedata.category(x) in ("Cc", "Cs", "Zl", "Zp")}


_TURNING = ("LRE", "RLE", "LRO", "RLO", "PDF", "LRI", "RLI", "FSI", "PDI")


@given(TEXTS)
def test_one_line_holds_nothing_that_is_obeyed_and_is_done_once(text: str) -> None:
    plain = one_line(text)
    assert not obeyed(plain)
    assert len(plain.splitlines()) <= 1
    assert one_line(plain) == plain
    assert not obeyed(typed(text))


@given(TEXTS)
def test_a_screen_keeps_its_lines_and_nothing_else_that_is_obeyed(text: str) -> None:
    assert obeyed(on_screen(text)) <= {"\n"}
    assert on_screen(text).count("\n") == text.count("\n")


@given(TEXTS)
def test_json_stays_the_same_json(text: str) -> None:
    made = json_safe(json.dumps({"a": text}, ensure_ascii=False, indent=1))
    assert obeyed(made) <= {"\n"}
    assert json.loads(made) == {"a": text}


@given(st.text(st.characters(exclude_categories=("C", "Z"))))
def test_plain_text_is_left_alone(text: str) -> None:
    assert (one_line(text), on_screen(text)) == (text, text) or obeyed(text) or not text.isprintable()


def test_lines_typed_are_sentences_of_their_own() -> None:
    assert typed("no power\n\n black smoke.\r\nno leaks\n") == "no power; black smoke. no leaks"


def test_an_event_from_anywhere_is_plain() -> None:
    event = Opened(HOSTILE, complaint=HOSTILE, facts={"a": HOSTILE}, time=HOSTILE)
    assert not obeyed(event.machine + event.complaint + event.facts["a"] + event.time)
    assert event.machine.startswith("D-07 STOP NOW nothing: RUN ON\\x1b[2J")
    assert event.machine.endswith("\\xe9")  # the byte that was typed, where the terminal is not UTF-8
    stored = to_json(Noted("f", "s")).replace('"text":""', '"text":"a\\nb\\u001b"')
    assert from_json(stored) == Noted("f", "s", text="a b\\x1b")


def test_a_case_of_a_file_is_plain() -> None:
    lesson = from_dict({"format": "diagnose.case/1", "case": HOSTILE, "machine": {"facts": {"a\n": "b\n"}}})
    assert not obeyed(lesson.case)
    assert dict(lesson.machine.facts) == {"a": "b"}


@pytest.mark.parametrize("escape", ["\\e[2J", "\\x07", "\\x9b"])
def test_a_control_character_written_as_an_escape_of_yaml_is_refused_with_its_place(escape: str) -> None:
    read = read_text(f'a: 1\nb: "x{escape}"\n', "f.yaml")
    assert [(one.code, str(one.place)) for one in read.problems] == [("K002", "f.yaml:2:4")]


def test_a_screen_drawn_from_a_hostile_text_is_plain() -> None:
    from rich.table import Table
    from rich.text import Text

    table = Table.grid()
    table.add_row(Text(HOSTILE), HOSTILE)
    assert obeyed(rendered(table, 100)) <= {"\n"}


def test_errors_are_short_and_on_their_own_lines() -> None:
    problems = [Problem("K001", Place("a\nb.yaml", i), "x" * 100_000) for i in range(1000)]
    lines = str(DataError(problems)).splitlines()
    assert len(lines) == SHOWN + 1
    assert lines[-1] == f"and {1000 - SHOWN} more problems"
    assert max(map(len, lines)) < 500
    assert len(str(CallError("x" * 1_000_000))) < 5000


@given(TEXTS, st.integers(5, 30))
def test_shortened_keeps_both_ends(text: str, most: int) -> None:
    short = shortened(text, most)
    assert len(short) <= most
    assert (short == text) == (len(text) <= most) or "..." in text
    assert text.startswith(short[: (most - 3) // 2])


PRINTERS = {"diagnose.cli.show", "diagnose.cli.main", "diagnose.cli.talk", "diagnose.cli.asking"}
"""Those that print: text that has been through the gate."""


@pytest.mark.parametrize("module", sorted(set(FILES) - PRINTERS))
def test_nothing_else_prints(module: str) -> None:
    calls = [node.func for node in ast.walk(parsed(FILES[module])) if isinstance(node, ast.Call)]
    names = {
        f"{call.value.id}.{call.attr}"
        for call in calls
        if isinstance(call, ast.Attribute) and isinstance(call.value, ast.Name)
    } | {call.id for call in calls if isinstance(call, ast.Name)}
    assert not names & {"print", "click.echo", "click.secho", "click.prompt", "input", "stdout.write"}


def parsed(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))
