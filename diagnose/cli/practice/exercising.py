"""An exercise that goes on, and the file that keeps every answer at once."""

from __future__ import annotations

from dataclasses import dataclass

from diagnose.cli.context import CommandContext
from diagnose.cli.talk import Talk
from diagnose.practice.run import ExerciseRun
from diagnose.practice.store import ExerciseEntry, Exercises, practice_path


@dataclass
class OpenExercise:
    """One exercise that goes on."""

    context: CommandContext
    talk: Talk
    run: ExerciseRun

    def keep(self, entry: ExerciseEntry) -> None:
        """Keep an entry at once."""
        with Exercises(practice_path(self.context.store_path)) as kept:
            kept.append(self.run.number, entry)
        self.run = self.run.more(entry)
