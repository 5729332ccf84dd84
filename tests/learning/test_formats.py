"""Cases in and out: what is written is read again, what is wrong is told with its place, and nothing typed
gets out."""

from __future__ import annotations

import json
import sys
from dataclasses import fields, replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.cases.case import Epoch, Observation, fold
from diagnose.cases.events import CONFIDENCES, CONFIRMED, Closed, Coded, Noted, Opened, Repaired
from diagnose.errors import CallError, DataError
from diagnose.knowledge.loader import load, shipped_folder
from diagnose.learning.anonymous import anonymous, quarter
from diagnose.learning.case_sources import from_files
from diagnose.learning.counts import WEIGHTS
from diagnose.learning.export import salted, written
from diagnose.learning.jsonl import from_json, to_json
from diagnose.learning.lesson import ConfirmedCause, Lesson, lesson_of
from diagnose.learning.tables import COLUMNS
from diagnose.network.machine import Machine
from diagnose.plain import one_line
from tests.cases.strategies import calm, texts
from tests.learning.worlds import small

ids = st.sampled_from(["a", "b", "c"])
some = st.lists(ids, max_size=2, unique=True).map(tuple)
hours = st.floats(0, 1e6)
words = st.text(st.characters(blacklist_categories=["Cs", "Cc"]), max_size=6).map(one_line)
plain = texts.map(one_line)  # as a case holds them: every text enters through this gate


def observations(typed: st.SearchStrategy[str]) -> st.SearchStrategy[Observation]:
    return st.builds(
        Observation,
        ids,
        ids,
        st.sampled_from(CONFIDENCES),
        st.none() | hours,
        typed,
        typed,
        st.just(0),
        st.just(0),
        typed,
    )


@st.composite
def lessons(draw: st.DrawFn, typed: st.SearchStrategy[str] = plain) -> Lesson:
    """Any case; the number of its epoch in every observation, and no event numbers, which a file does not
    carry."""
    seen = st.lists(observations(typed), max_size=3)
    epochs = tuple(
        Epoch(
            draw(some) if number else (),
            draw(some) if number else (),
            tuple(replace(one, epoch=number) for one in draw(seen)),
            draw(some),
        )
        for number in range(draw(st.integers(1, 3)))
    )
    closed = draw(st.booleans())
    found = st.lists(st.builds(ConfirmedCause, ids, st.sampled_from(CONFIRMED)), max_size=2).map(tuple)
    return Lesson(
        str(draw(st.integers(1, 99))),
        Machine(
            draw(typed),
            draw(ids),
            draw(st.dictionaries(ids, typed, max_size=2)),
            draw(st.none() | hours),
            draw(st.dictionaries(ids, hours, max_size=2)),
            draw(st.none() | hours),
        ),
        draw(typed),
        draw(some),
        "2024-01-31",
        "2024-02-01" if closed else "",
        epochs,
        draw(found) if closed else (),
        closed,
        closed and draw(st.booleans()),
        "0" * 8,
        draw(st.sampled_from([(), ("SPN 1 FMI 2",)])),
    )


@calm
@given(lessons())
def test_a_line_is_read_as_it_was_written(lesson: Lesson) -> None:
    assert from_json(to_json(lesson)) == lesson
    assert "\n" not in to_json(lesson)
    to_json(lesson).encode()


@settings(calm, max_examples=25)
@given(made=st.lists(lessons(words), max_size=3))
@pytest.mark.parametrize("ending", [".csv", ".parquet", ".jsonl"])
def test_a_file_is_read_as_it_was_written(
    ending: str, made: list[Lesson], tmp_path_factory: pytest.TempPathFactory
) -> None:
    numbered = [replace(one, case=str(number)) for number, one in enumerate(made)]
    path = tmp_path_factory.mktemp("out") / f"cases{ending}"
    assert written(path, ending, iter(numbered)) == len(numbered)
    source = from_files([path])
    assert source.count() == len(numbered)
    assert [one for chunk in source.chunks(2) for one in chunk.read()] == numbered


