"""How long learning takes, and ranking many cases: `python -m tests.benchmarks.bench_learning [CASES
[FOLDER [PASSES]]]`.

Cases of one family of machines are drawn from the shipped knowledge by its own mechanism (worlds from the top
down, no code of the engine): a machine counts if one of its causes brought about a complaint; a technician
looks at two to eight further things, rather at those that the complaint makes telling, now and then unsure of
what was seen; all causes are found by sight and the repair is proven. The file is kept in FOLDER for the next
run.
"""

from __future__ import annotations

import resource
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from tempfile import gettempdir

import numpy as np
from numpy.typing import NDArray

from diagnose.cases.case import Epoch, Observation
from diagnose.cases.events import CONFIDENCES, Confidence
from diagnose.knowledge.loader import load
from diagnose.knowledge.records import Knowledge
from diagnose.learning.case_sources import from_files
from diagnose.learning.counts import School, known_of
from diagnose.learning.expect import tally_of
from diagnose.learning.groups import grouped
from diagnose.learning.jsonl import to_json
from diagnose.learning.learn import learn
from diagnose.learning.lesson import ConfirmedCause, Lesson
from diagnose.learning.many_cases import rank_all, ranked
from diagnose.learning.parallel import processors
from diagnose.network.build import build
from diagnose.network.built import Built
from diagnose.network.machine import Machine
from diagnose.network.observed import LIKELIHOOD_RATIOS
from diagnose.study.leading import draw

FAMILY = "unit_injector_governed"
HANDFUL = (2, 9)
SHARES = (0.85, 0.1, 0.05)
"""Of sure, likely and unsure reports."""
WORLDS = 10_000
States = NDArray[np.int64]


def cases(knowledge: Knowledge, count: int, seed: int = 1) -> Iterator[Lesson]:
    """So many closed cases."""
    random = np.random.default_rng(seed)
    family = knowledge.families[FAMILY]
    built = build(knowledge, Machine(family=family.id, facts=dict(family.facts)))
    depot = _Depot(built, random)
    made = 0
    while made < count:
        for world in depot.worlds():
            complaint = depot.complaint(world)
            if complaint is not None and made < count:
                yield depot.case(
                    made, world, complaint, Machine(f"M-{made % 997}", family.id, dict(family.facts))
                )
                made += 1


class _Depot:
    """Machines of one family, and who looks at them."""

    def __init__(self, built: Built, random: np.random.Generator):
        self.built, self.random, self.network = built, random, built.network
        self.causes = np.array([built.variable(id) for id in built.causes])
        self.complaints = np.array([built.variable(id) for id in built.others])
        self.findings = np.array(
            [
                v
                for v in map(built.variable, built.versions)
                if not self._has_children(v) and v not in self.complaints
            ]
        )
        above = [self.network.ancestors([int(v)]) for v in self.complaints]
        self.behind = np.array([[int(cause) in found for cause in self.causes] for found in above])
        self.pool = self.worlds()
        self.telling: dict[int, NDArray[np.float64]] = {}

    def _has_children(self, variable: int) -> bool:
        return any(variable in family.parents for family in self.network.families)

    def worlds(self) -> States:
        """Some machines, whether they have a complaint or not."""
        everything = set(range(len(self.network.names)))
        return draw(self.network, everything, {}, WORLDS, self.random)

    def complaint(self, world: States) -> int | None:
        """One of the complaints that a cause of this machine is behind."""
        there = world[self.causes] > 0
        mine = [
            int(v)
            for v, row in zip(self.complaints, self.behind, strict=True)
            if world[v] and (row & there).any()
        ]
        return int(self.random.choice(mine)) if mine else None

    def case(self, number: int, world: States, complaint: int, machine: Machine) -> Lesson:
        """What is written down of it."""
        looked = self.random.choice(
            self.findings, int(self.random.integers(*HANDFUL)), replace=False, p=self._chances(complaint)
        )
        seen = [self._reported(world, complaint, "sure")]
        for finding in looked:
            seen.append(self._reported(world, int(finding), self.random.choice(CONFIDENCES, p=SHARES)))
        found = [self.network.names[v] for v in self.causes if world[v]]
        return Lesson(
            str(number + 1),
            machine,
            closed=f"{2020 + number % 5}-{1 + number // 5 % 12:02}-15",
            epochs=(Epoch(observations=tuple(seen)),),
            confirmed=tuple(ConfirmedCause(id, "by sight") for id in found),
            is_closed=True,
            proven=True,
        )

    def _reported(self, world: States, finding: int, confidence: Confidence) -> Observation:
        states, true = self.network.states[finding], int(world[finding])
        weights = np.ones(len(states))
        weights[true] = min(LIKELIHOOD_RATIOS[confidence], 1e9)
        state = int(self.random.choice(len(states), p=weights / weights.sum()))
        return Observation(self.network.names[finding], states[state], confidence)

    def _chances(self, complaint: int) -> NDArray[np.float64]:
        """A finding is looked at the rather, the more its rate with the complaint differs from its rate
        without."""
        if complaint not in self.telling:
            shown = self.pool[:, self.findings] > 0
            moves = np.abs(shown[self.pool[:, complaint] > 0].mean(axis=0) - shown.mean(axis=0)) + 0.002
            self.telling[complaint] = moves / moves.sum()
        return self.telling[complaint]


