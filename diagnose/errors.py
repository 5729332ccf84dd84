"""All that a user can be told is wrong: places in files, problems, and the errors that carry them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


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
        return f"{self.place}: {self.code} {self.message}{hint}"

    def to_dict(self) -> dict[str, object]:
        """The problem as plain JSON values."""
        return {
            "code": self.code,
            "file": self.place.file,
            "line": self.place.line,
            "column": self.place.column,
            "message": self.message,
            "hint": self.hint,
        }


class DiagnoseError(Exception):
    """Base of every error that is the user's to see. `exit_code` follows the command contract."""

    exit_code = 1


class DataError(DiagnoseError):
    """Files or stored data are wrong; carries every problem found, in order of place."""

    def __init__(self, problems: Iterable[Problem]):
        self.problems = tuple(sorted(problems, key=lambda problem: (problem.place, problem.code)))
        super().__init__("\n".join(map(str, self.problems)))


class CallError(DiagnoseError):
    """The call is wrong: an unknown word, a missing argument. `suggestions` are what was perhaps meant."""

    exit_code = 2

    def __init__(self, message: str, suggestions: Iterable[str] = ()):
        self.suggestions = tuple(suggestions)
        meant = f" Did you mean: {', '.join(self.suggestions)}?" if self.suggestions else ""
        super().__init__(message + meant)
