"""A section as read -> records. Every problem is noted; a number or link with one is still built, so that
the rules see the rest of the record.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any, TypeVar

from diagnose.errors import Place
from diagnose.forms.fields import Notes, Values, Word, WrittenNumber, meant, place_of
from diagnose.knowledge.machine_facts import Requirement
from diagnose.knowledge.number import COMMON_PRACTICE, JUDGEMENT, Number
from diagnose.knowledge.records import BINARY, Link

R = TypeVar("R")
States = Mapping[str, tuple[str, ...]]
Row = tuple[Number, ...]  # one for each state but the first


@dataclass(frozen=True, slots=True)
class Builder:
    """What the records of one file share: its system and default basis, and the states of all ids."""

    system: str
    basis: str | None
    ess: float | None
    states: States
    notes: Notes

    def record(self, kind: type[R], id: Word, values: Values, /, **made: Any) -> R:
        """The record of an id, of this file's system where its kind has one."""
        if "system" in _names(kind):
            made["system"] = self.system
        return self.part(kind, values, id.place, id=id, **made)

    def part(self, kind: type[R], values: Values, place: Place, /, **made: Any) -> R:
        """A record of what was made, and all else that it has as it was read."""
        asked = _names(kind)
        read = {name: self._as_built(name, values[name]) for name in asked - made.keys() if name in values}
        return kind(**(read | ({"place": place} if "place" in asked else {}) | made))

    def _as_built(self, name: str, value: Any) -> Any:
        if name == "only_if":
            return self.requirements(value)
        return self.number(value) if isinstance(value, WrittenNumber) else value

    def number(self, figure: WrittenNumber, outer: Values | None = None) -> Number:
        """The figure with the basis of itself, else of the link around it, else of the file."""
        basis = figure.basis or (outer and outer["basis"]) or self.basis
        ess = figure.ess or (outer and outer["ess"]) or self.ess
        if basis is None or ess is None:
            missing = "basis" if basis is None else "ess"
            self.notes.add(
                "K021",
                figure.place,
                f"the number {figure.value:g} has no {missing}",
                "write default_basis: {basis: judgement, ess: 10} at the head of the file, or the long form",
            )
        return Number(figure.value, basis or JUDGEMENT, ess or 1.0, figure.place)

    def zero(self, place: Place, outer: Values | None) -> Number:
        """A state that is left out: never, with the basis of what stands around it."""
        basis = (outer and outer["basis"]) or self.basis or JUDGEMENT
        return Number(0.0, basis, (outer and outer["ess"]) or self.ess or 1.0, place)

    def row(self, given: Any, states: tuple[str, ...], place: Place, outer: Values | None) -> Row:
        """One number for each state but the first; a state that is not given has 0."""
        if isinstance(given, WrittenNumber):
            if len(states) > 2:
                form = "to: " if outer is not None else ""
                self._one_number(given.place, states, f"{form}{_states_form(states)}")
            given = {states[1]: given}
        self._known(given, states)
        figures = (given.get(state) for state in states[1:])
        return tuple(self.number(one, outer) if one else self.zero(place, outer) for one in figures)

    def leak(self, given: Any, states: tuple[str, ...], place: Place) -> Row:
        """The leak of each state but the first; none given means never."""
        return self.row({} if given is None else given, states, place, None)

    def links(self, cause: Word, leads_to: Mapping[Word, Any]) -> tuple[Link, ...]:
        """The links of one cause or condition."""
        parent = self.states.get(cause, BINARY)
        return tuple(
            Link(effect, self.strengths(parent, effect, given), effect.place, _source_of(given))
            for effect, given in leads_to.items()
        )

    def strengths(self, parent: tuple[str, ...], effect: Word, given: Any) -> tuple[Row, ...]:
        """The matrix of the link; empty where the effect is not known, which a rule reports."""
        states = self.states.get(effect)
        if states is None:
            return ()
        outer = given if isinstance(given, Values) else Values(effect.place, basis=None, ess=None)
        before = len(self.notes)
        by_state = self._by_state(parent, effect.place, given)
        rows = tuple(self.row(by_state.get(state, {}), states, effect.place, outer) for state in parent[1:])
        if len(self.notes) > before:
            self.notes.doubtful.add(effect)  # how strongly it is brought about
        return rows

    def _by_state(self, parent: tuple[str, ...], place: Place, given: Any) -> Mapping[str, Any]:
        """What each state of the parent, but the first, does to the effect."""
        form = _form_of(given)
        if form == "":
            self.notes.add("K026", place, "a link is written with exactly one of p, to, by_state")
            return {}
        if form == "by_state":
            self._known(given["by_state"], parent)
            by_state: Mapping[str, Any] = given["by_state"]
            return by_state
        if len(parent) > 2:
            self._one_number(place, parent, f"by_state: {_states_form(parent)}")
        if form == "p":
            given = WrittenNumber(given["p"], None, None, given.places["p"])
        return {parent[1]: given["to"] if form == "to" else given}

    def _known(self, given: Mapping[str, Any], states: tuple[str, ...]) -> None:
        for state in given:
            place = place_of(state, Place(""))
            if state not in states:
                self.notes.add("K025", place, f"there is no state `{state}`", meant(state, states))
            elif state == states[0]:
                message = f"`{state}` is the first, sound state: it has what the others leave"
                self.notes.add("K025", place, message, "leave it out")

    def _one_number(self, place: Place, states: tuple[str, ...], form: str) -> None:
        message = f"one number does not do for the states {', '.join(states)}"
        self.notes.add("K026", place, message, f"write {form}")

    def requirements(self, only_if: Mapping[Word, Any]) -> tuple[Requirement, ...]:
        """The facts that must hold."""
        return tuple(Requirement(fact, values, fact.place) for fact, values in only_if.items())

    def basis_of(self, given: Values) -> str:
        """The basis that stands there, or else the file's, or else common practice."""
        return given["basis"] or self.basis or COMMON_PRACTICE


def _names(kind: Any) -> frozenset[str]:
    """The fields of a kind of record."""
    return frozenset(one.name for one in fields(kind))


def _source_of(given: Any) -> str:
    """The published source that names the link; empty where none is given."""
    source: str | None = given["source"] if isinstance(given, Values) else None
    return source or ""


def _form_of(given: Any) -> str:
    """Which form of a link this is: number, p, to or by_state; empty for none or several of them."""
    if isinstance(given, WrittenNumber):
        return "number"
    forms = [form for form in ("p", "to", "by_state") if given[form] is not None]
    return forms[0] if len(forms) == 1 else ""


def _states_form(states: tuple[str, ...]) -> str:
    return f"{{{', '.join(f'{state}: ...' for state in states[1:])}}}"


def states_of(values: Values) -> tuple[str, ...]:
    """The states as given, or binary."""
    return values["states"] or BINARY
