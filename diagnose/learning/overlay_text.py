"""The changed numbers as an overlay: YAML in the format of the knowledge, with what they were before beside
them."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence

import numpy as np

from diagnose.knowledge.number import SHOP, Number
from diagnose.knowledge.records import Cause, Condition, Finding, Knowledge, Link
from diagnose.learning.changes import Change, states_of

HEAD = """\
# Learnt from {cases} closed cases{span}.
# Made by `diagnose learn`, which makes it anew each time: what is changed here by hand is lost. It lies over the
# shop's own overlay. To go back: `diagnose learn --undo`, or delete this file.
"""
_PLAIN = re.compile(r"[a-z][a-z0-9_]*")
_TAKEN = frozenset(("y", "n", "yes", "no", "on", "off", "true", "false", "null"))

Cells = Mapping[tuple[str, str], Change]
"""(state of the parent, state of the effect), "" where binary -> the number that has changed."""


def overlay_text(knowledge: Knowledge, changes: Iterable[Change], cases: int, span: str = "") -> str:
    """The whole file. A link is written with all its numbers, for an overlay replaces it whole."""
    by_record: dict[str, list[Change]] = {}
    for change in changes:
        by_record.setdefault(change.parent if change.kind == "link" else change.effect, []).append(change)
    parts = [HEAD.format(cases=cases, span=span)]
    for name in ("causes", "conditions", "findings"):
        records = [one for id, one in getattr(knowledge, name).items() if id in by_record]
        if records:
            lines = (line for one in records for line in _record(knowledge, one, by_record[one.id]))
            parts.append(f"{name}:\n" + "".join(f"{line}\n" for line in lines))
    return "".join(parts)


def _record(
    knowledge: Knowledge, record: Cause | Condition | Finding, changes: Sequence[Change]
) -> Iterator[str]:
    yield f"  {record.id}:"
    for change in changes:
        if change.kind == "prior":
            number = _changed(change, change.after, "rate" if change.happens else "p")
            yield f"    {change.per}: {number}  # {_before([change])}"
    leaks = {("", change.state): change for change in changes if change.kind == "leak"}
    if leaks and not isinstance(record, Cause):
        row = _row(states_of(knowledge, record.id), record.leak, leaks, "")
        yield f"    leak: {row}  # {_before(leaks.values())}"
    if any(change.kind == "link" for change in changes) and not isinstance(record, Finding):
        yield "    leads_to:"
        for link in record.leads_to:
            cells = {(one.parent_state, one.state): one for one in changes if one.effect == link.effect}
            if cells:
                written = _link(knowledge, record.id, link, cells)
                yield f"      {link.effect}: {written}  # {_before(cells.values())}"


def _link(knowledge: Knowledge, parent: str, link: Link, cells: Cells) -> str:
    """In the form that fits the number of states of both ends."""
    above, below = states_of(knowledge, parent), states_of(knowledge, link.effect)
    if len(above) == 2:
        row = _row(below, link.strengths[0], cells, "")
        return row if len(below) == 2 else f"{{to: {row}}}"
    rows = (
        f"{_word(state)}: {_row(below, strengths, cells, state)}"
        for state, strengths in zip(above[1:], link.strengths, strict=True)
        if any(number.value for number in strengths)
    )
    return f"{{by_state: {{{', '.join(rows)}}}}}"


def _row(states: Sequence[str], numbers: Sequence[Number], cells: Cells, parent_state: str) -> str:
    """One distribution without its first state; what has not changed keeps its basis."""
    several = len(states) > 2
    found = [cells.get((parent_state, state if several else "")) for state in states[1:]]
    values = _within_one(
        [one.after if one else number.value for one, number in zip(found, numbers, strict=True)]
    )
    texts = [
        _changed(change, value) if change else _kept(number)
        for change, value, number in zip(found, values, numbers, strict=True)
    ]
    if not several:
        return texts[0]
    named = (f"{_word(s)}: {t}" for s, t, v in zip(states[1:], texts, values, strict=True) if v > 0)
    return f"{{{', '.join(named)}}}"


def _within_one(values: list[float]) -> list[float]:
    """Rounded numbers may sum to a hair more than 1: the largest gives way."""
    excess = sum(values) - 1
    if excess > 0:
        values[values.index(max(values))] -= excess + 1e-6
    return values


def _changed(change: Change, value: float, name: str = "p") -> str:
    return f"{{{name}: {_figure(value)}, ess: {_figure(change.ess_after)}}}"


def _kept(number: Number) -> str:
    basis = "" if number.basis == SHOP else f", basis: {number.basis}"
    return f"{{p: {_figure(number.value)}{basis}, ess: {_figure(number.ess)}}}"


def _before(changes: Iterable[Change]) -> str:
    return "before: " + ", ".join(f"{_figure(one.before)} (ess {_figure(one.ess_before)})" for one in changes)


def _figure(value: float) -> str:
    """A plain decimal number."""
    return str(np.format_float_positional(value, precision=6, fractional=False, trim="-"))


def _word(text: str) -> str:
    return text if _PLAIN.fullmatch(text) and text not in _TAKEN else json.dumps(text)
