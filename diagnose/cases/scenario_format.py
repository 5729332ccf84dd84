"""What a scenario file holds, declared: the fields, and the kinds of these (docs/scenarios.md)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from diagnose.cases.events import CONFIDENCES, MOST_HOURS
from diagnose.forms.fields import (
    Amount,
    Enumeration,
    Field,
    FreeText,
    Id,
    Kind,
    Many,
    Map,
    Notes,
    Schema,
    Shape,
    Truth,
)
from diagnose.forms.reader import MappingNode, Node
from diagnose.knowledge.away import GONE, STILL_THERE

TEXT, ID, IDS, TRUTH = FreeText(), Id(), Many(Id()), Truth()
SOME_IDS = Many(ID, least=1)
HOURS = Amount(low=0, high=MOST_HOURS, says="a number of hours")
LAST_RIGHT = Field(HOURS, "running hours since it was last known right")
RENEWED = Field(Map(HOURS), "hours since a cause's part was replaced", default={})
FACTS = Map(TEXT)


@dataclass(frozen=True)
class Whole(Amount):
    """A whole number from 1 on."""

    low: float = 1
    says: str = "a whole number"

    def read(self, node: Node, notes: Notes) -> int | None:
        """The number."""
        value = super().read(node, notes)
        if value is None:
            return None
        if not value.is_integer():
            notes.add("K014", node.place, f"{value:g} is not a whole number")
            return None
        return int(value)

    def schema(self) -> Schema:
        """An integer from 1 on."""
        return {"type": "integer", "minimum": 1}


@dataclass(frozen=True)
class OneOf:
    """A mapping whose shape is told by its one key among the heads; read as (head, values)."""

    heads: dict[str, Shape]

    @property
    def says(self) -> str:
        """The heads in words."""
        return f"an event: a mapping with one of {', '.join(self.heads)}"

    def read(self, node: Node, notes: Notes) -> Any:
        """The head and the values of its shape."""
        entries = node.entries if isinstance(node, MappingNode) else ()
        found = [key.text for key, _ in entries if key.text in self.heads]
        if len(found) != 1:
            what = f"found {' and '.join(found)}" if found else "found none of them"
            hint = "one event says one thing" if found else ""
            notes.add("S005", node.place, f"expected {self.says}; {what}", hint)
            return None
        values = self.heads[found[0]].read(node, notes)
        return None if values is None else (found[0], values)

    def schema(self) -> Schema:
        """Any of the shapes."""
        return {"oneOf": [shape.schema() for shape in self.heads.values()]}


def _head(kind: Kind, about: str) -> Field:
    return Field(kind, about, required=True)


_CONFIDENCE = Field(Enumeration(CONFIDENCES), "how sure; sure where not said", default="sure")
_PLACE = Field(TEXT, "the cylinder or bank: `cylinder 4`, `bank B`")
_TEXT = Field(TEXT, "what was said of it", default="")

EVENTS = OneOf(
    {
        "note": Shape(
            "note",
            {
                "note": _head(ID, "the finding"),
                "state": Field(ID, "the state it was seen in; needed where it has more than two"),
                "not": Field(TRUTH, "true: looked for, and not there", default=False),
                "at": _PLACE,
                "confidence": _CONFIDENCE,
                "text": _TEXT,
            },
        ),
        "away": Shape(
            "away",
            {
                "away": _head(ID, "the removable part that was out"),
                "finding": Field(ID, "the finding that was looked at with it out", required=True),
                "result": Field(Enumeration((GONE, STILL_THERE)), "gone, or still there", required=True),
                "way": Field(TEXT, "how it was out", default=""),
                "confidence": _CONFIDENCE,
                "text": _TEXT,
            },
        ),
        "reading": Shape(
            "reading",
            {
                "reading": _head(TEXT, "the quantity"),
                "value": Field(TEXT, "the value with its unit", required=True),
                "at": _PLACE,
                "confidence": _CONFIDENCE,
                "text": _TEXT,
            },
            hints={"unit": "write the unit behind the value: `value: 2.1 MPa`"},
        ),
        "code": Shape(
            "code",
            {
                "code": _head(TEXT, "the fault code as displayed"),
                "at": _PLACE,
                "confidence": _CONFIDENCE,
                "text": _TEXT,
            },
        ),
        "check": Shape("check", {"check": _head(ID, "the check that was done"), "text": _TEXT}),
        "opened": Shape("opened", {"opened": _head(ID, "the access state that was reached"), "text": _TEXT}),
        "repaired": Shape(
            "repaired",
            {
                "repaired": _head(SOME_IDS, "the repairs that were done"),
                "left_open": Field(IDS, "access states still open when it was tried again", default=()),
                "text": _TEXT,
            },
        ),
        "learnt": Shape(
            "learnt",
            {
                "learnt": _head(FACTS, "machine facts learnt now"),
                "hours": Field(HOURS, "running hours"),
                "last_right": LAST_RIGHT,
                "renewed": RENEWED,
                "text": _TEXT,
            },
        ),
    }
)

MACHINE = Shape(
    "machine",
    {
        "number": Field(TEXT, "the machine's number", required=True),
        "family": Field(ID, "the family of the machine", required=True),
        "hours": Field(HOURS, "running hours"),
        "last_right": LAST_RIGHT,
        "inspection": Field(TRUTH, "nobody complains of anything", default=False),
        "facts": Field(FACTS, "machine facts beside those of the family", default={}),
        "renewed": RENEWED,
    },
)

ADVICE = ("stop now", "move only", "watch", "run to the shop", "does not run")
MOVES = ("ask", "make_safe", "check", "repair", "prove", "close", "hand_over")
EXPECT = Shape(
    "expect",
    {
        "causes": Field(IDS, "the true causes", default=()),
        "within": Field(Whole(), "the true causes stand among the first so many"),
        "probability": Field(
            Map(Many(Amount(low=0, high=1, says="a probability"))), "bounds: lowest, highest", default={}
        ),
        "consequence": Field(IDS, "causes that are told as consequences", default=()),
        "check": Field(
            Shape(
                "check",
                {
                    "first": Field(Whole(), "among the first so many checks", required=True),
                    "any_of": Field(SOME_IDS, "one of these stands", required=True),
                },
            ),
            "a check that must be proposed",
        ),
        "move": Field(
            Shape(
                "move",
                {
                    "kind": Field(Enumeration(MOVES), "one of " + ", ".join(MOVES), required=True),
                    "any_of": Field(
                        IDS, "the check is one of these, or one of these is repaired", default=()
                    ),
                },
            ),
            "the next move",
        ),
        "repairs": Field(IDS, "repairs of the best option", default=()),
        "keep_running": Field(
            Map(Enumeration(ADVICE)), "what is advised of a cause: " + ", ".join(ADVICE), default={}
        ),
        "unexplained": Field(TRUTH, "true: nothing listed explains it", default=False),
    },
)

SCENARIO = Shape(
    "scenario",
    {
        "scenario": Field(ID, "id of the scenario", required=True),
        "title": Field(TEXT, "one line", required=True),
        "about": Field(TEXT, "what it teaches", default=""),
        "machine": Field(MACHINE, "the machine", required=True),
        "complaint": Field(TEXT, "what it came in for, in the driver's words", required=True),
        "events": Field(Many(EVENTS), "what was seen and done, in order", default=()),
        "expect": Field(EXPECT, "what the program must say of it"),
    },
)
