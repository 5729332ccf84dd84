"""What fails, and what that makes of the machine: causes and conditions."""

from __future__ import annotations

from collections.abc import Mapping

from diagnose.forms.fields import (
    PROBABILITY,
    Amount,
    Enumeration,
    Field,
    Map,
    Numeric,
    Shape,
    Values,
    Word,
    WrittenNumber,
)
from diagnose.knowledge.builder import Builder, states_of
from diagnose.knowledge.located import AT_SEVERAL, LOCATED, kind_said
from diagnose.knowledge.number import Number
from diagnose.knowledge.records import PER, Age, Cause, Condition, Damage, Modifier
from diagnose.knowledge.sections.shared import (
    FORMERLY,
    LEADS_TO,
    LEAK,
    NAME,
    ONLY_IF,
    PER_PLACE,
    STATE_NAMES,
    TEXT,
    TRUTH,
)

PER_TIME = Amount(low=0, says="a number of occurrences")

AGE = Shape(
    "an age",
    {
        "shape": Field(Numeric("shape", Amount(above=0)), "Weibull shape", required=True),
        "reference": Field(
            Amount(above=0), "age in machine hours at which the hazard is the rate; none: the rate of renewal"
        ),
        "as_machine": Field(
            TRUTH, "seldom replaced: as old as the machine, unless said otherwise", default=False
        ),
    },
)
MONEY = Numeric("cost", Amount(low=0, says="a sum of money"))
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
        "rate": Field(Numeric("rate", PER_TIME), "occurrences per 1,000 running hours in ordinary care"),
        "per_start": Field(Numeric("rate", PER_TIME), "occurrences per start"),
        "per_night": Field(Numeric("rate", PER_TIME), "occurrences per standing night"),
        "share": Field(PROBABILITY, "share of machines in service that have it unnoticed"),
        "age": Field(AGE, "how age raises the hazard"),
        "facts": Field(
            Map(Map(Numeric("odds", Amount(above=0)), keys=TEXT)),
            "machine facts that multiply the hazard, by value",
            default={},
        ),
        "only_if": ONLY_IF,
        "leads_to": LEADS_TO,
        "damage": Field(DAMAGE, "what it costs to run on with it"),
        "per": Field(
            Enumeration((*LOCATED, *AT_SEVERAL)),
            "each cylinder or bank has it by itself, or it is at one or more of them",
            default="",
        ),
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
        "leak": LEAK,
        "only_if": ONLY_IF,
        "per": PER_PLACE,
        "leads_to": LEADS_TO,
    },
)


def cause(id: Word, values: Values, build: Builder) -> Cause:
    """The record of a cause."""
    frequency, per = _frequency(id, values, build)
    age, damage = values["age"], values["damage"]
    return build.record(
        Cause,
        id,
        values,
        frequency=frequency,
        per=per,
        age=age and build.part(Age, age, age.place, reference_hours=age["reference"]),
        modifiers=_modifiers(values["facts"], build),
        leads_to=build.links(id, values["leads_to"]),
        damage=damage and build.part(Damage, damage, damage.place),
        located=kind_said(values["per"]),
        several=values["per"] in AT_SEVERAL,
    )


def _frequency(id: Word, values: Values, build: Builder) -> tuple[Number, str]:
    """How often a cause arises, and what that counts."""
    given = [name for name in PER if values[name] is not None]
    if len(given) != 1:
        stands = f"has {', '.join(given)}" if given else "has none"
        message = f"a cause has exactly one of {', '.join(PER)}; `{id}` {stands}"
        build.notes.add("K028", id.place, message, "see docs/knowledge-format.md, Causes")
    per = given[0] if given else "share"
    return (build.number(values[per]) if given else build.zero(id.place, None)), per


def _modifiers(facts: Mapping[Word, Mapping[Word, WrittenNumber]], build: Builder) -> tuple[Modifier, ...]:
    """The odds of each value of each fact."""
    return tuple(
        Modifier(fact, value, build.number(odds))
        for fact, by_value in facts.items()
        for value, odds in by_value.items()
    )


def condition(id: Word, values: Values, build: Builder) -> Condition:
    """The record of a condition."""
    states = states_of(values)
    leak = build.leak(values["leak"], states, values.places.get("leak", id.place))
    links = build.links(id, values["leads_to"])
    return build.record(
        Condition, id, values, states=states, leak=leak, leads_to=links, located=values["per"]
    )
