"""Where the numbers and the links come from, and the page that says so."""

from __future__ import annotations

from collections import Counter

import pytest

from diagnose.knowledge.assemble import assemble
from diagnose.knowledge.files import FileText
from diagnose.knowledge.loader import load, shipped_folder
from diagnose.knowledge.provenance import (
    FACTS,
    RECORDS,
    kind,
    numbers,
    structure,
    tally,
    tally_by_subject,
    tally_of_texts,
)
from diagnose.knowledge.rules.references import numbers as every_number
from tests.pages.published import STOPPAGES
from tests.pages.reconcile import PAGE, compared, page
from tests.study.small import SMALL, small

MORE = """
facts:
  duty:
    name: Duty
    question: How is it used?
    values: [light, heavy]
    shares: {light: {p: 0.7, basis: handbook, ess: 50}, heavy: 0.3}
    starts: {light: {per_hour: 0.5, basis: common practice, ess: 10}}
  care:
    name: Care
    question: Is it looked after?
    values: [good, bad]
    shares_by: {duty: {light: {good: 1, bad: 0}, heavy: {good: 0.6, bad: 0.4}}}
default_basis: {basis: judgement, ess: 10}
"""


def test_page_is_up_to_date() -> None:
    """If not: python -m tests.pages."""
    assert PAGE.read_text(encoding="utf-8") == page(load(shipped_folder()))


def test_no_number_is_left_out() -> None:
    """Against the rules' own walk through the records; zeros that are written nowhere do not count."""
    knowledge = load(shipped_folder())
    records = [record for section in RECORDS for record in getattr(knowledge, section).values()]
    mine = Counter(one.number for record in records for one in numbers(knowledge, record))
    theirs = Counter(n for n in every_number(knowledge) if n.value > 0)
    assert {n: c for n, c in mine.items() if n.value > 0} == theirs


def test_tally_by_hand() -> None:
    """Shares of 4 causes, 10 links, 6 leaks, 1 cause not listed, minutes of 4 checks and 3 repairs, 4 cures: 32
    numbers, of which the filter's share is the handbook's and the pump's common practice."""
    assert tally(small()) == {"fuel": {"source": 1, "common practice": 1, "judgement": 30}, FACTS: {}}
    assert kind("handbook") == "source"


def test_tally_by_subject_by_hand() -> None:
    found = {of: count for of, count in tally_by_subject(small()).items() if count}
    assert found == {
        "frequency": {"source": 1, "common practice": 1, "judgement": 2},
        "link": {"judgement": 10},
        "leak": {"judgement": 7},
        "minutes": {"judgement": 7},
        "repair": {"judgement": 4},
    }


def test_facts_count_too() -> None:
    """Duty: two shares and one number of starts; care: three shares that are not nothing."""
    knowledge, problems = assemble(
        [FileText("small.yaml", SMALL.encode()), FileText("more.yaml", MORE.encode())]
    )
    assert knowledge, problems
    assert tally(knowledge)[FACTS] == {"source": 1, "common practice": 1, "judgement": 4}
    assert tally_by_subject(knowledge)["fact"] == tally(knowledge)[FACTS]
    assert [one.label for one in numbers(knowledge, knowledge.facts["care"])] == [
        "share where duty is light: good",
        "share where duty is heavy: good",
        "share where duty is heavy: bad",
    ]


def test_a_source_names_the_link_not_its_number() -> None:
    knowledge = small()
    found = structure(knowledge)["fuel"]
    assert (found.links, found.named, found.by_confidence) == (10, 1, {"read": 1})
    one = {one.label: one for one in numbers(knowledge, knowledge.causes["pump_worn"])}["leads to starved"]
    assert (one.source, one.number.basis) == ("handbook", "judgement")


def test_limits_and_cautions_by_hand() -> None:
    fire = "{name: Fire, caution: Keep away., basis: handbook}"
    hazards = f"hazards: {{fire: {fire}, heat: {{name: Heat, caution: Wait.}}}}"
    knowledge, problems = assemble(
        [FileText("small.yaml", SMALL.encode()), FileText("more.yaml", hazards.encode())]
    )
    assert knowledge, problems
    assert tally_of_texts(knowledge) == {
        "limits of readings": {},
        "cautions": {"source": 1, "common practice": 1},
    }


def test_no_manual_stands_as_the_basis_of_a_strength() -> None:
    """Manuals, examination questions and textbooks name causes; none of them here gives how often."""
    assert tally_by_subject(load(shipped_folder()))["link"]["source"] == 0


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
    left out of the comparison."""
    assert sum(share.percent for share in STOPPAGES) == pytest.approx(100.0 - 2.5 - 2.5 - 0.9)


def test_both_columns_add_up_to_100() -> None:
    rows = compared({"fuel_supply": 0.3, "cooling": 0.1, "starting": 5.0})
    assert sum(row.published for row in rows) == pytest.approx(100)
    assert [round(row.own) for row in rows[:2]] == [75, 25]


def test_every_system_compared_is_in_the_knowledge() -> None:
    assert {id for share in STOPPAGES for id in share.systems} <= load(shipped_folder()).systems.keys()
