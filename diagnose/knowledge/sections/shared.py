"""Kinds of values that only the knowledge has, and the fields that several of its sections share."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from diagnose.forms.fields import (
    BASIS,
    PROBABILITY,
    Amount,
    Either,
    Enumeration,
    Field,
    FreeText,
    Id,
    Many,
    Map,
    Notes,
    Numeric,
    Schema,
    Shape,
    Truth,
    Word,
)
from diagnose.forms.reader import MappingNode, Node
from diagnose.knowledge.dismantling import ABILITIES
from diagnose.knowledge.located import LOCATED

TEXT, ID, TRUTH = FreeText(), Id(), Truth()
TEXTS, IDS = Many(TEXT), Many(ID)
HOURS = Amount(low=0, high=1000, says="a number of hours from 0 to 1000")
MINUTES = Numeric("minutes", Amount(low=0, says="a number of minutes"))


@dataclass(frozen=True)
class Spread:
    """A probability, or one for each state: `{low: 0.3, none: 0.6}`."""

    says: str = "a probability, or one for each state"

    def read(self, node: Node, notes: Notes) -> Any:
        """A Figure, or Figures by state."""
        by_state = isinstance(node, MappingNode) and all(
            key.text not in ("p", *BASIS) for key, _ in node.entries
        )
        return (STATES if by_state else PROBABILITY).read(node, notes)

    def schema(self) -> Schema:
        """Any of both."""
        return {"anyOf": [PROBABILITY.schema(), STATES.schema()]}


@dataclass(frozen=True)
class StateNames:
    """The states of a record: at least two, each once, no key of the long form of a number."""

    says: str = "a list of at least two states"

    def read(self, node: Node, notes: Notes) -> tuple[Word, ...] | None:
        """The states, the sound one first."""
        before = len(notes)
        states: tuple[Word, ...] | None = Many(Id("a state")).read(node, notes)
        if states is None or len(notes) > before:
            return None
        if len(states) < 2:
            notes.add("K024", node.place, f"expected {self.says}, found {len(states)}")
        for state in states:
            if state in TAKEN:
                notes.add(
                    "K024", state.place, f"`{state}` cannot be a state: numbers have a field of this name"
                )
        return states

    def schema(self) -> Schema:
        """An array of at least two ids."""
        names = ID.schema() | {"not": {"enum": list(TAKEN)}}
        return {"type": "array", "items": names, "minItems": 2, "uniqueItems": True}


TAKEN = ("p", "to", "by_state", *BASIS)
STATES = Map(PROBABILITY, keys=Id("a state"), least=1)
SPREAD = Spread()
STRENGTH = Either(
    PROBABILITY,
    Shape(
        "a link",
        {
            "p": Field(PROBABILITY.amount, "both parent and effect are binary"),
            "to": Field(STATES, "probabilities of the effect's states"),
            "by_state": Field(Map(SPREAD, keys=Id("a state"), least=1), "by the state of this condition"),
            **BASIS,
            "source": Field(TEXT, "id of the published source that names this link"),
        },
    ),
)
LEADS_TO = Field(Map(STRENGTH), "effects, each with the strength of the link", default={})
ONLY_IF = Field(Map(Many(TEXT, least=1)), "machine facts and the values of which one must hold", default={})
NAME = Field(TEXT, "the name in the trade's words", required=True)
STATE_NAMES = Field(StateNames(), "the sound state first, then rising severity")
ACCESS = Field(IDS, "states of dismantling to reach first", default=())
ABLE = Many(Enumeration(tuple(ABILITIES)))
FORMERLY = Field(IDS, "ids that it had before, for old cases and overlays", default=())
PER_PLACE = Field(Enumeration(LOCATED), "each cylinder or bank has or shows it by itself", default="")
LEAK = Field(SPREAD, "probability with none of its parents present")
TOOLS = Field(TEXTS, "tools beyond the usual", default=())
STEPS = Field(TEXTS, "what is done, in order", default=())
WANTS = Field(ABLE, "what the machine must be able to do or hold for it", default=())
HAZARDS = Field(IDS, "hazards whose caution is shown before the steps", default=())
