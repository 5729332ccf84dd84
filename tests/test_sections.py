"""Every field that a knowledge file can give reaches the record."""

from __future__ import annotations

from dataclasses import fields
from typing import get_type_hints

import pytest

from diagnose.knowledge.records import Knowledge
from diagnose.knowledge.sections.file import BUILD, SECTIONS

TURNED = {
    "causes": {"rate", "per_start", "per_night", "share", "facts"},
    "conditions": {"per"},
    "findings": {"complaint", "per"},
    "access": {"restore"},
}
"""Fields that the record has under another name, or as a record of their own."""


def test_every_section_is_built_and_kept() -> None:
    assert SECTIONS.keys() == BUILD.keys()
    assert SECTIONS.keys() | {"version", "systems"} == {one.name for one in fields(Knowledge)}


@pytest.mark.parametrize("section", SECTIONS)
def test_what_is_read_is_in_the_record(section: str) -> None:
    record = get_type_hints(BUILD[section])["return"]
    assert SECTIONS[section].fields.keys() - {one.name for one in fields(record)} == TURNED.get(
        section, set()
    )
