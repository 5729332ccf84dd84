"""Frozen records <-> plain lists for JSON, derived from the types of their fields."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import fields, is_dataclass
from functools import cache
from types import NoneType, UnionType
from typing import Any, get_args, get_origin, get_type_hints

from diagnose.errors import Place
from diagnose.knowledge.records import Knowledge

Turn = Callable[[Any], Any] | None  # None: the value stays as it is


class Freezer:
    """Turns knowledge from the files of these names to lists and back. Places keep the number of the
    file, so that the same content read from another folder names that folder."""

    def __init__(self, files: Sequence[str]):
        self.files = files
        self.numbers = {name: number for number, name in enumerate(files)}
        self.freezers: dict[Any, Turn] = {Place: self._freeze_place}
        self.thawers: dict[Any, Turn] = {Place: self._thaw_place}

    def freeze(self, knowledge: Knowledge) -> Any:
        """The knowledge as lists, dicts, strings and numbers."""
        return _turned(self._freezer(Knowledge), knowledge)

    def thaw(self, frozen: Any) -> Knowledge:
        """The knowledge again, the lists used up; TypeError, ValueError or LookupError where it is none."""
        knowledge: Knowledge = _turned(self._thawer(Knowledge), frozen)
        return knowledge

    def _freeze_place(self, place: Place) -> list[int]:
        return [self.numbers[place.file], place.line, place.column]

    def _thaw_place(self, row: list[int]) -> Place:
        return Place(self.files[row[0]], row[1], row[2])

    def _freezer(self, hint: Any) -> Turn:
        if hint not in self.freezers:
            self.freezers[hint] = _container(hint, self._freezer, list) or self._freeze_record(hint)
        return self.freezers[hint]

    def _thawer(self, hint: Any) -> Turn:
        if hint not in self.thawers:
            self.thawers[hint] = _container(hint, self._thawer, tuple) or self._thaw_record(hint)
        return self.thawers[hint]

    def _freeze_record(self, hint: Any) -> Turn:
        if hint is str:
            return _bare  # a str that remembers its place becomes a plain one
        if not is_dataclass(hint):
            return None
        record: Any = hint
        turns = [(name, self._freezer(inner)) for name, inner in _fields(record)]
        return lambda one: [_turned(turn, getattr(one, name)) for name, turn in turns]

    def _thaw_record(self, hint: Any) -> Turn:
        if not is_dataclass(hint):
            return None
        record: Any = hint
        turns = [self._thawer(inner) for _, inner in _fields(record)]
        turned = [(number, turn) for number, turn in enumerate(turns) if turn]

        def thaw(row: list[Any]) -> Any:
            for number, turn in turned:
                row[number] = turn(row[number])
            return record(*row)

        return thaw


def _bare(text: str) -> str:
    return str.__str__(text)


def _turned(turn: Turn, value: Any) -> Any:
    return turn(value) if turn else value


@cache
def _fields(record: Any) -> tuple[tuple[str, Any], ...]:
    hints = get_type_hints(record)
    return tuple((one.name, hints[one.name]) for one in fields(record))


def _container(hint: Any, inner: Callable[[Any], Turn], sequence: Callable[[Any], Any]) -> Turn:
    """How to turn a tuple, mapping or optional; None for anything else."""
    origin, arguments = get_origin(hint), get_args(hint)
    if origin is tuple:
        turn = inner(arguments[0])
        return (lambda values: sequence([turn(one) for one in values])) if turn else sequence
    if origin is Mapping:
        turn_value = inner(arguments[1])
        return lambda values: {str(key): _turned(turn_value, one) for key, one in values.items()}
    if origin is UnionType:
        turn_some = inner(next(one for one in arguments if one is not NoneType))
        return lambda value: None if value is None else _turned(turn_some, value)
    return None
