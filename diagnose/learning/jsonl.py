"""Cases as JSON Lines: one case a line (docs/learning.md has every field)."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping
from typing import Any, TypeVar

from diagnose.cases.case import Epoch, Observation
from diagnose.cases.events import CONFIDENCES, CONFIRMED, MOST_HOURS
from diagnose.cases.json_values import finite
from diagnose.errors import DataError, Place, Problem
from diagnose.forms.scalars import LONGEST_TEXT
from diagnose.learning.lesson import ConfirmedCause, Lesson
from diagnose.network.machine import Machine
from diagnose.plain import one_line, shortened

FORMAT = "diagnose.case/1"
Json = dict[str, Any]
T = TypeVar("T")


class NoLesson(ValueError):
    """A text that is no case; the message says what is wrong in it."""


def to_json(lesson: Lesson) -> str:
    """One line. What is empty is left out."""
    values = to_dict(lesson)
    text = json.dumps(values, ensure_ascii=False, separators=(",", ":"))
    try:
        text.encode()
    except UnicodeEncodeError:  # half a surrogate pair, which JSON can write in its own way only
        text = json.dumps(values, separators=(",", ":"))
    return text


def to_dict(lesson: Lesson) -> Json:
    """The case as plain values."""
    machine = lesson.machine
    found = [{"cause": one.cause, "confirmed": one.how} for one in lesson.confirmed]
    outcome = {"closed": lesson.closed, "causes": found, "proven": lesson.proven}
    return {"format": FORMAT} | _full(
        case=lesson.case,
        machine=_full(
            number=machine.number,
            family=machine.family,
            hours=machine.hours,
            facts=dict(machine.facts),
            renewed=dict(machine.renewed),
            last_right=machine.last_right,
        ),
        complaint=lesson.complaint,
        came_in_for=list(lesson.came_in_for),
        opened=lesson.opened,
        epochs=[_epoch(epoch) for epoch in lesson.epochs],
        codes_not_used=list(lesson.codes_not_used),
        outcome=_full(**outcome) | {"causes": found} if lesson.is_closed else None,
        knowledge=lesson.knowledge,
    )


def from_json(text: str) -> Lesson:
    """The case of one line. Raises NoLesson."""
    try:
        values = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise NoLesson(f"this is no JSON: {error}") from error
    return from_dict(values)


def from_dict(values: Any) -> Lesson:
    """The case of plain values. Raises NoLesson."""
    top = _Reader(values, "")
    if top.take("format", _text, FORMAT) != FORMAT:
        raise NoLesson(f"`format` is not {FORMAT}")
    machine, outcome = top.inside("machine"), top.inside("outcome")
    lesson = Lesson(
        case=top.take("case", _name, ""),
        machine=Machine(
            machine.take("number", _text, ""),
            machine.take("family", _text, ""),
            machine.take("facts", _mapping(_text), {}),
            machine.take("hours", _hours, None),
            machine.take("renewed", _mapping(_hours), {}),
            machine.take("last_right", _hours, None),
        ),
        complaint=top.take("complaint", _text, ""),
        came_in_for=top.take("came_in_for", _texts, ()),
        opened=top.take("opened", _text, ""),
        closed=outcome.take("closed", _text, ""),
        epochs=_epochs(top),
        confirmed=tuple(_found(one) for one in outcome.each("causes")),
        is_closed=outcome.given,
        proven=outcome.take("proven", _flag, False),
        knowledge=top.take("knowledge", _text, ""),
        codes_not_used=top.take("codes_not_used", _texts, ()),
    )
    for reader in (machine, outcome, top):
        reader.nothing_more()
    return lesson


def read_lines(name: str, lines: Iterable[tuple[int, str]]) -> list[Lesson]:
    """The cases of numbered lines; empty lines are passed over. Raises DataError with what is wrong where."""
    lessons, problems = [], []
    for number, line in lines:
        if not line.strip():
            continue
        try:
            lessons.append(from_json(line))
        except NoLesson as error:
            problems.append(Problem("L001", Place(name, number), str(error), "see docs/learning.md"))
    if problems:
        raise DataError(problems)
    return lessons


def _full(**values: Any) -> Json:
    """Those that say something."""
    return {
        name: value
        for name, value in values.items()
        if value not in ("", None, [], {}, ()) and value is not False
    }


def _epoch(epoch: Epoch) -> Json:
    return _full(
        repairs=list(epoch.repairs),
        causes=list(epoch.causes),
        checks=list(epoch.checks),
        seen=[_observation(seen) for seen in epoch.observations],
    )


def _observation(seen: Observation) -> Json:
    return {"finding": seen.finding, "state": seen.state} | _full(
        confidence="" if seen.confidence == "sure" else seen.confidence,
        value=seen.value,
        unit=seen.unit,
        code=seen.code,
        text=seen.text,
    )


def _found(reader: _Reader) -> ConfirmedCause:
    found = ConfirmedCause(
        reader.need("cause", _text), reader.take("confirmed", _one_of(CONFIRMED), "assumed")
    )
    reader.nothing_more()
    return found


def _epochs(top: _Reader) -> tuple[Epoch, ...]:
    epochs = []
    for number, reader in enumerate(top.each("epochs")):
        epochs.append(
            Epoch(
                reader.take("repairs", _texts, ()),
                reader.take("causes", _texts, ()),
                tuple(_seen(one, number) for one in reader.each("seen")),
                reader.take("checks", _texts, ()),
            )
        )
        reader.nothing_more()
    return tuple(epochs) or (Epoch(),)


def _seen(reader: _Reader, epoch: int) -> Observation:
    seen = Observation(
        finding=reader.need("finding", _text),
        state=reader.need("state", _text),
        confidence=reader.take("confidence", _one_of(CONFIDENCES), "sure"),
        value=reader.take("value", finite, None),
        unit=reader.take("unit", _text, ""),
        text=reader.take("text", _text, ""),
        epoch=epoch,
        code=reader.take("code", _text, ""),
    )
    reader.nothing_more()
    return seen


class _Reader:
    """Fields of one mapping, each read once; what is wrong is told with its way from the top."""

    def __init__(self, values: Any, way: str):
        self.given = values is not None
        if self.given and not isinstance(values, dict):
            raise NoLesson(f"{way or 'the line'} is not a mapping")
        self._values: Json = dict(values or {})
        self._way = way

    def _named(self, name: str) -> str:
        return f"{self._way}.{name}" if self._way else name

    def take(self, name: str, read: Callable[[Any], T], default: Any) -> Any:
        """The field, or its default."""
        if name not in self._values:
            return default
        value = self._values.pop(name)
        try:
            return read(value)
        except (TypeError, ValueError) as error:
            raise NoLesson(f"`{self._named(name)}` cannot be {_quoted(value)}: {error}") from error

    def need(self, name: str, read: Callable[[Any], T]) -> Any:
        """The field, which must be there."""
        if name not in self._values:
            raise NoLesson(f"`{self._named(name)}` is missing")
        return self.take(name, read, None)

    def inside(self, name: str) -> _Reader:
        """The mapping of this name; an empty one where it is missing."""
        return _Reader(self._values.pop(name, None), self._named(name))

    def each(self, name: str) -> list[_Reader]:
        """The mappings of a list of this name."""
        values = self._values.pop(name, [])
        if not isinstance(values, list):
            raise NoLesson(f"`{self._named(name)}` is not a list")
        return [_Reader(value, f"{self._named(name)}[{place}]") for place, value in enumerate(values)]

    def nothing_more(self) -> None:
        """Raises NoLesson where a field was not read: a slip of the pen must not be passed over."""
        if self._values:
            raise NoLesson(f"`{self._named(next(iter(self._values)))}` is no field of a case")


def _quoted(value: Any) -> str:
    """A value as it stands in a message; a whole number can be too long even to be written out."""
    try:
        return shortened(repr(value), 100)
    except ValueError:
        return "so long a number"


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise TypeError("it is not a text")
    if len(value) > LONGEST_TEXT:
        raise ValueError(f"it has more than {LONGEST_TEXT:,} letters")
    return one_line(value)


def _name(value: Any) -> str:
    return str(value) if type(value) is int else _text(value)


def _flag(value: Any) -> bool:
    if not isinstance(value, bool):
        raise TypeError("it is not true or false")
    return value


def _hours(value: Any) -> float:
    hours = finite(value)
    if not 0 <= hours <= MOST_HOURS:
        raise ValueError(f"hours are from 0 to {MOST_HOURS:g}")
    return hours


def _texts(value: Any) -> tuple[str, ...]:
    if not isinstance(value, list):
        raise TypeError("it is not a list of texts")
    return tuple(map(_text, value))


def _mapping(read: Callable[[Any], T]) -> Callable[[Any], dict[str, T]]:
    def reader(value: Any) -> dict[str, T]:
        if not isinstance(value, Mapping):
            raise TypeError("it is not a mapping")
        return {one_line(key): read(one) for key, one in value.items()}

    return reader


def _one_of(words: tuple[str, ...]) -> Callable[[Any], str]:
    def reader(value: Any) -> str:
        if value not in words:
            raise ValueError(f"it is one of {', '.join(words)}")
        return str(value)

    return reader
