"""The cylinder or bank at which something was seen: what points to the same one points to one cause there.

What the knowledge has `per: cylinder` each cylinder has by itself. Where findings were told with their places, that
part of the knowledge which stands above them is written out once for each place told, and once for all the others
together (`elsewhere`); the machine's own variable of such a record is the worst of these. A number that spoke of
the machine is parted so that all copies together have it: P(at most t) becomes P(at most t)^s, s the share of the
place (1 / n). What is no such record but leads to one, a common cause, strikes one place, each as likely as the
other, or now and then several (`SEVERAL`). So the place of one finding alone says next to nothing; two at one place
have a cause in common that two at different places have not; and the network is one like any other.

Where nobody has told how many cylinders there are, s is the mean of 1 / n over machines that have so many.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Set
from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import Any

import numpy as np

from diagnose.errors import Place
from diagnose.knowledge.located import CYLINDERS, LOCATED, apart, at, kind_of, number_of
from diagnose.knowledge.records import BINARY, Cause, Condition, Finding, Knowledge, Link, Number
from diagnose.network.arising import Arising
from diagnose.network.build import Built, build
from diagnose.network.engine import Engine
from diagnose.network.facts import Facts
from diagnose.network.history import History, Renewal, Stretch
from diagnose.network.machine import Machine
from diagnose.network.network import Array

ELSEWHERE = "elsewhere"
SEVERAL = 0.05
"""How often a common cause that shows at a cylinder or bank shows at several of them (judgement)."""
EACH = 0.5
"""P(one place is among those struck | several are) (judgement)."""
BANKS = 2
LIKELY = 0.5
"""Share from which the place of a cause is said."""
USUAL = 6
"""Cylinders, where the knowledge has no fact that counts them (common practice)."""


@dataclass(frozen=True, slots=True)
class _Here(Finding):
    """A finding at one place; it leads to that of the machine."""

    leads_to: tuple[Link, ...] = ()


Parent = Cause | Condition
Node = Cause | Condition | Finding


def build_at(knowledge: Knowledge, machine: Machine, history: History) -> Built:
    """The network, with what was observed at a place (`located.at`) at that place; where nothing was, the very
    network of `build`."""
    told = [place for id, _ in history.observed if (place := apart(id)[1])]
    return _Placed(knowledge, machine, history).built() if told else build(knowledge, machine, history)


def copies_of(built: Built) -> dict[int, int]:
    """The variable of each copy, and the machine's own one."""
    return {
        built.variable(copy): built.variable(id) for id, copies in built.places.items() for copy in copies
    }


def machine_wide(built: Built, variables: Set[int]) -> set[int]:
    """The machine's own variables of what has a copy among these."""
    network = built.network
    names = {network.names[v].partition("@")[0] for v in variables}
    return {built.variable(id) for id, copies in built.places.items() if not names.isdisjoint(copies)}


def in_the_tree(built: Built, evidence: Mapping[int, Array]) -> dict[int, Array]:
    """Evidence that says nothing, on the machine's own variables of the causes written out above the evidence: so
    they stand in the tree, where questions about them are answered."""
    wanted = machine_wide(built, built.network.ancestors(evidence)) if built.places else set()
    causes = {built.variable(id) for id in built.causes if id in built.places}
    return {v: np.ones(built.network.cards[v]) for v in sorted(wanted & causes)}


def likely_places(engine: Engine, built: Built) -> dict[str, str]:
    """Of each cause written out, the place told where it is in half of all cases or more, given that it is there at
    all."""
    found = {}
    for id in built.causes:
        for copy in built.places.get(id, ()):
            place = apart(copy)[1]
            there = [built.variable(one) for one in (copy, id)]
            if place != ELSEWHERE and engine.region.issuperset(there):
                here, all_in_all = (1 - float(engine.marginal(v)[0]) for v in there)
                if here >= LIKELY * all_in_all > 0:
                    found[id] = place
    return found


