"""The bay held with a person of a play, at a width, into a transcript; keys and processor time counted."""

from __future__ import annotations

import io
import os
from collections.abc import Iterator
from contextlib import contextmanager, redirect_stdout
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory
from time import process_time
from unittest.mock import patch

from diagnose.cli.bay import hold
from diagnose.cli.context import CommandContext
from diagnose.cli.talk import Talk
from diagnose.knowledge.loader import shipped_folder
from tests.bay.person import HERE, STAND, Lost, Person, Play
from tests.shipped import shipped_knowledge

SIZES = {60: 24, 100: 40}
"""Lines of the terminal by its width."""
TRANSCRIPTS = HERE / "transcripts"
MOST_ANSWERS = 150
ANSWERED = " < "
"""Stands before what was typed."""


@dataclass
class Step:
    """What was typed from one stand to the next. `questions`: prompts answered; `keys`: pressed, Enter among
    them; `seconds`: of the processor; `slowest`: the slowest answer; `pages`: waits in the middle of a screen."""

    first: str = ""
    questions: int = 0
    keys: int = 0
    seconds: float = 0.0
    slowest: float = 0.0
    pages: int = 0


@dataclass
class Performance:
    """One case as it was played. `text`: the transcript."""

    play: Play
    width: int
    text: str = ""
    steps: list[Step] = field(default_factory=list)


def perform(play: Play, width: int) -> Performance:
    """Play a case from an empty store to its end."""
    knowledge = shipped_knowledge()
    shown, told = Performance(play, width), io.StringIO()
    person, seen, before = Person(knowledge, play), [0], [process_time()]

    def read(prompt: str) -> str:
        spent = process_time() - before[0]
        screen = told.getvalue()[seen[0] :].splitlines()
        answer = person.answer(screen, prompt)
        if prompt.startswith(STAND) or not shown.steps:
            shown.steps.append(Step(answer or prompt))
        step = shown.steps[-1]
        step.questions += 1
        step.keys += len(answer) + 1
        step.seconds += spent
        step.slowest = max(step.slowest, spent)
        step.pages += "for more" in prompt
        told.write(f"{prompt}{ANSWERED}{answer}\n")
        if sum(one.questions for one in shown.steps) > MOST_ANSWERS:
            raise Lost(f"{play.id}: no end in sight")
        if not prompt.startswith("-- Enter for more"):
            seen[0] = len(told.getvalue())
        before[0] = process_time()
        return answer

    with _terminal(width) as store, redirect_stdout(told):
        try:
            hold(CommandContext(shipped_folder(), store), Talk(read))
        except Lost as lost:
            told.write(f"\n[LOST] {lost}\n")
    shown.text = told.getvalue()
    return shown


@contextmanager
def _terminal(width: int) -> Iterator[Path]:
    """A terminal of this width without colours, and a case store of its own."""
    with TemporaryDirectory(prefix="diagnose-bay-") as folder:
        size = {"COLUMNS": str(width), "LINES": str(SIZES[width]), "NO_COLOR": "1"}
        own = {"XDG_CONFIG_HOME": folder, "DIAGNOSE_SHOP": "", "DIAGNOSE_OVERLAY": ""}
        with patch.dict(os.environ, {**size, **own}):
            yield Path(folder) / "cases.sqlite"


def file(play: Play, width: int) -> Path:
    """Where the transcript is kept."""
    return TRANSCRIPTS / f"{play.id}.{width}.txt"
