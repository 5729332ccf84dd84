"""What is shown of an exercise: what is known, what a move showed, whom one may suspect."""

from __future__ import annotations

from collections.abc import Iterator

from rich.console import RenderableType
from rich.text import Text

from diagnose.knowledge.away import is_away
from diagnose.knowledge.observable import observable
from diagnose.practice.observation_words import all_seen, as_seen
from diagnose.practice.run import ExerciseRun, MoveResult
from diagnose.report.screen_words import minutes
from diagnose.report.text import QUIET, STRONG, WARN, item, line, numbered

KEYS = "words, or c checks, p figures, f repair, h hint, ? more"
HELP = """Say what you want to check or ask, in words:
  measure the batteries, white smoke, oil level
or one letter:
  c  checks, by system
  n  what is known so far
  p  your own probabilities
  h  a hint: a question, then a pointer, then the answer
  f  repair, put together and try again
  r  crank it, or run it on
  o  hand over to a specialist (ends the exercise)
  x  give up and see the debrief
  q  quit; everything is kept, practice resume goes on"""


def standing(run: ExerciseRun) -> Iterator[RenderableType]:
    """The bill so far, and what can be typed."""
    yield Text("-" * 40, QUIET)
    yield line(f"{minutes(run.minutes)} of work, {run.shop.money(run.money)} so far")
    yield line(KEYS, style=QUIET)


def known(run: ExerciseRun) -> Iterator[RenderableType]:
    """The machine, what it came in for, and all that was seen."""
    machine, family = run.case.machine, run.knowledge.families.get(run.case.machine.family)
    hours = f"{machine.hours:g} h" if machine.hours is not None else ""
    parts = [machine.number, family.name if family else "", hours]
    yield line(" / ".join(part for part in parts if part), style=STRONG)
    if run.case.complaint:
        yield line(f"Came in for: {run.case.complaint}", style=QUIET)
    yield from (item("-", words) for words in all_seen(run.knowledge, run.case))


def showed(run: ExerciseRun, seen: MoveResult) -> Iterator[RenderableType]:
    """What a move showed, what is wrong first."""
    if not seen.noted:
        yield Text("No code stored that tells anything.")
    normal = [
        n
        for n in seen.noted
        if n.state == observable(run.knowledge, n.finding).normal and not is_away(n.finding)
    ]
    for noted in (n for n in seen.noted if n not in normal):
        yield item("FOUND", as_seen(run.knowledge, noted), mark_style=WARN)
    for noted in normal:
        yield item("normal", as_seen(run.knowledge, noted))


def suspects(run: ExerciseRun) -> RenderableType:
    """The causes asked about, numbered."""
    return numbered(run.knowledge.causes[id].name for id in run.beginning.suspects)
