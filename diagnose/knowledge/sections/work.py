"""What is done to a machine: checks and repairs."""

from __future__ import annotations

from diagnose.forms.fields import (
    PROBABILITY,
    Amount,
    Either,
    Field,
    Many,
    Map,
    Numeric,
    Shape,
    Values,
    Word,
)
from diagnose.knowledge.builder import Builder
from diagnose.knowledge.records import Check, Cure, Life, Part, Repair
from diagnose.knowledge.sections.shared import (
    ACCESS,
    FORMERLY,
    HAZARDS,
    HOURS,
    IDS,
    MINUTES,
    NAME,
    ONLY_IF,
    STEPS,
    TEXT,
    TOOLS,
    TRUTH,
    WANTS,
)

PRICE = Amount(low=0, says="a price")
CHECK = Shape(
    "a check",
    {
        "name": NAME,
        "minutes": Field(MINUTES, "without access", required=True),
        "wait": Field(HOURS, "working hours that the machine stands until the result is there", default=0.0),
        "access": ACCESS,
        "tools": TOOLS,
        "hazards": HAZARDS,
        "reveals": Field(IDS, "findings that it shows", required=True),
        "steps": STEPS,
        "only_if": ONLY_IF,
        "wants": WANTS,
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
        "hours": Field(
            Numeric("hours", Amount(above=0)), "characteristic life, machine hours", required=True
        ),
        "shape": Field(Amount(above=0), "Weibull shape", required=True),
    },
)
PROOF = Shape(
    "a proof that is due later",
    {
        "step": Field(TEXT, "what is done or seen", required=True),
        "after_hours": Field(HOURS, "hours of work or standing before it can be done", required=True),
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
        "verify": Field(Many(Either(TEXT, PROOF)), "how the repair is proved", default=()),
        "only_if": ONLY_IF,
        "formerly": FORMERLY,
    },
)


def check(id: Word, values: Values, build: Builder) -> Check:
    """The record of a check."""
    return build.record(Check, id, values)


def repair(id: Word, values: Values, build: Builder) -> Repair:
    """The record of a repair."""
    life, proofs = values["life"], values["verify"]
    return build.record(
        Repair,
        id,
        values,
        verify=tuple(one["step"] if isinstance(one, Values) else one for one in proofs),
        proven_after=tuple(one["after_hours"] if isinstance(one, Values) else 0.0 for one in proofs),
        parts=tuple(build.part(Part, one, one.place) for one in values["parts"]),
        cures=tuple(Cure(cause, build.number(p), cause.place) for cause, p in values["cures"].items()),
        life=life and build.part(Life, life, life.place),
    )
