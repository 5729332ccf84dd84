"""Many cases at once: the same numbers as one by one, in order, on any number of processes; calibration and
drift."""

from __future__ import annotations

import os
import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from diagnose.cases.case import Epoch, Observation
from diagnose.diagnosis import diagnose
from diagnose.errors import DiagnoseError
from diagnose.knowledge.loader import load
from diagnose.knowledge.records import Knowledge
from diagnose.learning import calibrate as judging
from diagnose.learning.calibrate import calibrate
from diagnose.learning.case_sources import FileSource, chunk_size, from_files
from diagnose.learning.jsonl import to_json
from diagnose.learning.learn import learn
from diagnose.learning.lesson import ConfirmedCause, Lesson
from diagnose.learning.many_cases import rank_all, ranked
from diagnose.learning.parallel import crew
from diagnose.network.machine import Machine
from diagnose.report.reliability_picture import reliability_svg
from tests.learning.worlds import cases, small

FOLDER = Path(__file__).parents[1] / "cli" / "knowledge"
PLOUGH = Machine("PLOUGH-1", "old_six", {"start_aid": "none", "duty": "long haul"}, 6000)


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load(FOLDER, learnt=False)


def file_of(lessons: list[Lesson], folder: Path) -> FileSource:
    path = folder / "cases.jsonl"
    path.write_text("".join(to_json(one) + "\n" for one in lessons), encoding="utf-8")
    return from_files([path])


# --- ranking ------------------------------------------------------------------------------------------------


def test_many_cases_have_the_numbers_of_each_alone(knowledge: Knowledge, tmp_path: Path) -> None:
    made = cases(knowledge, 150, seed=1, looked=0.3, machine=PLOUGH)
    together = list(rank_all(knowledge, file_of(made, tmp_path), processes=2))
    assert [one.case for one in together] == [one.case for one in made]
    for one, lesson in zip(together[:40], made[:40], strict=True):
        diagnosis = diagnose(knowledge, lesson.as_case())
        alone = {cause.id: cause.probability for cause in diagnosis.causes}
        assert {cause.id: cause.probability for cause in one.causes} == alone  # to the last bit
        assert one.other_cause == diagnosis.other_cause
    assert together == list(rank_all(knowledge, file_of(made, tmp_path), processes=1))


def test_repairs_within_a_case_are_ranked_as_ever(knowledge: Knowledge) -> None:
    seen = Observation("no_start", "present")
    lesson = Lesson(
        "1",
        PLOUGH,
        epochs=(
            Epoch(observations=(seen,)),
            Epoch(("swap_pump",), ("pump_worn",), (replace(seen, epoch=1),)),
        ),
    )
    diagnosis = diagnose(knowledge, lesson.as_case())
    assert {c.id: c.probability for c in ranked(knowledge, lesson).causes} == {
        c.id: c.probability for c in diagnosis.causes
    }


def test_what_is_impossible_is_told_and_the_rest_is_ranked(tmp_path: Path) -> None:
    base = small()
    never = replace(base.findings["code"].leak[0], value=0.0)
    pressure = replace(base.conditions["pressure"], leak=(never,))
    base = replace(base, conditions={"pressure": pressure})
    base = replace(base, findings={**base.findings, "code": replace(base.findings["code"], leak=(never,))})
    gone = tuple(
        replace(base.causes[id], frequency=replace(base.causes[id].frequency, value=1e-300))
        for id in base.causes
    )
    base = replace(base, causes={one.id: replace(one, leads_to=()) for one in gone})
    odd = Lesson("1", Machine(), epochs=(Epoch(observations=(Observation("code", "present"),)),))
    plain = Lesson("2", Machine())
    first, second = rank_all(base, file_of([odd, plain], tmp_path), processes=1)
    assert "cannot all be true" in first.error
    assert not first.causes
    assert second.causes


# --- processes ----------------------------------------------------------------------------------------------


