"""How the program does on published statements: `python -m tests.handbook.harness`."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

import yaml

from diagnose.cases.case import Case, Epoch, Observation
from diagnose.diagnosis import Diagnosis, diagnose
from diagnose.knowledge.loader import load
from diagnose.network.machine import Machine

HERE = Path(__file__).parent


@dataclass(frozen=True, slots=True)
class Statement:
    """One published statement; `accept` has, for each of its causes, the knowledge's causes that mean it."""

    id: str
    system: str
    findings: tuple[str, ...]
    causes: tuple[str, ...]
    discrimination: str
    confidence: str
    source: str
    citation: str = ""
    ordered: bool = False
    not_causes: tuple[str, ...] = ()
    upstream_causes: tuple[str, ...] = ()
    mapped: bool = True
    reason: str = ""
    observe: Mapping[str, str] = field(default_factory=dict)
    facts: Mapping[str, str] = field(default_factory=dict)
    accept: tuple[tuple[str, ...], ...] = ()
    note: str = ""

    @property
    def accepted(self) -> frozenset[str]:
        """Every cause of the knowledge that means one of the source's."""
        return frozenset(id for means in self.accept for id in means)


@dataclass(frozen=True, slots=True)
class Result:
    """The place of the best accepted cause (1 = first), with its probability and what came first."""

    statement: Statement
    place: int
    probability: float
    first: tuple[tuple[str, float], ...]
    other_cause: float


@cache
def statements() -> tuple[Statement, ...]:
    """All published statements, mapped or not."""
    loaded = yaml.safe_load((HERE / "cases.yaml").read_text(encoding="utf-8"))
    return tuple(_statement(raw) for raw in loaded["cases"])


def _statement(raw: Mapping[str, Any]) -> Statement:
    lists = ("findings", "causes", "not_causes", "upstream_causes")
    tuples = {key: tuple(raw[key]) for key in lists if key in raw}
    accept = tuple(map(tuple, raw.get("accept", ())))
    return Statement(**{**raw, **tuples, "accept": accept})


def mapped() -> tuple[Statement, ...]:
    """Those that today's knowledge can express."""
    return tuple(statement for statement in statements() if statement.mapped)


def answer(statement: Statement) -> Diagnosis:
    """What the program makes of the statement's findings, all of them sure."""
    seen = tuple(Observation(finding, state) for finding, state in statement.observe.items())
    machine = Machine(facts=statement.facts)
    return diagnose(load(), Case(0, machine, epochs=(Epoch(observations=seen),)))


@cache
def result(id: str) -> Result:
    """Where the source's causes came out."""
    statement = next(statement for statement in mapped() if statement.id == id)
    return judged(statement, answer(statement))


def judged(statement: Statement, diagnosis: Diagnosis) -> Result:
    """Where the accepted causes stand in a ranking; past its end if none of them can be on this machine."""
    ranking = [(cause.id, cause.probability) for cause in diagnosis.causes]
    places = [place for place, (id, _) in enumerate(ranking, 1) if id in statement.accepted]
    place = min(places, default=len(ranking) + 1)
    probability = ranking[place - 1][1] if places else 0.0
    return Result(statement, place, probability, tuple(ranking[:3]), diagnosis.other_cause)


def table(title: str, group: Callable[[Result], str], results: Sequence[Result]) -> Iterator[str]:
    """One line a group: how many, with an accepted cause first, and among the first three."""
    yield f"{title:<24}{'n':>4}{'first':>7}{'in 3':>6}"
    for name in (*sorted({group(result) for result in results}), "all"):
        mine = [result for result in results if name in ("all", group(result))]
        yield f"{name:<24}{len(mine):>4}{_within(mine, 1):>7}{_within(mine, 3):>6}"


def _within(results: Iterable[Result], places: int) -> int:
    return sum(result.place <= places for result in results)


def misses(results: Iterable[Result]) -> Iterator[str]:
    """Every statement whose causes did not come first, worst first."""
    for result in sorted(results, key=lambda result: -result.place):
        if result.place > 1:
            leaders = ", ".join(f"{id} {p:.2f}" for id, p in result.first)
            found = result.statement
            yield f"{found.id} {found.discrimination} {found.confidence}: {'; '.join(found.findings)}"
            yield f"    place {result.place} ({result.probability:.2f}); first: {leaders}; " + (
                f"other cause {result.other_cause:.2f}"
            )


def report() -> Iterator[str]:
    """The whole report, line by line. Statements from memory stand apart: they prove nothing."""
    results = [result(statement.id) for statement in mapped()]
    published = [result for result in results if result.statement.confidence != "low"]
    remembered = [result for result in results if result.statement.confidence == "low"]
    yield f"{len(statements())} published statements, {len(results)} of them expressed\n"
    yield from table("system", lambda result: result.statement.system, published)
    yield ""
    yield from table("confidence", lambda result: result.statement.confidence, published)
    yield ""
    yield from table("from memory, not scored", lambda result: result.statement.system, remembered)
    yield "\nnot first:"
    yield from misses(published)
    yield "\nnot first, from memory:"
    yield from misses(remembered)


if __name__ == "__main__":
    print("\n".join(report()))
