"""What the values of a case mean now: the case as folded, with the states of its readings read anew.

A fact learnt or corrected later, or another value noted later, changes what a value means. Events keep what was
read; this works out what it says, so nothing has to be noted again. Pure.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from diagnose.cases.case import Case, Epoch, Measurement, Observation
from diagnose.cases.events import CONFIDENCES
from diagnose.errors import CallError
from diagnose.knowledge.away import GONE, STILL_THERE, finding_of, is_away, known_as
from diagnose.knowledge.kinds import all_generals
from diagnose.knowledge.limits import Others, depends
from diagnose.knowledge.located import kind_of, place_of
from diagnose.knowledge.readings import Meaning, meaning, open_words
from diagnose.knowledge.records import Finding, Knowledge
from diagnose.words.normal import normalise
from diagnose.words.quantity import Quantity

_REFERENCES = ("gauge", "absolute")
_SURER = CONFIDENCES  # surest first


@dataclass(frozen=True, slots=True)
class Understood:
    """The case with its readings read anew, and words on the values that say nothing as yet."""

    case: Case
    untold: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Read:
    """An observation that a value gives, or words on why it gives none."""

    seen: Observation | None = None
    untold: str = ""


def understood(knowledge: Knowledge, case: Case) -> Understood:
    """The case as the knowledge and the machine's facts now read it; the same case where nothing changes."""
    case, closer = _said_closer(knowledge, _by_place(knowledge, _taken_away(knowledge, case)))
    read = [list(_epoch(knowledge, case, number)) for number in range(len(case.epochs))]
    epochs = tuple(
        _with(epoch, [one.seen for one in seen if one.seen])
        for epoch, seen in zip(case.epochs, read, strict=True)
    )
    untold = tuple(dict.fromkeys(one.untold for seen in read for one in seen if one.untold))
    return Understood(case if epochs == case.epochs else replace(case, epochs=epochs), (*closer, *untold))


def _by_place(knowledge: Knowledge, case: Case) -> Case:
    """The case in which a finding at a place and the same finding of the whole machine agree: it is there where it
    is at a place, which says more; found gone later, it is gone at every place."""
    if not any(one.place for one in case.observations):
        return case
    epochs = []
    for epoch in case.epochs:
        seen = {one.id: one for one in (_where_it_can_be(knowledge, one) for one in epoch.observations)}
        epochs.append(replace(epoch, observations=tuple(_agreeing(knowledge, tuple(seen.values())))))
    return replace(case, epochs=tuple(epochs))


def _where_it_can_be(knowledge: Knowledge, one: Observation) -> Observation:
    """The observation; without its place where the knowledge does not tell the finding by such ones (any more)."""
    record = knowledge.findings.get(one.finding)
    fits = record is not None and record.located == kind_of(one.place) and place_of(one.place) == one.place
    return one if fits or not one.place else replace(one, place="")


def without_places(knowledge: Knowledge, case: Case) -> Case:
    """The case as the machine as a whole shows it: each finding in the worst of the states in which it was seen,
    where that was at several places. What is sound at some says nothing of the others, but for those where it was
    not sound before. The same case where no place was told."""
    if not any(one.place for one in case.observations):
        return case
    bad, epochs = dict[str, set[str]](), list[Epoch]()
    for epoch in case.epochs:
        found = tuple(_of_the_whole(knowledge, epoch.observations, bad))
        epochs.append(replace(epoch, observations=found))
    return replace(case, epochs=tuple(epochs))


