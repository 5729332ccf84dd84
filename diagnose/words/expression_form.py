"""The form of an expression in a file: what people say, and what it means."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from diagnose.errors import DataError
from diagnose.forms.fields import Field, FreeText, Many, Map, Notes, Shape, Values, Word, read_as
from diagnose.forms.reader import read_file
from diagnose.words.expression import Expression

EXPRESSION = Shape(
    "an expression",
    {
        "means": Field(
            FreeText(), "the plain words that it stands for; `power-`: power is lacking", required=True
        ),
        "said": Field(Many(FreeText(), least=1), "how people say it", required=True),
    },
)
EXPRESSIONS = Shape("a file of expressions", {"slang": Field(Map(EXPRESSION), required=True)})


def read_expressions(path: Path) -> tuple[Expression, ...]:
    """The expressions of a file in their order, none of them said for two things. Raises DataError, with every
    problem of the file."""
    notes = Notes()
    values = read_as(EXPRESSIONS, read_file(path), notes)
    found: Mapping[Word, Values | None] = (values or {}).get("slang") or {}
    whole = {id: one for id, one in found.items() if one is not None}
    _said_for_two(whole, notes)
    if notes.problems:
        raise DataError(notes.problems)
    return tuple(Expression(id, one["means"], one["said"], id.place) for id, one in whole.items())


def _said_for_two(found: Mapping[Word, Values], notes: Notes) -> None:
    first: dict[Word, Word] = {}
    for id, one in found.items():
        for said in one["said"]:
            if first.setdefault(said, id) != id:
                message = f"`{said}` is said for two things; first for `{first[said]}`"
                notes.add("K017", said.place, message, "keep one of them")
