"""What goes for all systems: machine facts and families, sources, hazards, states of dismantling."""

from __future__ import annotations

from collections.abc import Mapping

from diagnose.forms.fields import (
    BASIS,
    PROBABILITY,
    Amount,
    Enumeration,
    Field,
    Many,
    Map,
    Numeric,
    Shape,
    Values,
    Word,
    WrittenNumber,
)
from diagnose.knowledge.builder import Builder, Row
from diagnose.knowledge.machine_facts import Fact, Family
from diagnose.knowledge.records import HARMS, Access, Hazard, Source
from diagnose.knowledge.sections.shared import ABLE, HAZARDS, IDS, NAME, TEXT, TEXTS, TRUTH
from diagnose.words.expression import Expression

CONFIDENCES = ("read", "second-hand", "from memory")
PLAIN_MINUTES = Amount(low=0, says="a number of minutes")
BY_VALUE = Map(PROBABILITY, keys=TEXT)
PER_HOUR = Map(Numeric("per_hour", Amount(low=0, says="a number per running hour")), keys=TEXT)
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
        "confidence": Field(Enumeration(CONFIDENCES), "how it was consulted", required=True),
    },
)
HAZARD = Shape(
    "a hazard",
    {
        "name": NAME,
        "caution": Field(TEXT, "the caution to show before the steps", required=True),
        "basis": BASIS["basis"],
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
        "harm": Field(Enumeration(HARMS), "how bad it is: " + ", ".join(HARMS), default="hurts"),
        "short": Field(TEXT, "the caution in one line", default=""),
        "forbids": Field(ABLE, "what checks may not want while it is suspected", default=()),
        "cleared_by": Field(IDS, "checks that rule it out", default=()),
        "wants": Field(ABLE, "what the machine must be able to do for it to hurt", default=()),
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


def fact(id: Word, values: Values, build: Builder) -> Fact:
    """The record of a machine fact."""
    known: tuple[str, ...] = values["values"] or ()
    given = next(iter(values["shares_by"] or ()), "")
    by_value = (values["shares_by"] or {}).get(given) or {}
    return build.record(
        Fact,
        id,
        values,
        values=known,
        shares=_shares(build, values["shares"], known, id),
        given=given,
        shares_by={value: _shares(build, row, known, id) for value, row in by_value.items()},
        starts={value: build.number(figure) for value, figure in (values["starts"] or {}).items()},
        nights={value: build.number(figure) for value, figure in (values["nights"] or {}).items()},
    )


def _shares(build: Builder, given: Mapping[str, WrittenNumber], values: tuple[str, ...], id: Word) -> Row:
    """One number for each value of a fact, 0 where none is given; empty where none is at all."""
    if not given:
        return ()
    return tuple(build.number(given[one]) if one in given else build.zero(id.place, None) for one in values)


def family(id: Word, values: Values, build: Builder) -> Family:
    """The record of a family of machines."""
    return build.record(Family, id, values)


def expression(id: Word, values: Values, build: Builder) -> Expression:
    """The record of an expression of the trade."""
    return build.record(Expression, id, values)


def source(id: Word, values: Values, build: Builder) -> Source:
    """The record of a published source."""
    return build.record(Source, id, values)


def hazard(id: Word, values: Values, build: Builder) -> Hazard:
    """The record of a hazard."""
    return build.record(Hazard, id, values, basis=build.basis_of(values))


def access(id: Word, values: Values, build: Builder) -> Access:
    """The record of a state of dismantling."""
    return build.record(Access, id, values, restore_minutes=values["restore"])
