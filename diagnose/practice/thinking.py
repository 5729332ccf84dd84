"""Think first: what the apprentice says of the causes, graded against the exact posterior of the moment."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from diagnose.diagnosis import Diagnosis
from diagnose.knowledge.away import is_away
from diagnose.knowledge.observable import observable
from diagnose.knowledge.records import Finding
from diagnose.planning.information import supposing
from diagnose.planning.options import CheckOption
from diagnose.practice.judging import SUREST, Grade, grade, mistaken, moved
from diagnose.practice.run import ExerciseRun
from diagnose.practice.store import ExerciseEntry
from diagnose.report.screen_words import minutes

UNNAMED = 1 - SUREST
"""What a listed cause that was not named counts as."""


def guess(run: ExerciseRun, said: Mapping[str, float]) -> tuple[ExerciseEntry, Grade]:
    """Own probabilities of some causes -> what to keep, and the grade. Listed causes not named count as 1 %."""
    diagnosis = run.standing.diagnosis
    variable = diagnosis.built.variable
    figures = {variable(id): said.get(id, UNNAMED) for id in dict.fromkeys([*run.beginning.suspects, *said])}
    exact = {v: 1 - float(diagnosis.engine.marginal(v)[0]) for v in figures}
    graded = grade(figures, exact, mistakes(diagnosis, list(figures)))
    values = {
        "said": dict(said),
        "points": graded.points,
        "brier": graded.brier,
        "log": graded.log,
        "mistake": graded.mistake,
    }
    return ExerciseEntry("guessed", values), graded


def mistakes(diagnosis: Diagnosis, causes: Sequence[int]) -> dict[str, Mapping[int, float]]:
    """What each mistake would make of the causes."""
    network = diagnosis.built.network
    evidence = {item.variable: diagnosis.engine.evidence[item.variable] for item in diagnosis.evidence}
    roots = [diagnosis.built.variable(cause.id) for cause in diagnosis.causes if cause.relevant]
    return dict(mistaken(network, evidence, causes, roots, _unread(diagnosis, causes)))


def _unread(diagnosis: Diagnosis, causes: Sequence[int]) -> list[int]:
    """Codes that these causes can set and that nobody has seen."""
    network, known = diagnosis.built.network, {item.variable for item in diagnosis.evidence}
    codes = [
        diagnosis.built.variable(f.id) for f in diagnosis.knowledge.findings.values() if f.kind == "code"
    ]
    asked = set(causes)
    return [v for v in codes if v not in known and asked & network.ancestors([v])]


def supposed(run: ExerciseRun, option: CheckOption) -> tuple[Finding, str]:
    """What the apprentice is asked to suppose before a check: its most telling finding in its worst state."""
    now = run.standing.situation
    number = _number(run, option)
    id = option.findings[0] if number is None else next(iter(now.results[number][0]))
    finding = observable(run.knowledge, id)
    return finding, finding.states[-1]


def _number(run: ExerciseRun, option: CheckOption) -> int | None:
    return next((n for n, check in enumerate(run.standing.situation.checks) if check.id == option.id), None)


def think(
    run: ExerciseRun, option: CheckOption, up: Sequence[str], down: Sequence[str]
) -> tuple[ExerciseEntry, str]:
    """Which causes would rise and fall if the check showed that -> what to keep, and words on it."""
    diagnosis = run.standing.diagnosis
    finding, state = supposed(run, option)
    ids = list(dict.fromkeys([*run.beginning.suspects, *up, *down]))
    variables = [diagnosis.built.variable(id) for id in ids]
    number = _number(run, option)
    if is_away(finding.id) and number is not None:
        after = dict(
            enumerate(supposing(diagnosis, run.standing.situation, number, {finding.id: state}, ids))
        )
    elif is_away(finding.id):
        after = {i: 1 - float(diagnosis.engine.marginal(v)[0]) for i, v in enumerate(variables)}
    else:
        outcome = diagnosis.engine.outcomes([(diagnosis.built.variable(finding.id),)], variables)[0]
        after = dict(enumerate(outcome.causes[finding.states.index(state)]))
    before = {i: 1 - float(diagnosis.engine.marginal(v)[0]) for i, v in enumerate(variables)}
    right, wrong, clear = moved(before, after, [ids.index(id) for id in up], [ids.index(id) for id in down])
    values = {"up": list(up), "down": list(down), "right": right, "wrong": wrong, "clear": clear}
    words = f"{right} of {right + wrong} right; {clear} of the listed causes would move clearly."
    return ExerciseEntry("said", {**values, "supposed": finding.in_words(state)}), words


def hint(run: ExerciseRun) -> tuple[ExerciseEntry, str]:
    """The next hint since the last move: a question, then a pointer, then the answer."""
    since = 0
    for entry in reversed(run.entries):
        if entry.kind in ("checked", "repaired", "started"):
            break
        since += entry.kind == "hinted"
    level = min(since, 2)
    words = (_question, _pointer, _answer)[level](run)
    return ExerciseEntry("hinted", {"level": level + 1, "words": words}), words


def _question(run: ExerciseRun) -> str:
    if run.standing.hazards:
        return "Is there something that must be ruled out before anything is cranked, run or opened?"
    if run.standing.best.kind == "check":
        return "Take the two causes that you trust most. What would be there with the one and not with the other?"
    return "What could any further check still show that would change what you do?"


def _pointer(run: ExerciseRun) -> str:
    move, knowledge = run.standing.best, run.knowledge
    option = run.standing.check_option(move.ids[0]) if move.kind == "check" else None
    if option is None:
        return "No check is worth its time now: it is time to act."
    system = option.check.system if option.check else observable(knowledge, option.findings[0]).system
    name = knowledge.systems[system].name if system in knowledge.systems else system
    work = minutes(run.standing.check_price(option).minutes)
    return f"Look at: {name}. The best check there takes {work} with dismantling."


def _answer(run: ExerciseRun) -> str:
    move = run.standing.best
    return f"Best now: {move.name}."
