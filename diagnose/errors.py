"""All that a user can be told is wrong: places in files, problems, and the errors that carry them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from diagnose.plain import one_line, shortened

SHOWN = 20
"""Problems that one error tells: a file of the wrong kind has one on every line."""
LONGEST = 400
"""Letters of a message at most: it may quote what stands in a file, however long."""


@dataclass(frozen=True, order=True, slots=True)
class Place:
    """Where something stands in a text file. Line and column count from 1; 0 means the whole file."""

    file: str
    line: int = 0
    column: int = 0

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}"


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong in a file: a stable code, where, what, and what to do about it."""

    code: str
    place: Place
    message: str
    hint: str = ""

    def __str__(self) -> str:
        hint = f" ({self.hint})" if self.hint else ""
        return one_line(f"{self.place}: {self.code} {shortened(self.message, LONGEST)}{hint}")

    def to_dict(self) -> dict[str, object]:
        """The problem as plain JSON values."""
        return {
            "code": self.code,
            "file": self.place.file,
            "line": self.place.line,
            "column": self.place.column,
            "message": shortened(self.message, LONGEST),
            "hint": self.hint,
        }


class DiagnoseError(Exception):
    """Base of every error that is the user's to see. `exit_code` follows the command contract."""

    exit_code = 1


class DataError(DiagnoseError):
    """Files or stored data are wrong; carries every problem found, in order of place."""

    def __init__(self, problems: Iterable[Problem]):
        self.problems = tuple(sorted(problems, key=lambda problem: (problem.place, problem.code)))
        super().__init__("\n".join(problem_lines(self.problems)))


def problem_lines(problems: Sequence[Problem]) -> list[str]:
    """A line for each of the first problems, and one that says how many more there are."""
    more = len(problems) - SHOWN
    return [*map(str, problems[:SHOWN]), *([f"and {more} more problems"] if more > 0 else [])]


class CallError(DiagnoseError):
    """The call is wrong: an unknown word, a missing argument. `suggestions` are what was perhaps meant."""

    exit_code = 2

    def __init__(self, message: str, suggestions: Iterable[str] = ()):
        self.suggestions = tuple(suggestions)
        meant = f" Did you mean: {', '.join(self.suggestions)}?" if self.suggestions else ""
        super().__init__(shortened(message, 10 * LONGEST) + meant)
