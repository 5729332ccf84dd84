"""The hidden machine with a part out: as the network with that stretch says, the noise of all else kept."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from diagnose.network.away import stretch
from diagnose.network.build import build
from diagnose.network.engine import Engine
from diagnose.network.history import History
from diagnose.network.observed import one_hot
from diagnose.planning.options import CheckOption
from diagnose.practice.run import ExerciseRun, started
from diagnose.practice.thinking import think
from tests.planning.test_away import part
from tests.practice.small import SHOP, exercise, knowledge

PUMP = part("pump", {"pump_worn": 1.0}, watched=("no_start",))
KNOWN = replace(knowledge(), removable={"pump": PUMP})


def run(cause: str, seed: int) -> ExerciseRun:
    return ExerciseRun(KNOWN, SHOP, [started(KNOWN, exercise(cause, seed), "Ann")], 1)


def option() -> CheckOption:
    return CheckOption("try:pump", "Try with pump off", 10.0, None, ("no_start@pump",))


def told(cause: str, seed: int) -> str:
    (noted,) = run(cause, seed).do_check(option()).noted
    assert noted.finding == "no_start@pump"
    return noted.state


def test_it_goes_with_its_cause_and_not_with_another() -> None:
    assert [told("pump_worn", seed) for seed in range(1, 9)].count("gone") > 6
    assert {told("seal_out", seed) for seed in range(1, 9)} == {"still there"}


def test_the_same_each_time() -> None:
    at = run("pump_worn", 3)
    again = at.more(at.do_check(option()).entry)
    assert again.do_check(option()).noted == at.do_check(option()).noted


@pytest.mark.parametrize("effectiveness", [1.0, 0.6])
def test_how_often_it_goes(effectiveness: float, monkeypatch: pytest.MonkeyPatch) -> None:
    """Drawn machines beside the exact network: P(gone | the pump is worn, does not start)."""
    one = part("pump", {"pump_worn": effectiveness}, watched=("no_start",))
    monkeypatch.setattr("tests.practice.test_away.KNOWN", replace(KNOWN, removable={"pump": one}))
    machine = exercise().case().machine
    built = build(KNOWN, machine, History(away=(stretch(one, 0, ["no_start"]),)))
    network = built.network
    evidence = {built.variable(id): one_hot(2, int(id == "pump_worn")) for id in built.causes}
    evidence |= {v: one_hot(2, 0) for v in built.others.values()}
    evidence[built.variable("no_start")] = one_hot(2, 1)
    p = float(Engine(network, evidence).marginal(built.variable("no_start@pump"))[0])
    many = 150
    drawn = sum(told("pump_worn", seed) == "gone" for seed in range(1, many + 1))
    assert abs(drawn - many * p) < 3.3 * np.sqrt(many * p * (1 - p)) + 1


def test_supposing_its_result() -> None:
    at = run("pump_worn", 1)
    entry, words = think(at, option(), ["pump_worn"], [])
    assert entry.values["supposed"].endswith("still there")
    assert "right" in words
