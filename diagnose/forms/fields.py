"""A small declarative way to say what a file holds: kinds of values, and tables of fields of these kinds.

A kind reads a node to a value and notes every problem; the same declaration yields the JSON Schema.
A value that cannot be read becomes None, and its problem is in the notes: nothing raises but `demand`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from diagnose.errors import DataError
from diagnose.forms.notes import (
    Kind,
    Notes,
    Schema,
    Values,
    Word,
    WrittenNumber,
    meant,
    place_of,
    wrong_type,
)
from diagnose.forms.reader import Document, Items, Leaf, MappingNode, Node, words_in
from diagnose.forms.scalars import Amount, Enumeration, FreeText, Id, Truth

__all__ = [
    "BASIS",
    "PROBABILITY",
    "Amount",
    "Either",
    "Enumeration",
    "Field",
    "FreeText",
    "Id",
    "Kind",
    "Many",
    "Map",
    "Notes",
    "Numeric",
    "Schema",
    "Shape",
    "Truth",
    "Values",
    "Word",
    "WrittenNumber",
    "demand",
    "meant",
    "place_of",
    "read_as",
]


def read_as(kind: Kind, document: Document, notes: Notes) -> Any:
    """The document's value as this kind; None where it cannot be read at all."""
    notes.take(document)
    return kind.read(document.root, notes) if document.root is not None else None


def demand(kind: Kind, document: Document) -> Any:
    """The document's value as this kind.

    Raises:
        DataError: with all problems of the document.
    """
    notes = Notes()
    value = read_as(kind, document, notes)
    if notes.problems:
        raise DataError(notes.problems)
    return value


@dataclass(frozen=True)
class Many:
    """A list of one kind; `least`: how many at least."""

    kind: Kind
    least: int = 0

    @property
    def says(self) -> str:
        """The list in words."""
        return f"a list, each {self.kind.says}"

    def read(self, node: Node, notes: Notes) -> tuple[Any, ...] | None:
        """The values; an item that cannot be read is left out."""
        if not isinstance(node, Items):
            hint = f"write [{node.text}]" if isinstance(node, Leaf) and node.text else ""
            wrong_type(node, self.says, notes, hint)
            return None
        values = tuple(self.kind.read(item, notes) for item in node.nodes)
        if len(values) < self.least:
            notes.add("K012", node.place, f"expected at least {self.least} in the list, found {len(values)}")
        self._twice(values, notes)
        return tuple(value for value in values if value is not None)

    def _twice(self, values: tuple[Any, ...], notes: Notes) -> None:
        seen: set[str] = set()
        for value in values:
            if isinstance(value, Word):
                if value in seen:
                    notes.add("K017", value.place, f"`{value}` stands twice in the list", "keep one of them")
                seen.add(value)

    def schema(self) -> Schema:
        """An array."""
        least = {"minItems": self.least} if self.least else {}
        once = {"uniqueItems": True} if isinstance(self.kind, FreeText | Id | Enumeration) else {}
        return {"type": "array", "items": self.kind.schema()} | least | once


@dataclass(frozen=True)
class Map:
    """A mapping from words (ids, unless `keys` says else) to one kind."""

    kind: Kind
    keys: Kind = field(default_factory=Id)
    least: int = 0

    @property
    def says(self) -> str:
        """The mapping in words."""
        return f"a mapping from {self.keys.says} to {self.kind.says}"

    def read(self, node: Node, notes: Notes) -> dict[Word, Any] | None:
        """The entries in order. One with a problem is None; the words in it become doubtful."""
        if not isinstance(node, MappingNode):
            wrong_type(node, self.says, notes)
            return None
        if len(node.entries) < self.least:
            notes.add("K012", node.place, f"expected {self.says}, found nothing")
        return {word: value for word, value in self._entries(node, notes) if word is not None}

    def _entries(self, node: MappingNode, notes: Notes) -> Iterator[tuple[Word | None, Any]]:
        for key, inner in node.entries:
            before = len(notes)
            word, value = self.keys.read(key, notes), self.kind.read(inner, notes)
            if len(notes) > before:
                notes.doubtful.update((key.text, *words_in(inner)))
                value = None
            yield word, value

    def schema(self) -> Schema:
        """An object with any names of the right form."""
        return {
            "type": "object",
            "propertyNames": self.keys.schema(),
            "additionalProperties": self.kind.schema(),
        } | ({"minProperties": self.least} if self.least else {})


