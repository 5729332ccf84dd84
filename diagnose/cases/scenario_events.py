"""The fields of a scenario as events of a case.

An event with a problem is left out: the scenario will be refused, but all of it is looked at first.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any

from diagnose.cases.case import Case, advance, fold
from diagnose.cases.events import Checked, Coded, Event, Learnt, Measured, Noted, Opened, OpenedUp, Repaired
from diagnose.cases.scenario_lookup import Lookup
from diagnose.cases.understood import values_known
from diagnose.codes.cylinders import cylinder_of
from diagnose.codes.typed import findings_for, parse_code
from diagnose.errors import CallError
from diagnose.forms.fields import Values, Word, meant
from diagnose.knowledge.away import away_id
from diagnose.knowledge.located import objection, place_of
from diagnose.knowledge.observable import noted
from diagnose.knowledge.readings import meaning, quantities
from diagnose.knowledge.records import Finding
from diagnose.words.quantity import parse_quantity


def opening(machine: Values, complaint: str | None, lookup: Lookup) -> Opened:
    """The opening of the case; the family's facts are merged in, the machine's own win."""
    family = machine["family"]
    known = family is not None and lookup.known("families", family)
    inherited = lookup.knowledge.families[family].facts if known else {}
    return Opened(
        machine=_plain(machine["number"]),
        family=_plain(family),
        facts={**inherited, **lookup.facts(machine["facts"])},
        hours=machine["hours"],
        renewed=lookup.by_cause(machine["renewed"]),
        complaint=_plain(complaint),
        last_right=machine["last_right"],
        inspection=machine["inspection"],
    )


def acts(first: Opened, entries: Iterable[tuple[str, Values]], lookup: Lookup) -> Iterator[Event]:
    """The events of these (head, fields), in order, after the opening; one entry may be several events."""
    case = fold(0, [first])
    for head, values in entries:
        if values[head] is not None:
            events = _reading(values, lookup, case) if head == "reading" else _ACTS[head](values, lookup)
            for event in events:
                case = advance(case, event)
                yield event


def _note(values: Values, lookup: Lookup) -> Iterator[Event]:
    finding = noted(lookup.knowledge, values["note"])
    if finding is None:
        lookup.known("findings", values["note"])  # which says so
        return
    state = _state(finding, values, lookup)
    if state is not None:
        yield Noted(str(values["note"]), state, **_manner(values), place=_place(values, finding.id, lookup))


def _away(values: Values, lookup: Lookup) -> Iterator[Event]:
    """What a finding did with a part out."""
    part, finding, result = values["away"], values["finding"], values["result"]
    known = [lookup.known("removable", part), finding is not None and lookup.known("findings", finding)]
    if all(known) and result is not None:
        manner = _manner(values)
        if values["way"]:
            manner["text"] = "; ".join(filter(None, (manner.get("text"), str(values["way"]))))
        yield Noted(away_id(str(finding), str(part)), str(result), **manner)


def _state(finding: Finding, values: Values, lookup: Lookup) -> str | None:
    """The state meant: the one named, the first for `not`, else the only other."""
    state: Word | None = values["state"]
    if state is not None and not values["not"]:
        return lookup.choice(state, finding.states, f"a state of `{finding.id}`")
    if values["not"] and state is None:
        return finding.normal
    if state is None and len(finding.states) == 2:
        return finding.states[1]
    if state is None and "state" in values.places:
        return None  # it could not be read, which is noted
    message = "say `state` or `not`, not both" if state else f"`{finding.id}` needs its state"
    lookup.notes.add("S002", state.place if state else values["note"].place, message, _one_of(finding.states))
    return None


def _reading(values: Values, lookup: Lookup, case: Case) -> Iterator[Event]:
    name, value = values["reading"], values["value"]
    names = quantities(lookup.knowledge)
    if name not in names:
        lookup.notes.add("S001", name.place, f"there is no quantity `{name}`", meant(name, names))
    elif value is not None:
        yield from _measured(name, value, values, lookup, case)


def _measured(name: Word, value: Word, values: Values, lookup: Lookup, case: Case) -> Iterator[Event]:
    """What the value tells of the machine, then one event for every finding that is set from this quantity; the
    value alone where it sets none, or not before a fact is known."""
    try:
        quantity = parse_quantity(value)
        others = values_known(lookup.knowledge, case)
        found = meaning(lookup.knowledge, name, quantity, case.machine.facts, others)
    except CallError as error:
        lookup.notes.add("S003", value.place, str(error))
        return
    if found.problem:
        lookup.notes.add("S003", value.place, found.problem)
        return
    manner = {"text": f"{name} {value}"} | _manner(values)
    unit = f"{quantity.unit} {quantity.reference}".strip()
    if found.learnt:
        yield Learnt(found.learnt, text=f"no other fits {name} {value}")
    for finding, state in found.states:
        place = _place(values, finding, lookup)
        yield Noted(finding, state, value=quantity.value, unit=unit, place=place, **manner)
    if not found.states:
        yield Measured(str(name), quantity.value, unit, **manner)


def _code(values: Values, lookup: Lookup) -> Iterator[Event]:
    """One event for every finding that lists the code, or the code kept as not used."""
    typed = values["code"]
    try:
        code = parse_code(typed)
    except CallError as error:
        lookup.notes.add("S004", typed.place, str(error))
        return
    manner = {"text": str(typed)} | _manner(values)
    findings = findings_for(lookup.knowledge, code)
    for finding in findings:
        record = lookup.knowledge.findings[finding]
        named = cylinder_of(code) if record.located == "cylinder" else ""
        state, place = record.states[1], _place(values, finding, lookup) or named
        yield Noted(finding, state, code=code.text, place=place, **manner)
    if not findings:
        yield Coded(code.text, manner["text"])


def _check(values: Values, lookup: Lookup) -> Iterator[Event]:
    if lookup.known("checks", values["check"]):
        yield Checked(str(values["check"]), _plain(values["text"]))


def _opened_up(values: Values, lookup: Lookup) -> Iterator[Event]:
    if lookup.known("access", values["opened"]):
        yield OpenedUp(str(values["opened"]), _plain(values["text"]))


def _repaired(values: Values, lookup: Lookup) -> Iterator[Event]:
    repairs = lookup.all_known("repairs", values["repaired"])
    covered = (cure.cause for repair in repairs for cure in lookup.knowledge.repairs[repair].cures)
    left_open = lookup.all_known("access", values["left_open"])
    yield Repaired(repairs, tuple(dict.fromkeys(covered)), left_open, _plain(values["text"]))


def _learnt(values: Values, lookup: Lookup) -> Iterator[Event]:
    facts, renewed = lookup.facts(values["learnt"]), lookup.by_cause(values["renewed"])
    yield Learnt(facts, values["hours"], renewed, _plain(values["text"]), values["last_right"])


_ACTS: Mapping[str, Callable[[Values, Lookup], Iterator[Event]]] = {
    "note": _note,
    "away": _away,
    "code": _code,
    "check": _check,
    "opened": _opened_up,
    "repaired": _repaired,
    "learnt": _learnt,
}


def _manner(values: Values) -> dict[str, Any]:
    """How a finding was noted; fields not given are left to their defaults."""
    return {name: str(values[name]) for name in ("confidence", "text") if values[name]}


def _place(values: Values, finding: str, lookup: Lookup) -> str:
    """The cylinder or bank where it was; a problem is noted where it cannot be told of this finding."""
    given = values["at"]
    if given is None:
        return ""
    place = place_of(given)
    wrong = (
        objection(lookup.knowledge, {}, finding, place, "") if place else f"`{given}` is no cylinder or bank"
    )
    if wrong:
        lookup.notes.add("S009", given.place, wrong, "write it as `cylinder 4` or `bank B`")
    return place


def _one_of(words: Iterable[str]) -> str:
    return f"one of {', '.join(words)}"


def _plain(word: str | None) -> str:
    return str(word or "")
