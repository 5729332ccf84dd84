"""The shop's own overlay: a file in the format of the knowledge that adds records, or changes fields of
shipped ones, without a change to what is shipped.

A field that the overlay gives replaces the shipped one. Mappings from ids (`leads_to`, `cures`, the facts of
a cause) and from states (`leak`) are merged entry by entry, so that one link can be changed alone; it keeps the
source that names it. How often a cause arises is one number: a `rate` replaces a `share`. A number that the
overlay gives without a basis has the basis `shop`. A new record needs all that a shipped one needs. What an
overlay of an earlier version says is read as `earlier` tells."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from typing import Any

from diagnose.forms.fields import Field, Map, Notes, Shape, Values, WrittenNumber, meant, read_as
from diagnose.forms.reader import read_text
from diagnose.knowledge.earlier import PRIOR, up_to_date
from diagnose.knowledge.entry import Entry
from diagnose.knowledge.files import LEARNT, FileText
from diagnose.knowledge.formerly import brought_up
from diagnose.knowledge.number import SHOP
from diagnose.knowledge.records import PER
from diagnose.knowledge.sections.file import OF_A_SYSTEM, SECTIONS, SYSTEM_HEAD

SHOP_ESS = 10.0
"""Cases that a number of the shop is worth where the overlay says nothing of it (judgement)."""


def _relaxed(shape: Shape) -> Shape:
    """The shape with no field that must be there."""
    return replace(shape, fields={name: replace(one, required=False) for name, one in shape.fields.items()})


READABLE = SECTIONS | {"causes": replace(SECTIONS["causes"], fields={**SECTIONS["causes"].fields, **PRIOR})}
OVERLAY = Shape(
    "an overlay",
    SYSTEM_HEAD | {name: Field(Map(_relaxed(shape)), default={}) for name, shape in READABLE.items()},
)


def read_overlay(text: FileText, notes: Notes) -> Values | None:
    """The overlay's sections, every number with a basis of its own; None where it cannot be read at all."""
    file: Values | None = read_as(OVERLAY, read_text(text.content, text.name), notes)
    if file is None:
        return None
    file["default_basis"] = file["default_basis"] or {"basis": SHOP, "ess": SHOP_ESS}
    default = (file["default_basis"]["basis"] or SHOP, file["default_basis"]["ess"] or SHOP_ESS)
    for section in SECTIONS:
        file[section] = {id: _with_basis(values, *default) for id, values in (file[section] or {}).items()}
    return file


def overlaid(shipped: Iterable[Entry], overlays: Iterable[Entry], notes: Notes) -> Iterator[Entry]:
    """The shipped records with the overlays' fields in place, then the records that are new."""
    entries = list(shipped)
    known: dict[str, int] = {}
    for position, entry in enumerate(entries):
        known.setdefault(entry.id, position)
    as_shipped, added = tuple(entries), dict[str, int]()
    for one in brought_up(overlays, tuple(entries)):
        at = known.get(one.id)
        patch = up_to_date(one, None if at is None else as_shipped[at])
        if patch.id.place.file.endswith(LEARNT):
            over = added.get(one.id) if at is None else at
            if over is not None and entries[over].section == patch.section:
                entries[over] = replace(
                    entries[over], values=merged(entries[over].values, _still_there(entries[over], patch))
                )
        elif at is not None and entries[at].section == patch.section:
            entries[at] = replace(entries[at], values=merged(entries[at].values, patch.values))
        elif at is not None or _complete(patch, known, notes):
            added[patch.id] = len(entries)
            entries.append(patch)  # where the id has another use, that is told later
    yield from entries


def _still_there(shipped: Entry, learnt: Entry) -> Values:
    """What was learnt of a record, without links that an update has taken away, and without a frequency that now
    counts something else: it only ever changes numbers, so what it speaks of no more is passed over."""
    values = learnt.values
    found = Values(values.place, **values)
    found.places = {
        name: place
        for name, place in values.places.items()
        if name not in PER or shipped.values[name] is not None
    }
    if _is_plain(values.get("leads_to")):
        known = shipped.values["leads_to"] or {}
        found["leads_to"] = {effect: link for effect, link in values["leads_to"].items() if effect in known}
    return found


def merged(values: Values, given: Values) -> Values:
    """The record's fields with those that were given in their place."""
    found = Values(values.place, **values)
    found.places = values.places | given.places
    if any(name in PER for name in given.places):
        found.update(dict.fromkeys((name for name in PER if name in found), None))
    for name in given.places:
        found[name] = _joined(values[name], given[name])
    return found


def _joined(old: Any, new: Any) -> Any:
    """Entry by entry where both are mappings from ids or states; else the new one."""
    if _is_plain(old) and _is_plain(new):
        return old | {key: _joined(old.get(key), value) for key, value in new.items()}
    return _still_named(old, new)


def _still_named(old: Any, new: Any) -> Any:
    """A link with another strength is still named by its source, unless the overlay names another."""
    source = old.get("source") if isinstance(old, Values) else None
    if not source or not isinstance(new, WrittenNumber | Values):
        return new
    if isinstance(new, WrittenNumber):
        found = Values(new.place, p=new.value, to=None, by_state=None, basis=new.basis, ess=new.ess)
        found.places = {"p": new.place}
    else:
        found = Values(new.place, **new)
        found.places = new.places
    found["source"] = found.get("source") or source
    return found


def _is_plain(value: Any) -> bool:
    return isinstance(value, Mapping) and not isinstance(value, Values)


def _complete(patch: Entry, known: Iterable[str], notes: Notes) -> bool:
    """Whether a new record has every field that it must have; what is missing is noted."""
    shape = SECTIONS[patch.section]
    missing = [n for n, one in shape.fields.items() if one.required and n not in patch.values.places]
    for name in missing:
        message = f"{shape.name}: `{name}` is missing; `{patch.id}` is new, nothing shipped has this id"
        notes.add("K011", patch.id.place, message, _near(patch.id, known) or shape.fields[name].about)
    if patch.section in OF_A_SYSTEM and patch.file["system"] is None:
        hint = "write system: at the head of the overlay"
        notes.add("K027", patch.id.place, f"`{patch.id}` is new and needs a system", hint)
    if missing:
        notes.doubtful.add(patch.id)
    return not missing


def _near(id: str, known: Iterable[str]) -> str:
    hint = meant(id, known)
    return hint if hint.startswith("did you mean") else ""


def _with_basis(value: Any, basis: str, ess: float) -> Any:
    """Every number below with its own basis, else that of the link or reading around it, else the default."""
    if isinstance(value, WrittenNumber):
        return WrittenNumber(value.value, value.basis or basis, value.ess or ess, value.place)
    if isinstance(value, Values):
        inside = (value.get("basis") or basis, value.get("ess") or ess)
        found = Values(value.place, **{name: _with_basis(one, *inside) for name, one in value.items()})
        found.places = value.places
        found.update(_stated(value, *inside))
        return found
    if isinstance(value, dict):
        return {key: _with_basis(one, basis, ess) for key, one in value.items()}
    if isinstance(value, tuple):
        return tuple(_with_basis(one, basis, ess) for one in value)
    return value


def _stated(value: Values, basis: str, ess: float) -> dict[str, Any]:
    """The basis and size written into a table that has room for them."""
    return {name: one for name, one in (("basis", basis), ("ess", ess)) if name in value}
