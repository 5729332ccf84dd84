"""Kinds of scalars: text, id, choice, true or false, number."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from diagnose.forms.notes import Notes, Schema, Word, meant, wrong_type
from diagnose.forms.reader import Leaf, Node
from diagnose.plain import one_line

LONGEST_TEXT = 10_000
"""Letters of one text at most: five pages."""
ID = re.compile(r"[a-z][a-z0-9_]*")


@dataclass(frozen=True)
class FreeText:
    """Free text, or text in the form of a pattern that `says` describes."""

    pattern: str | None = None
    says: str = "text"

    def read(self, node: Node, notes: Notes) -> Word | None:
        """The text as a Word."""
        if not isinstance(node, Leaf):
            wrong_type(node, self.says, notes)
            return None
        if node.looks != "text":
            self._trap(node, notes)
            return None
        if not node.text.strip():
            notes.add("K016", node.place, f"expected {self.says}, found empty text")
            return None
        if len(node.text) > LONGEST_TEXT:
            notes.add("K003", node.place, f"is a text of more than {LONGEST_TEXT:,} letters", "shorten it")
            return None
        if self.pattern and not re.fullmatch(self.pattern, node.text):
            notes.add("K012", node.place, f"expected {self.says}, found `{node.text}`")
            return None
        return Word(one_line(node.text), node.place)

    def _trap(self, node: Leaf, notes: Notes) -> None:
        if node.looks == "nothing":
            notes.add("K016", node.place, f"expected {self.says}, found nothing")
            return
        codes = {"truth trap": "K007", "number trap": "K008"}
        code, message = codes.get(node.looks, "K012"), f"YAML does not read `{node.text}` as text"
        notes.add(code, node.place, message, f'write "{node.text}" in quotes')
        return

    def schema(self) -> Schema:
        """A string."""
        return {"type": "string", "pattern": f"^(?:{self.pattern})$" if self.pattern else r"\S"}


@dataclass(frozen=True)
class Id:
    """An id: `lower_case_with_underscores`."""

    says: str = "an id"

    def read(self, node: Node, notes: Notes) -> Word | None:
        """The id as a Word."""
        word = FreeText(says=self.says).read(node, notes)
        if word is not None and not ID.fullmatch(word):
            form = re.sub(r"[^a-z0-9]+", "_", word.lower()).strip("_")
            hint = f"write `{form}`" if ID.fullmatch(form) else "small letters, digits and _, a letter first"
            notes.add("K013", node.place, f"`{word}` is not an id", hint)
            return None
        return word

    def schema(self) -> Schema:
        """A string in the form of an id."""
        return {"type": "string", "pattern": f"^{ID.pattern}$"}


@dataclass(frozen=True)
class Enumeration:
    """One of a few words."""

    words: tuple[str, ...]

    @property
    def says(self) -> str:
        """The choices."""
        return f"one of {', '.join(self.words)}"

    def read(self, node: Node, notes: Notes) -> Word | None:
        """The chosen word."""
        word = FreeText(says=self.says).read(node, notes)
        if word is not None and word not in self.words:
            notes.add("K015", node.place, f"`{word}` is not {self.says}", meant(word, self.words))
            return None
        return word

    def schema(self) -> Schema:
        """An enumeration."""
        return {"enum": list(self.words)}


@dataclass(frozen=True)
class Truth:
    """`true` or `false`."""

    says: str = "true or false"

    def read(self, node: Node, notes: Notes) -> bool | None:
        """The truth value."""
        if isinstance(node, Leaf) and node.looks == "truth":
            return node.text == "true"
        if isinstance(node, Leaf) and node.looks == "truth trap":
            notes.add("K007", node.place, f"expected true or false, found `{node.text}`", self._hint(node))
            return None
        wrong_type(node, self.says, notes)
        return None

    def _hint(self, node: Leaf) -> str:
        return "write true" if node.text.lower() in ("yes", "on", "y", "true") else "write false"

    def schema(self) -> Schema:
        """A boolean."""
        return {"type": "boolean"}


@dataclass(frozen=True)
class Amount:
    """A finite number, from `low` to `high`, or more than `above`."""

    low: float = -math.inf
    high: float = math.inf
    above: float = -math.inf
    says: str = "a number"

    def read(self, node: Node, notes: Notes) -> float | None:
        """The number."""
        if not isinstance(node, Leaf) or node.looks != "number":
            self._not_a_number(node, notes)
            return None
        value = float(node.text)
        if not (self.low <= value <= self.high and value > self.above and math.isfinite(value)):
            notes.add("K014", node.place, f"{node.text} is not {self._range()}")
            return None
        return value

    def _not_a_number(self, node: Node, notes: Notes) -> None:
        if not isinstance(node, Leaf):
            wrong_type(node, self.says, notes)
            return
        if node.looks == "number trap":
            hint = "write a plain decimal number"
            notes.add("K008", node.place, f"YAML reads `{node.text}` as another number", hint)
            return
        wrong_type(node, self.says, notes, _number_hint(node))
        return

    def _range(self) -> str:
        if self.above > -math.inf:
            return f"more than {self.above:g}"
        if self.high < math.inf:
            return f"from {_written(self.low)} to {_written(self.high)}"
        return f"{self.low:g} or more" if self.low > -math.inf else "a finite number"

    def schema(self) -> Schema:
        """A number with its bounds."""
        bounds = {"minimum": self.low, "maximum": self.high, "exclusiveMinimum": self.above}
        return {"type": "number"} | {name: bound for name, bound in bounds.items() if math.isfinite(bound)}


def _written(bound: float) -> str:
    """A bound in digits, also a large one."""
    return f"{bound:,.0f}" if abs(bound) >= 1e6 else f"{bound:g}"


def _number_hint(node: Leaf) -> str:
    if not node.plain:
        return "write the number without quotes"
    if re.fullmatch(r"\d+,\d+", node.text):
        return f"write {node.text.replace(',', '.')}"
    if found := re.fullmatch(r"(\d+(?:\.\d+)?) ?%", node.text):
        return f"write {float(found[1]) / 100:g}"
    return ""
