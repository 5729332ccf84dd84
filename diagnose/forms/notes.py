"""What reading a file hands on: words and figures that know their place, and notes of what is wrong."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Protocol

from diagnose.errors import LONGEST, Place, Problem
from diagnose.forms.reader import Document, Items, Leaf, MappingNode, Node
from diagnose.plain import shortened

Schema = dict[str, Any]
MOST = 1000
"""Problems that are kept: a file can have a million, and nobody mends more at a time."""


class Word(str):
    """Text that remembers where it stands; equal to any other string with these letters."""

    __slots__ = ("place",)
    place: Place

    def __new__(cls, text: str, place: Place) -> Word:
        """The text at this place."""
        word = super().__new__(cls, text)
        word.place = place
        return word


def place_of(text: str, otherwise: Place) -> Place:
    """Where a text stands, if it remembers."""
    return text.place if isinstance(text, Word) else otherwise


class Values(dict[str, Any]):
    """The fields of one table by name, with the place of the table and of each key that was given."""

    __slots__ = ("place", "places")

    def __init__(self, place: Place, **given: Any):
        super().__init__(**given)
        self.place = place
        self.places: dict[str, Place] = {}


@dataclass(frozen=True, slots=True)
class WrittenNumber:
    """A number as written: bare, or with its basis and equivalent sample size."""

    value: float
    basis: str | None
    ess: float | None
    place: Place


class Notes:
    """Collects problems, and the words of what was left out because of them."""

    def __init__(self) -> None:
        self.problems: list[Problem] = []
        self.doubtful: set[str] = set()
        self._count = 0

    def add(self, code: str, place: Place, message: str, hint: str = "") -> None:
        """Note one problem; what it quotes may be long, and of very many only the first are kept."""
        self._count += 1
        if len(self.problems) < MOST:
            self.problems.append(Problem(code, place, shortened(message, LONGEST), hint))

    def take(self, document: Document) -> None:
        """Note all problems of a document."""
        self._count += len(document.problems)
        self.problems.extend(document.problems)
        self.doubtful.update(document.doubtful)

    def __len__(self) -> int:
        return self._count


class Kind(Protocol):
    """What a node may be."""

    @property
    def says(self) -> str:
        """The kind in words, for messages: "a number"."""

    def read(self, node: Node, notes: Notes) -> Any:
        """The value of the node, or None with a problem noted."""

    def schema(self) -> Schema:
        """The JSON Schema of what this kind accepts."""


def meant(word: str, choices: Iterable[str]) -> str:
    """A hint that names the most similar choice, or else the choices if they are few."""
    from rapidfuzz import fuzz, process  # only when something is wrong

    known = list(choices)
    if found := process.extractOne(word, known, scorer=fuzz.ratio, score_cutoff=75):
        return f"did you mean `{found[0]}`?"
    return f"known: {', '.join(known)}" if 0 < len(known) <= 12 else ""


def wrong_type(node: Node, says: str, notes: Notes, hint: str = "") -> None:
    """Note that the node is not what was expected."""
    names = {Items: "a list", MappingNode: "a mapping"}
    got = names.get(type(node)) or (f"`{node.text}`" if isinstance(node, Leaf) and node.text else "nothing")
    notes.add("K012", node.place, f"expected {says}, found {got}", hint)
