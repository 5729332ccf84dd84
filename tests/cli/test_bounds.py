"""A look at a case ends within its processor time, with a word on what to do."""

from __future__ import annotations

import random
import time
from pathlib import Path

import pytest
from click.testing import CliRunner

from diagnose.cases.events import Noted, Opened
from diagnose.cases.store import Store
from diagnose.cli.bounds import LOOK, STUDY, VARIABLE, TooLong, bounded
from diagnose.cli.main import program
from diagnose.knowledge.loader import load


def busy(seconds: float) -> None:
    until = time.process_time() + seconds
    while time.process_time() < until:
        pass


def test_what_takes_longer_is_ended(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(VARIABLE, "0.1")
    with pytest.raises(TooLong, match=r"0\.1 s of processor time"), bounded("causes"):
        busy(5)
    with bounded("learn"):  # many cases take their time
        busy(0.2)
    busy(0.2)  # nor does the clock run on


@pytest.mark.parametrize("odd", ["", "no", "-1", "nan", "inf"])
def test_an_odd_bound_is_the_usual_one(monkeypatch: pytest.MonkeyPatch, odd: str) -> None:
    monkeypatch.setenv(VARIABLE, odd)
    with bounded("causes"):
        busy(0.01)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("command", "bound"),
    [*(((one,), LOOK) for one in ("causes", "next", "repair")), (("why", "1"), LOOK), (("report",), STUDY)],
)
def test_a_thousand_findings_drawn_at_random_are_answered(
    command: tuple[str, ...], bound: float, tmp_path: Path
) -> None:
    """They contradict each other: what is set aside is told, and what is kept is exact."""
    knowledge, draw = load(), random.Random(1)
    ids = list(knowledge.findings)
    seen = [Noted(id, draw.choice(knowledge.findings[id].states)) for id in draw.choices(ids, k=1000)]
    with Store(tmp_path / "cases.sqlite") as store:
        store.new_case(Opened("D-07", complaint="all of it"), *seen)
    began = time.process_time()
    result = CliRunner().invoke(program, ["--store", str(tmp_path / "cases.sqlite"), *command])
    assert result.exit_code == 0, result.output
    assert time.process_time() - began < bound
    if command[0] in ("causes", "report"):
        assert "set aside" in result.output
