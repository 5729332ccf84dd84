"""Sections as read -> records. Every problem is noted; a number or link with one is still built, so that
the rules see the rest of the record.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from diagnose.errors import Place
from diagnose.knowledge.fields import Figure, Notes, Values, Word, meant, place_of
from diagnose.knowledge.misleading import MISLEADS
from diagnose.knowledge.records import (
    BINARY,
    JUDGEMENT,
    PER,
    Access,
    Age,
    Alternative,
    Band,
    Brought,
    Carried,
    Cause,
    Check,
    Condition,
    Cure,
    Damage,
    Fact,
    Family,
    Finding,
    Fits,
    Given,
    Hazard,
    Life,
    Link,
    Modifier,
    Number,
    Part,
    Reading,
    Removable,
    Repair,
    Requirement,
    Scale,
    Source,
    Told,
)

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

    def number(self, figure: Figure, outer: Values | None = None) -> Number:
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
        if isinstance(given, Figure):
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
            given = Figure(given["p"], None, None, given.places["p"])
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

    def shares(self, given: Mapping[str, Figure], values: tuple[str, ...], place: Place) -> Row:
        """One number for each value of a fact, 0 where none is given; empty where none is at all."""
        if not given:
            return ()
        return tuple(self.number(given[one]) if one in given else self.zero(place, None) for one in values)

    def frequency(self, id: Word, values: Values) -> tuple[Number, str]:
        """How often a cause arises, and what that counts."""
        given = [name for name in PER if values[name] is not None]
        if len(given) != 1:
            stands = f"has {', '.join(given)}" if given else "has none"
            message = f"a cause has exactly one of {', '.join(PER)}; `{id}` {stands}"
            self.notes.add("K028", id.place, message, "see docs/knowledge-format.md, Causes")
        per = given[0] if given else "share"
        return (self.number(values[per]) if given else self.zero(id.place, None)), per

    def age(self, given: Values | None) -> Age | None:
        """How age raises the hazard."""
        if given is None:
            return None
        return Age(self.number(given["shape"]), given["reference"], given.place, given["as_machine"])

    def modifiers(self, facts: Mapping[Word, Mapping[Word, Figure]]) -> tuple[Modifier, ...]:
        """The odds of each value of each fact."""
        return tuple(
            Modifier(fact, value, self.number(odds))
            for fact, by_value in facts.items()
            for value, odds in by_value.items()
        )

    def reading(self, given: Values | None) -> Reading | None:
        """The measured quantity, its bands, and what they depend on."""
        if given is None:
            return None
        return Reading(
            quantity=given["quantity"],
            unit=given["unit"],
            bands=_bands(given),
            basis=self.basis_of(given),
            place=given.place,
            scale=tuple(Scale(fact, value, by, value.place) for fact, value, by in _by_value(given["scale"])),
            where=tuple(self.alternative(one) for one in given["where"] or ()),
            fits=tuple(
                Fits(fact, value, span["below"], span["above"], value.place)
                for fact, value, span in _by_value(given["fits"])
            ),
        )

    def alternative(self, values: Values) -> Alternative:
        """Other bands, and where they hold."""
        other = values["given"]
        given = other and Given(
            other["quantity"], other["aliases"], other["unit"], other["below"], other["above"], other.place
        )
        facts = self.requirements(values["facts"] or {})
        return Alternative(facts, given, _bands(values), self.basis_of(values), values.place)

    def basis_of(self, given: Values) -> str:
        """The basis that stands there, or else the file's, or else common practice."""
        return given["basis"] or self.basis or "common practice"


def _bands(given: Values) -> tuple[Band, ...]:
    return tuple(Band(one["state"], one["below"], one["above"]) for one in given["bands"])


def _by_value(given: Mapping[Word, Mapping[Word, Any]] | None) -> Iterator[tuple[Word, Word, Any]]:
    """Each fact, value and what is said of it; entries that could not be read are left out."""
    for fact, values in (given or {}).items():
        yield from ((fact, value, one) for value, one in (values or {}).items() if one is not None)


def _source_of(given: Any) -> str:
    """The published source that names the link; empty where none is given."""
    source: str | None = given["source"] if isinstance(given, Values) else None
    return source or ""


def _form_of(given: Any) -> str:
    """Which form of a link this is: number, p, to or by_state; empty for none or several of them."""
    if isinstance(given, Figure):
        return "number"
    forms = [form for form in ("p", "to", "by_state") if given[form] is not None]
    return forms[0] if len(forms) == 1 else ""


def _states_form(states: tuple[str, ...]) -> str:
    return f"{{{', '.join(f'{state}: ...' for state in states[1:])}}}"


def states_of(values: Values) -> tuple[str, ...]:
    """The states as given, or binary."""
    return values["states"] or BINARY


def _fact(id: Word, values: Values, build: Builder) -> Fact:
    known: tuple[str, ...] = values["values"] or ()
    given = next(iter(values["shares_by"] or ()), "")
    by_value = (values["shares_by"] or {}).get(given) or {}
    return Fact(
        id=id,
        name=values["name"],
        question=values["question"],
        values=known,
        place=id.place,
        shares=build.shares(values["shares"], known, id.place),
        given=given,
        shares_by={value: build.shares(row, known, id.place) for value, row in by_value.items()},
        several=values["several"],
        starts={value: build.number(figure) for value, figure in (values["starts"] or {}).items()},
        nights={value: build.number(figure) for value, figure in (values["nights"] or {}).items()},
    )


def _family(id: Word, values: Values, build: Builder) -> Family:
    return Family(id, values["name"], values["facts"], id.place)


def _source(id: Word, values: Values, build: Builder) -> Source:
    return Source(id, values["title"], values["confidence"], id.place)


