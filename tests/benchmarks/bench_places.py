"""What it costs to say at which cylinder: `python -m tests.benchmarks.bench_places [CASES] [SEED]`.

Cases of three findings that are told by cylinder, drawn from those that share a cause, on an engine of which the
cylinders are known; the same three without a place, all at one cylinder, at two, and at three.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from time import process_time

import numpy as np

from diagnose.cases.case import Case, fold
from diagnose.cases.events import Event, Noted, Opened
from diagnose.diagnosis import diagnose
from diagnose.knowledge.records import Knowledge
from tests.shipped import shipped_knowledge

PLACES: tuple[tuple[str, Sequence[str]], ...] = (
    ("no place", ("", "", "")),
    ("one cylinder", ("cylinder 4",) * 3),
    ("two cylinders", ("cylinder 4", "cylinder 4", "cylinder 2")),
    ("three cylinders", ("cylinder 4", "cylinder 2", "cylinder 6")),
)


def findings(knowledge: Knowledge, count: int, seed: int) -> list[tuple[str, ...]]:
    """Threes of symptoms and readings that one cause of a cylinder can bring about."""
    random, found = np.random.default_rng(seed), list[tuple[str, ...]]()
    causes = [one for one in knowledge.causes.values() if one.located == "cylinder"]
    while len(found) < count:
        near = _below(knowledge, causes[int(random.integers(len(causes)))].id)
        if len(near) >= 3:
            found.append(tuple(sorted(map(str, random.choice(sorted(near), 3, replace=False)))))
    return found


def _below(knowledge: Knowledge, cause: str) -> set[str]:
    """What it brings about at its cylinder, by way of conditions of the cylinder too."""
    waiting, seen, found = [cause], set[str](), set[str]()
    while waiting:
        record = knowledge.causes.get(id := waiting.pop()) or knowledge.conditions.get(id)
        for link in record.leads_to if record else ():
            one = knowledge.findings.get(link.effect)
            if one and one.located == "cylinder":
                found.add(one.id)
            elif not one and link.effect not in seen:
                seen.add(link.effect)
                waiting.append(link.effect)
    return found


def case(knowledge: Knowledge, told: Sequence[str], places: Sequence[str]) -> Case:
    """The engine has six cylinders; each finding in its worst state."""
    events: list[Event] = [Opened("B-1", facts={"cylinders": "6"}, sequence=1)]
    for number, (id, place) in enumerate(zip(told, places, strict=True), 2):
        events.append(Noted(id, knowledge.findings[id].states[-1], place=place, sequence=number))
    return fold(1, events)


def main(cases: int = 24, seed: int = 0) -> None:
    """Print time and size of the tree, as multiples of the case without a place, and whether all were exact."""
    knowledge, base = shipped_knowledge(), np.zeros(0)
    drawn = findings(knowledge, cases, seed)
    for name, places in PLACES:
        seconds, sizes, exact = [], [], 0
        for told in drawn:
            start = process_time()
            found = diagnose(knowledge, case(knowledge, told, places))
            seconds.append(process_time() - start)
            sizes.append(found.engine.tree.size)
            exact += found.thinned is None
        base = base if len(base) else np.array(seconds)
        ratios, widths = np.array(seconds) / np.median(base), np.array(sizes)
        marks = ", ".join(f"{np.percentile(ratios, q):.1f}" for q in (50, 90, 100))
        size = ", ".join(f"{np.percentile(widths, q):.0f}" for q in (50, 90, 100))
        print(f"{name}: time {marks}; numbers of the tree {size}; exact {exact} of {cases}")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
