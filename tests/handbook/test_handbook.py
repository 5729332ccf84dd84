"""The program against published statements: what the books say stands among what comes first.

Sources and citations stand in `cases.yaml`. Only statements whose passage was read (high) or that come from a
trade article (medium) count; what was written from memory is shown by the harness and not scored.
"""

from __future__ import annotations

import subprocess
import sys
from collections import Counter

import pytest

from diagnose.knowledge.observable import observable
from tests.handbook.harness import (
    COMMAND,
    PAGE,
    Result,
    Statement,
    answer,
    judged,
    mapped,
    page,
    result,
    results,
    statements,
)
from tests.shipped import shipped_knowledge

PUBLISHED = [statement for statement in mapped() if statement.published]


def marked(discrimination: str) -> list[object]:
    """The published statements of one kind; one with a physical reason to come out later must do so, strictly.

    Three of four are slow tests: all together take a minute.
    """
    mine = [one for one in PUBLISHED if one.discrimination == discrimination and not one.batch]
    return [
        pytest.param(statement, id=statement.id, marks=_marks(statement, number % 4 > 0))
        for number, statement in enumerate(mine)
    ]


def _marks(statement: Statement, slow: bool) -> list[pytest.MarkDecorator]:
    missed = [pytest.mark.xfail(reason=statement.miss, strict=True)] if statement.miss else []
    return [*missed, *([pytest.mark.slow] if slow else [])]


@pytest.mark.parametrize("statement", marked("single"))
def test_the_one_cause_of_the_source_is_among_the_first_three(statement: Statement) -> None:
    found = result(statement.id)
    assert found.place <= 3, found.first


@pytest.mark.parametrize("statement", marked("few"))
def test_a_cause_of_the_source_comes_first(statement: Statement) -> None:
    found = result(statement.id)
    assert found.place == 1, found.first


def share(found: list[Result], places: int) -> float:
    """The share of the results with an accepted cause among the first places."""
    return sum(one.place <= places for one in found) / len(found)


@pytest.mark.slow
def test_most_come_first_with_nothing_left_out() -> None:
    """The program's goals, over all published statements, those with a reason to fail included."""
    single = [
        one for one in results(published=True) if one.kind == "single, high" and not one.statement.batch
    ]
    few = [
        one
        for one in results(published=True)
        if one.statement.discrimination == "few" and not one.statement.batch
    ]
    assert share(single, 1) >= 0.75
    assert share(single, 3) >= 0.91
    assert share(few, 1) >= 0.77  # 0.87 before the knowledge grew threefold


def test_what_the_source_rules_out_comes_down() -> None:
    """A mirror image of HB002 (NAVEDTRA 14076): a starter that turns the engine rules its drive out."""
    statement = next(statement for statement in mapped() if statement.id == "HB002")
    other = {**statement.observe, "starter_spins_or_grinds": "absent"}
    changed = Statement("mirror", "", (), (), "few", "high", "", observe=other, accept=statement.accept)
    assert judged(statement, answer(statement)).place == 1
    assert judged(changed, answer(changed)).place > 3


# --- the file ---------------------------------------------------------------------------------------------


def test_all_published_statements_are_here() -> None:
    assert len(statements()) == 134 + 52 + 47 + 56 + 74  # the first ones, batches A, B, C and D
    assert not [id for id, count in Counter(statement.id for statement in statements()).items() if count > 1]


@pytest.mark.parametrize("statement", statements(), ids=lambda statement: statement.id)
def test_a_statement_is_whole(statement: Statement) -> None:
    assert statement.findings
    assert statement.causes
    assert statement.source
    assert statement.discrimination in {"single", "few", "many"}
    assert statement.confidence in {"high", "medium", "low"}
    assert (statement.confidence == "low") == statement.source.startswith("from memory")
    assert statement.mapped == bool(statement.observe) == bool(statement.accept) != bool(statement.reason)
    assert statement.confidence == "low" or statement.citation


@pytest.mark.parametrize("statement", mapped(), ids=lambda statement: statement.id)
def test_a_mapping_speaks_the_words_of_the_knowledge(statement: Statement) -> None:
    assert len(statement.accept) == len(statement.causes)
    assert statement.accepted
    assert statement.accepted <= set(shipped_knowledge().causes)
    for finding, state in statement.observe.items():
        assert state in observable(shipped_knowledge(), finding).states
    for fact, value in statement.facts.items():
        assert value in shipped_knowledge().facts[fact].values


def test_the_mapped_statements_are_many_and_of_many_systems() -> None:
    assert len(PUBLISHED) >= 85
    assert len({statement.system for statement in PUBLISHED}) >= 18


# --- the page and the command -----------------------------------------------------------------------------


@pytest.mark.slow
def test_the_page_is_up_to_date() -> None:
    assert PAGE.read_text(encoding="utf-8") == page(), f"make it anew: {COMMAND}"


@pytest.mark.slow
def test_every_published_statement_is_counted_once() -> None:
    totals = [int(line.split("|")[2]) for line in page().splitlines() if line.startswith("| all ")]
    assert totals == [len(PUBLISHED)] * 3


def test_the_report_survives_a_reader_that_has_seen_enough() -> None:
    command = [sys.executable, "-c", PIPED]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as harness:
        assert harness.stdout
        assert harness.stderr
        harness.stdout.close()
        assert harness.stderr.read() == b""
    assert harness.returncode == 0


PIPED = """
from tests.handbook import harness
harness.report = harness.remembered = lambda: iter(["a line"] * 100_000)
harness.main([])
"""
