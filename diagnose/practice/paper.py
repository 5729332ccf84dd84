"""An exercise on paper: the sheet for the apprentice, and the answers on one of their own."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from diagnose.knowledge.records import Knowledge
from diagnose.planning.shop import Shop
from diagnose.practice.debrief import Debrief
from diagnose.practice.debrief_words import reading_words
from diagnose.practice.exercise import Exercise
from diagnose.practice.expert import play
from diagnose.practice.observation_words import all_seen
from diagnose.practice.run import ExerciseRun, started
from diagnose.report.document.blocks import Block, DefinitionList, Grid, Notice, Paper, Para, Points, Section
from diagnose.report.screen_words import CAUTION, minutes, percent, weight
from diagnose.report.text import cause_name

OFFERED, HELD = 7, 3  # checks on the sheet: good ones, and held back ones; ten fit its column
CHECKED = "checked"
LINE = Para("." * 160)
FIRST = Notice("warn", "Safety first.", CAUTION)


def papers(knowledge: Knowledge, exercise: Exercise, shop: Shop) -> tuple[Paper, Paper]:
    """The exercise sheet and the answer sheet. Raises CallError where the truth cannot show the findings."""
    fresh = ExerciseRun(knowledge, shop, [started(knowledge, exercise, "")])
    debrief = Debrief(play(fresh))
    return _sheet(fresh, [step.name for step in debrief.steps if step.kind == CHECKED]), _answers(debrief)


def _sheet(run: ExerciseRun, path: Sequence[str]) -> Paper:
    """Questions with room to write. `path`: the checks of the best path, which are among those to choose from."""
    room = (LINE, LINE)
    chances = Grid(("per cent", "cause"), tuple(("......", _name(run, id)) for id in run.beginning.suspects))
    sections = (
        Section("What is known", (Points(tuple(all_seen(run.knowledge, run.case))),)),
        Section("1. What must not be done before something is ruled out?", room),
        Section("2. How likely is each of these? Several can be there at once.", (chances,)),
        Section("3. Which check first, and why?", (Points(tuple(_offered(run, path))), *room)),
        Section("4. Which causes would rise, which fall, if it showed a fault?", room),
        Section("5. When would you stop checking and repair?", room),
    )
    return Paper("Exercise", _machine(run), FIRST, sections, ("Name:", "Date:"))


def _machine(run: ExerciseRun) -> str:
    machine, complaint = run.case.machine, run.case.complaint
    family = run.knowledge.families.get(machine.family)
    hours = f", {machine.hours:g} h" if machine.hours is not None else ""
    kind = family.name if family else "kind not known"
    return f"Machine {machine.number}: {kind}{hours}. Came in for: {complaint or 'not said'}."


def _offered(run: ExerciseRun, path: Sequence[str]) -> list[str]:
    """Checks to choose from, in alphabetical order: those of the best path, other good ones, and some that are not
    to be done yet."""
    standing = run.standing
    good = [move.name for move in (standing.best, *standing.actions) if move.kind == "check"]
    held = [option.name for option in standing.checks if standing.held_check(option)]
    return sorted({*path, *list(dict.fromkeys([*path, *good]))[:OFFERED], *held[:HELD]})


def _answers(debrief: Debrief) -> Paper:
    """The hidden cause, the exact figures and the best path."""
    run, truth = debrief.run, debrief.run.beginning.truth
    names = [_name(run, id) for id in truth.causes] or ["something that is not listed"]
    sections = (
        Section(f"Hidden: {', '.join(names)}", (Para(truth.about),) if truth.about else ()),
        Section("1. Safety", tuple(_hazards(run))),
        Section("2. Exact probabilities by the first findings", (_exact(run),)),
        Section("3 to 5. The best path on this machine", tuple(_path(debrief))),
    )
    return Paper("Answers", truth.title or _machine(run), FIRST, sections, (_machine(run),))


def _hazards(run: ExerciseRun) -> Iterator[Block]:
    hazards = run.beginning.advice.hazards
    if hazards:
        yield Points(tuple(f"{hazard.name}. {hazard.caution}" for hazard in hazards))
    else:
        yield Para("Nothing stops the work here; each check's own cautions hold.")


def _exact(run: ExerciseRun) -> DefinitionList:
    exact = {cause.id: cause.probability for cause in run.beginning.advice.diagnosis.causes}
    ranked = sorted(run.beginning.suspects, key=lambda id: -exact[id])
    return DefinitionList(tuple((percent(exact[id]), _name(run, id)) for id in ranked))


def _path(debrief: Debrief) -> Iterator[Block]:
    run, shop = debrief.run, debrief.run.shop
    steps = enumerate(debrief.steps, 1)
    rows = [(str(i), step.name, minutes(step.minutes), shop.money(step.money)) for i, step in steps]
    total = ("", "in all", minutes(run.minutes), shop.money(run.money))
    right, tight = frozenset({2, 3}), frozenset({0})
    yield Grid(("", "move", "work", "cost"), (*rows, total), right, tight, total=True)
    if debrief.best and (turning := debrief.best.turning):
        words = f"{turning.name}, {weight(turning.decibans, figures=False)} the hidden cause"
        yield Para(f"The finding that says most: {words}.")
        yield Points(tuple(reading_words(run.knowledge, turning)))


def _name(run: ExerciseRun, id: str) -> str:
    return cause_name(run.knowledge, id)