def test_a_long_table_is_read_piece_by_piece(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("diagnose.learning.tables.ROWS", 7)
    seen = tuple(Observation("a", "b") for _ in range(5))
    made = [Lesson(str(n), Machine(f"QUAY-{n}"), epochs=(Epoch(observations=seen),)) for n in range(9)]
    for ending in (".csv", ".parquet"):
        path = tmp_path / f"cases{ending}"
        written(path, ending, made)
        assert [one for chunk in from_files([path]).chunks(4) for one in chunk.read()] == made


def test_a_stored_case_becomes_a_lesson() -> None:
    case = fold(
        5,
        [
            Opened(
                "PLOUGH-1",
                "old_six",
                {"duty": "off road"},
                5400,
                {},
                "no go",
                sequence=1,
                time="2024-05-01T08:00:00Z",
            ),
            Noted("no_start", "present", sequence=2),
            Coded("SPN 1 FMI 2", sequence=3),
            Repaired(("fit_seal",), ("seal",), sequence=4),
            Noted("no_start", "absent", sequence=5),
            Closed(
                ("seal", "pump"),
                "by sight",
                True,
                otherwise={"pump": "assumed"},
                sequence=6,
                time="2024-05-03T16:00:00Z",
            ),
        ],
    )
    lesson = lesson_of(case)
    assert (lesson.case, lesson.opened, lesson.closed, lesson.proven) == (
        "5",
        "2024-05-01",
        "2024-05-03",
        True,
    )
    assert lesson.confirmed == (ConfirmedCause("seal", "by sight"), ConfirmedCause("pump", "assumed"))
    assert lesson.while_broken().epochs == case.epochs[:1]
    assert lesson.as_case().epochs == case.epochs
    assert lesson.came_in_for == ("no_start",)


def test_what_was_seen_before_a_needless_repair_still_counts() -> None:
    """The first repair was of something that was not broken."""
    first, last = Epoch(("swap_pump",), ("pump",)), Epoch(("fit_seal",), ("seal",))
    lesson = Lesson(
        "1",
        Machine(),
        epochs=(Epoch(), first, last),
        confirmed=(ConfirmedCause("seal", "by sight"),),
        is_closed=True,
    )
    assert lesson.while_broken().epochs == (Epoch(), first)
    assert replace(lesson, proven=True).while_broken().epochs == (Epoch(), first)
    nothing = replace(lesson, epochs=(Epoch(), first, Epoch(("other",), ("debris",))), proven=True)
    assert nothing.while_broken().epochs == (Epoch(), first)  # the last repair of a proven case was the one


# --- what is wrong ------------------------------------------------------------------------------------------

GOOD = '{"case": "1", "epochs": [{"seen": [{"finding": "gauge", "state": "low"}]}]}'


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("{", "no JSON"),
        ("[1]", "not a mapping"),
        ('{"format": "else/3"}', "`format`"),
        ('{"case": "1", "machien": {}}', "`machien` is no field"),
        ('{"case": "1", "machine": {"hours": -4}}', "`machine.hours`"),
        ('{"case": "1", "machine": {"hours": "many"}}', "`machine.hours`"),
        ('{"case": "1", "epochs": {}}', "`epochs` is not a list"),
        ('{"case": "1", "epochs": [{"seen": [{"state": "low"}]}]}', "`epochs[0].seen[0].finding` is missing"),
        (
            GOOD.replace("low", "low").replace('"low"', '"low", "confidence": "maybe"'),
            "`epochs[0].seen[0].confidence`",
        ),
        (
            '{"case": "1", "outcome": {"causes": [{"cause": "a", "confirmed": "by ear"}]}}',
            "by sight, by repair, assumed",
        ),
        ('{"case": "1", "outcome": {"causes": [], "proven": 1}}', "not true or false"),
    ],
)
def test_what_is_wrong_in_a_line_is_told_with_its_number(line: str, says: str, tmp_path: Path) -> None:
    path = tmp_path / "cases.jsonl"
    path.write_text(f"{GOOD}\n\n{line}\n", encoding="utf-8")
    (chunk,) = from_files([path]).chunks(10)
    with pytest.raises(DataError) as error:
        chunk.read()
    problem = error.value.problems[0]
    assert (problem.code, problem.place.line) == ("L001", 3)
    assert says in problem.message


def test_a_table_of_something_else_is_told(tmp_path: Path) -> None:
    path = tmp_path / "parts.csv"
    path.write_text("part,price\nseal,4\n", encoding="utf-8")
    with pytest.raises(DataError, match="no column `case`"):
        from_files([path]).count()
    path.write_text("case,epoch,item,id,value\n1,,wheel,x,y\n", encoding="utf-8")
    with pytest.raises(DataError, match="`wheel` is no item"):
        from_files([path]).count()


def test_rows_of_a_case_stand_together(tmp_path: Path) -> None:
    path = tmp_path / "cases.csv"
    rows = ["1,0,seen,gauge,low", "2,0,seen,gauge,low", "1,0,seen,code,present"]
    path.write_text("case,epoch,item,id,value\n" + "\n".join(rows) + "\n", encoding="utf-8")
    with pytest.raises(DataError, match="do not stand together"):
        from_files([path]).count()


@pytest.mark.parametrize("content", [b"\xff\xfe\x00broken", b""])
def test_a_broken_parquet_file_is_told(content: bytes, tmp_path: Path) -> None:
    path = tmp_path / "cases.parquet"
    path.write_bytes(content)
    with pytest.raises(DataError, match="L002"):
        from_files([path]).count()


def test_a_file_that_is_no_text_is_told(tmp_path: Path) -> None:
    path = tmp_path / "cases.jsonl"
    path.write_bytes(b"\xff\xfe{}")
    with pytest.raises(DataError, match="UTF-8"):
        from_files([path]).count()


def test_an_unknown_ending_is_told(tmp_path: Path) -> None:
    with pytest.raises(CallError, match=r"\.jsonl, \.csv or \.parquet"):
        from_files([tmp_path / "cases.xls"])


def test_a_missing_library_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "pandas", None)
    with pytest.raises(CallError, match=r"pip install 'diesel-diagnose\[tables\]'"):
        written(tmp_path / "cases.csv", ".csv", [])


# --- without names ------------------------------------------------------------------------------------------

