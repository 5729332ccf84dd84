"""The trainer's sheet: each exercise of each apprentice, by skill, and how it goes on."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from html import escape
from statistics import mean

from diagnose.learning.tables import guarded
from diagnose.practice.debrief import Skills, skills, steps
from diagnose.practice.run import ExerciseRun

SKILLS = ("choosing checks", "updating", "safety", "stopping")
RECENT = 3  # exercises at either end that are compared
SUMS = ("regret", "money", "minutes", "hints", "stopped", "missed")


@dataclass(frozen=True, slots=True)
class ExerciseRow:
    """One exercise of one apprentice. `day`: of its start; `regret`: money in all beyond the best moves, None while
    it goes on."""

    apprentice: str
    exercise: int
    day: str
    ended: str
    skills: Skills
    regret: float | None
    money: float
    minutes: float
    hints: int
    stopped: int
    missed: int

    @property
    def points(self) -> tuple[float | None, ...]:
        """By skill, in the order of SKILLS."""
        return self.skills.choosing, self.skills.updating, self.skills.safety, self.skills.stopping


@dataclass(frozen=True, slots=True)
class Progress:
    """One apprentice over all exercises: mean points by skill, and the mean of the last three less that of the
    first three (None with fewer than two exercises that tell)."""

    apprentice: str
    exercises: int
    points: tuple[float | None, ...]
    change: tuple[float | None, ...]


def row(run: ExerciseRun) -> ExerciseRow:
    """The row of one exercise; it needs the entries only. While it goes on, what would tell the best move is left
    out."""
    done, told = steps(run), skills(run)
    return ExerciseRow(
        run.beginning.apprentice,
        run.number,
        run.entries[0].time[:10],
        run.ended or "going on",
        told if run.ended else replace(told, choosing=None, stopping=None),
        sum(step.regret for step in done) if run.ended else None,
        run.money,
        run.minutes,
        run.count("hinted"),
        run.count("stopped"),
        run.count("missed"),
    )


def progress(rows: Iterable[ExerciseRow]) -> tuple[Progress, ...]:
    """One line an apprentice, by name."""
    by_name: dict[str, list[ExerciseRow]] = {}
    for one in rows:
        by_name.setdefault(one.apprentice, []).append(one)
    return tuple(_progress(name, by_name[name]) for name in sorted(by_name))


def _progress(name: str, rows: Sequence[ExerciseRow]) -> Progress:
    columns = [[p for p in column if p is not None] for column in zip(*(r.points for r in rows), strict=True)]
    return Progress(
        name,
        len(rows),
        tuple(mean(column) if column else None for column in columns),
        tuple(_change(column) for column in columns),
    )


def _change(points: Sequence[float]) -> float | None:
    size = min(RECENT, len(points) // 2)
    return mean(points[-size:]) - mean(points[:size]) if size else None


HEAD = ("apprentice", "exercise", "day", "ended", "choosing", "updating", "safety", "stopping", *SUMS)


def _cells(one: ExerciseRow) -> list[str]:
    points = ["" if p is None else f"{p:.0f}" for p in one.points]
    sums = [
        "" if one.regret is None else f"{one.regret:.0f}",
        f"{one.money:.0f}",
        f"{one.minutes:.0f}",
        str(one.hints),
        str(one.stopped),
        str(one.missed),
    ]
    return [one.apprentice, str(one.exercise), one.day, one.ended, *points, *sums]


def as_csv(rows: Iterable[ExerciseRow]) -> str:
    """The rows as CSV with a head. A cell that a spreadsheet would take for a formula is marked as text."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(HEAD)
    writer.writerows([guarded(cell) for cell in _cells(one)] for one in rows)
    return text.getvalue()


HEADINGS = {
    "minutes": "Minutes of work",
    "stopped": "Dangerous moves stopped",
    "missed": "Dangers not known",
}
STYLE = (
    "body{font-family:Helvetica,Arial,sans-serif;margin:2em;color:#1f2933}"
    "table{border-collapse:collapse;margin:1em 0;font-size:85%}"
    "td,th{padding:.3em .5em;border-bottom:1px solid #d5dbe0;text-align:right;vertical-align:bottom}"
    "td{white-space:nowrap}td:first-child,th:first-child{text-align:left}p{color:#5b6770}"
    "@page{size:landscape;margin:12mm}"
)


def as_html(rows: Sequence[ExerciseRow], currency: str) -> str:
    """The sheet as a page: the class in short, then every exercise."""
    head = ["Apprentice", "Exercises", *(name.capitalize() for name in SKILLS)]
    short = [[p.apprentice, str(p.exercises), *map(_point, p.points, p.change)] for p in progress(rows)]
    every = _table([HEADINGS.get(name, name.capitalize()) for name in HEAD], [_cells(one) for one in rows])
    return (
        f'<!doctype html><html lang="en"><meta charset="utf-8"><title>Practice sheet</title>'
        f"<style>{STYLE}</style><h1>Practice sheet</h1><p>Points from 0 to 100; in brackets, how the last "
        f"exercises stand against the first. Money in {escape(currency)}; regret is what was expected to be lost "
        f"against the best moves, by what could be known then.</p>{_table(head, short)}"
        f"<h2>Exercises</h2>{every}</html>\n"
    )


def _point(points: float | None, change: float | None) -> str:
    if points is None:
        return "-"
    return f"{points:.0f}" if change is None else f"{points:.0f} ({change:+.0f})"


def _table(head: Iterable[str], rows: Iterable[Iterable[str]]) -> str:
    top = "".join(f"<th>{escape(cell)}</th>" for cell in head)
    body = "".join("<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in row) + "</tr>" for row in rows)
    return f"<table><tr>{top}</tr>{body}</table>"
