"""How well sentences are understood: python -m tests.words.measure FILE [--show]

Whole and right: everything said came out, in the right state, and nothing else was recorded. A question counts as
answered rightly where what was meant is among its choices.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import yaml

from diagnose.knowledge.records import Knowledge
from diagnose.understanding import TextPart, Understanding, understand
from tests.shipped import shipped_knowledge

ABSENT = ("absent", "normal")


@dataclass
class Outcome:
    """One sentence: how many things were said, how many came out at once or after a question, and what is wrong."""

    say: str
    said: int
    sure: int = 0
    asked: int = 0
    missing: list[str] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)
    questions: int = 0
    whole_after_key: bool = False
    """Whole and right where one key takes the likeliest meaning of every doubtful part, as a terminal offers it."""
    understanding: Understanding | None = None

    @property
    def whole(self) -> bool:
        """Whole and right without a question."""
        return not self.missing and not self.wrong and not self.questions and not self.asked

    @property
    def whole_after_one(self) -> bool:
        """Whole and right after at most one question."""
        return not self.missing and not self.wrong and self.questions <= 1


def sentences(path: Path) -> list[tuple[str, list[list[str]]]]:
    """Each sentence with what it means: for every thing said the ways to mean it."""
    rows = yaml.safe_load(path.read_text(encoding="utf-8"))
    return [
        (row["say"], [[way.strip() for way in str(part).split(" | ")] for part in row["parts"]])
        for row in rows
    ]


def outcome(knowledge: Knowledge, say: str, meant: Sequence[Sequence[str]]) -> Outcome:
    """What came of one sentence."""
    found = understand(knowledge, say)
    result = Outcome(say, len(meant), understanding=found)
    result.questions = len(found.doubtful)
    for ways in meant:
        if any(_sure(found, way) for way in ways):
            result.sure += 1
        elif any(_asked(found, way) for way in ways):
            result.asked += 1
        else:
            result.missing.append(" | ".join(ways))
    allowed = {way for ways in meant for way in ways}
    result.wrong = list(_wrong(found, allowed))
    taken = _likeliest_taken(found)
    every = all(any(_sure(taken, way) for way in ways) for ways in meant)
    result.whole_after_key = every and not list(_wrong(taken, allowed))
    return result


def _likeliest_taken(found: Understanding) -> Understanding:
    """What comes of it where the first meaning of every doubtful part is taken."""
    return replace(found, parts=tuple(part if part.sure else _first(part) for part in found.parts))


def _first(part: TextPart) -> TextPart:
    best = part.alternatives[0]
    state = best.state if part.kind == "finding" else part.state
    return replace(part, id=best.id, state=state, unit=best.unit or part.unit, sure=True, alternatives=())


def _split(way: str) -> tuple[str, str]:
    kind, _, rest = way.partition(" ")
    return (kind, rest) if kind in _KINDS else ("", way)


_KINDS = ("unknown", "machine", "past", "guess", "fact", "hours", "reading", "code", "no", "not")


def _sure(found: Understanding, way: str) -> bool:
    kind, rest = _split(way)
    sure = [part for part in found.parts if part.sure]
    if kind in ("unknown", "machine") or (kind in ("past", "guess", "fact") and not rest):
        return True
    if kind == "past":
        return any(p.kind in ("history", "fact") and rest.lower() in p.text.lower() for p in sure)
    if kind == "guess":
        return not any(
            p.kind == "finding" and p.confidence == "sure" and rest.lower() in p.text.lower() for p in sure
        )
    if kind == "fact":
        fact, _, value = rest.partition(" = ")
        return any(p.kind == "fact" and p.id == fact and value in ("", p.state) for p in sure)
    if kind == "hours":
        return any(p.kind == "hours" and p.value == float(rest) for p in sure)
    if kind == "no":
        return any(p.kind == "no codes" for p in sure)
    if kind == "code":
        return any(p.kind == "code" and p.id == rest for p in sure)
    if kind == "reading":
        return rest.startswith("? ") or any(_reading(p, rest) for p in sure)
    return any(_finding(part, way) for part in sure) or _measured(sure, way)


def _measured(sure: Sequence[TextPart], way: str) -> bool:
    """A value that sets the finding says what it says."""
    finding = shipped_knowledge().findings.get(way.removeprefix("not ").partition(" = ")[0])
    return bool(finding and finding.reading) and any(
        part.kind == "reading"
        and finding is not None
        and finding.reading is not None
        and part.id == finding.reading.quantity
        for part in sure
    )


def _reading(part: TextPart, wanted: str) -> bool:
    name, _, value = wanted.partition(" = ")
    number, _, unit = value.partition(" ")
    if name == "?":
        return True
    if part.kind != "reading" or part.value is None or abs(part.value) != abs(float(number)):
        return False
    return (part.id.startswith(name.rstrip("?")) or name.endswith("?")) and unit in ("", part.unit)


def _finding(part: TextPart, way: str) -> bool:
    absent = way.startswith("not ")
    id, _, state = way.removeprefix("not ").partition(" = ")
    if part.kind != "finding" or id not in (part.id, *part.also):
        return False
    return part.state == state or (part.state in ABSENT) == absent


def _asked(found: Understanding, way: str) -> bool:
    kind, rest = _split(way)
    if kind == "reading":
        name, _, value = rest.partition(" = ")
        number = abs(float(value.partition(" ")[0]))
        return any(
            part.kind == "reading"
            and part.value is not None
            and abs(part.value) == number
            and any(one.id.startswith(name.rstrip("?")) for one in part.alternatives)
            for part in found.doubtful
        )
    if kind == "code":
        return any(
            part.kind == "code" and any(one.id == rest for one in part.alternatives)
            for part in found.doubtful
        )
    if kind not in ("", "not"):
        return False
    absent = way.startswith("not ")
    id = way.removeprefix("not ").partition(" = ")[0]
    return any(
        one.id == id and (one.state in ABSENT) == absent
        for part in found.doubtful
        for one in part.alternatives
    )


def _wrong(found: Understanding, allowed: set[str]) -> Iterator[str]:
    """What would be recorded although nobody said it."""
    for part in found.parts:
        if not part.sure:
            continue
        if part.kind == "finding" and not any(
            _finding(part, way) for way in allowed if _split(way)[0] in ("", "not")
        ):
            yield f"{part.id} = {part.state} ({part.text})"
        if part.kind == "reading" and part.id:
            ways = [way.removeprefix("reading ") for way in allowed if way.startswith("reading ")]
            if not any(_reading(part, way) for way in ways if not way.startswith("?")):
                yield f"{part.id} = {part.value} {part.unit} ({part.text})"
        if part.kind == "code" and f"code {part.id}" not in allowed and f"not code {part.id}" not in allowed:
            yield f"code {part.id} ({part.text})"


def report(path: Path, show: bool = False) -> list[Outcome]:
    """Measure a file and print the figures."""
    knowledge = shipped_knowledge()
    rows = sentences(path)
    understand(knowledge, "warm up")
    start = time.process_time()
    outcomes = [outcome(knowledge, say, meant) for say, meant in rows]
    spent = (time.process_time() - start) / len(rows)
    said = sum(one.said for one in outcomes)
    wrong = sum(len(one.wrong) for one in outcomes)
    print(f"{len(rows)} sentences, {said} things said; {spent * 1000:.0f} ms of processor time each")
    print(f"whole and right without a question: {_share(one.whole for one in outcomes)}")
    print(f"whole and right after at most one question: {_share(one.whole_after_one for one in outcomes)}")
    one_key = [one.whole_after_one or one.whole_after_key for one in outcomes]
    print(f"... or one key that takes the likeliest of all that is asked: {_share(iter(one_key))}")
    print(
        f"things right at once {sum(o.sure for o in outcomes) / said:.1%}, after a question "
        f"{sum(o.asked for o in outcomes) / said:.1%}, missing {sum(len(o.missing) for o in outcomes) / said:.1%}"
    )
    print(
        f"wrong records: {wrong} ({wrong / said:.1%} of things said); "
        f"questions asked: {sum(o.questions for o in outcomes)}"
    )
    print(
        f"stretches not understood: {sum(len(o.understanding.not_understood) for o in outcomes if o.understanding)}"
    )
    if show:
        for one in outcomes:
            if not one.whole:
                _show(one)
    return outcomes


def _share(right: Iterator[bool]) -> str:
    every = list(right)
    return f"{sum(every)} of {len(every)} ({sum(every) / len(every):.0%})"


def _show(one: Outcome) -> None:
    print(f"\n## {one.say}")
    for missing in one.missing:
        print(f"   missing: {missing}")
    for wrong in one.wrong:
        print(f"   WRONG: {wrong}")
    assert one.understanding is not None
    for part in one.understanding.doubtful:
        print(
            f"   asks ({part.text}): "
            + "; ".join(f"{a.id}={a.state} {a.likelihood}" for a in part.alternatives)
        )
    if one.understanding.not_understood:
        print(f"   not understood: {one.understanding.not_understood}")


if __name__ == "__main__":
    report(Path(sys.argv[1]), "--show" in sys.argv)
