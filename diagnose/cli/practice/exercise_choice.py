"""Which exercise: a scenario by number or file, a closed case, or a drawn machine."""

from __future__ import annotations

import secrets
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING

from diagnose.cli.context import CommandContext
from diagnose.cli.progress_bar import progress
from diagnose.cli.talk import Talk
from diagnose.cli.types import Thing
from diagnose.errors import CallError

if TYPE_CHECKING:
    from diagnose.cases.scenario import Scenario
    from diagnose.practice.exercise import Exercise
    from diagnose.practice.run import ExerciseRun

SYSTEM = Thing("system", "systems")
SHOWN = 12  # cases to choose from: a screen
DRAWS = 40
"""Machines drawn at most until one is as hard as asked for."""
BATCH, STEP = 8, 1_000_003
"""So many at a time, by seeds so far apart."""


@dataclass(frozen=True, slots=True)
class Asked:
    """What was asked for on the command line."""

    scenario: str | None
    case: int | None
    draw: bool
    system: str
    faults: int
    old_code: bool
    level: str | None
    seed: int | None


def chosen(context: CommandContext, talk: Talk, asked: Asked) -> Exercise:
    """The exercise asked for, else one chosen from the list. Raises CallError, DataError, Leave."""
    seed = secrets.randbelow(2**31) if asked.seed is None else asked.seed
    if sum((asked.scenario is not None, asked.case is not None, asked.draw)) > 1:
        raise CallError("Give a scenario, a case or --draw, only one of them.")
    if asked.case is not None:
        from diagnose.practice.exercise_sources import of_case

        return of_case(context.case(asked.case), context.knowledge, seed)
    if asked.draw:
        return _drawn(context, asked, seed)
    return from_file(context, asked.scenario or _from_list(context, talk), seed)


def from_file(context: CommandContext, name: str, seed: int) -> Exercise:
    """The exercise in a scenario file, or of a shipped scenario by its number in the list or its id."""
    from diagnose.cases import scenario
    from diagnose.practice.exercise_sources import of_scenario

    path = Path(name)
    if not path.is_file():
        return of_scenario(_shipped(context, name), context.knowledge, seed)
    return of_scenario(scenario.load(path, context.knowledge), context.knowledge, seed)


def _shipped(context: CommandContext, name: str) -> Scenario:
    from diagnose.cases.scenario import load

    files = _files()
    by_name = {file.stem: file for file in files} | {str(i): file for i, file in enumerate(files, 1)}
    if name not in by_name:
        raise CallError(f"“{name}” is no file, and no number from 1 to {len(files)}.")
    return load(by_name[name], context.knowledge)


def _files() -> list[Path]:
    """The shipped scenarios in an order that tells nothing: their names would."""
    from hashlib import sha256

    from diagnose.cases.scenario import folder

    return sorted(folder().glob("*.yaml"), key=lambda file: sha256(file.stem.encode()).hexdigest())


def _from_list(context: CommandContext, talk: Talk) -> str:
    """A few of the shipped scenarios, by what they came in for; the number of one of them, or of any other."""
    from diagnose.cases.scenario import load
    from diagnose.report.text import item

    files = _files()
    shown = sorted(secrets.SystemRandom().sample(range(len(files)), min(SHOWN, len(files))))
    talk.say("Which machine?")
    for place in shown:
        case = load(files[place], context.knowledge).case()
        talk.say(item(f"{place + 1:2}", f"{case.machine.number}: {case.complaint}"))
    chosen = talk.place(f"Number (others are known from 1 to {len(files)}; Enter: any):", len(files))
    return str((secrets.randbelow(len(files)) if chosen is None else chosen) + 1)


def _drawn(context: CommandContext, asked: Asked, seed: int) -> Exercise:
    from diagnose.practice.exercise_sources import Wanted, drawn
    from diagnose.practice.expert import is_level

    system = SYSTEM.meant(context.knowledge, asked.system) if asked.system else ""
    wanted = Wanted(system, asked.faults, asked.old_code)
    if asked.level is None:
        return drawn(context.knowledge, wanted, seed)
    fresh = (_fresh(context, drawn(context.knowledge, wanted, seed + STEP * turn)) for turn in range(DRAWS))
    with progress(f"Drawing a machine that is {asked.level}") as tell:
        for done, run in enumerate(_promising_first(fresh, asked.level)):
            tell(done, DRAWS)
            if is_level(run, asked.level):
                return run.beginning.exercise
    raise CallError(f"None of {DRAWS} machines drawn was {asked.level}; try another seed, level or system.")


def _fresh(context: CommandContext, exercise: Exercise) -> ExerciseRun:
    from diagnose.practice.run import ExerciseRun, started

    return ExerciseRun(context.knowledge, context.shop, [started(context.knowledge, exercise, "")])


def _promising_first(fresh: Iterable[ExerciseRun], level: str) -> Iterator[ExerciseRun]:
    """A batch at a time, those first that their first findings alone make as hard as asked for."""
    from diagnose.practice.expert import first_level

    rest = iter(fresh)
    while batch := list(islice(rest, BATCH)):
        yield from sorted(batch, key=lambda run: first_level(run) != level)