def _of_the_whole(
    knowledge: Knowledge, observations: Sequence[Observation], bad: dict[str, set[str]]
) -> Iterator[Observation]:
    """One observation a finding; `bad`: where each was not sound in earlier epochs, which this one is added to."""
    of: dict[str, list[Observation]] = {}
    for one in observations:
        of.setdefault(one.finding, []).append(one)
    for id, told in of.items():
        record = knowledge.findings.get(id)
        states = record.states if record else ()
        known = [one for one in told if one.state in states]
        sound = {one.place for one in known if one.state == states[0]}
        before = bad.setdefault(id, set())
        if not any(one.place for one in told) or not known:
            yield from told[-1:]
        elif worst := [one for one in known if one.state != states[0] or not one.place]:
            yield replace(max(worst, key=lambda one: states.index(one.state)), place="")
        elif before and before <= sound:
            yield replace(known[-1], place="")
        before -= sound
        before |= {one.place for one in known if one.state != states[0]}


def _agreeing(knowledge: Knowledge, observations: Sequence[Observation]) -> Iterator[Observation]:
    for one in observations:
        record = knowledge.findings.get(one.finding)
        rest = [other for other in observations if other.finding == one.finding and record]
        if not any(_overrules(record, other, one) for other in rest if record):
            yield one


def _overrules(record: Finding, other: Observation, one: Observation) -> bool:
    """Whether another observation of the finding takes this one's place."""
    sound, gone = one.state == record.normal, other.state == record.normal
    if not one.place:
        at_least = other.state in record.states and one.state in record.states
        worse = at_least and record.states.index(other.state) >= record.states.index(one.state)
        return bool(other.place) and not gone and (worse if not sound else other.event > one.event)
    return not other.place and gone and not sound and other.event > one.event


def _said_closer(knowledge: Knowledge, case: Case) -> tuple[Case, tuple[str, ...]]:
    """The case without the general findings of which a kind was seen as surely at the same time: black smoke is
    smoke, one sign and not two. With words on them."""
    epochs, words = list[Epoch](), list[str]()
    for epoch in case.epochs:
        closer = {one.finding: by for one in epoch.observations if (by := _closer(knowledge, epoch, one))}
        kept = tuple(one for one in epoch.observations if one.finding not in closer)
        epochs.append(replace(epoch, observations=kept) if closer else epoch)
        names = ((knowledge.findings[general].name, by.name) for general, by in closer.items())
        words += [f"{general}: said more closely, {by}" for general, by in names]
    return (replace(case, epochs=tuple(epochs)) if words else case), tuple(dict.fromkeys(words))


def _closer(knowledge: Knowledge, epoch: Epoch, general: Observation) -> Finding | None:
    """A finding, seen as surely, that says this one more closely."""
    record = knowledge.findings.get(general.finding)
    if record is None or general.state == record.normal:
        return None
    seen = ((knowledge.findings.get(one.finding), one) for one in epoch.observations)
    found = (
        finding
        for finding, one in seen
        if finding
        and one.state != finding.normal
        and _SURER.index(one.confidence) <= _SURER.index(general.confidence)
    )
    return next((one for one in found if general.finding in all_generals(knowledge, one)), None)


def _taken_away(knowledge: Knowledge, case: Case) -> Case:
    """The case with its tests by taking away under their present ids, and with what they presuppose: what goes with
    a part out was there before, so the finding itself is seen too where nobody noted it."""
    epochs, shown = list[Epoch](), set[str]()
    for epoch in case.epochs:
        shown |= {one.finding for one in epoch.observations}
        seen = [_as_test(knowledge, one, shown) for one in epoch.observations]
        implied = [_implied(knowledge, one) for one in seen if finding_of(one.finding) not in shown]
        shown |= {one.finding for one in implied if one}
        epochs.append(_with(epoch, [*(one for one in implied if one), *seen]))
    came_in_for = tuple(finding_of(known_as(knowledge, id, shown)) for id in case.came_in_for)
    if tuple(epochs) == case.epochs and came_in_for == case.came_in_for:
        return case
    return replace(case, epochs=tuple(epochs), came_in_for=tuple(dict.fromkeys(came_in_for)))


