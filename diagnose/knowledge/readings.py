"""Measured values: the quantity that words mean, and what a value of it means on this machine.

Limits follow the machine's facts and other readings. Where a fact is not known, the value may decide it; where it
does not, and the fact makes a difference, what the value means is left open until the fact is known.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import product

from diagnose.errors import CallError
from diagnose.knowledge import limits
from diagnose.knowledge.bands import Given, Reading
from diagnose.knowledge.limits import Others
from diagnose.knowledge.lookup import is_clear
from diagnose.knowledge.records import Finding, Knowledge
from diagnose.words.likeness import Match, Phrase, build_index, search
from diagnose.words.normal import normalise
from diagnose.words.quantity import Quantity, split_reading
from diagnose.words.units import parse_unit

CLEAR_WITH_UNIT = 80.0  # words that mean a quantity, where its unit agrees and nothing else comes near
_STATE_WORDS = re.compile(
    r"\b(is|too|very|low|high|normal|out of range|wrong|off|bad|below|above|down|not|no)\b"
)

States = tuple[tuple[str, str], ...]
Facts = Mapping[str, str]

_UNKNOWN = "is no quantity that the knowledge knows."


@dataclass(frozen=True, slots=True)
class Meaning:
    """What a value means: (finding id, state) of every finding that shares the quantity, and `learnt`, the facts
    that the value itself decides. `unless`: other quantities, not measured yet, that would change it.

    `missing`: the fact that must be known first; `problem`: why the value cannot be. No states in either case, nor
    for a quantity that only other limits depend on.
    """

    states: States = ()
    learnt: Facts = field(default_factory=dict)
    missing: str = ""
    problem: str = ""
    unless: tuple[Given, ...] = ()


def meaning(
    knowledge: Knowledge, name: str, quantity: Quantity, facts: Facts, others: Others | None = None
) -> Meaning:
    """What a value of the quantity means on a machine with these facts, `others` measured beside it.

    A value that means trouble whatever the facts are is taken so. Else facts that it does not fit are ruled out:
    nothing left is a problem; one reading left is its meaning. Raises CallError for a bare number, a unit of
    another dimension, absolute against gauge pressure, or an unknown quantity.
    """
    shared = _Shared(knowledge, _sharing(knowledge, name), quantity, others or {})
    if not shared.findings:
        _check_given(knowledge, name, quantity)
        return Meaning()
    doubted = {one.fact for finding in shared.findings for one in _reading(finding).fits}
    anyhow = {shared.states(one) for one in shared.assumptions(facts, doubted)}
    possible = [one for one in shared.assumptions(facts, ()) if shared.fits(one)]
    if len(anyhow) == 1 and shared.trouble(*anyhow):
        return Meaning(anyhow.pop(), unless=shared.unless([facts]))
    if not possible:
        return Meaning(problem=_does_not_fit(knowledge, name, quantity, facts, shared.findings))
    if len({shared.states(one) for one in possible}) > 1:
        return Meaning(missing=shared.deciding(possible, facts))
    learnt = {fact: one for fact, one in possible[0].items() if fact not in facts}
    learnt = {fact: one for fact, one in learnt.items() if all(other[fact] == one for other in possible)}
    return Meaning(shared.states(possible[0]), learnt, unless=shared.unless(possible))


def states_for(
    knowledge: Knowledge,
    name: str,
    quantity: Quantity,
    facts: Facts | None = None,
    others: Others | None = None,
) -> States:
    """The states of `meaning`. Raises CallError also where a fact must be known first, or the value cannot be."""
    found = meaning(knowledge, name, quantity, facts or {}, others)
    if found.problem or found.missing:
        raise CallError(found.problem or open_words(knowledge, name, quantity, found.missing))
    return found.states


def open_words(knowledge: Knowledge, name: str, quantity: Quantity, fact: str) -> str:
    """What must be known first."""
    known = knowledge.facts[fact]
    first, *rest = known.values
    return f'{name} {quantity}: {known.question} Add it: --fact "{fact}={first}" (or {", ".join(rest)})'


def quantities(knowledge: Knowledge) -> tuple[str, ...]:
    """The names of all quantities that findings are set from, or limits depend on, in file order."""
    names = [reading.quantity for _, reading in _readings(knowledge)]
    return tuple(dict.fromkeys([*names, *(one.quantity for one in _given(knowledge))]))


def find_quantity(knowledge: Knowledge, words: str) -> str:
    """The quantity that the words mean, by its name or the names and aliases of findings that carry it.

    Raises CallError with suggestions when none or several come near.
    """
    matches = _quantities_like(knowledge, words)
    if matches and is_clear(matches):
        return matches[0].id
    raise _not_clear(words, matches)


def reading_of(knowledge: Knowledge, text: str) -> tuple[str, Quantity] | None:
    """The quantity's name and the value in a text, or None when the text is no reading.

    Where the words alone leave a choice, the unit may settle it ("battery 12.4 V"). Text that only happens
    to hold a number ("misfire cylinder 3", "cranked 10 s") is no reading. Raises CallError as `split_reading`
    does, and when several quantities fit.
    """
    split = split_reading(text)
    if split is None:
        return None
    words, quantity = split
    matches = _quantities_like(knowledge, words)
    if not matches or not is_clear(matches):
        matches = tuple(match for match in matches if _fits_unit(knowledge, match.id, quantity))
    if not matches:
        return None
    if not is_clear(matches, CLEAR_WITH_UNIT):
        raise _not_clear(words, matches)
    return matches[0].id, quantity


# ---- value -> states ----


@dataclass(frozen=True, slots=True)
class _Shared:
    """One value and the findings that are set from it."""

    knowledge: Knowledge
    findings: tuple[Finding, ...]
    quantity: Quantity
    others: Others

    def assumptions(self, facts: Facts, doubted: Iterable[str]) -> list[Facts]:
        """Every way the facts in question can be; known ones as they are, unless doubted."""
        names = [f for f in limits.facts_of(map(_reading, self.findings)) if f in self.knowledge.facts]
        known = {name: facts[name] for name in names if name in facts and name not in doubted}
        values = [(known[n],) if n in known else self.knowledge.facts[n].values for n in names]
        return [dict(zip(names, way, strict=True)) for way in product(*values)]

    def states(self, facts: Facts) -> States:
        return tuple(
            (one.id, limits.state(one, self._value(one), facts, self.others)) for one in self.findings
        )

    def fits(self, facts: Facts) -> bool:
        return all(limits.fits(_reading(one), self._value(one), facts) for one in self.findings)

    def trouble(self, states: States) -> bool:
        """Some finding is not in its first, sound state."""
        return any(self.knowledge.findings[id].normal != state for id, state in states)

    def deciding(self, possible: Sequence[Facts], facts: Facts) -> str:
        """The first unknown fact that alone makes a difference, else the first unknown one."""
        unknown = [fact for fact in possible[0] if fact not in facts]
        return next((fact for fact in unknown if self._alone(fact, possible)), unknown[0])

    def _alone(self, fact: str, possible: Sequence[Facts]) -> bool:
        by_rest: dict[frozenset[tuple[str, str]], set[States]] = {}
        for one in possible:
            rest = frozenset((name, value) for name, value in one.items() if name != fact)
            by_rest.setdefault(rest, set()).add(self.states(one))
        return any(len(states) > 1 for states in by_rest.values())

    def unless(self, possible: Iterable[Facts]) -> tuple[Given, ...]:
        """The widest of what was not measured and would give another state: the last of each quantity."""
        found = [
            given
            for facts in possible
            for one in self.findings
            for given in limits.would_change(one, self._value(one), facts, self.others)
        ]
        return tuple({given.quantity: given for given in found}.values())

    def _value(self, finding: Finding) -> float:
        reading = _reading(finding)
        return limits.in_unit(self.quantity, reading.unit, reading.quantity)


def _reading(finding: Finding) -> Reading:
    assert finding.reading is not None
    return finding.reading


def _does_not_fit(
    knowledge: Knowledge, name: str, quantity: Quantity, facts: Facts, findings: Iterable[Finding]
) -> str:
    spans = [
        f"{knowledge.facts[one.fact].name} {one.value}: {limits.span_words(one.below, one.above, reading.unit)}"
        for reading in map(_reading, findings)
        for one in reading.fits
        if facts.get(one.fact) == one.value
    ]
    return (
        f"{name} {quantity} does not fit this machine ({'; '.join(dict.fromkeys(spans))}). Measure the whole set; "
        "then correct the value or the fact, or name the finding and its state in words"
    )


def _check_given(knowledge: Knowledge, name: str, quantity: Quantity) -> None:
    """The value is in a unit of its quantity, on which only other limits depend."""
    for given in _given(knowledge):
        if normalise(given.quantity) == normalise(name):
            limits.in_unit(quantity, given.unit, given.quantity)
            return
    raise CallError(f"{name!r} {_UNKNOWN}", quantities(knowledge)[:3])


# ---- words -> quantity ----


def _sharing(knowledge: Knowledge, name: str) -> tuple[Finding, ...]:
    wanted = normalise(name)
    return tuple(one for one, reading in _readings(knowledge) if normalise(reading.quantity) == wanted)


def _readings(knowledge: Knowledge) -> Iterator[tuple[Finding, Reading]]:
    for finding in knowledge.findings.values():
        if finding.reading:
            yield finding, finding.reading


def _given(knowledge: Knowledge) -> Iterator[Given]:
    for _, reading in _readings(knowledge):
        yield from (one.given for one in reading.where if one.given)


def _quantities_like(knowledge: Knowledge, words: str) -> tuple[Match, ...]:
    return search(build_index(tuple(_quantity_phrases(knowledge))), words)


def _not_clear(words: str, matches: tuple[Match, ...]) -> CallError:
    what = "does not clearly name one quantity." if matches else _UNKNOWN
    return CallError(f"{words!r} {what}", [match.id for match in matches[:3]])


def _fits_unit(knowledge: Knowledge, name: str, quantity: Quantity) -> bool:
    """The unit has the dimension that the quantity is measured in."""
    if not quantity.unit:
        return False
    wanted = (parse_unit(one.unit) for one in _measured_as(knowledge) if one.quantity == name)
    given = parse_unit(quantity.unit)
    return any(limits.as_wanted(given, unit).dimension == unit.dimension for unit in wanted)


def _measured_as(knowledge: Knowledge) -> Iterator[Reading | Given]:
    yield from (reading for _, reading in _readings(knowledge))
    yield from _given(knowledge)


def quantity_names(knowledge: Knowledge) -> Iterator[tuple[str, str, str]]:
    """Every quantity with its unit and one of the texts that name it: its own name, and what findings that are set
    from it are called, without the words for their states."""
    for finding, reading in _readings(knowledge):
        names = (finding.name, finding.id.replace("_", " "), *finding.aliases)
        bare = (" ".join(_STATE_WORDS.sub(" ", name.lower()).split()) for name in names)
        for text in dict.fromkeys((reading.quantity, *bare)):
            yield reading.quantity, reading.unit, text
    for given in dict.fromkeys(_given(knowledge)):
        for text in (given.quantity, *given.aliases):
            yield given.quantity, given.unit, text


def _quantity_phrases(knowledge: Knowledge) -> Iterator[Phrase]:
    for quantity, _, text in quantity_names(knowledge):
        yield Phrase(quantity, "reading", text, normalise(text))
