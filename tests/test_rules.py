"""Every rule, by its cases in tests/rules; and the pages that are made from the rules."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import yaml

from diagnose.errors import Problem
from diagnose.knowledge.assemble import assemble
from diagnose.knowledge.files import FileText
from diagnose.knowledge.loader import check
from diagnose.knowledge.rules import OF_THE_MAKING, RULES, WITH_OVERLAY, Survey, found
from diagnose.knowledge.rules.graph import complaint_without_general
from tests.pages.rules import generated

HERE = Path(__file__).parent / "rules"
BASE = FileText("base.yaml", (HERE / "base.yaml").read_bytes())


def cases() -> list[Any]:
    return [
        pytest.param(path.stem, case, id=f"{path.stem}-{case['name'].replace(' ', '_')}")
        for path in sorted(HERE.glob("K*.yml"))
        for case in yaml.safe_load(path.read_text(encoding="utf-8"))
    ]


def problems_of(case: dict[str, Any], tmp_path: Path) -> tuple[Problem, ...]:
    if "folder" in case:
        return check(tmp_path / case["folder"])[1]
    text = case["pass"] if "pass" in case else case["fail"]
    return assemble([BASE, FileText("case.yaml", text.encode())])[1]


def of_the_case(code: str, case: dict[str, Any], problems: tuple[Problem, ...]) -> list[Problem]:
    """The problems that a case is about: of its rule and of those that it expects, and what cannot be read at all;
    a rule that is added later finds what it will in it."""
    later = {rule.code for rule in RULES if rule.test} - {code} - {one[0] for one in case.get("expect", [])}
    return [one for one in problems if one.code not in later]


def test_the_base_alone_has_no_problem() -> None:
    assert assemble([BASE])[1] == ()


@pytest.mark.parametrize(("code", "case"), cases())
def test_case(code: str, case: dict[str, Any], tmp_path: Path) -> None:
    problems = of_the_case(code, case, problems_of(case, tmp_path))
    told = [[one.code, one.place.line, one.place.column] for one in problems]
    assert told == case.get("expect", []), "\n".join(map(str, problems))
    assert all(one.place.file != "base.yaml" for one in problems)
    if "says" in case:
        assert case["says"] in f"{problems[0].message} {problems[0].hint}"


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.code)
def test_each_rule_has_a_failing_case_and_a_page(rule: Any) -> None:
    listed = yaml.safe_load((HERE / f"{rule.code}.yml").read_text(encoding="utf-8"))
    assert any(rule.code == expected[0] for case in listed for expected in case.get("expect", []))
    assert len(rule.page) > 20


def test_rules_of_the_making_are_not_asked_under_an_overlay() -> None:
    assert {*OF_THE_MAKING, *WITH_OVERLAY} == {*RULES}
    assert not {*OF_THE_MAKING} & {*WITH_OVERLAY}
    assert OF_THE_MAKING


def test_a_knowledge_without_general_complaints_is_not_asked_for_them() -> None:
    base, _ = assemble([BASE])
    assert base
    complaint, *_ = (id for id, one in base.findings.items() if one.other)
    bare = {id: replace(one, general=False, kind_of=()) for id, one in base.findings.items()}
    plain = Survey(replace(base, findings=bare))
    assert not [*found(plain, [complaint_without_general])]
    other = replace(bare[complaint], id="general", general=True)
    asked = Survey(replace(base, findings=bare | {"general": other}))
    assert f"`{complaint}`" in next(found(asked, [complaint_without_general])).message


def test_codes_are_unique() -> None:
    assert len({rule.code for rule in RULES}) == len(RULES)
    assert len({rule.name for rule in RULES}) == len(RULES)


@pytest.mark.parametrize("path", generated(), ids=lambda path: path.name)
def test_generated_page_is_up_to_date(path: Path) -> None:
    hint = "run python -m tests.pages"
    assert path.read_text(encoding="utf-8") == generated()[path], hint
