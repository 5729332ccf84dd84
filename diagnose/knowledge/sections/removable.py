"""What can be taken out of a machine for a try."""

from __future__ import annotations

from diagnose.forms.fields import PROBABILITY, Field, Many, Map, Shape, Values, Word
from diagnose.knowledge.builder import Builder
from diagnose.knowledge.records import BINARY
from diagnose.knowledge.removable import Brought, Carried, Removable, RemovalTest
from diagnose.knowledge.sections.shared import (
    ACCESS,
    HAZARDS,
    ID,
    IDS,
    MINUTES,
    NAME,
    ONLY_IF,
    SPREAD,
    STEPS,
    TEXT,
    TEXTS,
    TOOLS,
    WANTS,
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
        "tools": TOOLS,
        "hazards": HAZARDS,
        "steps": STEPS,
        "only_if": ONLY_IF,
        "wants": WANTS,
    },
)


def removable(id: Word, values: Values, build: Builder) -> Removable:
    """The record of a part that can be taken out."""
    return build.record(
        Removable,
        id,
        values,
        ways=values["ways"] or ("out",),
        carries=tuple(
            Carried(one, build.number(p), one.place) for one, p in (values["carries"] or {}).items()
        ),
        brings=tuple(
            Brought(effect, build.leak(given, build.states.get(effect, BINARY), effect.place), effect.place)
            for effect, given in values["brings"].items()
        ),
        told=tuple(
            build.part(RemovalTest, test, one.place, id=one, of=test["of"] or ())
            for one, test in values["told"].items()
            if test is not None
        ),
    )