@dataclass(frozen=True)
class Field:
    """One field of a shape: its kind, whether it must be there, what it is when it is not."""

    kind: Kind
    about: str = ""
    required: bool = False
    default: Any = None


@dataclass(frozen=True)
class Shape:
    """A mapping with these fields and no others. `hints`: what to say of a key that is often tried."""

    name: str
    fields: Mapping[str, Field]
    hints: Mapping[str, str] = field(default_factory=dict)

    @property
    def says(self) -> str:
        """The shape in words."""
        return f"{self.name} ({', '.join(self.fields)})"

    def read(self, node: Node, notes: Notes) -> Values | None:
        """The fields, with defaults for those that are not given."""
        if not isinstance(node, MappingNode):
            wrong_type(node, self.says, notes)
            return None
        values = Values(node.place)
        for key, inner in node.entries:
            self._read_field(key, inner, values, notes)
        for name, one in self.fields.items():
            if name not in values:
                values[name] = one.default
                if one.required:
                    notes.add("K011", node.place, f"{self.name}: `{name}` is missing", one.about)
        return values

    def _read_field(self, key: Leaf, inner: Node, values: Values, notes: Notes) -> None:
        if one := self.fields.get(key.text):
            values[key.text] = one.kind.read(inner, notes)
            values.places[key.text] = key.place
        else:
            hint = self.hints.get(key.text) or meant(key.text, self.fields)
            notes.add("K010", key.place, f"{self.name} has no field `{key.text}`", hint)

    def schema(self) -> Schema:
        """An object with these properties."""
        return {
            "type": "object",
            "properties": {name: _described(one) for name, one in self.fields.items()},
            "required": [name for name, one in self.fields.items() if one.required],
            "additionalProperties": False,
        }


def _described(one: Field) -> Schema:
    about = {"description": one.about} if one.about else {}
    return about | one.kind.schema()


@dataclass(frozen=True)
class Either:
    """A scalar of one kind, or a mapping of another."""

    leaf: Kind
    table: Kind

    @property
    def says(self) -> str:
        """Both kinds."""
        return f"{self.leaf.says} or {self.table.says}"

    def read(self, node: Node, notes: Notes) -> Any:
        """The value by what the node is."""
        match node:
            case Leaf():
                return self.leaf.read(node, notes)
            case MappingNode():
                return self.table.read(node, notes)
        wrong_type(node, self.says, notes)
        return None

    def schema(self) -> Schema:
        """Any of both."""
        return {"anyOf": [self.leaf.schema(), self.table.schema()]}


@dataclass(frozen=True)
class Numeric:
    """A number alone, or in the long form `{p: 0.9, basis: ..., ess: ...}`; `name`: the key of the value."""

    name: str
    amount: Amount

    @property
    def says(self) -> str:
        """The number in words."""
        return self.amount.says

    def read(self, node: Node, notes: Notes) -> WrittenNumber | None:
        """The figure, placed at the value."""
        if not isinstance(node, MappingNode):
            value = self.amount.read(node, notes)
            return None if value is None else WrittenNumber(value, None, None, node.place)
        long = self._long().read(node, notes)
        if long is None or long[self.name] is None:
            return None
        place = long.places.get(self.name, node.place)
        return WrittenNumber(long[self.name], long["basis"], long["ess"], place)

    def _long(self) -> Shape:
        return Shape("a number", {self.name: Field(self.amount, required=True), **BASIS})

    def schema(self) -> Schema:
        """A number or the long form."""
        return {"anyOf": [self.amount.schema(), self._long().schema()]}


BASIS = {
    "basis": Field(FreeText(), "`common practice`, `judgement`, or the id of a source"),
    "ess": Field(Amount(above=0), "equivalent sample size: how many cases the number is worth"),
}
PROBABILITY = Numeric("p", Amount(low=0, high=1, says="a probability"))