def file_of(knowledge: Knowledge, count: int, folder: Path) -> Path:
    """The file of so many cases, made if it is not there."""
    path = folder / f"cases-{count}-{knowledge.version[:8]}.jsonl"
    if not path.exists():
        with path.open("w", encoding="utf-8") as file:
            file.writelines(to_json(lesson) + "\n" for lesson in cases(knowledge, count))
    return path


def main(count: int, folder: Path, passes: int | None = None) -> None:
    """Measure and print."""
    knowledge = load(learnt=False)
    path = file_of(knowledge, count, folder)
    print(f"{count} cases, {processors()} processors, {path.stat().st_size / 1e6:.0f} MB of JSON Lines")
    _sharing(knowledge, path)
    _learning(knowledge, path, passes)
    _ranking(knowledge, path, min(count, 1_000))


def _sharing(knowledge: Knowledge, path: Path, alone: int = 60, together: int = 5_000) -> None:
    """One expectation of the same kind of cases, each on a tree of its own and in groups; processor time."""
    school = School(knowledge)
    lessons = next(from_files([path]).chunks(together)).read()
    useful = frozenset(id for id, one in knowledge.findings.items() if not one.other)
    known = [known_of(school, one, place, useful) for place, one in enumerate(lessons)]
    times = {}
    for name, batches in (("alone", [[one] for one in known[:alone]]), ("in groups", [known])):
        groups = [group for batch in batches for group in grouped(school.graph, batch)]
        began = time.process_time()
        tally_of(school.graph, school.graph.numbers.values, groups)
        times[name] = 1e3 * (time.process_time() - began) / sum(map(len, batches))
        print(f"expectation {name}: {times[name]:.2f} ms a case, {len(groups)} trees")
    print(f"ratio {times['alone'] / times['in groups']:.0f}")


def _learning(knowledge: Knowledge, path: Path, passes: int | None) -> None:
    began, step = time.perf_counter(), ""

    def told(what: str, done: int, of: int) -> None:
        nonlocal step
        if what != step:
            print(f"{time.perf_counter() - began:7.1f} s  {what}", flush=True)
            step = what

    found = learn(knowledge, from_files([path]), passes=passes, processes=processors(), told=told)
    wall, cpu = time.perf_counter() - began, sum(_cpu())
    print(f"{wall:7.1f} s  done; {found.passes} passes, {found.counted} cases counted")
    print(f"processor time {cpu:.0f} s, {1e3 * cpu / max(found.counted, 1):.2f} ms a case")
    print(
        f"most memory: {_memory(resource.RUSAGE_SELF)} MB here, {_memory(resource.RUSAGE_CHILDREN)} MB in a worker"
    )


def _ranking(knowledge: Knowledge, path: Path, count: int) -> None:
    lines = path.read_text(encoding="utf-8").splitlines(keepends=True)[:count]
    some = path.with_name("some.jsonl")
    some.write_text("".join(lines), encoding="utf-8")
    source = from_files([some])
    lessons = next(source.chunks(count)).read()
    began = time.perf_counter()
    singly = [ranked(knowledge, lesson) for lesson in lessons]
    one_by_one, began = time.perf_counter() - began, time.perf_counter()
    together = list(rank_all(knowledge, source, None, processors()))
    batch = time.perf_counter() - began
    assert together == singly
    print(
        f"ranking {count} cases: one by one {one_by_one:.1f} s, batch {batch:.1f} s, ratio {one_by_one / batch:.2f}"
    )


def _cpu() -> list[float]:
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return [one.ru_utime + one.ru_stime for one in used]


def _memory(who: int) -> int:
    return round(resource.getrusage(who).ru_maxrss / 1000)


if __name__ == "__main__":
    main(
        int(sys.argv[1]) if len(sys.argv) > 1 else 5_000,
        Path(sys.argv[2] if len(sys.argv) > 2 else gettempdir()),
        int(sys.argv[3]) if len(sys.argv) > 3 else None,
    )
