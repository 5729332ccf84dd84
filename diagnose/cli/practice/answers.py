"""What was typed: which things are meant, which causes rise and fall, own figures."""

from __future__ import annotations

import re
from collections.abc import Sequence

from diagnose.cli.types import CAUSE
from diagnose.errors import CallError
from diagnose.knowledge.records import Knowledge
from diagnose.knowledge.words import resolve_any

_SIGNED = re.compile(r"([+-])\s*(\d+)")
_FIGURE = re.compile(r"(.+?)[\s=:]+(\d+(?:\.\d+)?)\s*%?")


def ids_meant(knowledge: Knowledge, text: str, sections: Sequence[str]) -> tuple[str, ...]:
    """The ids that a text means: one where it is clear, else those that come near. Raises CallError for none."""
    for section in sections:
        if text in getattr(knowledge, section):
            return (text,)
    found = resolve_any(knowledge, text, tuple(sections))
    if found.clear:
        return (found.clear.id,)
    if not found.close:
        raise CallError(f"“{text}” is nothing that the knowledge knows. Say it in other words.")
    return tuple(match.id for match in found.close)


def rising_and_falling(text: str, suspects: Sequence[str]) -> tuple[list[str], list[str]]:
    """`+1 -3` -> ids of those that rise and fall. Raises CallError."""
    found = _SIGNED.findall(text)
    if not found or _SIGNED.sub("", text).strip(" ,;"):
        raise CallError("Write for example: +1 -3 (1 rises, 3 falls)")
    ids = [(sign, _suspect(number, suspects)) for sign, number in found]
    up, down = [id for sign, id in ids if sign == "+"], [id for sign, id in ids if sign == "-"]
    if set(up) & set(down):
        raise CallError("The same cause cannot rise and fall.")
    return up, down


def figures(knowledge: Knowledge, text: str, suspects: Sequence[str]) -> dict[str, float]:
    """`1 60, 3 20` or `battery 40` -> probabilities by cause. Raises CallError."""
    found = {}
    for piece in re.split(r"[,;]", text):
        if not piece.strip():
            continue
        match = _FIGURE.fullmatch(piece.strip())
        if match is None:
            raise CallError(f"“{piece.strip()}” is no cause and per cent; write for example: 1 60, 3 20")
        name, percent = match[1].strip(), float(match[2])
        if percent > 100:
            raise CallError(f"{percent:g} per cent is more than sure.")
        found[_suspect(name, suspects) if name.isdecimal() else CAUSE.meant(knowledge, name)] = percent / 100
    return found


def _suspect(number: str, suspects: Sequence[str]) -> str:
    if not 1 <= int(number) <= len(suspects):
        raise CallError(f"Give a number from 1 to {len(suspects)}.")
    return suspects[int(number) - 1]