def _as_test(knowledge: Knowledge, seen: Observation, others: set[str]) -> Observation:
    """A test by taking away under its own name: where that is present, the sign was gone."""
    id = known_as(knowledge, seen.finding, others)
    if id == seen.finding:
        return seen
    state = {"present": GONE, "absent": STILL_THERE}.get(seen.state, seen.state)
    return replace(seen, finding=id, state=state)


def _implied(knowledge: Knowledge, test: Observation) -> Observation | None:
    """What a test by taking away looks at, seen in its mildest state; None for what is no such test."""
    finding = knowledge.findings.get(finding_of(test.finding)) if is_away(test.finding) else None
    if finding is None:
        return None
    return replace(test, finding=finding.id, state=finding.states[1], value=None, unit="", code="")


def values_known(knowledge: Knowledge, case: Case, epoch: int = -1) -> Others:
    """The latest value of each quantity up to an epoch (the last by default), by its normalised name."""
    known: dict[tuple[str, ...], Quantity] = {}
    for one in case.epochs[: epoch + 1 or None]:
        values = [*_observed(knowledge, one), *((m.event, m.quantity, quantity_of(m)) for m in one.measured)]
        known |= {normalise(name): value for _, name, value in sorted(values, key=lambda item: item[0])}
    return known


def quantity_of(seen: Measurement | Observation) -> Quantity:
    """The value with its unit."""
    unit, _, reference = seen.unit.rpartition(" ")
    value = seen.value or 0.0
    return Quantity(value, unit, reference) if reference in _REFERENCES else Quantity(value, seen.unit)


def _observed(knowledge: Knowledge, epoch: Epoch) -> Iterator[tuple[int, str, Quantity]]:
    for seen in epoch.observations:
        finding = knowledge.findings.get(seen.finding)
        if finding and finding.reading and seen.value is not None:
            yield seen.event, finding.reading.quantity, quantity_of(seen)


def _with(epoch: Epoch, seen: list[Observation]) -> Epoch:
    """The latest observation of each finding, and of each place of it, in order of event."""
    latest: dict[str, Observation] = {}
    for one in sorted(seen, key=lambda one: one.event):
        latest.pop(one.id, None)
        latest[one.id] = one
    found = tuple(latest.values())
    return epoch if found == epoch.observations else replace(epoch, observations=found)


def _epoch(knowledge: Knowledge, case: Case, number: int) -> Iterator[_Read]:
    epoch, others = case.epochs[number], values_known(knowledge, case, number)
    for seen in epoch.observations:
        yield _again(knowledge, case, seen, others)
    for measured in epoch.measured:
        yield from _measured(knowledge, case, measured, others)


def _again(knowledge: Knowledge, case: Case, seen: Observation, others: Others) -> _Read:
    """An observation by its value; as it was noted where it has none, or where its limits depend on nothing."""
    finding = knowledge.findings.get(seen.finding)
    if seen.value is None or finding is None or finding.reading is None or not depends(finding.reading):
        return _Read(seen)
    found = _meaning(knowledge, case, finding.reading.quantity, quantity_of(seen), others)
    if isinstance(found, str):
        return _Read(untold=found)
    state = dict(found.states).get(seen.finding, seen.state)
    return _Read(seen if state == seen.state else replace(seen, state=state))


def _measured(knowledge: Knowledge, case: Case, one: Measurement, others: Others) -> Iterator[_Read]:
    found = _meaning(knowledge, case, one.quantity, quantity_of(one), others)
    if isinstance(found, str):
        yield _Read(untold=found)
        return
    for finding, state in found.states:
        yield _Read(
            Observation(finding, state, one.confidence, one.value, one.unit, one.text, one.event, one.epoch)
        )


def _meaning(knowledge: Knowledge, case: Case, name: str, value: Quantity, others: Others) -> Meaning | str:
    """What a value means, or why it means nothing as yet."""
    try:
        found = meaning(knowledge, name, value, case.machine.facts, others)
    except CallError as error:
        return f"{name} {value}: {error}"
    if found.missing:
        return open_words(knowledge, name, value, found.missing)
    return found.problem or found