def shares(knowledge: Knowledge, machine: Machine, kind: str, places: Iterable[str]) -> Mapping[str, float]:
    """The share of each place told in all of its kind, and of those elsewhere."""
    told = sorted(places, key=lambda place: (number_of(place), place))
    share = 1 / BANKS if kind == "bank" else _cylinder(knowledge, machine, max(map(number_of, told)))
    rest = 1 - share * len(told)
    return {**dict.fromkeys(told, share), **({ELSEWHERE: rest} if rest > 1e-9 else {})}


def _cylinder(knowledge: Knowledge, machine: Machine, least: int) -> float:
    """The mean of 1 / n over machines like this one with `least` cylinders or more."""
    facts = Facts(knowledge.facts, machine.facts)
    if CYLINDERS not in knowledge.facts:
        return 1 / max(USUAL, least)
    if not facts.unknown(CYLINDERS):
        return 1 / max(int(facts.known[CYLINDERS]), least)
    counts = np.array([float(value) for value in knowledge.facts[CYLINDERS].values])
    weights = facts.joint(facts.variables(CYLINDERS)) * (counts >= least)
    return float(weights @ (1 / counts) / weights.sum()) if weights.sum() > 0 else 1 / least


@dataclass(frozen=True)
class _Placed:
    """The knowledge, machine and history written out by place."""

    knowledge: Knowledge
    machine: Machine
    history: History

    def built(self) -> Built:
        """The network, its causes those of the knowledge."""
        whole = replace(
            self.knowledge,
            causes=dict(self._causes()),
            conditions=dict(self._conditions()),
            findings=dict(self._findings()),
        )
        portions = {id: share for places in self.copies.values() for id, share in places.items()}
        renewed = {id: h for cause, h in self.machine.renewed.items() for id in self._ids(cause)}
        found = build(whole, replace(self.machine, renewed=renewed), self._told(), portions)
        arising = Arising(self.knowledge, self.machine, Facts(self.knowledge.facts, self.machine.facts))
        apart_from = {id: arising.marginal(self.knowledge.causes[id]) for id in self._split_causes}
        there = {apart(id)[0] for id in found.causes}
        return replace(
            found,
            causes=tuple(id for id in self.knowledge.causes if id in there),
            priors={**found.priors, **{id: p for id, p in apart_from.items() if id in there}},
            places={
                id: tuple(self.copies[id])
                for id in self.copies
                if id not in self._split_causes or id in there
            },
        )

    @cached_property
    def _split_causes(self) -> tuple[str, ...]:
        return tuple(id for id in self.copies if id in self.knowledge.causes)

    @cached_property
    def copies(self) -> Mapping[str, Mapping[str, float]]:
        """The copies of each record that is written out, with the share of each."""
        seen = [apart(id) for id, _ in self.history.observed]
        found: dict[str, Mapping[str, float]] = {}
        for kind in LOCATED:
            places = {place for _, place in seen if place and kind_of(place) == kind}
            if places:
                parts = shares(self.knowledge, self.machine, kind, places)
                above = self._above({id for id, place in seen if place in places}, kind)
                found |= {id: {at(id, place): share for place, share in parts.items()} for id in above}
        return found

    def _above(self, findings: Iterable[str], kind: str) -> list[str]:
        """These findings and, from them upwards, all that is there once for each place of the kind: what brings
        them about, and what they clear."""
        parents: dict[str, list[str]] = {}
        for parent in self._parents():
            if parent.located == kind:
                for link in parent.leads_to:
                    parents.setdefault(link.effect, []).append(parent.id)
        for id, finding in self.knowledge.findings.items():
            if finding.located == kind:
                parents.setdefault(id, []).extend(one for one in finding.clears if self._kind(one) == kind)
        found, waiting = dict[str, None](), sorted(findings)
        while waiting:
            id = waiting.pop()
            if id not in found:
                found[id] = None
                waiting += parents.get(id, ())
        return list(found)

    def _parents(self) -> Iterator[Parent]:
        yield from self.knowledge.causes.values()
        yield from self.knowledge.conditions.values()

    def _ids(self, id: str) -> tuple[str, ...]:
        return tuple(self.copies.get(id, (id,)))

    # ---- the records ----

    def _causes(self) -> Iterator[tuple[str, Cause]]:
        for id, cause in self.knowledge.causes.items():
            if id in self.copies:
                for copy in self.copies[id]:
                    yield copy, replace(cause, id=copy, leads_to=self._own(cause, copy, BINARY))
            else:
                yield id, replace(cause, leads_to=self._spread(cause, cause.leads_to))

    def _conditions(self) -> Iterator[tuple[str, Condition]]:
        for id in self._split_causes:
            yield id, _worst(self.knowledge.causes[id], BINARY, self._machine_wide(self.knowledge.causes[id]))
        for id, one in self.knowledge.conditions.items():
            if id in self.copies:
                yield id, _worst(one, one.states, self._machine_wide(one))
                for copy, share in self.copies[id].items():
                    own = self._own(one, copy, one.states)
                    yield copy, replace(one, id=copy, leak=parted(one.leak, share), leads_to=own)
            else:
                yield id, replace(one, leads_to=self._spread(one, one.leads_to))
        for parent in self._parents():
            for link in parent.leads_to:
                if link.effect in self.copies and not self._goes_along(parent, link):
                    yield _struck(parent, link), self._strike(parent, link)

    def _findings(self) -> Iterator[tuple[str, Finding]]:
        for id, one in self.knowledge.findings.items():
            if id not in self.copies:
                yield id, one
                continue
            yield id, replace(one, leak=_none(one.leak), other=None, clears=(), only_if=())
            for copy, share in self.copies[id].items():
                place = apart(copy)[1]
                clears = tuple(self._same(cleared, one.located, place) for cleared in one.clears)
                other = one.other and parted((one.other,), share)[0]
                leak = parted(one.leak, share)
                here = replace(one, id=copy, leak=leak, other=other, clears=clears)
                yield copy, _Here(**{**_fields(here), "leads_to": (_as_it_is(id, one.states, one.place),)})

    def _same(self, id: str, kind: str, place: str) -> str:
        """The record at the same place, where it is written out by places of this kind."""
        copy = at(id, place)
        return copy if copy in self.copies.get(id, ()) and self._kind(id) == kind else id

    def _kind(self, id: str) -> str:
        return self._nodes[id].located if id in self._nodes else ""

    @cached_property
    def _nodes(self) -> Mapping[str, Node]:
        return {**self.knowledge.causes, **self.knowledge.conditions, **self.knowledge.findings}

    # ---- the links ----

    def _own(self, parent: Parent, copy: str, states: tuple[str, ...]) -> tuple[Link, ...]:
        """The links of a copy: to what is at the same place, and to the machine's own variable of it."""
        place = apart(copy)[1]
        near = [replace(one, effect=at(one.effect, place)) for one in self._near(parent)]
        return (*near, _as_it_is(apart(copy)[0], states, parent.place))

    def _near(self, parent: Parent) -> Iterator[Link]:
        return (one for one in parent.leads_to if self._goes_along(parent, one))

    def _goes_along(self, parent: Parent, link: Link) -> bool:
        return link.effect in self.copies and self._kind(link.effect) == parent.located

    def _machine_wide(self, parent: Parent) -> tuple[Link, ...]:
        return self._spread(parent, (one for one in parent.leads_to if not self._goes_along(parent, one)))

    def _spread(self, parent: Parent, links: Iterable[Link]) -> tuple[Link, ...]:
        """The links, those to what is written out by way of where they strike."""
        return tuple(self._to_strike(parent, one) if one.effect in self.copies else one for one in links)

    def _to_strike(self, parent: Parent, link: Link) -> Link:
        """From the parent to where the effect shows: `_strike` says in which order."""
        parts = [(1 - SEVERAL) * share for share in self.copies[link.effect].values()]
        rows = (
            tuple(replace(n, value=n.value * part) for part in (*parts, SEVERAL) for n in row)
            for row in link.strengths
        )
        return replace(link, effect=_struck(parent, link), strengths=tuple(rows))

    def _strike(self, parent: Parent, link: Link) -> Condition:
        """Where one link of a common cause strikes: nowhere; at each place, in each state of the effect; at several
        places, in each state."""
        copies, states = self.copies[link.effect], range(len(link.strengths[0]))
        names = tuple(f"{at} {state}" for at in (*copies, "several") for state in states)
        leads_to = tuple(
            Link(copy, tuple(_row(state, states, p, link.place) for p in met for state in states), link.place)
            for copy, met in ((copy, _met(copies, copy)) for copy in copies)
        )
        none = tuple(Number(0.0, "", 0.0, link.place) for _ in names)
        return Condition(_struck(parent, link), "", "", "", ("nowhere", *names), none, leads_to, link.place)

    # ---- the history ----

    def _told(self) -> History:
        return History(
            tuple(
                {id: one for cause, renewal in done.items() for id, one in self._renewed(cause, renewal)}
                for done in self.history.repairs
            ),
            self.history.observed,
            tuple(self._stretch(one) for one in self.history.away),
        )

    def _renewed(self, cause: str, renewal: Renewal) -> Iterator[tuple[str, Renewal]]:
        if cause not in self.copies:
            yield cause, renewal
        for copy, share in self.copies.get(cause, {}).items():
            yield copy, replace(renewal, infant=1 - (1 - renewal.infant) ** share)

    def _stretch(self, one: Stretch) -> Stretch:
        return replace(one, carried={copy: p for id, p in one.carried.items() for copy in self._ids(id)})


