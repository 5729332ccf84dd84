"""What the variables of a network stand for. Their names are for people who read an exported network; nothing is
read back out of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from diagnose.knowledge.observable import fact_name

Kind = Literal["record", "other", "fact", "open", "arises", "brought", "shared", "share", "noise"]
"""A cause, condition or finding itself; a cause of a complaint that is not listed; a machine fact; what a record
would be were its gates open, what of a cause arises of itself, what is brought about of it, what all versions of a
record have in common; what a link contributes, and the draw of its inhibitor."""


@dataclass(frozen=True, slots=True)
class Variable:
    """`id`: of the record (that a link leads to), or of the fact. `version`: the stretch of time (worlds.py);
    `parent`: where a link comes from; `value`: of a fact of which several can hold."""

    kind: Kind
    id: str
    version: int = 0
    parent: str = ""
    value: str = ""

    @property
    def asked(self) -> str:
        """The id under which it is told or asked."""
        return fact_name(self.id, self.value)
