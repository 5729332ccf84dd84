"""Dangerous moves: stopped with the caution and counted; and the question what the danger of a job is."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from random import Random

from diagnose.cli.talk import Talk
from diagnose.knowledge.records import Hazard
from diagnose.practice.run import ExerciseRun
from diagnose.practice.store import ExerciseEntry
from diagnose.report.screen_words import CAUTION
from diagnose.report.text import QUIET, WARN, cautions, item, line, numbered

WRONG = 2  # answers beside the right one: three to choose from
Keep = Callable[[ExerciseEntry], None]


def stop(talk: Talk, keep: Keep, entry: ExerciseEntry, hazard: Hazard) -> None:
    """Stop a dangerous move, say why, and count it."""
    keep(entry)
    talk.say(item("STOPPED", f"Not now: {entry.values['name']}", mark_style=WARN), *cautions((hazard,)))
    if hazard.cleared_by:
        talk.say(line("Something must be ruled out first. Which check does that safely?", style=QUIET))


def asked_danger(talk: Talk, keep: Keep, run: ExerciseRun, name: str, hazards: Iterable[str]) -> bool:
    """Ask for the main danger of a job, once for each; whether the job may go on.

    A wrong answer stops the job, which shows the caution and counts, until it is chosen again; Enter only shows it.
    All cautions not yet shown stand before the work.
    """
    mine = [run.knowledge.hazards[id] for id in dict.fromkeys(hazards)]
    asked = [e.values for e in run.entries if e.kind in ("safe", "missed")]
    known = {values["hazard"] for values in asked}
    new = [] if name in {values["name"] for values in asked} else [h for h in mine if h.id not in known]
    others = [h for h in run.knowledge.hazards.values() if h not in mine]
    if new and len(others) >= WRONG and not _knows(talk, new[0], others, f"{run.number}{name}"):
        keep(ExerciseEntry("missed", run.stopped(new[0], name).values))
        words = f"{name}: not before its danger is known. Read this, then choose it again."
        talk.say(item("STOPPED", words, mark_style=WARN), *cautions((new[0],)))
        return False
    if new:
        keep(ExerciseEntry("safe", {"hazard": new[0].id, "name": name}))
        talk.say(*cautions(new), line(CAUTION, style=QUIET))
    return True


def _knows(talk: Talk, hazard: Hazard, others: list[Hazard], seed: str) -> bool:
    draw = Random(seed)
    offered = [hazard, *draw.sample(others, WRONG)]
    draw.shuffle(offered)
    talk.say("Which danger belongs to this job?", numbered(one.name for one in offered))
    place = talk.place("Number (Enter: tell me):", len(offered))
    return place is None or offered[place] is hazard


def run_on(talk: Talk, keep: Keep, run: ExerciseRun) -> None:
    """Cranking it, or running it on, with a stop hazard or a costly consequence in sight is stopped."""
    now, name = run.standing, "Crank it, or run it on"
    if now.hazards:
        stop(talk, keep, run.stopped(now.hazards[0], name), now.hazards[0])
    elif worst := next((one for one in now.stops if one.forbids), None):
        advice = f"{worst.word[0].upper()}{worst.word[1:]}"
        caution = f"{advice}: {worst.name} may be there; then {worst.words}."
        keep(ExerciseEntry("stopped", {"hazard": "", "name": name, "caution": caution}))
        talk.say(item("STOPPED", caution, mark_style=WARN))
    else:
        talk.say("Nothing forbids it by what is known; it tells nothing new either.")
