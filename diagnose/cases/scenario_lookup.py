"""What the names in a scenario stand for in the knowledge; what it does not know becomes a problem."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from diagnose.forms.fields import Notes, Word, meant
from diagnose.knowledge.records import Knowledge

_NAMES = {
    "findings": "finding",
    "causes": "cause",
    "checks": "check",
    "repairs": "repair",
    "access": "access state",
    "facts": "machine fact",
    "families": "family",
    "removable": "removable part",
}


@dataclass(frozen=True, slots=True)
class Lookup:
    """The knowledge, and the notes that take its problems. Words that it does not know are left out."""

    knowledge: Knowledge
    notes: Notes

    def known(self, section: str, word: Word) -> bool:
        """Whether the section of the knowledge has this id."""
        records = getattr(self.knowledge, section)
        if word not in records:
            message = f"there is no {_NAMES[section]} `{word}` in the knowledge"
            self.notes.add("S001", word.place, message, meant(word, records))
        return word in records

    def all_known(self, section: str, words: Iterable[Word] | None) -> tuple[str, ...]:
        """Those of the ids that the section has."""
        return tuple(str(word) for word in words or () if self.known(section, word))

    def choice(self, word: Word, choices: tuple[str, ...], what: str) -> str | None:
        """The word if it is one of the choices."""
        if word in choices:
            return str(word)
        self.notes.add("S002", word.place, f"`{word}` is not {what}", f"one of {', '.join(choices)}")
        return None

    def facts(self, values: Mapping[Word, Word | None] | None) -> dict[str, str]:
        """Machine facts with the values that they can take."""
        given = {fact: value for fact, value in (values or {}).items() if self.known("facts", fact)}
        return {str(fact): str(value) for fact, value in given.items() if value and self._fits(fact, value)}

    def by_cause(self, values: Mapping[Word, float | None] | None) -> dict[str, float]:
        """Numbers by cause."""
        items = [(cause, number) for cause, number in (values or {}).items() if self.known("causes", cause)]
        return {str(cause): number for cause, number in items if number is not None}

    def _fits(self, fact: Word, value: Word) -> bool:
        return self.choice(value, self.knowledge.facts[fact].values, f"a value of `{fact}`") is not None
