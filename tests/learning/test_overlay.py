"""The learnt overlay: holds what was learnt, is written whole or not at all, and can be taken back."""

from __future__ import annotations

import hashlib
import os
import signal
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from diagnose.errors import CallError, DataError
from diagnose.knowledge import loader
from diagnose.knowledge.files import learnt_beside
from diagnose.knowledge.number import SHOP
from diagnose.knowledge.records import Knowledge
from diagnose.learning import overlay_file
from diagnose.learning.changes import Change, changes, in_words
from diagnose.learning.learn import LearntNumbers
from diagnose.learning.learnable import numbers_of
from diagnose.learning.overlay_text import overlay_text
from diagnose.network.machine import Machine
from tests.learning.test_learning import learnt_from
from tests.learning.worlds import cases, lesson

FOLDER = Path(__file__).parents[1] / "cli" / "knowledge"
OLD = "causes:\n  pump_worn:\n    share: {p: 0.05, ess: 30}\n"
NEW = "causes:\n  pump_worn:\n    share: {p: 0.06, ess: 40}\n"


@pytest.fixture
def knowledge() -> Knowledge:
    return loader.load(FOLDER, learnt=False)


@pytest.fixture
def overlay(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The shop's own overlay, which need not exist."""
    monkeypatch.setenv("DIAGNOSE_CACHE", str(tmp_path / "cache"))
    return tmp_path / "shop.yaml"


def learnt(knowledge: Knowledge, tmp_path: Path) -> LearntNumbers:
    machine = Machine("PLOUGH-1", "old_six", {"start_aid": "none"}, 6000)
    return learnt_from(knowledge, cases(knowledge, 500, seed=11, machine=machine), tmp_path)


def text_of(found: LearntNumbers) -> str:
    return overlay_text(found.knowledge, changes(found), found.counted)


def place(overlay: Path) -> Path:
    return overlay_file.place_of_learnt(overlay, FOLDER)


# --- what it holds ------------------------------------------------------------------------------------------


def test_the_overlay_holds_what_was_learnt(knowledge: Knowledge, overlay: Path, tmp_path: Path) -> None:
    """Read again by the ordinary reader: every number that changed, and no other."""
    found = learnt(knowledge, tmp_path)
    overlay_file.write(place(overlay), text_of(found), overlay, FOLDER)
    after = numbers_of(loader.load(FOLDER, overlay))
    told = changes(found)
    assert len(told) > 10
    worth = found.may_change & (found.cases >= 1)
    moved = np.where(worth[found.numbers.row_of_cell], found.values, found.numbers.values)
    assert after.values == pytest.approx(moved, abs=1e-4)
    assert {one.kind for one in told} == {"prior", "link", "leak"}


def test_numbers_of_the_overlay_are_the_shops_and_worth_more(
    knowledge: Knowledge, overlay: Path, tmp_path: Path
) -> None:
    found = learnt(knowledge, tmp_path)
    overlay_file.write(place(overlay), text_of(found), overlay, FOLDER)
    prior = loader.load(FOLDER, overlay).causes["pump_worn"].frequency
    number = found.numbers.causes.index("pump_worn")
    assert (prior.basis, Path(prior.place.file).name) == (SHOP, "shop.learnt.yaml")
    assert prior.ess == pytest.approx(25 + found.cases[number], rel=1e-3)  # 4 % counts for 25 cases


def test_a_change_reads_like_a_sentence(knowledge: Knowledge, tmp_path: Path) -> None:
    told = {in_words(knowledge, one): one for one in changes(learnt(knowledge, tmp_path))}
    assert "Oil pump worn: share of machines" in told
    assert "Oil pressure too low while cranking -> Rail pressure while cranking is low: none" in told
    assert told["Oil pump worn: share of machines"].found > 0


def test_learning_starts_anew_each_time(knowledge: Knowledge, overlay: Path, tmp_path: Path) -> None:
    """The same cases twice do not count twice: what was learnt before is left out."""
    first = text_of(learnt(knowledge, tmp_path))
    overlay_file.write(place(overlay), first, overlay, FOLDER)
    again = loader.load(FOLDER, overlay, learnt=False)
    assert text_of(learnt(again, tmp_path)) == first


def test_the_shops_own_overlay_is_learnt_from_and_stays(overlay: Path, tmp_path: Path) -> None:
    overlay.write_text("causes:\n  pump_worn:\n    share: {p: 0.2, ess: 100}\n", encoding="utf-8")
    base = loader.load(FOLDER, overlay, learnt=False)
    found = learnt(base, tmp_path)
    assert found.numbers.values[1] == 0.2
    before = overlay.read_bytes()
    overlay_file.write(place(overlay), text_of(found), overlay, FOLDER)
    assert overlay.read_bytes() == before
    assert loader.load(FOLDER, overlay).causes["pump_worn"].frequency.value == pytest.approx(
        found.values[1], rel=1e-3
    )


def test_rounded_states_never_sum_to_more_than_one(knowledge: Knowledge, overlay: Path) -> None:
    values = {"low": 0.66666, "dead": 0.33337}
    told = [
        Change("link", "battery_rest", "batteries_flat", "", state, 0.5, value, 10, 20, 10.0, 0, 9, "", 4.0)
        for state, value in values.items()
    ]
    overlay_file.write(place(overlay), overlay_text(knowledge, told, 9), overlay, FOLDER)
    link = next(
        one
        for one in loader.load(FOLDER, overlay).causes["batteries_flat"].leads_to
        if one.effect == "battery_rest"
    )
    assert sum(one.value for one in link.strengths[0]) <= 1


# --- written whole or not at all ----------------------------------------------------------------------------


def test_an_overlay_that_would_not_hold_together_is_not_written(overlay: Path) -> None:
    overlay_file.write(place(overlay), OLD, overlay, FOLDER)
    with pytest.raises(DataError, match="K0"):
        overlay_file.write(place(overlay), OLD.replace("0.05", "1.5"), overlay, FOLDER)
    assert place(overlay).read_text(encoding="utf-8") == OLD
    assert left_over(overlay) == []


@pytest.mark.parametrize("call", ["fsync", "replace"])
def test_a_disk_that_fails_leaves_the_old_overlay(
    call: str, overlay: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    overlay_file.write(place(overlay), OLD, overlay, FOLDER)

    def fails(*_: object) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(os, call, fails)
        with pytest.raises(DataError, match="No space left"):
            overlay_file.write(place(overlay), NEW, overlay, FOLDER)
    assert place(overlay).read_text(encoding="utf-8") == OLD
    assert left_over(overlay) == []


KILLED = """
import os, signal, sys
from pathlib import Path
from diagnose.learning import overlay_file
overlay, folder, moment = Path(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3])
calls, replace = 0, os.replace
def killed(*of):
    global calls
    if calls == moment:
        os.kill(os.getpid(), signal.SIGKILL)
    calls += 1
    replace(*of)
os.replace = killed
overlay_file.write(overlay_file.place_of_learnt(overlay, folder), {new!r}, overlay, folder)
"""


@pytest.mark.parametrize("moment", [0, 1])
def test_killed_while_writing_the_old_overlay_is_whole(moment: int, overlay: Path, tmp_path: Path) -> None:
    """Killed before the copy of the old one is in place, and between that and the new one."""
    overlay_file.write(place(overlay), OLD, overlay, FOLDER)
    code = KILLED.format(new=NEW)
    environment = os.environ | {"DIAGNOSE_CACHE": ""}  # what the cache writes is no part of this
    ended = subprocess.run(
        [sys.executable, "-c", code, str(overlay), str(FOLDER), str(moment)],
        env=environment,
        timeout=60,
        check=False,
    )
    assert ended.returncode == -signal.SIGKILL
    assert place(overlay).read_text(encoding="utf-8") == OLD
    assert loader.load(FOLDER, overlay).causes["pump_worn"].frequency.value == 0.05


def left_over(overlay: Path) -> list[str]:
    return [path.name for path in overlay.parent.iterdir() if path.name.endswith(".part")]


def test_what_an_update_has_taken_away_is_passed_over(overlay: Path) -> None:
    """A learnt overlay must not stop the program because a cause or a link is there no more; a shop's own
    says so."""
    text = (
        OLD
        + "    leads_to:\n      gone_finding: 0.4\n      pressure_low: 0.8\n  gone_cause:\n    share: 0.1\n"
    )
    overlay.touch()
    place(overlay).write_text(text, encoding="utf-8")
    pump = loader.load(FOLDER, overlay).causes["pump_worn"]
    assert pump.frequency.value == 0.05
    strengths = {link.effect: link.strengths[0][0].value for link in pump.leads_to}
    assert strengths == {"pressure_low": 0.8, "debris": 0.5, "metal_in_filter": 0.7}
    overlay.write_text(text, encoding="utf-8")
    with pytest.raises(DataError, match="gone_cause"):
        loader.load(FOLDER, overlay)


# --- taken back ---------------------------------------------------------------------------------------------


def test_undo_goes_back_one_step_and_then_to_nothing(overlay: Path) -> None:
    overlay_file.write(place(overlay), OLD, overlay, FOLDER)
    overlay_file.write(place(overlay), NEW, overlay, FOLDER)
    assert loader.load(FOLDER, overlay).causes["pump_worn"].frequency.value == 0.06
    assert overlay_file.undo(place(overlay))
    assert loader.load(FOLDER, overlay).causes["pump_worn"].frequency.value == 0.05
    assert not overlay_file.undo(place(overlay))
    overlay.touch()
    assert loader.load(FOLDER, overlay).causes["pump_worn"].frequency.value == 0.04
    with pytest.raises(CallError, match="Nothing is learnt"):
        overlay_file.undo(place(overlay))


def test_deleting_the_file_is_enough(overlay: Path) -> None:
    overlay.touch()
    overlay_file.write(place(overlay), OLD, overlay, FOLDER)
    place(overlay).unlink()
    assert loader.load(FOLDER, overlay) == loader.load(FOLDER, overlay, learnt=False)


def test_shipped_files_are_never_touched(knowledge: Knowledge, overlay: Path, tmp_path: Path) -> None:
    def marks() -> list[str]:
        return [hashlib.sha256(path.read_bytes()).hexdigest() for path in sorted(FOLDER.iterdir())]

    before = marks()
    overlay_file.write(place(overlay), text_of(learnt(knowledge, tmp_path)), overlay, FOLDER)
    assert marks() == before


def test_where_it_lies(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert learnt_beside(Path("a/shop.yaml")) == Path("a/shop.learnt.yaml")
    assert learnt_beside(Path("a/folder")) == Path("a/folder.learnt.yaml")
    monkeypatch.setenv("DIAGNOSE_OVERLAY", str(tmp_path / "ours.yaml"))
    assert overlay_file.place_of_learnt(None, None) == tmp_path / "ours.learnt.yaml"
    monkeypatch.setenv("DIAGNOSE_OVERLAY", "")
    with pytest.raises(CallError, match="Name one"):
        overlay_file.place_of_learnt(None, None)


def test_what_is_learnt_is_read_though_the_shop_has_no_overlay(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("DIAGNOSE_OVERLAY", str(tmp_path / "ours.yaml"))
    (tmp_path / "ours.learnt.yaml").write_text(OLD, encoding="utf-8")
    assert loader.load(FOLDER).causes["pump_worn"].frequency.value == 0.05


def test_cases_of_another_knowledge_teach_nothing_and_are_counted(
    knowledge: Knowledge, tmp_path: Path
) -> None:
    machine = Machine("PLOUGH-1", "old_six", {"start_aid": "none"})
    strange = lesson("1", ["flux_capacitor"], [], machine)
    impossible = lesson("2", ["heater_dead"], [], machine)
    found = learnt_from(
        knowledge, [strange, impossible, replace(strange, case="3", is_closed=False)], tmp_path
    )
    assert found.counted == 0
    assert set(found.survey.left_out) == {
        "its cause flux_capacitor is not in the knowledge",
        "its cause heater_dead cannot be on this machine, by its facts",
        "not closed",
    }
