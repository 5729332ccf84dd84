"""The program against published statements: what the books say stands among what comes first.

Sources and citations stand in `cases.yaml`. Only statements whose passage was read (high) or that come from a
trade article (medium) count; what was written from memory is shown by the harness and not scored.
"""

from __future__ import annotations

from collections import Counter

import pytest

from diagnose.knowledge.loader import load
from tests.handbook.harness import Statement, answer, judged, mapped, report, result, statements

PHYSICAL = {
    "HB094": "where there is an exhaust-gas cooler it leaks more often than gasket or head, with the same signs "
    "(HB097 says so of these very findings); the article does not say whether the engine has one",
}

PUBLISHED = [statement for statement in mapped() if statement.confidence != "low"]


def marked(discrimination: str) -> list[object]:
    """The published statements of one kind, those that cannot come out so marked with the reason."""
    return [
        pytest.param(statement, id=statement.id, marks=_marks(statement.id))
        for statement in PUBLISHED
        if statement.discrimination == discrimination
    ]


def _marks(id: str) -> list[pytest.MarkDecorator]:
    return [pytest.mark.xfail(reason=PHYSICAL[id], strict=True)] if id in PHYSICAL else []


@pytest.mark.parametrize("statement", marked("single"))
def test_the_one_cause_of_the_source_is_among_the_first_three(statement: Statement) -> None:
    found = result(statement.id)
    assert found.place <= 3, found.first


@pytest.mark.parametrize("statement", marked("few"))
def test_a_cause_of_the_source_comes_first(statement: Statement) -> None:
    found = result(statement.id)
    assert found.place == 1, found.first


def test_what_the_source_rules_out_comes_down() -> None:
    """A mirror image of HB002 (NAVEDTRA 14076): a starter that turns the engine rules its drive out."""
    statement = next(statement for statement in mapped() if statement.id == "HB002")
    other = {**statement.observe, "starter_spins_or_grinds": "absent"}
    changed = Statement("mirror", "", (), (), "few", "high", "", observe=other, accept=statement.accept)
    assert judged(statement, answer(statement)).place == 1
    assert judged(changed, answer(changed)).place > 3


# --- the file ---------------------------------------------------------------------------------------------


def test_all_published_statements_are_here() -> None:
    assert len(statements()) == 134
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
    knowledge = load()
    assert len(statement.accept) == len(statement.causes)
    assert statement.accepted
    assert statement.accepted <= set(knowledge.causes)
    for finding, state in statement.observe.items():
        assert state in knowledge.findings[finding].states
    for fact, value in statement.facts.items():
        assert value in knowledge.facts[fact].values
    assert answer(statement).unused == ()


def test_the_mapped_statements_are_many_and_of_several_systems() -> None:
    assert len(PUBLISHED) >= 20
    assert len({statement.system for statement in PUBLISHED}) >= 6


def test_the_report_counts_every_mapped_statement_once() -> None:
    lines = list(report())
    totals = [int(line.split()[1]) for line in lines if line.startswith("all ")]
    assert totals == [len(PUBLISHED), len(PUBLISHED), len(mapped()) - len(PUBLISHED)]
