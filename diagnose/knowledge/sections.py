"""What a knowledge file holds, declared: the sections, their fields and the kinds of these.

`docs/knowledge-format.md` says the same in words and examples.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from diagnose.knowledge.dismantling import ABILITIES
from diagnose.knowledge.fields import (
    BASIS,
    PROBABILITY,
    Amount,
    Choice,
    Either,
    Field,
    Id,
    Many,
    Map,
    Notes,
    Number,
    Schema,
    Shape,
    Text,
    Truth,
    Word,
)
from diagnose.knowledge.reader import Node, Table
from diagnose.knowledge.records import HARMS

FINDING_KINDS = ("symptom", "reading", "code", "inspection", "question")
CONFIDENCES = ("read", "second-hand", "from memory")

TEXT, ID, TRUTH = Text(), Id(), Truth()
TEXTS, IDS = Many(TEXT), Many(ID)
MINUTES = Number("minutes", Amount(low=0, says="a number of minutes"))
PLAIN_MINUTES = Amount(low=0, says="a number of minutes")
HOURS = Amount(low=0, says="a number of hours")
PRICE = Amount(low=0, says="a price")


@dataclass(frozen=True)
class Spread:
    """A probability, or one for each state: `{low: 0.3, none: 0.6}`."""

    says: str = "a probability, or one for each state"

    def read(self, node: Node, notes: Notes) -> Any:
        """A Figure, or Figures by state."""
        by_state = isinstance(node, Table) and all(key.text not in ("p", *BASIS) for key, _ in node.entries)
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
ABLE = Many(Choice(tuple(ABILITIES)))
FORMERLY = Field(IDS, "ids that it had before, for old cases and overlays", default=())
HAZARDS = Field(IDS, "hazards whose caution is shown before the steps", default=())

BY_VALUE = Map(PROBABILITY, keys=TEXT)
PER_HOUR = Map(Number("per_hour", Amount(low=0, says="a number per running hour")), keys=TEXT)
PER_TIME = Amount(low=0, says="a number of occurrences")

SYSTEM_HEAD = {
    "system": Field(ID, "id of the system"),
    "name": Field(TEXT, "name of the system"),
    "about": Field(TEXT, "what the system does", default=""),
    "default_basis": Field(
        Shape(
            "default_basis", {name: Field(one.kind, one.about, required=True) for name, one in BASIS.items()}
        ),
        "basis of every number in this file that stands alone",
    ),
}
FACT = Shape(
    "a fact",
    {
        "name": NAME,
        "question": Field(TEXT, "how the technician is asked for it", required=True),
        "values": Field(Many(TEXT, least=1), "the values that it can take", required=True),
        "shares": Field(BY_VALUE, "how common each value is among machines in service", default={}),
        "shares_by": Field(
            Map(Map(BY_VALUE, keys=TEXT), least=1), "the same by the value of one other fact", default={}
        ),
        "several": Field(TRUTH, "more than one value can hold; the first says that none does", default=False),
        "starts": Field(PER_HOUR, "starts per running hour by value", default={}),
        "nights": Field(PER_HOUR, "standing nights per running hour by value", default={}),
    },
)
FAMILY = Shape(
    "a family", {"name": NAME, "facts": Field(Map(TEXT), "the facts that come with it", default={})}
)
SOURCE = Shape(
    "a source",
    {
        "title": Field(TEXT, "author, title, publisher, year", required=True),
        "confidence": Field(Choice(CONFIDENCES), "how it was consulted", required=True),
    },
)
HAZARD = Shape(
    "a hazard",
    {
        "name": NAME,
        "caution": Field(TEXT, "the caution to show before the steps", required=True),
        "basis": Field(TEXT, "`common practice`, `judgement`, or the id of a source"),
        "words": Field(
            TEXTS, "a check, repair or access that says one of these must name the hazard", default=()
        ),
        "stop": Field(TRUTH, "rule out before anything else is done", default=False),
        "suspect": Field(IDS, "causes, conditions or findings that make it likely", default=()),
        "blocks": Field(
            IDS, "hazards whose checks and repairs are held back while it is suspected", default=()
        ),
        "above": Field(
            Amount(above=0, high=1, says="a probability"), "suspected above this probability", default=0.1
        ),
        "harm": Field(Choice(HARMS), "how bad it is: " + ", ".join(HARMS), default="hurts"),
        "short": Field(TEXT, "the caution in one line", default=""),
        "forbids": Field(ABLE, "what checks may not want while it is suspected", default=()),
        "cleared_by": Field(IDS, "checks that rule it out", default=()),
    },
)
ACCESS_STATE = Shape(
    "an access state",
    {
        "name": NAME,
        "needs": Field(IDS, "states to reach first", default=()),
        "minutes": Field(PLAIN_MINUTES, "minutes to reach it", required=True),
        "restore": Field(PLAIN_MINUTES, "minutes to close up again", default=0.0),
        "hazards": HAZARDS,
        "without": Field(
            ABLE,
            "what the machine cannot do or does not hold meanwhile",
            default=(),
        ),
    },
)
AGE = Shape(
    "an age",
    {
        "shape": Field(Number("shape", Amount(above=0)), "Weibull shape", required=True),
        "reference": Field(
            Amount(above=0), "age in machine hours at which the hazard is the rate; none: the rate of renewal"
        ),
        "as_machine": Field(
            TRUTH, "seldom replaced: as old as the machine, unless said otherwise", default=False
        ),
    },
)
MONEY = Number("cost", Amount(low=0, says="a sum of money"))
DAMAGE = Shape(
    "a damage",
    {
        "what": Field(TEXT, "what is wrecked if the machine goes on", required=True),
        "cost": Field(MONEY, "parts, labour and downtime", required=True),
        "running": Field(PROBABILITY, "probability if it runs on to the shop and works", required=True),
        "moving": Field(PROBABILITY, "probability if it is only moved", required=True),
    },
)
CAUSE = Shape(
    "a cause",
    {
        "name": NAME,
        "part": Field(TEXT, "the part that fails", required=True),
        "about": Field(TEXT, "what happens", default=""),
        "rate": Field(Number("rate", PER_TIME), "occurrences per 1,000 running hours in ordinary care"),
        "per_start": Field(Number("rate", PER_TIME), "occurrences per start"),
        "per_night": Field(Number("rate", PER_TIME), "occurrences per standing night"),
        "share": Field(PROBABILITY, "share of machines in service that have it unnoticed"),
        "age": Field(AGE, "how age raises the hazard"),
        "facts": Field(
            Map(Map(Number("odds", Amount(above=0)), keys=TEXT)),
            "machine facts that multiply the hazard, by value",
            default={},
        ),
        "only_if": ONLY_IF,
        "leads_to": LEADS_TO,
        "damage": Field(DAMAGE, "what it costs to run on with it"),
        "formerly": FORMERLY,
    },
    {
        "prior": "write how often it happens: `rate` per 1,000 running hours, `per_start`, `per_night`; or the "
        "`share` of machines in service that have it unnoticed"
    },
)
CONDITION = Shape(
    "a condition",
    {
        "name": NAME,
        "about": Field(TEXT, "the hidden physical state", default=""),
        "states": STATE_NAMES,
        "leak": Field(SPREAD, "probability with none of its parents present"),
        "only_if": ONLY_IF,
        "leads_to": LEADS_TO,
    },
)
BAND = Shape(
    "a band",
    {
        "state": Field(Id("a state"), "the state of a value in this band", required=True),
        "below": Field(Amount(), "value less than this"),
        "above": Field(Amount(), "value more than this"),
    },
)
BANDS = Field(Many(BAND, least=1), "tried in order; no band = the first state", required=True)
BASIS_OF_BANDS = Field(TEXT, "`common practice`, `judgement`, or the id of a source")
BELOW, ABOVE = Field(Amount(), "less than this"), Field(Amount(), "more than this")
GIVEN = Shape(
    "another reading",
    {
        "quantity": Field(TEXT, "the other quantity; its latest value in the case counts", required=True),
        "aliases": Field(TEXTS, "how technicians say it, where no finding carries it", default=()),
        "unit": Field(TEXT, "unit of below and above", required=True),
        "below": BELOW,
        "above": ABOVE,
    },
)
ALTERNATIVE = Shape(
    "an alternative",
    {
        "facts": Field(Map(Many(TEXT, least=1)), "machine facts, of each one of these values", default={}),
        "given": Field(GIVEN, "what another quantity must be"),
        "basis": BASIS_OF_BANDS,
        "bands": BANDS,
    },
)
RANGE = Shape("a range", {"below": BELOW, "above": ABOVE})
READING = Shape(
    "a reading",
    {
        "quantity": Field(TEXT, "findings with the same quantity are set from one value", required=True),
        "unit": Field(TEXT, "unit of the bands", required=True),
        "basis": BASIS_OF_BANDS,
        "scale": Field(
            Map(Map(Amount(above=0, says="a factor"), keys=TEXT)),
            "machine facts by value: all limits are multiplied",
            default={},
        ),
        "where": Field(Many(ALTERNATIVE), "other bands: the first alternative that holds", default=()),
        "fits": Field(
            Map(Map(RANGE, keys=TEXT)),
            "machine facts by value: between which limits the value lies, else the fact is another",
            default={},
        ),
        "bands": BANDS,
    },
)
COMPLAINT = Shape(
    "a complaint", {"other": Field(PROBABILITY, "prior of a cause that is not listed here", required=True)}
)
FINDING = Shape(
    "a finding",
    {
        "name": NAME,
        "kind": Field(Choice(FINDING_KINDS), "how it is observed", required=True),
        "states": STATE_NAMES,
        "leak": Field(SPREAD, "probability with none of its parents present"),
        "complaint": Field(COMPLAINT, "can be what the machine came in for"),
        "aliases": Field(TEXTS, "how technicians say it", default=()),
        "observe": Field(TEXT, "how it is observed", required=True),
        "reading": Field(READING, "the value and what it means"),
        "codes": Field(TEXTS, "fault codes that set the finding", default=()),
        "without": Field(ABLE, "what the machine cannot do while it is so", default=()),
        "wants": Field(ABLE, "what the machine must be doing for it to show", default=()),
        "misleads": Field(
            Amount(low=0, high=1, says="a share from 0 to 1"),
            "share of the leak that is the observation itself misleading (by kind, if not given)",
        ),
        "clears": Field(IDS, "causes, conditions and findings that are sound where this shows", default=()),
        "only_if": ONLY_IF,
        "kind_of": Field(IDS, "the general findings that this says more closely", default=()),
        "general": Field(TRUTH, "a complaint that none says more generally", default=False),
        "formerly": FORMERLY,
    },
    {"leads_to": "a finding has no effects; write a condition that leads to this and to the other finding"},
)
CHECK = Shape(
    "a check",
    {
        "name": NAME,
        "minutes": Field(MINUTES, "without access", required=True),
        "wait": Field(HOURS, "working hours that the machine stands until the result is there", default=0.0),
        "access": ACCESS,
        "tools": Field(TEXTS, "tools beyond the usual", default=()),
        "hazards": HAZARDS,
        "reveals": Field(IDS, "findings that it shows", required=True),
        "steps": Field(TEXTS, "what is done, in order", default=()),
        "only_if": ONLY_IF,
        "wants": Field(ABLE, "what the machine must be able to do or hold for it", default=()),
        "formerly": FORMERLY,
    },
)
PART = Shape(
    "a part",
    {
        "name": NAME,
        "quantity": Field(Amount(above=0), "how many", default=1.0),
        "price": Field(PRICE, "of one", required=True),
        "single_use": Field(TRUTH, "never put back", default=False),
    },
)
LIFE = Shape(
    "a life",
    {
        "hours": Field(Number("hours", Amount(above=0)), "characteristic life, machine hours", required=True),
        "shape": Field(Amount(above=0), "Weibull shape", required=True),
    },
)
REPAIR = Shape(
    "a repair",
    {
        "name": NAME,
        "minutes": Field(MINUTES, "without access", required=True),
        "access": ACCESS,
        "hazards": HAZARDS,
        "parts": Field(Many(PART), "parts and consumables", default=()),
        "cures": Field(Map(PROBABILITY), "causes and the probability that they are gone", required=True),
        "infant": Field(PROBABILITY, "probability that the new part fails at once"),
        "life": Field(LIFE, "how long the renewed part lasts"),
        "together": Field(IDS, "repairs worth doing while this one is open", default=()),
        "verify": Field(TEXTS, "how the repair is proved", default=()),
        "only_if": ONLY_IF,
        "formerly": FORMERLY,
    },
)
TOLD = Shape(
    "a test by taking away",
    {
        "of": Field(
            Many(ID, least=1),
            "the findings that can be gone; the one seen is meant, or the first",
            required=True,
        ),
        "name": NAME,
        "aliases": Field(TEXTS, "how technicians say that it is gone", default=()),
    },
)
REMOVABLE = Shape(
    "a removable part",
    {
        "name": Field(TEXT, "what is taken out, with its article: `the drive belt`", required=True),
        "ways": Field(
            Many(TEXT, least=1), "how it is out: off, unplugged, bypassed; the first is shown", required=True
        ),
        "aliases": Field(TEXTS, "how technicians say it, with the way: `belt off`", default=()),
        "carries": Field(
            Map(PROBABILITY, least=1),
            "causes and conditions, each with P(it is away with the part)",
            required=True,
        ),
        "brings": Field(Map(SPREAD), "conditions and findings that taking it out brings about", default={}),
        "watched": Field(IDS, "findings looked at; none: all that what it carries brings about", default=()),
        "told": Field(Map(TOLD), "tests with an id and words of their own", default={}),
        "mistaken": Field(PROBABILITY, "probability that what is still there is told as gone"),
        "by": Field(IDS, "the checks in which it is taken out", default=()),
        "minutes": Field(MINUTES, "without such a check: to take it out, try, and put it back"),
        "access": ACCESS,
        "tools": Field(TEXTS, "tools beyond the usual", default=()),
        "hazards": HAZARDS,
        "steps": Field(TEXTS, "what is done, in order", default=()),
        "only_if": ONLY_IF,
        "wants": Field(ABLE, "what the machine must be able to do or hold for it", default=()),
    },
)
SECTIONS = {
    "facts": FACT,
    "families": FAMILY,
    "sources": SOURCE,
    "hazards": HAZARD,
    "access": ACCESS_STATE,
    "causes": CAUSE,
    "conditions": CONDITION,
    "findings": FINDING,
    "checks": CHECK,
    "repairs": REPAIR,
    "removable": REMOVABLE,
}
OF_A_SYSTEM = ("causes", "conditions", "findings", "checks", "repairs", "removable")
FILE = Shape(
    "a knowledge file",
    SYSTEM_HEAD | {name: Field(Map(shape), default={}) for name, shape in SECTIONS.items()},
)
