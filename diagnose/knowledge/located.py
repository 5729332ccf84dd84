"""Where on the engine something is: one of its cylinders or banks.

A place is told as text, `cylinder 4` or `bank B`. A cause, condition or finding whose record says `per: cylinder`
or `per: bank` is there once for each of them; what it means that two point to the same one is worked out by the
network (network/places.py).
"""

from __future__ import annotations

import re
from collections.abc import Mapping

from diagnose.knowledge.records import Knowledge

LOCATED = ("cylinder", "bank")
"""What a record can be there once for."""
AT_SEVERAL = ("one or more cylinders", "one or more banks")
"""What a cause that is one thing, at one or more of them, says instead."""
CYLINDERS, LAYOUT, TWO_BANKS = "cylinders", "layout", "two banks"
"""The machine facts that tell how many cylinders there are, and whether they stand in two banks."""
MOST = 24
"""Cylinders at most."""
NAMINGS = (("A", "B"), ("left", "right"), ("port", "starboard"), ("1", "2"))
"""How the two banks are called; a case keeps to one of these (common practice: makers differ in which is which)."""
MARK = "#"
_PLACE = re.compile(r"(cylinder|bank) ([A-Za-z0-9]+)")
_SIDE = re.compile(r"(left|right|port|starboard) bank", re.IGNORECASE)


def kind_said(per: str) -> str:
    """Cylinder or bank, as `per` of a record says it; empty where it says none."""
    return next((kind for kind in LOCATED if kind in per), "")


def place_of(text: str) -> str:
    """A place as it is kept; empty for a text that names none. `left bank` is kept as `bank left`."""
    found = _PLACE.fullmatch(_SIDE.sub(r"bank \1", " ".join(text.split())))
    if not found:
        return ""
    kind, name = found.groups()
    if kind == "cylinder":
        return f"cylinder {int(name)}" if name.isdecimal() and 1 <= int(name) <= MOST else ""
    names = {one.lower(): one for naming in NAMINGS for one in naming}
    return f"bank {names[name.lower()]}" if name.lower() in names else ""


def kind_of(place: str) -> str:
    """Whether it is a cylinder or a bank."""
    return place.partition(" ")[0]


def number_of(place: str) -> int:
    """The number of a cylinder; 0 for a bank."""
    return int(place.partition(" ")[2]) if kind_of(place) == "cylinder" else 0


def at(id: str, place: str) -> str:
    """The id of a record at one place; its own where no place is told."""
    return f"{id}{MARK}{place}" if place else id


def apart(id: str) -> tuple[str, str]:
    """The id of the record and the place; no place: empty."""
    plain, _, place = id.partition(MARK)
    return plain, place


def with_place(words: str, place: str) -> str:
    """Words on a finding, and where it is."""
    return f"{words} ({in_words(place)})" if place else words


def in_words(place: str) -> str:
    """The place as it is said: `cylinder 4`, `bank B`, `left bank`."""
    kind, _, name = place.partition(" ")
    return f"{name} {kind}" if len(name) > 1 and not name.isdecimal() else place


def objection(knowledge: Knowledge, facts: Mapping[str, str], finding: str, place: str, others: str) -> str:
    """Why the finding cannot be at the place on a machine with these facts, in words; empty where it can.
    `others`: a bank named before in the case; none: empty."""
    record = knowledge.findings.get(finding)
    if record is None or not record.located:
        return f"“{finding.replace('_', ' ') if record is None else record.name}” is not told by cylinder or bank"
    if record.located != kind_of(place):
        return f"“{record.name}” is told by {record.located}, not by {kind_of(place)}"
    if kind_of(place) == "cylinder":
        count = facts.get(CYLINDERS, "")
        beyond = count.isdecimal() and number_of(place) > int(count)
        return f"there is no {place}: the engine has {count}" if beyond else ""
    if facts.get(LAYOUT, TWO_BANKS) != TWO_BANKS:
        return f"there is no {place}: the cylinders stand in one line"
    if others and not any({place[5:], others[5:]} <= set(naming) for naming in NAMINGS):
        return f"the banks were called as in “{others}” before: say which of these it is"
    return ""