def _hazard(id: Word, values: Values, build: Builder) -> Hazard:
    basis = build.basis_of(values)
    return Hazard(
        id=id,
        name=values["name"],
        caution=values["caution"],
        basis=basis,
        words=values["words"],
        stop=values["stop"],
        place=id.place,
        suspect=values["suspect"],
        blocks=values["blocks"],
        cleared_by=values["cleared_by"],
        forbids=values["forbids"],
        above=values["above"],
        harm=values["harm"],
        short=values["short"],
    )


def _access(id: Word, values: Values, build: Builder) -> Access:
    minutes, restore = values["minutes"], values["restore"]
    hazards, without = values["hazards"], values["without"]
    return Access(id, values["name"], values["needs"], minutes, restore, hazards, id.place, without)


def _cause(id: Word, values: Values, build: Builder) -> Cause:
    frequency, per = build.frequency(id, values)
    return Cause(
        id=id,
        name=values["name"],
        system=build.system,
        part=values["part"],
        about=values["about"],
        frequency=frequency,
        per=per,
        age=build.age(values["age"]),
        modifiers=build.modifiers(values["facts"]),
        only_if=build.requirements(values["only_if"]),
        leads_to=build.links(id, values["leads_to"]),
        place=id.place,
        damage=_damage(values["damage"], build) if values["damage"] else None,
        formerly=values["formerly"],
    )


def _damage(values: Values, build: Builder) -> Damage:
    cost, running, moving = (build.number(values[name]) for name in ("cost", "running", "moving"))
    return Damage(values["what"], cost, running, moving, values.place)


def _condition(id: Word, values: Values, build: Builder) -> Condition:
    states = states_of(values)
    return Condition(
        id=id,
        name=values["name"],
        system=build.system,
        about=values["about"],
        states=states,
        leak=build.leak(values["leak"], states, values.places.get("leak", id.place)),
        leads_to=build.links(id, values["leads_to"]),
        place=id.place,
        only_if=build.requirements(values["only_if"]),
    )


def _finding(id: Word, values: Values, build: Builder) -> Finding:
    states, complaint = states_of(values), values["complaint"]
    return Finding(
        id=id,
        name=values["name"],
        system=build.system,
        kind=values["kind"],
        states=states,
        leak=build.leak(values["leak"], states, values.places.get("leak", id.place)),
        other=complaint and build.number(complaint["other"]),
        aliases=values["aliases"],
        observe=values["observe"],
        reading=build.reading(values["reading"]),
        codes=values["codes"],
        place=id.place,
        without=values["without"],
        clears=values["clears"],
        only_if=build.requirements(values["only_if"]),
        misleads=MISLEADS.get(values["kind"], 0.5) if values["misleads"] is None else values["misleads"],
        kind_of=values["kind_of"],
        general=values["general"],
        formerly=values["formerly"],
        wants=values["wants"],
    )


def _check(id: Word, values: Values, build: Builder) -> Check:
    return Check(
        id=id,
        name=values["name"],
        system=build.system,
        minutes=build.number(values["minutes"]),
        access=values["access"],
        tools=values["tools"],
        hazards=values["hazards"],
        reveals=values["reveals"],
        steps=values["steps"],
        only_if=build.requirements(values["only_if"]),
        place=id.place,
        wants=values["wants"],
        formerly=values["formerly"],
        wait=values["wait"],
    )


def _repair(id: Word, values: Values, build: Builder) -> Repair:
    return Repair(
        id=id,
        name=values["name"],
        system=build.system,
        minutes=build.number(values["minutes"]),
        access=values["access"],
        hazards=values["hazards"],
        parts=tuple(
            Part(one["name"], one["quantity"], one["price"], one["single_use"]) for one in values["parts"]
        ),
        cures=tuple(Cure(cause, build.number(p), cause.place) for cause, p in values["cures"].items()),
        infant=values["infant"] and build.number(values["infant"]),
        together=values["together"],
        verify=values["verify"],
        only_if=build.requirements(values["only_if"]),
        place=id.place,
        life=_life(values["life"], build) if values["life"] else None,
        formerly=values["formerly"],
    )


def _life(values: Values, build: Builder) -> Life:
    return Life(build.number(values["hours"]), values["shape"], values.place)


def _removable(id: Word, values: Values, build: Builder) -> Removable:
    return Removable(
        id=id,
        name=values["name"],
        system=build.system,
        ways=values["ways"] or ("out",),
        aliases=values["aliases"],
        carries=tuple(
            Carried(one, build.number(p), one.place) for one, p in (values["carries"] or {}).items()
        ),
        brings=tuple(
            Brought(effect, build.leak(given, build.states.get(effect, BINARY), effect.place), effect.place)
            for effect, given in values["brings"].items()
        ),
        watched=values["watched"],
        told=tuple(
            Told(one, test["of"] or (), test["name"], test["aliases"], one.place)
            for one, test in values["told"].items()
            if test is not None
        ),
        mistaken=values["mistaken"] and build.number(values["mistaken"]),
        by=values["by"],
        minutes=values["minutes"] and build.number(values["minutes"]),
        access=values["access"],
        tools=values["tools"],
        hazards=values["hazards"],
        steps=values["steps"],
        only_if=build.requirements(values["only_if"]),
        place=id.place,
        wants=values["wants"],
    )


BUILD: Mapping[str, Callable[[Word, Values, Builder], Any]] = {
    "facts": _fact,
    "families": _family,
    "sources": _source,
    "hazards": _hazard,
    "access": _access,
    "causes": _cause,
    "conditions": _condition,
    "findings": _finding,
    "checks": _check,
    "repairs": _repair,
    "removable": _removable,
}
