"""Where the numbers come from, and the page that says so."""

from __future__ import annotations

from collections import Counter

import pytest

from diagnose.knowledge.loader import load, shipped_folder
from diagnose.knowledge.provenance import RECORDS, kind, numbers, tally
from diagnose.knowledge.rules.references import numbers as every_number
from diagnose.study.published import CORE_SHARE, STOPPAGES
from diagnose.study.reconcile import PAGE, compared, page
from tests.study.small import small


def test_page_is_up_to_date() -> None:
    """If not: python -m diagnose.study.reconcile."""
    assert PAGE.read_text(encoding="utf-8") == page(load(shipped_folder()))


def test_no_number_is_left_out() -> None:
    """Against the rules' own walk through the records; zeros that are written nowhere do not count."""
    knowledge = load(shipped_folder())
    records = [record for section in RECORDS for record in getattr(knowledge, section).values()]
    mine = Counter(one.number for record in records for one in numbers(knowledge, record))
    facts = {
        n for fact in knowledge.facts.values() for row in (fact.shares, *fact.shares_by.values()) for n in row
    }
    facts |= {n for fact in knowledge.facts.values() for n in (*fact.starts.values(), *fact.nights.values())}
    theirs = Counter(n for n in every_number(knowledge) if n.value > 0 and n not in facts)
    assert {n: c for n, c in mine.items() if n.value > 0} == theirs


def test_tally_by_hand() -> None:
    found = tally(small())["fuel"]
    assert (found["source"], found["common practice"]) == (1, 1)
    assert kind("handbook") == "source"


def test_labels_say_what_the_number_is() -> None:
    knowledge = small()
    labels = [one.label for one in numbers(knowledge, knowledge.causes["pump_worn"])]
    assert labels == [
        "share of machines in service that have it",
        "leads to starved",
        "leads to pump_found_worn",
    ]


def test_published_shares_add_up() -> None:
    """The recalled survey adds up to 100.0 (from memory); breakages 2.5, miscellaneous 2.5 and foundations 0.9 are
    left out of the comparison. Core parts: mean times between failures of doi 10.1177/16878132261421930 (read)."""
    assert sum(share.percent for share in STOPPAGES) == pytest.approx(100.0 - 2.5 - 2.5 - 0.9)
    assert pytest.approx(21, abs=0.05) == round(CORE_SHARE)


def test_both_columns_add_up_to_100() -> None:
    rows = compared({"fuel_supply": 0.3, "cooling": 0.1, "starting": 5.0})
    assert sum(row.published for row in rows) == pytest.approx(100)
    assert [round(row.own) for row in rows[:2]] == [75, 25]


def test_every_system_compared_is_in_the_knowledge() -> None:
    assert {id for share in STOPPAGES for id in share.systems} <= load(shipped_folder()).systems.keys()
