"""A first look at all cases: which stand there twice, and which findings are written down also where they are
absent."""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np

from diagnose.learning.counts import School, left_out
from diagnose.learning.jsonl import to_dict
from diagnose.learning.lesson import Lesson

ABSENT_SHARE, ABSENT_LEAST = 0.1, 2
"""A finding teaches only if it was written down as absent (in its first state) in at least this share of the
cases that mention it, and so many times (judgement)."""


MARK = 16
"""Bytes of a fingerprint."""


@dataclass(slots=True)
class CaseSurvey:
    """`sizes`: of each chunk, how many cases count; `fingerprints`: of all of these, one after the other (`MARK`
    bytes each); `names`: of the cases, a line each; `left_out`: reason -> how many; `absent`, `noted`: finding
    (complaints aside) -> in how many cases it was noted as absent, and at all."""

    cases: int = 0
    sizes: list[int] = field(default_factory=list)
    fingerprints: bytearray = field(default_factory=bytearray)
    names: bytearray = field(default_factory=bytearray)
    left_out: Counter[str] = field(default_factory=Counter)
    absent: Counter[str] = field(default_factory=Counter)
    noted: Counter[str] = field(default_factory=Counter)
    first: str = ""
    last: str = ""

    def merge(self, others: Iterable[CaseSurvey]) -> CaseSurvey:
        """This and the others together, in place."""
        for other in others:
            self.cases += other.cases
            self.sizes.extend(other.sizes)
            self.fingerprints += other.fingerprints
            self.names += other.names
            for mine, its in ((self.left_out, other.left_out), (self.absent, other.absent)):
                mine.update(its)
            self.noted.update(other.noted)
            self.first = min(filter(None, (self.first, other.first)), default="")
            self.last = max(self.last, other.last)
        return self


def survey(school: School, lessons: Iterable[Lesson]) -> CaseSurvey:
    """Look at some cases."""
    told = CaseSurvey()
    for lesson in lessons:
        told.cases += 1
        if reason := left_out(school, lesson):
            told.left_out[reason] += 1
            continue
        told.fingerprints += fingerprint(lesson)
        told.names += " ".join(lesson.case.split()).encode() + b"\n"
        told.merge([CaseSurvey(first=lesson.closed, last=lesson.closed)])
        _count_findings(school, lesson, told)
    told.sizes.append(len(told.fingerprints) // MARK)
    return told


def _count_findings(school: School, lesson: Lesson, told: CaseSurvey) -> None:
    states = {
        seen.finding: seen.state for epoch in lesson.while_broken().epochs for seen in epoch.observations
    }
    for id, state in states.items():
        finding = school.knowledge.findings.get(id)
        if finding and state in finding.states and not finding.other:
            told.noted[id] += 1
            told.absent[id] += state == finding.normal


def useful(told: CaseSurvey) -> frozenset[str]:
    """The findings that teach. Complaints do not: every case is there because of one, so that cases show them
    more often than machines do. Nor does what is written down only where it is there: it would teach that it
    always is, since that nobody wrote it down does not mean that it was looked for."""
    return frozenset(
        id for id, noted in told.noted.items() if told.absent[id] >= max(ABSENT_LEAST, ABSENT_SHARE * noted)
    )


def fingerprint(lesson: Lesson) -> bytes:
    """The same for the same content. The name of the case counts only where nothing else tells cases apart:
    neither machine number nor day."""
    values = to_dict(lesson)
    if lesson.machine.number or len(lesson.closed) == len("2024-08-17"):
        values.pop("case", None)
    values.pop("knowledge", None)
    text = json.dumps(values, sort_keys=True, ensure_ascii=True)
    return hashlib.blake2b(text.encode(), digest_size=MARK).digest()


def repeated(told: CaseSurvey) -> tuple[set[int], list[tuple[str, str]]]:
    """The places (among the cases that count) of those that were there before, and (name, name of the
    first)."""
    marks = np.frombuffer(bytes(told.fingerprints), dtype=f"V{MARK}")
    _, first, same = np.unique(marks, return_index=True, return_inverse=True)
    again = np.flatnonzero(first[same] != np.arange(len(marks))).tolist()
    names = bytes(told.names).split(b"\n") if again else []
    pairs = [(names[place].decode(), names[first[same[place]]].decode()) for place in again]
    return set(again), pairs