SECRET = "SECRET"


def told_by_a_person() -> Lesson:
    """A case with something typed in every place that takes it."""
    seen = Observation("gauge", "low", "likely", 2.13, SECRET, SECRET, 4, 0, SECRET)
    unknown = Observation(SECRET, SECRET)
    return Lesson(
        "17",
        Machine(SECRET, SECRET, {SECRET: "x", "duty": SECRET}, 5437.0, {"pump": 1211.0, SECRET: 1.0}, 117.0),
        SECRET,
        ("gauge", SECRET),
        "2024-05-01",
        "2024-05-17",
        (Epoch(observations=(seen, unknown), checks=(SECRET,)), Epoch((SECRET,), ("pump", SECRET))),
        (ConfirmedCause("pump", "by sight"), ConfirmedCause(SECRET, "assumed")),
        True,
        True,
        SECRET,
        (SECRET,),
    )


def test_an_export_holds_nothing_that_was_typed(tmp_path: Path) -> None:
    for ending in (".jsonl", ".csv", ".parquet"):
        path = tmp_path / f"cases{ending}"
        written(path, ending, salted(small(), [told_by_a_person()]))
        kept = "".join(to_json(one) for chunk in from_files([path]).chunks(9) for one in chunk.read())
        assert SECRET not in kept
        assert SECRET.encode() not in path.read_bytes()
        for number in ("17", "5437", "1211", "2.13", "2024-05"):
            assert number not in json.dumps({k: v for k, v in json.loads(kept).items() if k != "case"})


def test_what_a_case_teaches_stays_in_the_export() -> None:
    plain = anonymous(small(), told_by_a_person(), b"salt")
    assert plain.confirmed == (ConfirmedCause("pump", "by sight"),)
    assert plain.epochs[0].observations == (Observation("gauge", "low", "likely"),)
    assert plain.machine == Machine(hours=5500.0, renewed={"pump": 1250.0}, last_right=125.0)
    assert (plain.opened, plain.closed, plain.proven) == ("2024-Q2", "2024-Q2", True)


def test_every_field_of_a_case_was_thought_of() -> None:
    """A field that is new in a case must not slip into an export."""
    assert {one.name for one in fields(Lesson)} == {
        *(
            "case",
            "machine",
            "complaint",
            "came_in_for",
            "opened",
            "closed",
            "epochs",
            "confirmed",
            "is_closed",
        ),
        *("proven", "knowledge", "codes_not_used"),
    }
    assert {one.name for one in fields(Observation)} == {
        *("finding", "state", "confidence", "value", "unit", "text", "event", "epoch", "code", "place")
    }


def test_the_cylinder_stays_at_home() -> None:
    lesson = told_by_a_person()
    (first, *rest) = lesson.epochs
    placed = replace(
        first, observations=tuple(replace(one, place="cylinder 4") for one in first.observations)
    )
    plain = anonymous(small(), replace(lesson, epochs=(placed, *rest)), b"salt")
    assert plain.epochs[0].observations == (Observation("gauge", "low", "likely"),)


def test_names_of_cases_depend_on_the_salt() -> None:
    cases = [Lesson(str(number), Machine()) for number in range(50)]
    first, again = ([one.case for one in salted(small(), cases)] for _ in range(2))
    assert len({*first, *again}) == 100
    mine = [one.case for one in salted(small(), cases, "our word of two and thirty letters")]
    assert mine == [one.case for one in salted(small(), cases, "our word of two and thirty letters")]
    assert len({*mine}) == 50


@pytest.mark.parametrize(
    ("day", "coarse"),
    [("2024-01-01", "2024-Q1"), ("2024-06-30", "2024-Q2"), ("2024-12-31", "2024-Q4"), ("2024-Q3", "2024-Q3")],
)
def test_days_become_quarters(day: str, coarse: str) -> None:
    assert quarter(day) == coarse


@pytest.mark.parametrize("text", ["", "May", "2024", "2024-13-01", "SECRET", "2024-Qx"])
def test_what_is_no_day_becomes_nothing(text: str) -> None:
    assert quarter(text) == ""


# --- the page -----------------------------------------------------------------------------------------------

PAGE = Path(__file__).parents[2] / "docs" / "learning.md"


def test_the_example_of_the_page_is_a_case_of_the_shipped_knowledge() -> None:
    text = PAGE.read_text(encoding="utf-8").partition("```json\n")[2].partition("```")[0]
    lesson = from_json(" ".join(text.split()))
    known = load(shipped_folder(), learnt=False)
    assert lesson.is_closed
    assert lesson.proven
    assert {one.cause for one in lesson.confirmed} <= known.causes.keys()
    assert lesson.machine.family in known.families
    for seen in lesson.epochs[0].observations:
        assert seen.state in known.findings[seen.finding].states
    assert lesson.epochs[1].repairs[0] in known.repairs


def test_the_page_names_the_weights_and_the_columns() -> None:
    text = PAGE.read_text(encoding="utf-8")
    for how, weight in WEIGHTS.items():
        assert f"| {how} | {weight:g}" in text
    assert ", ".join(COLUMNS) in " ".join(text.split())
