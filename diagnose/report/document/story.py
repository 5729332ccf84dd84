"""The steps of a case: how each moved the causes, the traces of the leading ones, and which were excluded."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from itertools import pairwise

from diagnose.cases.complained import complained_of
from diagnose.cases.events import Noted, Repaired
from diagnose.diagnosis import RankedCause
from diagnose.knowledge.records import Knowledge
from diagnose.plain import small
from diagnose.planning.keep_running import RAISED
from diagnose.report.document.case_record import (
    CaseStep,
    Excluded,
    ProbabilityChange,
    Story,
    Trace,
    WeighedFinding,
)
from diagnose.report.document.record_words import entry_words, name_of, typed_words
from diagnose.report.document.replay import CaseEntry, Moment

SHOWN_MOVES = 3  # causes named at a step
WORTH_SHOWING = 0.01
"""Change of a probability below which a step is not said to have moved a cause."""
NOTICEABLE = 0.03  # probability that a cause must have had before or after a step to be named there
MOST_TRACES = 5  # lines of the picture, one a colour
WORTH_A_LINE = 0.1
"""Probability that a cause must have had at some time to be drawn."""
THOUGHT_OF = 0.05
"""Probability from which on a cause counts as thought of."""
HARDLY_LEFT = 0.05  # probability (judgement)
FALLEN = 3.0
"""A cause is excluded where its probability has fallen by this factor, below `HARDLY_LEFT`."""
TELLING_DECIBANS = 1.0
"""Decibans by which a finding must have lowered a cause to be told as the reason: a factor of 1.26."""


def story(knowledge: Knowledge, moments: Sequence[Moment], named: Iterable[str]) -> Story:
    """What happened, in order. `named`: causes whose traces are wanted in any case (those found at the end)."""
    if not moments:
        return Story((), (), ())
    before = [moments[0], *moments[:-1]]
    steps = tuple(
        _step(knowledge, number, was, now)
        for number, (was, now) in enumerate(zip(before, moments, strict=True), 1)
    )
    telling = [n for n, moment in enumerate(moments) if n == 0 or moment.entry.telling]
    known = [n for n in telling if moments[n].diagnosis is not None]
    # The opening is the start; every other moment is that after its step.
    return Story(steps, tuple(n + 1 if n else 0 for n in known), _traces(knowledge, moments, known, named))


def noted_by(told: Story) -> tuple[str, ...]:
    """Those who said that they noted something, each once."""
    return tuple(dict.fromkeys(step.by for step in told.steps if step.by))


def _step(knowledge: Knowledge, number: int, was: Moment, now: Moment) -> CaseStep:
    entry = now.entry
    return CaseStep(
        number,
        tuple(event.sequence for event in entry.events),
        entry.first.time,
        entry.first.kind,
        entry_words(knowledge, entry),
        entry_words(knowledge, entry, plain=True),
        typed_words(entry.first),
        moves(knowledge, was, now) if entry.telling and was is not now else (),
        now.impossible if entry.telling else (),
        entry.first.by,
    )


def moves(
    knowledge: Knowledge, was: Moment, now: Moment, most: int = SHOWN_MOVES
) -> tuple[ProbabilityChange, ...]:
    """The causes whose probability changed most; none where one of the two is not known."""
    if was.diagnosis is None or now.diagnosis is None:
        return ()
    found = [
        _move(knowledge, id, was.probabilities[id], after)
        for id, after in now.probabilities.items()
        if id in was.probabilities and max(after, was.probabilities[id]) >= NOTICEABLE
    ]
    large = [one for one in found if abs(one.after - one.before) >= WORTH_SHOWING]
    return tuple(sorted(large, key=lambda one: -abs(one.after - one.before))[:most])


def _move(knowledge: Knowledge, id: str, before: float, after: float) -> ProbabilityChange:
    return ProbabilityChange(
        id, name_of(knowledge.causes, id), before, after, decibans(after) - decibans(before)
    )


def decibans(p: float) -> float:
    """10 log10 of the odds of a probability, which is kept off 0 and 1 by a thousand millionth (Good 1950)."""
    p = min(max(p, 1e-9), 1 - 1e-9)
    return 10 * math.log10(p / (1 - p))


def _traces(
    knowledge: Knowledge, moments: Sequence[Moment], known: Sequence[int], named: Iterable[str]
) -> tuple[Trace, ...]:
    """The causes found, those repaired, those that lead now, those that led before; but for those found only what
    was ever likely enough. Each at the moments that tell something."""
    shown = [moments[n] for n in known]
    seen = [moment for moment in shown if moment.diagnosis and moment.diagnosis.evidence]
    repaired = [id for moment in moments for id in _covered(moment)]
    wanted = dict.fromkeys([*named, *repaired, *(_raised(seen[-1], 3) if seen else ())])
    wanted |= dict.fromkeys(id for moment in seen for id in _raised(moment, 1))
    wanted |= dict.fromkeys(_raised(seen[-1], MOST_TRACES) if seen else ())
    everywhere = [id for id in wanted if all(id in moment.probabilities for moment in shown)]
    traces = [
        Trace(
            id,
            name_of(knowledge.causes, id),
            tuple(moment.probabilities[id] for moment in shown),
            _repaired(moments, id),
        )
        for id in everywhere
    ]
    rose = [one for one in traces if one.id in set(named) or max(one.values) >= WORTH_A_LINE]
    return tuple((rose or traces)[:MOST_TRACES])


def _covered(moment: Moment) -> tuple[str, ...]:
    event = moment.entry.first
    return event.causes if isinstance(event, Repaired) else ()


def _leading(moment: Moment, most: int) -> list[str]:
    """The likeliest causes that can be behind what was found."""
    causes = moment.diagnosis.causes if moment.diagnosis else ()
    return [cause.id for cause in causes if cause.relevant][:most]


def raised(cause: RankedCause) -> bool:
    """Whether what was found has made a cause likelier than on any machine that comes in."""
    return cause.probability >= RAISED * cause.prior


def _raised(moment: Moment, most: int) -> list[str]:
    """The likeliest of them that what was found has made likelier than on any machine."""
    causes = moment.diagnosis.causes if moment.diagnosis else ()
    return [cause.id for cause in causes if cause.relevant and raised(cause)][:most]


def excluded(knowledge: Knowledge, moments: Sequence[Moment], found: Iterable[str]) -> tuple[Excluded, ...]:
    """Causes that were thought of and are hardly left, those thought likeliest first; not those found at the end,
    and none where what is known now cannot be."""
    last = moments[-1]
    if last.diagnosis is None:
        return ()
    highest: dict[str, float] = {}
    for moment in moments:
        if moment.diagnosis and moment.diagnosis.evidence:
            for id in _leading(moment, len(moment.probabilities)):
                highest[id] = max(highest.get(id, 0.0), moment.probabilities[id])
    thought_of = {id: p for id, p in highest.items() if p >= THOUGHT_OF and id not in set(found)}
    gone = [id for id, p in thought_of.items() if _hardly_left(p, last.probabilities.get(id))]
    return tuple(
        _excluded(knowledge, moments, id, highest[id]) for id in sorted(gone, key=lambda id: -highest[id])
    )


def _hardly_left(highest: float, now: float | None) -> bool:
    return now is None or (now < HARDLY_LEFT and now * FALLEN <= highest)


def _excluded(knowledge: Knowledge, moments: Sequence[Moment], id: str, highest: float) -> Excluded:
    return Excluded(
        id,
        name_of(knowledge.causes, id),
        highest,
        moments[-1].probabilities.get(id, 0.0),
        _against(knowledge, moments, id),
        _repaired(moments, id),
    )


def _against(knowledge: Knowledge, moments: Sequence[Moment], id: str) -> tuple[WeighedFinding, ...]:
    """The findings that spoke most against the cause when they came."""
    found, repaired = [], False
    for was, now in pairwise(moments):
        repaired = repaired or isinstance(now.entry.first, Repaired)
        if now.entry.telling and not isinstance(now.entry.first, Repaired):
            fell = decibans(was.probabilities.get(id, 0.0)) - decibans(now.probabilities.get(id, 0.0))
            if fell >= TELLING_DECIBANS and was.diagnosis and now.diagnosis:
                of = complained_of(knowledge, now.diagnosis.case) if repaired else ()
                found.append(_weighed(knowledge, now.entry, -fell, of))
    return tuple(sorted(found, key=lambda one: one.decibans)[:2])


def _weighed(
    knowledge: Knowledge, entry: CaseEntry, weight: float, complaints: tuple[str, ...]
) -> WeighedFinding:
    """What weighed; `complaints`: those of a repaired machine, which may be gone."""
    event = entry.first
    if isinstance(event, Noted) and event.finding in complaints:
        finding = knowledge.findings[event.finding]
        if event.state == finding.normal:
            gone = f"the complaint is gone ({small(finding.name)})"
            return WeighedFinding(gone, gone, weight)
    return WeighedFinding(entry_words(knowledge, entry), entry_words(knowledge, entry, plain=True), weight)


def _repaired(moments: Sequence[Moment], id: str) -> int:
    """The number of the last step that dealt with the cause."""
    done = [
        n
        for n, moment in enumerate(moments, 1)
        if isinstance(moment.entry.first, Repaired) and id in moment.entry.first.causes
    ]
    return done[-1] if done else 0
