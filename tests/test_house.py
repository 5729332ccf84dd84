"""The house keeps its size: short files and functions, and a reason beside every number."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path
from statistics import median

import pytest

ROOT = Path(__file__).parents[1]
FILES = sorted((ROOT / "diagnose").rglob("*.py"))
LONGEST_FILE = 350
MEDIAN_FUNCTION = 5
SENTENCE = 30


def named(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


def is_number(value: ast.expr | None) -> bool:
    """Whether a number is written there, alone or among others; not one that is only reckoned from names."""
    match value:
        case ast.Constant(value=int() | float() as number):
            return not isinstance(number, bool)
        case ast.UnaryOp(operand=inner):
            return is_number(inner)
        case ast.BinOp(left=left, right=right):
            return is_number(left) and is_number(right)
        case ast.Tuple(elts=inner) | ast.Dict(values=inner):
            return any(map(is_number, inner))
    return False


def constants(body: list[ast.stmt]) -> Iterator[tuple[ast.Assign | ast.AnnAssign, str, ast.stmt | None]]:
    """Every constant of a module with its first name and the statement after it."""
    for one, after in zip(body, [*body[1:], None], strict=True):
        if isinstance(one, ast.Assign | ast.AnnAssign):
            target = one.targets[0] if isinstance(one, ast.Assign) else one.target
            first = target.elts[0] if isinstance(target, ast.Tuple) else target
            if isinstance(first, ast.Name) and first.id.isupper():
                yield one, first.id, after


def without_reason(text: str) -> list[str]:
    """The numeric constants of a module with no comment in or above their lines and no text after them."""
    lines = text.split("\n")
    return [
        name
        for one, name, after in constants(ast.parse(text).body)
        if is_number(one.value)
        and "#" not in "".join(lines[one.lineno - 1 : one.end_lineno])
        and not lines[one.lineno - 2].startswith("#")
        and not (isinstance(after, ast.Expr) and isinstance(after.value, ast.Constant))
    ]


@pytest.mark.parametrize("path", FILES, ids=named)
def test_every_number_has_its_reason_beside_it(path: Path) -> None:
    assert not without_reason(path.read_text(encoding="utf-8"))


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("MOST = 3", ["MOST"]),
        ("MOST: int = -3\nLEAST = 2  # a pair\n", ["MOST"]),
        ("MOST, LEAST = 1 << 20, 3\n", ["MOST"]),
        ('LIGHT = {"in": 0.5}\nFEW = 2\n"""A pair."""\n', ["LIGHT"]),
        ("# A pair.\nFEW = 2\nWORD = 'few'\nfew = 3\nTWICE = 2 * FEW\n", []),
    ],
)
def test_a_planted_number_is_found(text: str, wrong: list[str]) -> None:
    assert without_reason(text) == wrong


@pytest.mark.parametrize("path", FILES, ids=named)
def test_no_file_is_long(path: Path) -> None:
    assert path.read_text(encoding="utf-8").count("\n") <= LONGEST_FILE


@pytest.mark.parametrize("hidden", ["__dict__", "noqa: B018"])
def test_nothing_is_done_behind_a_name(hidden: str) -> None:
    """No object's memory is written past its own names; nothing is read only so that it raises."""
    assert [named(path) for path in FILES if hidden in path.read_text(encoding="utf-8")] == []


def length(function: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    """Lines without the docstring."""
    documented = ast.get_docstring(function) is not None
    first = function.body[0]
    said = (first.end_lineno or 0) - first.lineno + 1 if documented else 0
    return (function.end_lineno or 0) - function.lineno + 1 - said


def test_half_of_all_functions_are_short() -> None:
    found = [
        length(node)
        for path in FILES
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
    ]
    assert median(found) <= MEDIAN_FUNCTION


def sentences(text: str) -> Iterator[str]:
    """Every text of a module that somebody may read: long, in words, no docstring; of one with values in it, the
    pieces between."""
    tree = ast.parse(text)
    said = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in said:
            words = node.value.strip()
            if len(words) >= SENTENCE and " " in words and "_" not in words:
                yield words


def test_no_sentence_is_written_twice() -> None:
    found: dict[str, list[str]] = {}
    for path in FILES:
        for words in sentences(path.read_text(encoding="utf-8")):
            found.setdefault(words, []).append(named(path))
    assert {words: places for words, places in found.items() if len(places) > 1} == {}


def test_a_planted_sentence_is_found() -> None:
    planted = (
        '"""The repair was proven by its own test."""\nx = f"{y}The repair was proven by its own test."\n'
    )
    assert list(sentences(planted)) == ["The repair was proven by its own test."]
