"""What was typed: which things are meant, which causes rise and fall, own figures."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from diagnose.cli.talk import numbers
from diagnose.cli.types import CAUSE
from diagnose.errors import CallError
from diagnose.knowledge.lookup import resolve_any
from diagnose.knowledge.records import Knowledge
from diagnose.understanding import findings_in

_WORD = re.compile(r"[^\W\d_]{2}")
_SIGNED = re.compile(r"([+-])\s*(\d+)")
_NUMBER = re.compile(r"\d+(?:\.\d+)?")
_FIGURE = re.compile(r"(.+?)[\s=:]+(\d+(?:\.\d+)?)\s*%?")


def ids_meant(knowledge: Knowledge, text: str, sections: Sequence[str]) -> tuple[str, ...]:
    """The ids that a text means: one where it is clear, else those that come near. Raises CallError for none."""
    for section in sections:
        if text in getattr(knowledge, section):
            return (text,)
    found = resolve_any(knowledge, text, tuple(sections)) if _WORD.search(text) else None
    if "findings" in sections and (found is None or not found.clear):
        spoken = {id: part for id, part in findings_in(knowledge, text).items() if id in knowledge.findings}
        if spoken:
            return tuple(sorted(spoken, key=lambda id: -spoken[id]))
    if found is None or not (found.clear or found.close):
        raise CallError(
            f"Nothing here goes by “{text}”. Say it in other words, or take it from the list (c)."
        )
    if found.clear:
        return (found.clear.id,)
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
    """`1 60, 3 20`, `1 60 3 20` or `battery 40` -> probabilities by cause. Raises CallError."""
    return {_cause(knowledge, name, suspects): _share(number) for name, number in _pairs(text)}


def _pairs(text: str) -> Iterator[tuple[str, str]]:
    for piece in filter(None, map(str.strip, re.split(r"[,;]", text))):
        numbers = _NUMBER.findall(piece)
        if _NUMBER.sub("", piece).strip(" %=:") == "" and len(numbers) % 2 == 0:
            yield from zip(numbers[::2], numbers[1::2], strict=True)
        elif match := _FIGURE.fullmatch(piece):
            yield match[1].strip(), match[2]
        else:
            raise CallError(f"“{piece}” is no cause and per cent; write for example: 1 60, 3 20")


def _share(number: str) -> float:
    percent = float(number)
    if percent > 100:
        raise CallError(f"{percent:g} per cent is more than sure.")
    if 0 < percent < 1:
        raise CallError(f"{percent:g} is less than one per cent; for one half write 50.")
    return percent / 100


def _cause(knowledge: Knowledge, name: str, suspects: Sequence[str]) -> str:
    """The cause by its number in the list, by words that only one of the list has, or by any words for it."""
    if name.isdecimal():
        return _suspect(name, suspects)
    words = name.lower().split()
    listed = [id for id in suspects if all(word in knowledge.causes[id].name.lower() for word in words)]
    if len(listed) == 1:
        return listed[0]
    try:
        return CAUSE.meant(knowledge, name)
    except CallError:
        raise CallError(f"“{name}” may be several causes, or none; take its number in the list.") from None


def _suspect(number: str, suspects: Sequence[str]) -> str:
    if not 1 <= int(number) <= len(suspects):
        raise CallError(f"{numbers(len(suspects))}.")
    return suspects[int(number) - 1]
