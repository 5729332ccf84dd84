"""The cylinder or bank at which something was seen: what points to the same one points to one cause there.

What the knowledge has `per: cylinder` each cylinder has by itself. Where findings were told with their places, that
part of the knowledge which stands above them is written out once for each place told, and once for all the others
together (`elsewhere`); the machine's own variable of such a record is the worst of these. A number that spoke of
the machine is parted so that all copies together have it: P(at most t) becomes P(at most t)^s, s the share of the
place (1 / n). What is no such record but leads to one, a common cause, strikes one place, each as likely as the
other, or now and then several, and so each of its links by itself (strikes.py). A cause at `one or more cylinders`
strikes so once, for all that it leads to. So the place of one finding alone says next to nothing; two at one place
have a cause in common that two at different places have not; and the network is one like any other.

Where nobody has told how many cylinders there are, s is the mean of 1 / n over machines that have so many.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import Any

import numpy as np

from diagnose.errors import Place
from diagnose.knowledge.located import CYLINDERS, LOCATED, apart, at, kind_of, number_of
from diagnose.knowledge.number import Number
from diagnose.knowledge.records import BINARY, Cause, Condition, Finding, Knowledge, Link
from diagnose.network.arising import Arising
from diagnose.network.build import build
from diagnose.network.built import Built
from diagnose.network.facts import Facts
from diagnose.network.history import History, Renewal, Stretch
from diagnose.network.machine import Machine
from diagnose.network.strikes import ELSEWHERE, SPOTS_SEVERAL, itself, strike, struck, to_strike

BANKS = 2  # of an engine that has them
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
                id: tuple(copies)
                for id, copies in self.copies.items()
                if id in there or id not in self.knowledge.causes
            },
            strikes=dict(self._strikes()),
        )

    @cached_property
    def _spots(self) -> tuple[str, ...]:
        """The causes that are one for the machine, at one place or several."""
        causes = self.knowledge.causes
        return tuple(id for id in self.copies if id in causes and causes[id].several)

    @cached_property
    def _split_causes(self) -> tuple[str, ...]:
        """The causes that each place has by itself."""
        return tuple(id for id in self.copies if id in self.knowledge.causes and id not in self._spots)

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
        """The ids of the causes or conditions that it is written out into; its own where it is not."""
        return (id,) if id in self._spots else tuple(self.copies.get(id, (id,)))

    # ---- the records ----

    def _causes(self) -> Iterator[tuple[str, Cause]]:
        for id, cause in self.knowledge.causes.items():
            if id in self._spots:
                spot = to_strike(id, itself(id, cause.place), self.copies[id], SPOTS_SEVERAL)
                yield id, replace(cause, leads_to=(*self._machine_wide(cause), spot))
            elif id in self.copies:
                for copy in self.copies[id]:
                    yield copy, replace(cause, id=copy, leads_to=self._own(cause, copy, BINARY))
            else:
                yield id, replace(cause, leads_to=self._spread(cause, cause.leads_to))

    def _conditions(self) -> Iterator[tuple[str, Condition]]:
        for id in self._spots:
            cause = self.knowledge.causes[id]
            where = strike(id, itself(id, cause.place), self.copies[id])
            yield where.id, where
            for copy in self.copies[id]:
                near = self._near(cause, apart(copy)[1])
                yield (
                    copy,
                    Condition(copy, cause.name, cause.system, "", BINARY, where.leak[:1], near, cause.place),
                )
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
                    where = strike(parent.id, link, self.copies[link.effect])
                    yield where.id, where

    def _strikes(self) -> Iterator[tuple[str, str]]:
        """The id of where each link strikes, and what it strikes."""
        for parent in self._parents():
            for link in parent.leads_to:
                yield struck(parent.id, link.effect), link.effect
        yield from ((struck(id, id), id) for id in self._spots)

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
        id, place = apart(copy)
        return (*self._near(parent, place), _as_it_is(id, states, parent.place))

    def _near(self, parent: Parent, place: str) -> tuple[Link, ...]:
        """The links to what is at the same place."""
        links = (one for one in parent.leads_to if self._goes_along(parent, one))
        return tuple(replace(one, effect=at(one.effect, place)) for one in links)

    def _goes_along(self, parent: Parent, link: Link) -> bool:
        return link.effect in self.copies and self._kind(link.effect) == parent.located

    def _machine_wide(self, parent: Parent) -> tuple[Link, ...]:
        return self._spread(parent, (one for one in parent.leads_to if not self._goes_along(parent, one)))

    def _spread(self, parent: Parent, links: Iterable[Link]) -> tuple[Link, ...]:
        """The links, those to what is written out by way of where they strike."""
        return tuple(to_strike(parent.id, one, self.copies.get(one.effect, {})) for one in links)

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
        for id in self._ids(cause):
            share = self.copies[cause][id] if id != cause else 1.0
            yield id, replace(renewal, infant=1 - (1 - renewal.infant) ** share) if id != cause else renewal

    def _stretch(self, one: Stretch) -> Stretch:
        return replace(one, carried={copy: p for id, p in one.carried.items() for copy in self._ids(id)})


def parted(above: tuple[Number, ...], share: float) -> tuple[Number, ...]:
    """P(each state but the first) of one part of what has these in all: the parts are independent, their worst has
    the distribution of the whole."""
    values = [number.value for number in above]
    at_most = np.clip(1 - np.cumsum(values[::-1])[::-1], 0.0, 1.0) ** share  # P(below state t)
    own = np.diff([*at_most, 1.0])
    return tuple(replace(number, value=float(p)) for number, p in zip(above, own, strict=True))


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
