"""Cases out of the house, in any of the formats."""

from __future__ import annotations

import secrets
from collections.abc import Iterable, Iterator
from pathlib import Path

from diagnose.errors import CallError
from diagnose.knowledge.records import Knowledge
from diagnose.learning.anonymous import anonymous
from diagnose.learning.case_sources import ENDINGS
from diagnose.learning.jsonl import to_json
from diagnose.learning.lesson import Lesson

SALT = 32
"""Letters of a salt at least: as many hexadecimal digits are 128 bits."""


def salted(knowledge: Knowledge, lessons: Iterable[Lesson], word: str | None = None) -> Iterator[Lesson]:
    """The cases without what names anybody. `word`: the salt; a new one each time where none is given, so
    that two exports cannot be matched. Raises CallError for a salt that could be guessed: cases are numbered, so
    that whoever has the salt has the names."""
    if word and len(word) < SALT:
        raise CallError(
            f"A salt is at least {SALT} letters that nobody can guess. One drawn just now, to be kept in the shop: "
            f"{secrets.token_hex(SALT // 2)}"
        )
    salt = word.encode() if word else secrets.token_bytes(32)
    return (anonymous(knowledge, lesson, salt) for lesson in lessons)


def written(path: Path, ending: str, lessons: Iterable[Lesson]) -> int:
    """Write the cases in the format of the ending; how many. Raises CallError where the ending is not
    known."""
    if ending not in ENDINGS:
        raise CallError(f"A file of cases ends in {', '.join(ENDINGS[:-1])} or {ENDINGS[-1]}.")
    if ending != ".jsonl":
        from diagnose.learning.tables import write_table

        return write_table(path, lessons)
    count = 0
    with path.open("w", encoding="utf-8") as file:
        for lesson in lessons:
            file.write(to_json(lesson) + "\n")
            count += 1
    return count
