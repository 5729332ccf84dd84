"""What can be observed: findings, the readings that set them, and what their values mean."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from diagnose.forms.fields import (
    BASIS,
    PROBABILITY,
    Amount,
    Enumeration,
    Field,
    Id,
    Many,
    Map,
    Shape,
    Values,
    Word,
)
from diagnose.knowledge.bands import Band, ConditionalBands, Fits, Given, Reading, Scale
from diagnose.knowledge.builder import Builder, states_of
from diagnose.knowledge.misleading import MISLEADS, MISLEADS_ELSE
from diagnose.knowledge.records import Finding
from diagnose.knowledge.sections.shared import (
    ABLE,
    FORMERLY,
    HOURS,
    IDS,
    LEAK,
    NAME,
    ONLY_IF,
    PER_PLACE,
    STATE_NAMES,
    TEXT,
    TEXTS,
    TRUTH,
)

FINDING_KINDS = ("symptom", "reading", "code", "inspection", "question")
COUNT = Amount(low=2, high=20, says="a number of codes from 2 to 20")
BAND = Shape(
    "a band",
    {
        "state": Field(Id("a state"), "the state of a value in this band", required=True),
        "below": Field(Amount(), "value less than this"),
        "above": Field(Amount(), "value more than this"),
    },
)
BANDS = Field(Many(BAND, least=1), "tried in order; no band = the first state", required=True)
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
        "basis": BASIS["basis"],
        "bands": BANDS,
    },
)
RANGE = Shape("a range", {"below": BELOW, "above": ABOVE})
READING = Shape(
    "a reading",
    {
        "quantity": Field(TEXT, "findings with the same quantity are set from one value", required=True),
        "unit": Field(TEXT, "unit of the bands", required=True),
        "basis": BASIS["basis"],
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
        "kind": Field(Enumeration(FINDING_KINDS), "how it is observed", required=True),
        "states": STATE_NAMES,
        "leak": LEAK,
        "complaint": Field(COMPLAINT, "can be what the machine came in for"),
        "aliases": Field(TEXTS, "how technicians say it", default=()),
        "observe": Field(TEXT, "how it is observed", required=True),
        "reading": Field(READING, "the value and what it means"),
        "codes": Field(TEXTS, "fault codes that set the finding", default=()),
        "circuit_codes": Field(
            COUNT, "so many circuit codes stored at once show it, fewer that it is not so"
        ),
        "after_hours": Field(HOURS, "hours of work or standing before it can be seen again", default=0.0),
        "past": Field(TRUTH, "told of the time before the machine came in", default=False),
        "without": Field(ABLE, "what the machine cannot do while it is so", default=()),
        "wants": Field(ABLE, "what the machine must be doing for it to show", default=()),
        "misleads": Field(
            Amount(low=0, high=1, says="a share from 0 to 1"),
            "share of the leak that is the observation itself misleading (by kind, if not given)",
        ),
        "clears": Field(IDS, "causes, conditions and findings that are sound where this shows", default=()),
        "only_if": ONLY_IF,
        "kind_of": Field(IDS, "the general findings that this says more closely", default=()),
        "denied_with": Field(TEXTS, "what, said not to be there, denies it as well", default=()),
        "sound_with": Field(TEXTS, "what, said to be sound, denies it", default=()),
        "only_when": Field(TEXTS, "the trouble shows only or mostly so (word*: any ending)", default=()),
        "outright": Field(TEXTS, "words that say it in any clause (word*: any ending)", default=()),
        "general": Field(TRUTH, "a complaint that none says more generally", default=False),
        "per": PER_PLACE,
        "formerly": FORMERLY,
    },
    {"leads_to": "a finding has no effects; write a condition that leads to this and to the other finding"},
)


def finding(id: Word, values: Values, build: Builder) -> Finding:
    """The record of a finding."""
    states, complaint = states_of(values), values["complaint"]
    misleads = values["misleads"]
    return build.record(
        Finding,
        id,
        values,
        states=states,
        leak=build.leak(values["leak"], states, values.places.get("leak", id.place)),
        other=complaint and build.number(complaint["other"]),
        reading=values["reading"] and _reading(values["reading"], build),
        misleads=MISLEADS.get(values["kind"], MISLEADS_ELSE) if misleads is None else misleads,
        located=values["per"],
    )


def _reading(given: Values, build: Builder) -> Reading:
    """The measured quantity, its bands, and what they depend on."""
    return build.part(
        Reading,
        given,
        given.place,
        bands=_bands(given, build),
        basis=build.basis_of(given),
        scale=tuple(Scale(fact, value, by, value.place) for fact, value, by in _by_value(given["scale"])),
        where=tuple(_alternative(one, build) for one in given["where"] or ()),
        fits=tuple(
            build.part(Fits, span, value.place, fact=fact, value=value)
            for fact, value, span in _by_value(given["fits"])
        ),
    )


def _alternative(values: Values, build: Builder) -> ConditionalBands:
    """Other bands, and where they hold."""
    given = values["given"]
    return ConditionalBands(
        facts=build.requirements(values["facts"] or {}),
        given=given and build.part(Given, given, given.place),
        bands=_bands(values, build),
        basis=build.basis_of(values),
        place=values.place,
    )


def _bands(given: Values, build: Builder) -> tuple[Band, ...]:
    return tuple(build.part(Band, one, one.place) for one in given["bands"])


def _by_value(given: Mapping[Word, Mapping[Word, Any]] | None) -> Iterator[tuple[Word, Word, Any]]:
    """Each fact, value and what is said of it; entries that could not be read are left out."""
    for fact, values in (given or {}).items():
        yield from ((fact, value, one) for value, one in (values or {}).items() if one is not None)
