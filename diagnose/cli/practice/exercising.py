"""An exercise on the bench, and the file that keeps every answer at once."""

from __future__ import annotations

from dataclasses import dataclass

from diagnose.cli.desk import Desk
from diagnose.cli.talk import Talk
from diagnose.practice.bench import Bench
from diagnose.practice.store import Entry, Exercises, practice_path


@dataclass
class Exercising:
    """One exercise on the bench."""

    desk: Desk
    talk: Talk
    bench: Bench

    def keep(self, entry: Entry) -> None:
        """Keep an entry at once."""
        with Exercises(practice_path(self.desk.store_path)) as kept:
            kept.append(self.bench.number, entry)
        self.bench = self.bench.more(entry)
