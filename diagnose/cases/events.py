"""The events of a case: what was recorded, each a frozen record with one canonical JSON text."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import MISSING, dataclass, field, fields
from typing import Any, ClassVar, Literal, get_args

from diagnose.append_only.format import EntryError, NewerEntry
from diagnose.cases.json_values import count, finite, flag, map_of, maybe_number, one_of, text, texts
from diagnose.plain import one_line

Confidence = Literal["sure", "likely", "unsure"]
Confirmed = Literal["by sight", "by repair", "assumed"]
CONFIDENCES: tuple[Confidence, ...] = get_args(Confidence)
CONFIRMED: tuple[Confirmed, ...] = get_args(Confirmed)
MOST_HOURS = 1e7
"""Running hours at most, typed or in a file: more than a thousand years."""
VERSION = 1  # of how events are written; raised when their meaning changes
SECOND = ("opened", "fact", "noted")
"""Kinds of events whose second version has further fields; the first is read as if they said nothing."""
SPARED = {"noted": ("place",)}
"""Those fields that are written, with the second version, only where they say something: what a program of before
can read stays readable to it."""
Waiting = Literal["parts", "customer", "cooling down", ""]
WAITING: tuple[Waiting, ...] = get_args(Waiting)
PARTS, CUSTOMER, COOLING, NOTHING = WAITING
"""What a case can wait for; the last: it goes on."""


class EventError(EntryError):
    """An event that cannot be written or read."""


class NewerEvent(EventError, NewerEntry):
    """An event of a kind or version that only a newer program knows."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """What every event has: its number within the case (from 1; 0 = not stored yet), its time (UTC, ISO
    8601), the version of the knowledge in force when it was recorded, and who noted it, empty where nobody says.
    An event that names somebody is of one version more than without.
    """

    kind: ClassVar[str] = ""
    sequence: int = 0
    time: str = ""
    knowledge: str = ""
    by: str = ""

    def __post_init__(self) -> None:
        """Whatever a text came from, it enters a case as one line without control characters."""
        for name in (*type(self).__match_args__, "time", "knowledge", "by"):
            value = getattr(self, name)
            if (plain := _plain(value)) is not value:
                object.__setattr__(self, name, plain)


def _plain(value: Any) -> Any:
    """The value with every text in it on one line; the very same where nothing changes."""
    if isinstance(value, str):
        return one_line(value)
    if isinstance(value, tuple) and any(_plain(item) is not item for item in value):
        return tuple(map(_plain, value))
    if isinstance(value, Mapping) and any(_plain(k) is not k or _plain(v) is not v for k, v in value.items()):
        return {_plain(key): _plain(item) for key, item in value.items()}
    return value


@dataclass(frozen=True, slots=True)
class Opened(Event):
    """A machine came in. `facts`: fact id -> value, the family's own facts merged in. `renewed`: cause id
    -> hours run since that part was last replaced. `last_right`: running hours since the machine was last known
    right. `inspection`: nobody complains of anything.
    """

    kind: ClassVar[str] = "opened"
    machine: str
    family: str = ""
    facts: Mapping[str, str] = field(default_factory=dict)
    hours: float | None = None
    renewed: Mapping[str, float] = field(default_factory=dict)
    complaint: str = ""
    last_right: float | None = None
    inspection: bool = False


@dataclass(frozen=True, slots=True)
class Noted(Event):
    """A finding was seen to be in a state; `text` is what was typed, `value` and `unit` what was read,
    `code` the fault code that it came from, `place` the cylinder or bank where it was told (`cylinder 4`).
    """

    kind: ClassVar[str] = "noted"
    finding: str
    state: str
    confidence: Confidence = "sure"
    text: str = ""
    value: float | None = None
    unit: str = ""
    code: str = ""
    place: str = ""


@dataclass(frozen=True, slots=True)
class Measured(Event):
    """A value was read that sets no finding by itself: what it means depends on a fact of the machine that was not
    known, or other limits depend on it. `unit` with "absolute" or "gauge" where that was said.
    """

    kind: ClassVar[str] = "measured"
    quantity: str
    value: float
    unit: str
    confidence: Confidence = "sure"
    text: str = ""


@dataclass(frozen=True, slots=True)
class Coded(Event):
    """A fault code that stands for no finding of the knowledge: kept, not used."""

    kind: ClassVar[str] = "coded"
    code: str
    text: str = ""


@dataclass(frozen=True, slots=True)
class Checked(Event):
    """A check was done. What it showed are `Noted` events of their own."""

    kind: ClassVar[str] = "checked"
    check: str
    text: str = ""


@dataclass(frozen=True, slots=True)
class OpenedUp(Event):
    """The machine was dismantled as far as this access state."""

    kind: ClassVar[str] = "opened_up"
    access: str
    text: str = ""


@dataclass(frozen=True, slots=True)
class Repaired(Event):
    """Repairs were done, after which the machine was put together and tried; `causes` are those that they
    cover, nothing else is implied. `left_open`: access states still open when it was tried.
    """

    kind: ClassVar[str] = "repaired"
    repairs: tuple[str, ...]
    causes: tuple[str, ...] = ()
    left_open: tuple[str, ...] = ()
    text: str = ""


@dataclass(frozen=True, slots=True)
class Learnt(Event):
    """Something about the machine itself, learnt later; the fields are those of `Opened`."""

    kind: ClassVar[str] = "fact"
    facts: Mapping[str, str] = field(default_factory=dict)
    hours: float | None = None
    renewed: Mapping[str, float] = field(default_factory=dict)
    text: str = ""
    last_right: float | None = None


@dataclass(frozen=True, slots=True)
class Withdrawn(Event):
    """Takes back the event of this number. A withdrawal can be withdrawn too, which restores."""

    kind: ClassVar[str] = "withdrawn"
    event: int
    text: str = ""


@dataclass(frozen=True, slots=True)
class Closed(Event):
    """The case is done: the causes found, how they were confirmed, and whether the repair was proven by its own
    test. `otherwise`: those causes that were confirmed in another way than the rest. What was done stands in the
    case's `Repaired` events.
    """

    kind: ClassVar[str] = "closed"
    causes: tuple[str, ...]
    confirmed: Confirmed = "assumed"
    proven: bool = False
    text: str = ""
    otherwise: Mapping[str, Confirmed] = field(default_factory=dict)

    def how(self, cause: str) -> Confirmed:
        """How this cause was confirmed."""
        return self.otherwise.get(cause, self.confirmed)


@dataclass(frozen=True, slots=True)
class Reopened(Event):
    """The machine came back; not `comeback`: it never left, the case was closed too early."""

    kind: ClassVar[str] = "reopened"
    text: str = ""
    comeback: bool = True


@dataclass(frozen=True, slots=True)
class Waits(Event):
    """What the case waits for from here on; empty: it goes on. `text`: what was said of it."""

    kind: ClassVar[str] = "waits"
    reason: Waiting
    text: str = ""


KINDS: Mapping[str, type[Event]] = {
    kind.kind: kind
    for kind in (
        Opened,
        Noted,
        Measured,
        Coded,
        Checked,
        OpenedUp,
        Repaired,
        Learnt,
        Withdrawn,
        Closed,
        Reopened,
        Waits,
    )
}


def to_json(event: Event) -> str:
    """The event's canonical JSON: sorted keys, no blanks, ASCII. Raises EventError on a value that is not
    of its field's type (a NaN, an unknown confidence).
    """
    values = {part.name: checked(getattr(event, part.name), part.name, event.kind) for part in fields(event)}
    version, spared = _version(event.kind), SPARED.get(event.kind, ())
    if spared and not any(values[name] for name in spared):
        version, values = VERSION, {name: value for name, value in values.items() if name not in spared}
    if not event.by:
        del values["by"]
    head = {"kind": event.kind, "version": version + bool(event.by)}
    return json.dumps(values | head, sort_keys=True, separators=(",", ":"), ensure_ascii=True)


def _version(kind: str) -> int:
    """That of an event that names nobody; one more, and no other meaning, where it does."""
    return VERSION + (kind in SECOND)


def from_json(text: str) -> Event:
    """The event that `to_json` wrote. Raises NewerEvent on an unknown kind or version, EventError on a text
    that is no event.
    """
    values = _mapping(text)
    kind, version = values.pop("kind", None), values.pop("version", None)
    if not isinstance(kind, str) or type(version) is not int:
        raise EventError("this is no event: it has no kind and version")
    if kind not in KINDS or version > _version(kind) + 1:
        raise NewerEvent(
            f"an event of kind “{kind}”, version {version}, is not known to this program; a newer program "
            "wrote it. It is kept unchanged: read the case with the newer program"
        )
    return _build(KINDS[kind], values)


def checked(value: object, name: str, kind: str) -> Any:
    """The value, made plain (tuples, dicts, floats). Raises EventError where it does not fit the field."""
    reader = _READERS[kind].get(name)
    if reader is None:
        raise EventError(f"a “{kind}” event has no field “{name}”")
    try:
        return reader(value)
    except (TypeError, ValueError) as error:
        raise EventError(f"“{name}” of a “{kind}” event cannot be {value!r}: {error}") from error


def _mapping(text: str) -> dict[str, object]:
    try:
        values = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise EventError(f"this is no event: {error}") from error
    if not isinstance(values, dict):
        raise EventError("this is no event: it is not a JSON object")
    return values


def _build(kind: type[Event], values: Mapping[str, object]) -> Event:
    read = {name: checked(value, name, kind.kind) for name, value in values.items()}
    for part in fields(kind):
        needed = part.default is MISSING and part.default_factory is MISSING
        if needed and part.name not in read:
            raise EventError(f"a “{kind.kind}” event lacks its “{part.name}”")
    return kind(**read)


# By the field's annotation as written above: a new kind of field without a reader fails at import.
_BY_TYPE: Mapping[str, Callable[[object], Any]] = {
    "str": text,
    "int": count,
    "bool": flag,
    "float": finite,
    "float | None": maybe_number,
    "tuple[str, ...]": texts,
    "Mapping[str, str]": map_of(text),
    "Mapping[str, float]": map_of(finite),
    "Mapping[str, Confirmed]": map_of(one_of(CONFIRMED)),
    "Confidence": one_of(CONFIDENCES),
    "Confirmed": one_of(CONFIRMED),
    "Waiting": one_of(WAITING),
}
_READERS = {
    name: {part.name: _BY_TYPE[str(part.type)] for part in fields(kind)} for name, kind in KINDS.items()
}
