"""The shipped knowledge speaks the language of codes and units: what it lists can be typed."""

from __future__ import annotations

import pytest

from diagnose.codes.typed import KIND_ALONE, Code, findings_for, parse_code
from diagnose.knowledge.readings import find_quantity, quantities, states_for
from diagnose.knowledge.records import Knowledge
from diagnose.words.quantity import parse_quantity
from tests.shipped import shipped_knowledge


@pytest.fixture(scope="module")
def shipped() -> Knowledge:
    return shipped_knowledge()


def test_every_listed_code_leads_to_its_finding(shipped: Knowledge) -> None:
    listed = [
        (code, known.id)
        for known in shipped.findings.values()
        for code in known.codes
        if not KIND_ALONE.fullmatch(code)
    ]
    assert listed
    assert all(key in findings_for(shipped, parse_code(code)) for code, key in listed)


@pytest.mark.parametrize("fmi", [*range(22), 31])
def test_every_kind_of_fault_of_a_part_that_is_not_listed_is_used(shipped: Knowledge, fmi: int) -> None:
    assert len(findings_for(shipped, Code(spn=520300, fmi=fmi))) == 1


def test_a_reserved_kind_of_fault_is_not_used(shipped: Knowledge) -> None:
    assert findings_for(shipped, Code(spn=520300, fmi=25)) == ()


def test_every_quantity_is_found_by_its_name_and_takes_its_unit(shipped: Knowledge) -> None:
    assert quantities(shipped)
    for known in shipped.findings.values():
        if known.reading:
            name = find_quantity(shipped, known.reading.quantity)
            facts = {fact.id: fact.values[0] for fact in shipped.facts.values()}
            states = dict(states_for(shipped, name, parse_quantity(f"1 {known.reading.unit}"), facts))
            assert states[known.id] in known.states