def parted(above: tuple[Number, ...], share: float) -> tuple[Number, ...]:
    """P(each state but the first) of one part of what has these in all: the parts are independent, their worst has
    the distribution of the whole."""
    values = [number.value for number in above]
    at_most = np.clip(1 - np.cumsum(values[::-1])[::-1], 0.0, 1.0) ** share  # P(below state t)
    own = np.diff([*at_most, 1.0])
    return tuple(replace(number, value=float(p)) for number, p in zip(above, own, strict=True))


def _struck(parent: Parent, link: Link) -> str:
    """The id of where a link of a common cause strikes."""
    return f"{parent.id}>{link.effect}"


def _met(copies: Iterable[str], copy: str) -> list[float]:
    """P(the copy is struck), where one of the copies, in order, is struck; and where several are. What is elsewhere
    is the rest of these."""
    return [*(float(one == copy) for one in copies), 1.0 if apart(copy)[1] == ELSEWHERE else EACH]


def _row(state: int, states: range, p: float, place: Place) -> tuple[Number, ...]:
    """With this probability the effect is in this state."""
    return tuple(Number(p if one == state else 0.0, "", 0.0, place) for one in states)


def _none(above: tuple[Number, ...]) -> tuple[Number, ...]:
    return tuple(replace(number, value=0.0) for number in above)


def _fields(one: Finding) -> dict[str, Any]:
    return {part.name: getattr(one, part.name) for part in fields(one)}


def _as_it_is(effect: str, states: tuple[str, ...], place: Place) -> Link:
    """The effect is at least in the parent's state."""
    count = len(states) - 1
    number = [Number(p, "", 0.0, place) for p in (0.0, 1.0)]
    return Link(
        effect, tuple(tuple(number[row == column] for column in range(count)) for row in range(count)), place
    )


def _worst(one: Parent, states: tuple[str, ...], leads_to: tuple[Link, ...]) -> Condition:
    """The machine's own variable: as bad as the worst of the places."""
    leak = tuple(Number(0.0, "", 0.0, one.place) for _ in states[1:])
    return Condition(one.id, one.name, one.system, "", states, leak, leads_to, one.place, (), one.located)