def test_learning_is_the_same_on_one_process_and_on_two(
    knowledge: Knowledge, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("diagnose.learning.case_sources.SMALLEST", 60)
    source = file_of(cases(knowledge, 400, seed=2, machine=PLOUGH), tmp_path)
    one = learn(knowledge, source, passes=3, processes=1)
    two = learn(knowledge, source, passes=3, processes=2)
    assert one.values.tolist() == two.values.tolist()
    assert one.cases.tolist() == two.cases.tolist()


def ended(school: object, task: int) -> int:
    """A job whose process does not come back."""
    os._exit(1)


def test_a_process_that_was_ended_is_told(knowledge: Knowledge) -> None:
    with pytest.raises(DiagnoseError, match="--processes 1"), crew(knowledge, 2) as work:
        list(work(ended, range(3)))


def test_a_single_pass_over_several_chunks_teaches(
    knowledge: Knowledge, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    source = file_of(cases(knowledge, 200, seed=2, machine=PLOUGH), tmp_path)
    whole = learn(knowledge, source, passes=1, processes=1)
    monkeypatch.setattr("diagnose.learning.case_sources.SMALLEST", 60)
    parts = learn(knowledge, source, passes=1, processes=1)
    assert parts.passes == 1
    assert parts.values == pytest.approx(whole.values, abs=1e-9)


def test_chunks_make_no_difference_in_the_end(
    knowledge: Knowledge, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    source = file_of(cases(knowledge, 400, seed=2, machine=PLOUGH), tmp_path)
    whole = learn(knowledge, source, processes=1)
    monkeypatch.setattr("diagnose.learning.case_sources.SMALLEST", 60)
    parts = learn(knowledge, source, processes=1)
    assert parts.values == pytest.approx(whole.values, abs=0.02)
    assert parts.objective[-1] == pytest.approx(whole.objective[-1], abs=0.2)


@pytest.mark.parametrize(
    ("count", "size"), [(0, 2000), (31, 2000), (20_000, 2500), (40_000, 5000), (10**6, 5000)]
)
def test_a_chunk_is_never_large(count: int, size: int) -> None:
    assert chunk_size(count) == size


# --- calibration --------------------------------------------------------------------------------------------


def test_calibration_counts_what_came_true(knowledge: Knowledge, tmp_path: Path) -> None:
    made = cases(knowledge, 120, seed=5, looked=0.7, machine=PLOUGH)
    found = calibrate(knowledge, file_of(made, tmp_path), processes=1)
    assert (found.closed, found.cases) == (len(made), len(made))
    by_hand = []
    for lesson in made:
        first = max(
            diagnose(knowledge, lesson.as_case()).causes,
            key=lambda cause: (cause.relevant, cause.probability),
        )
        came = first.id in {one.cause for one in lesson.confirmed}
        by_hand.append((first.probability - came) ** 2)
    assert found.leading.brier == pytest.approx(np.mean(by_hand), abs=1e-12)
    assert found.surprises[0].surprise == max(one.surprise for one in found.surprises)
    assert found.first <= found.first_three <= 1


def test_a_case_is_judged_by_what_was_seen_while_it_was_broken(knowledge: Knowledge, tmp_path: Path) -> None:
    """The pump was changed and the starting is good again: that must not speak against the pump."""
    broken = Epoch(
        observations=(Observation("no_start", "present"), Observation("metal_in_filter", "present"))
    )
    mended = Epoch(("swap_pump",), ("pump_worn",), (Observation("no_start", "absent", epoch=1),))
    lesson = Lesson(
        "1",
        PLOUGH,
        epochs=(broken, mended),
        confirmed=(ConfirmedCause("pump_worn", "by sight"),),
        is_closed=True,
        proven=True,
    )
    alone = diagnose(knowledge, replace(lesson, epochs=(broken,)).as_case()).cause("pump_worn")
    found = calibrate(knowledge, file_of([lesson], tmp_path), processes=1)
    assert alone is not None
    assert found.surprises[0].probability == alone.probability


def test_only_outcomes_that_are_certain_are_judged(knowledge: Knowledge, tmp_path: Path) -> None:
    lesson = cases(knowledge, 10, seed=5, machine=PLOUGH)[0]
    assumed = replace(
        lesson,
        confirmed=tuple(ConfirmedCause(one.cause, "assumed") for one in lesson.confirmed),
        proven=False,
    )
    source = file_of([lesson, replace(assumed, case="x"), replace(lesson, case="twice")], tmp_path)
    assert calibrate(knowledge, source, processes=1).closed == 1


def test_drift_is_seen_where_the_world_changed(knowledge: Knowledge, tmp_path: Path) -> None:
    """From the third quarter on every case is closed with a cause that its findings do not speak of."""
    made = []
    for number, lesson in enumerate(cases(knowledge, 1300, seed=6, looked=0.8, machine=PLOUGH)[:200]):
        quarter = number // 50
        wrong = (ConfirmedCause("batteries_flat", "by sight"),) if quarter >= 2 else lesson.confirmed
        made.append(replace(lesson, closed=f"2024-{3 * quarter + 1:02}-10", confirmed=wrong))
    found = calibrate(knowledge, file_of(made, tmp_path), processes=1)
    assert [block.when for block in found.blocks] == ["2024-Q1", "2024-Q2", "2024-Q3", "2024-Q4"]
    assert [block.drifted for block in found.blocks] == [False, False, True, True]
    assert all(block.drift < 0 for block in found.blocks[2:])


def test_without_days_blocks_are_parts_of_equal_size(knowledge: Knowledge, tmp_path: Path) -> None:
    made = cases(knowledge, 100, seed=6, machine=PLOUGH)
    found = calibrate(knowledge, file_of(made, tmp_path), processes=1)
    assert len(found.blocks) <= judging.BLOCKS
    assert sum(block.cases for block in found.blocks) == len(made)


def test_a_sample_is_spread_evenly(knowledge: Knowledge, tmp_path: Path) -> None:
    made = cases(knowledge, 100, seed=6, machine=PLOUGH)
    found = calibrate(knowledge, file_of(made, tmp_path), sample=20, processes=1)
    assert found.closed == len(made)
    assert 10 <= found.cases <= 20


def test_the_diagram_is_a_picture(knowledge: Knowledge, tmp_path: Path) -> None:
    found = calibrate(knowledge, file_of(cases(knowledge, 60, seed=5, machine=PLOUGH), tmp_path), processes=1)
    svg = reliability_svg(found.leading, "The leading cause")
    assert ET.fromstring(svg).tag == "{http://www.w3.org/2000/svg}svg"
    assert "came true" in svg
    assert reliability_svg(found.leading, "The leading cause") == svg
