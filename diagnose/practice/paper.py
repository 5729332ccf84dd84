"""An exercise on paper: the sheet for the apprentice, and the answers on one of their own. Markdown."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.cases.case import Case
from diagnose.knowledge.records import Knowledge
from diagnose.planning.shop import Shop
from diagnose.practice.bench import Bench, started
from diagnose.practice.debrief import Debrief
from diagnose.practice.exercise import Exercise
from diagnose.practice.expert import play
from diagnose.report.words import CAUTION, minutes, percent

OFFERED, HELD = 7, 3
LINE = "." * 60


def papers(knowledge: Knowledge, exercise: Exercise, shop: Shop) -> tuple[str, str]:
    """The exercise sheet and the answer sheet. Raises CallError where the truth cannot show the findings."""
    fresh = Bench(knowledge, shop, [started(knowledge, exercise, "")])
    return "\n".join(_sheet(fresh)) + "\n", "\n".join(_answers(Debrief(play(fresh)))) + "\n"


def _sheet(bench: Bench) -> Iterator[str]:
    case, knowledge = bench.case, bench.knowledge
    yield from ("# Exercise", "", f"*{CAUTION}*", "")
    yield from _machine(knowledge, case)
    yield from ("", "## What is known", "")
    for seen in case.observations:
        if seen.finding in knowledge.findings:
            yield f"- {knowledge.findings[seen.finding].in_words(seen.state)}{_value(seen.value, seen.unit)}"
    yield from ("", "## 1. What must not be done before something is ruled out?", "", LINE, "")
    yield from ("## 2. How likely is each of these? (in per cent)", "")
    yield from (f"- [ ____ ] {knowledge.causes[id].name}" for id in bench.suspects)
    yield from ("", "## 3. Which check first, and why?", "")
    yield from (f"- [ ] {name}" for name in _offered(bench))
    yield from (
        "",
        LINE,
        "",
        "## 4. Which causes would rise, which fall, if it showed a fault?",
        "",
        LINE,
        "",
    )
    yield from ("## 5. When would you stop checking and repair?", "", LINE)


def _machine(knowledge: Knowledge, case: Case) -> Iterator[str]:
    family = knowledge.families.get(case.machine.family)
    hours = f", {case.machine.hours:g} h" if case.machine.hours is not None else ""
    yield f"Machine {case.machine.number}: {family.name if family else 'kind not known'}{hours}."
    yield f"Came in for: {case.complaint or 'not said'}."
    for epoch in case.epochs[1:]:
        names = [knowledge.repairs[id].name for id in epoch.repairs if id in knowledge.repairs]
        yield f"Done already, and the complaint stayed: {', '.join(names)}."


def _offered(bench: Bench) -> list[str]:
    """Checks to choose from, in alphabetical order: good ones, and some that are not to be done yet."""
    standing = bench.standing
    good = [move.name for move in (standing.best, *standing.moves) if move.kind == "check"]
    held = [option.name for option in standing.checks if standing.held(option.hazards, option.id)]
    return sorted({*list(dict.fromkeys(good))[:OFFERED], *held[:HELD]})


def _answers(debrief: Debrief) -> Iterator[str]:
    bench, knowledge = debrief.bench, debrief.bench.knowledge
    truth = bench.exercise.truth
    yield from ("# Answers", "", f"**{truth.title}**", "")
    names = [knowledge.causes[id].name for id in truth.causes] or ["Something that is not listed"]
    yield from (f"Hidden cause: {', '.join(names)}.", "", truth.about, "")
    yield from ("## 1. Safety", "")
    yield from (f"- {h.name}: {h.caution}" for h in bench.first.hazards)
    if not bench.first.hazards:
        yield "Nothing stops the work here; each check's own cautions hold."
    yield from ("", "## 2. Exact probabilities by the first findings", "")
    ranked = {cause.id: cause.probability for cause in bench.first.diagnosis.causes}
    yield from (f"- {percent(ranked[id])} {knowledge.causes[id].name}" for id in bench.suspects)
    yield from ("", "## 3 to 5. The best path on this machine", "")
    for number, step in enumerate(debrief.steps, 1):
        yield f"{number}. {step.name} ({minutes(step.minutes)}, {bench.shop.money(step.money)})"
    yield from ("", f"In all {minutes(bench.minutes)} of work, {bench.shop.money(bench.money)}.")
    if debrief.turning:
        yield f"The finding that says most: {debrief.turning.name} ({debrief.turning.decibans:+.0f} dB)."


def _value(value: float | None, unit: str) -> str:
    return "" if value is None else f" ({value:g} {unit})"
