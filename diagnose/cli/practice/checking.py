"""Choosing a check, in words or by system, and doing it: safety first, then think, then look."""

from __future__ import annotations

from collections.abc import Collection

from diagnose.cli.practice.answers import ids_meant, rising_and_falling
from diagnose.cli.practice.exercising import OpenExercise
from diagnose.cli.practice.safety import asked_danger, stop
from diagnose.cli.practice.screens import showed, suspects
from diagnose.cli.talk import Talk
from diagnose.errors import CallError
from diagnose.knowledge.dismantling import ABILITIES
from diagnose.knowledge.observable import observable
from diagnose.planning.options import CheckOption, lost_now
from diagnose.practice.thinking import supposed, think
from diagnose.report.screen_words import minutes
from diagnose.report.text import QUIET, STRONG, line

NOT_THIS = ("n", "no")


def _why_not(one: OpenExercise, found: Collection[str]) -> str:
    """Why none of the checks meant can be done."""
    checks = one.run.knowledge.checks
    gone = lost_now(one.run.standing.diagnosis)
    wanted = [a for a in ABILITIES for id in found if id in checks and a in checks[id].wants and a in gone]
    if wanted:
        return f"That cannot be done as the machine stands: it wants that {ABILITIES[wanted[0]]}."
    return "Nothing like that is left to check here."


def check_in_words(one: OpenExercise, answer: str) -> None:
    """A check, or a finding: the ways to see it."""
    found = ids_meant(one.run.knowledge, answer, ("checks", "findings"))
    options = [o for o in one.run.standing.checks if o.id in found or set(found) & set(o.findings)]
    if not options:
        one.talk.say(f"{_why_not(one, found)} c lists the checks by system.")
        return
    check(one, _one_of(one.talk, "Which one?", options))


def _one_of(talk: Talk, question: str, options: list[CheckOption]) -> CheckOption | None:
    if len(options) == 1:
        talk.say(line(options[0].name, style=STRONG))
        return options[0]
    chosen = talk.choose(question, [o.name for o in options])
    return None if chosen is None else options[chosen]


def check_by_system(one: OpenExercise) -> None:
    """The checks of one system, in alphabetical order."""
    by_system = dict[str, list[CheckOption]]()
    for option in one.run.standing.checks:
        by_system.setdefault(_system(one, option), []).append(option)
    systems = sorted(by_system)
    chosen = one.talk.choose("Which system?", systems)
    if chosen is not None:
        options = sorted(by_system[systems[chosen]], key=lambda option: option.name)
        check(one, _one_of(one.talk, "Which check?", options))


def _system(one: OpenExercise, option: CheckOption) -> str:
    knowledge = one.run.knowledge
    id = option.check.system if option.check else observable(knowledge, option.findings[0]).system
    return knowledge.systems[id].name if id in knowledge.systems else id


def check(one: OpenExercise, option: CheckOption | None) -> None:
    """Safety first, then think, then look."""
    if option is None:
        return
    run, talk = one.run, one.talk
    if hazard := run.standing.held_check(option):
        stop(talk, one.keep, run.stopped(hazard, option.name), hazard)
        return
    if not asked_danger(talk, one.keep, run, option.name, option.hazards):
        return
    price = run.standing.check_price(option)
    talk.say(line(f"Takes {minutes(price.minutes)}, {run.shop.money(price.money)}.", style=QUIET))
    if _thought(one, option):
        seen = one.run.do_check(option)
        one.keep(seen.entry)
        talk.say(*showed(one.run, seen))


def _thought(one: OpenExercise, option: CheckOption) -> bool:
    """Which causes would rise and fall; whether the check is to be done."""
    run, talk = one.run, one.talk
    finding, state = supposed(run, option)
    talk.say(suspects(run), line(f"Suppose it shows: {finding.in_words(state)}.", style=STRONG))
    while answer := talk.ask("Which rise, which fall? +1 -3 (Enter skips, n: not this):"):
        if answer.lower() in NOT_THIS:
            return False
        try:
            entry, words = think(run, option, *rising_and_falling(answer, run.beginning.suspects))
        except CallError as error:
            talk.say(str(error))
            continue
        one.keep(entry)
        talk.say(words)
        break
    return True
