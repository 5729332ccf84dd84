"""Each attack at a small scale (docs/reliability.md has the large one), and that it sees what it is made to see."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from diagnose.append_only import audit
from diagnose.cases.store import Store
from diagnose.practice.store import Exercises
from tests.attack import damage, fuzz, hostile, kill


@pytest.mark.parametrize("kind", [Store, Exercises])
def test_kills(kind: damage.Kind) -> None:
    told = kill.kills(20, kind=kind)
    assert told["acknowledged"] >= 20
    assert told["lost"] == 0


@pytest.mark.skipif(not shutil.which("strace"), reason="power cuts are replayed from a trace of strace")
def test_power_cuts() -> None:
    assert kill.cuts(30)["lost"] == 0
    assert kill.cuts(10, synced=False)["lost"] > 0


def test_damage_of_exercises_is_found_or_harmless() -> None:
    told = damage.attack(10, kind=Exercises)
    assert told["one bit, found"] + told["several bytes, found"] > 0


@pytest.mark.parametrize("kind", [Store, Exercises])
def test_damage_is_seen_where_hashes_are_not_checked(
    monkeypatch: pytest.MonkeyPatch, kind: damage.Kind
) -> None:
    monkeypatch.setattr(audit, "changed", lambda *row: "")
    with pytest.raises(AssertionError, match="is read wrongly"):
        damage.attack(60, kind=kind)


@pytest.mark.slow
def test_hostile_files() -> None:
    assert hostile.attack(40) == []


# The readers of tables leave it to the end of the call to close a file that they cannot read.
left_open = pytest.mark.filterwarnings(
    "ignore::ResourceWarning", "ignore::pytest.PytestUnraisableExceptionWarning"
)


@left_open
def test_fuzz() -> None:
    said: list[str] = []
    fuzz.attack(4, told=said.append)
    assert said == []


@pytest.mark.slow
@left_open
def test_the_fuzz_sees_what_passes_a_gate_left_open(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    from diagnose.cli import main

    monkeypatch.setattr(main, "typed", lambda word: word)
    monkeypatch.setattr(main, "on_screen", lambda text: text)
    said: list[str] = []
    fuzz.attack(8, told=said.append)
    assert any("raw" in one or "forged" in one for one in said)
