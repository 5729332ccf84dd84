"""YAML text -> a tree of nodes that know their line and column, and every problem of the text itself.

Built on the parser events of PyYAML instead of its loader, which keeps the last of two equal keys, reads
`yes` as true and `010` as eight, and expands aliases without bound. What a scalar means is decided later,
by the field that asks for it (see `fields`). Used for knowledge, scenario and shop files alike.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NoReturn

import yaml

from diagnose.errors import Place, Problem
from diagnose.forms.content import read_bytes

MAX_DEPTH = 40  # levels; what is shipped has fewer than ten, and the reader calls itself at each
MOST = 1000  # problems of keys: beyond this it is not a file of ours

# The characters that YAML 1.1 forbids (section 5.1, "printable").
_FORBIDDEN = re.compile("[^\t\n\r\x20-\x7e\x85\xa0-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_TRUTHS = frozenset({"true", "false"})
_TRUTH_TRAPS = frozenset({"yes", "no", "on", "off", "y", "n"})
_NOTHING = frozenset({"", "~", "null"})
_FIRST = frozenset("0123456789+-.~tTfFyYnNoO")  # of everything that is not text
_NUMBER = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")
# Forms that YAML 1.1 reads as numbers, but not as the number that stands there.
_NUMBER_TRAPS = re.compile(
    r"[-+]?(?:0\d+(?![\d.eE])|0[xob][0-9a-fA-F_]+|\d+(?::[0-5]?\d)+(?:\.\d*)?|\d[\d_]*_[\d_]*(?:\.\d*)?|\.inf|\.nan)",
    re.IGNORECASE,
)
_WORD = re.compile(r"[a-z][a-z0-9_]*")


@dataclass(frozen=True, slots=True)
class Leaf:
    """A scalar as it is written. `plain`: without quotes."""

    text: str
    plain: bool
    place: Place

    @property
    def looks(self) -> str:
        """What YAML would take it for: text, number, number trap, truth, truth trap or nothing."""
        return _looks(self.text) if self.plain else "text"


@dataclass(frozen=True, slots=True)
class Items:
    """A list."""

    nodes: tuple[Node, ...]
    place: Place


@dataclass(frozen=True, slots=True)
class MappingNode:
    """A mapping: keys are text and stand once."""

    entries: tuple[tuple[Leaf, Node], ...]
    place: Place


Node = Leaf | Items | MappingNode


@dataclass(frozen=True, slots=True)
class Document:
    """A file that was read: its tree (None if it cannot be read) and its problems.

    `doubtful` are the words in parts that had to be left out: an id among them may be defined there.
    """

    root: Node | None
    problems: tuple[Problem, ...]
    doubtful: frozenset[str] = frozenset()


def read_file(path: Path) -> Document:
    """The document in the file; places name the path as it was given."""
    content = read_bytes(path)
    if isinstance(content, Problem):
        return Document(None, (content,))
    return read_text(content, str(path))


def read_text(content: bytes | str, file: str) -> Document:
    """The document in this text (UTF-8, a byte order mark may lead)."""
    text = _decode(content, file)
    if isinstance(text, Problem):
        words = content.decode("utf-8", "replace") if isinstance(content, bytes) else content
        return Document(None, (text,), _words(words))
    composer = _Composer(text, file)
    try:
        root = composer.document()
    except (_Stop, yaml.YAMLError) as error:
        problems = (*composer.problems, _stopped(error, file, text))
        return Document(None, problems, _words(text))
    return Document(root, tuple(composer.problems), frozenset(composer.doubtful))


def words_in(node: Node) -> Iterator[str]:
    """Every word of the part of the tree, keys too."""
    match node:
        case Leaf():
            yield from _WORD.findall(node.text)
        case Items():
            for item in node.nodes:
                yield from words_in(item)
        case MappingNode():
            for key, value in node.entries:
                yield key.text
                yield from words_in(value)


def plain_value(node: Node) -> Any:
    """The tree as plain lists, dicts, strings, numbers and truths, by the rules of this reader."""
    match node:
        case Items():
            return [plain_value(item) for item in node.nodes]
        case MappingNode():
            return {key.text: plain_value(value) for key, value in node.entries}
    match node.looks:
        case "number":
            return float(node.text)
        case "truth":
            return node.text == "true"
        case "nothing":
            return None
    return node.text


def _looks(text: str) -> str:
    if text and text[0] not in _FIRST:
        return "text"  # most are: spares the tests below
    lower = text.lower()
    if lower in _NOTHING:
        return "nothing"
    if lower in _TRUTH_TRAPS or (lower in _TRUTHS and text != lower):
        return "truth trap"
    if text in _TRUTHS:
        return "truth"
    if _NUMBER_TRAPS.fullmatch(text):
        return "number trap"
    return "number" if _NUMBER.fullmatch(text) else "text"


def _words(text: str) -> frozenset[str]:
    return frozenset(_WORD.findall(text))


def _decode(content: bytes | str, file: str) -> str | Problem:
    try:
        text = content.decode("utf-8-sig") if isinstance(content, bytes) else content.removeprefix("\ufeff")
    except UnicodeDecodeError as error:
        place = _place_at(file, error.object[: error.start].decode("utf-8", "replace"))
        return Problem("K002", place, "is not UTF-8 text", "save the file with the encoding UTF-8")
    if found := _FORBIDDEN.search(text):
        place = _place_at(file, text[: found.start()])
        return Problem("K002", place, _control(found), "delete it")
    return text


def _control(found: re.Match[str]) -> str:
    return f"holds the control character U+{ord(found.group()):04X}"


def _place_at(file: str, before: str) -> Place:
    return Place(file, before.count("\n") + 1, len(before) - before.rfind("\n"))


class _Stop(Exception):
    def __init__(self, problem: Problem):
        self.problem = problem


class _Composer:
    """Builds the tree from parser events; notes what it leaves out."""

    def __init__(self, text: str, file: str):
        self.file = file
        self.loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)(text)
        self.problems: list[Problem] = []
        self.doubtful: set[str] = set()

    def document(self) -> Node:
        """The only document of the stream; an empty file is an empty table."""
        self.next()
        event = self.next()
        if isinstance(event, yaml.StreamEndEvent):
            return MappingNode((), Place(self.file, 1, 1))
        root = self.node(self.next(), 0)
        self.next()
        event = self.next()
        if not isinstance(event, yaml.StreamEndEvent):
            self.refuse(event, "K006", "a second document starts here", "one file holds one document")
        return root

    def next(self) -> Any:
        return self.loader.get_event()

    def node(self, event: Any, depth: int) -> Node:
        self.check(event, depth)
        place = self.place(event)
        if isinstance(event, yaml.ScalarEvent):
            if found := _FORBIDDEN.search(event.value):  # written as an escape: "\\e"
                self.refuse(event, "K002", _control(found), "delete it")
            return Leaf(event.value, not event.style, place)
        if isinstance(event, yaml.SequenceStartEvent):
            return Items(tuple(self.items(depth)), place)
        return MappingNode(tuple(self.entries(depth)), place)

    def items(self, depth: int) -> Iterator[Node]:
        while not isinstance(event := self.next(), yaml.SequenceEndEvent):
            yield self.node(event, depth + 1)

    def entries(self, depth: int) -> Iterator[tuple[Leaf, Node]]:
        seen: dict[str, Place] = {}
        while not isinstance(event := self.next(), yaml.MappingEndEvent):
            key = self.node(event, depth + 1)
            value = self.node(self.next(), depth + 1)
            if isinstance(key, Leaf) and self.key_is_good(key, seen):
                seen[key.text] = key.place
                yield key, value
            else:
                self.leave_out(key, value)

    def key_is_good(self, key: Leaf, seen: dict[str, Place]) -> bool:
        if len(self.problems) >= MOST:
            self.refuse_at(key.place, "K003", f"has more than {MOST} problems", "is it the right file?")
        if key.text in seen:
            message = f"`{key.text}` stands twice; first in line {seen[key.text].line}"
            self.problems.append(Problem("K005", key.place, message, "keep one of them"))
            return False
        if key.looks != "text":
            code = "K007" if key.looks == "truth trap" else "K009"
            message = f"the key `{key.text}` is not text to YAML"
            self.problems.append(Problem(code, key.place, message, f'write "{key.text}" in quotes'))
            return False
        return True

    def leave_out(self, key: Node, value: Node) -> None:
        if not isinstance(key, Leaf):
            self.problems.append(Problem("K009", key.place, "a key must be text, not a list or mapping"))
        self.doubtful.update(words_in(key), words_in(value))

    def check(self, event: Any, depth: int) -> None:
        if isinstance(event, yaml.AliasEvent):
            self.refuse(event, "K006", f"the alias *{event.anchor} is not read", "write the text out")
        if event.anchor is not None:
            self.refuse(
                event, "K006", f"the anchor &{event.anchor} is not read", "quote text that starts with &"
            )
        if event.tag is not None:
            self.refuse(event, "K006", f"the tag {event.tag} is not read", "quote text that starts with !")
        if depth > MAX_DEPTH:
            self.refuse(event, "K003", f"is nested deeper than {MAX_DEPTH} levels", "")

    def refuse(self, event: Any, code: str, message: str, hint: str) -> NoReturn:
        self.refuse_at(self.place(event), code, message, hint)

    def refuse_at(self, place: Place, code: str, message: str, hint: str) -> NoReturn:
        raise _Stop(Problem(code, place, message, hint))

    def place(self, event: Any) -> Place:
        mark = event.start_mark
        return Place(self.file, mark.line + 1, mark.column + 1)


def _stopped(error: _Stop | yaml.YAMLError, file: str, text: str) -> Problem:
    if isinstance(error, _Stop):
        return error.problem
    mark = getattr(error, "problem_mark", None) or getattr(error, "context_mark", None)
    place = Place(file, mark.line + 1, mark.column + 1) if mark else Place(file)
    said = str(getattr(error, "problem", None) or error)
    context = getattr(error, "context", None)
    message = f"is not YAML: {said} {context}" if context else f"is not YAML: {said}"
    tab = mark is not None and text[mark.index : mark.index + 1] == "\t"
    return Problem("K004", place, message, "indent with spaces, not with tabs" if tab else _syntax_hint(said))


def _syntax_hint(said: str) -> str:
    hints = {
        "mapping values are not allowed": "put text with a colon and a space in it in quotes",
        "did not find expected": "look at the indentation, brackets and quotes here and in the line above",
        "could not find expected ':'": "a colon or a closing quote is missing in the line above",
        "cannot start any token": "put the text in quotes",
        "end of stream": "a closing quote is missing",
    }
    return next((hint for part, hint in hints.items() if part in said), "")
