"""What a knowledge file holds: its head, and for each section the form that is read and the record that is built.

`docs/knowledge-format.md` says the same in words and examples.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from diagnose.forms.fields import BASIS, Field, Map, Shape, Values, Word
from diagnose.knowledge.builder import Builder
from diagnose.knowledge.sections.causes import CAUSE, CONDITION, cause, condition
from diagnose.knowledge.sections.findings import FINDING, finding
from diagnose.knowledge.sections.general import (
    ACCESS_STATE,
    FACT,
    FAMILY,
    HAZARD,
    SOURCE,
    access,
    expression,
    fact,
    family,
    hazard,
    source,
)
from diagnose.knowledge.sections.removable import REMOVABLE, removable
from diagnose.knowledge.sections.shared import ID, TEXT
from diagnose.knowledge.sections.work import CHECK, REPAIR, check, repair
from diagnose.words.expression_form import EXPRESSION

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
    "slang": EXPRESSION,
}
OF_A_SYSTEM = ("causes", "conditions", "findings", "checks", "repairs", "removable")
FILE = Shape(
    "a knowledge file",
    SYSTEM_HEAD | {name: Field(Map(shape), default={}) for name, shape in SECTIONS.items()},
)
BUILD: Mapping[str, Callable[[Word, Values, Builder], Any]] = {
    "facts": fact,
    "families": family,
    "sources": source,
    "hazards": hazard,
    "access": access,
    "causes": cause,
    "conditions": condition,
    "findings": finding,
    "checks": check,
    "repairs": repair,
    "removable": removable,
    "slang": expression,
}
"""How the record of a section is built from what was read."""
