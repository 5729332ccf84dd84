"""Dangerous moves: stopped with the caution and counted; and the question what the danger of a job is."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from random import Random

from diagnose.cli.bay.talk import Talk
from diagnose.knowledge.records import Hazard
from diagnose.practice.bench import Bench
from diagnose.practice.store import Entry
from diagnose.report.text import QUIET, WARN, cautions, item, line, numbered
from diagnose.report.words import CAUTION

WRONG = 2
Keep = Callable[[Entry], None]


def stop(talk: Talk, keep: Keep, entry: Entry, hazard: Hazard) -> None:
    """Stop a dangerous move, say why, and count it."""
    keep(entry)
    talk.say(item("STOPPED", f"{entry.values['name']}: not now.", mark_style=WARN), *cautions((hazard,)))
    if hazard.cleared_by:
        talk.say(line("Something must be ruled out first. Which check does that safely?", style=QUIET))


def asked_danger(talk: Talk, keep: Keep, bench: Bench, name: str, hazards: Iterable[str]) -> bool:
    """Ask for the main danger of a job, once for each; whether the job may go on.

    A wrong answer stops the job, which shows the caution and counts; Enter only shows it. All cautions not yet
    shown stand before the work.
    """
    mine = [bench.knowledge.hazards[id] for id in dict.fromkeys(hazards)]
    asked = [e.values for e in bench.entries if e.kind in ("safe", "missed")]
    known = {values["hazard"] for values in asked}
    new = [] if name in {values["name"] for values in asked} else [h for h in mine if h.id not in known]
    others = [h for h in bench.knowledge.hazards.values() if h not in mine]
    if new and len(others) >= WRONG and not _knows(talk, new[0], others, f"{bench.number}{name}"):
        missed = bench.stopped(new[0], name)
        stop(talk, keep, Entry("missed", missed.values), new[0])
        return False
    if new:
        keep(Entry("safe", {"hazard": new[0].id, "name": name}))
        talk.say(*cautions(new), line(CAUTION, style=QUIET))
    return True


def _knows(talk: Talk, hazard: Hazard, others: list[Hazard], seed: str) -> bool:
    draw = Random(seed)
    offered = [hazard, *draw.sample(others, WRONG)]
    draw.shuffle(offered)
    talk.say("Which danger belongs to this job?", numbered(one.name for one in offered))
    answer = talk.ask("Number (Enter: tell me):")
    return not answer or (
        answer.isdecimal() and 1 <= int(answer) <= len(offered) and offered[int(answer) - 1] is hazard
    )
