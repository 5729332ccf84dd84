"""How the program does on published statements: `python -m tests.handbook.harness`, `--write` for the page too."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from itertools import chain
from pathlib import Path
from typing import Any

import yaml

from diagnose.cases.case import Case, Epoch, Observation
from diagnose.diagnosis import Diagnosis, diagnose
from diagnose.network.machine import Machine
from diagnose.report.reasons import ordered
from tests.shipped import shipped_knowledge

HERE = Path(__file__).parent
PAGE = HERE.parents[1] / "docs" / "handbook.md"
COMMAND = "python -m tests.handbook.harness --write"
HEAD = f"""# Against published handbooks

Statements of published manuals, examination banks and trade articles (`tests/handbook/cases.yaml`, each with its
source). The findings are given to the program, all sure; counted is where the source's cause comes out. A cause
that the source's cause most likely wrecked takes no place of its own.

*single*: the source leaves one cause; *few*: two to five; *many*: an open list. *high*: the passage was read;
*medium*: a trade article, or read in part.

The source's words were mapped before the program was asked; a fact of the machine that was added after the first
run is marked in the statement's note. The cases are few, and some numbers of the knowledge come from the same
books: this shows that the program says what the books say, not how often it is right in a workshop.

Made by `{COMMAND}`; a test says when it is out of date.
"""


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
    miss: str = ""

    @property
    def accepted(self) -> frozenset[str]:
        """Every cause of the knowledge that means one of the source's."""
        return frozenset(id for means in self.accept for id in means)

    @property
    def published(self) -> bool:
        """Whether the passage was read, or a trade article says so; what is from memory proves nothing."""
        return self.confidence != "low"


@dataclass(frozen=True, slots=True)
class Result:
    """The place of the best accepted cause (1 = first), with its probability and what came first."""

    statement: Statement
    place: int
    probability: float
    first: tuple[tuple[str, float], ...]
    other_cause: float
    unused: tuple[str, ...]

    @property
    def kind(self) -> str:
        """What the source leaves open, and how well it was read."""
        return f"{self.statement.discrimination}, {self.statement.confidence}"


@cache
def statements() -> tuple[Statement, ...]:
    """All published statements, mapped or not."""
    loaded = yaml.load((HERE / "cases.yaml").read_text(encoding="utf-8"), yaml.CSafeLoader)
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
    return _diagnosed(tuple(statement.observe.items()), tuple(statement.facts.items()))


@cache
def _diagnosed(observe: tuple[tuple[str, str], ...], facts: tuple[tuple[str, str], ...]) -> Diagnosis:
    seen = tuple(Observation(finding, state) for finding, state in observe)
    case = Case(0, Machine(facts=dict(facts)), epochs=(Epoch(observations=seen),))
    return diagnose(shipped_knowledge(), case)


@cache
def result(id: str) -> Result:
    """Where the source's causes came out."""
    statement = next(statement for statement in mapped() if statement.id == id)
    return judged(statement, answer(statement))


def judged(statement: Statement, diagnosis: Diagnosis) -> Result:
    """Where the accepted causes stand in the ranking as shown; past its end if none can be on this machine.

    What an accepted cause most likely wrecked is part of it and takes no place of its own.
    """
    ranking = [cause for cause in ordered(diagnosis) if cause.wrecked_by not in statement.accepted]
    places = {cause.id: place for place, cause in enumerate(ranking, 1) if cause.id in statement.accepted}
    place = min(places.values(), default=len(ranking) + 1)
    probability = ranking[place - 1].probability if places else 0.0
    first = tuple((cause.id, cause.probability) for cause in ranking[:3])
    return Result(statement, place, probability, first, diagnosis.other_cause, diagnosis.unused)


def results(published: bool) -> list[Result]:
    """Every expressed statement that is published, or every one from memory, asked."""
    return [result(statement.id) for statement in mapped() if statement.published == published]


# --- the report -------------------------------------------------------------------------------------------


def report() -> Iterator[str]:
    """What is scored, line by line, in Markdown."""
    scored = results(published=True)
    yield f"{len(statements())} statements, {len(mapped())} said in the knowledge's words, {len(scored)} scored."
    yield from table("what the source leaves", lambda result: result.kind, scored)
    yield from table("confidence", lambda result: result.statement.confidence, scored)
    yield from table("system", lambda result: result.statement.system, scored)
    yield from ["", "## Not first", ""]
    yield from misses(scored)
    yield from ["", "## Not expressed", ""]
    yield from (f"- {one.id}: {one.reason}" for one in statements() if not one.mapped)


def remembered() -> Iterator[str]:
    """The same for statements from memory, which prove nothing and are not scored."""
    yield from ["", "## From memory, not scored"]
    found = results(published=False)
    yield from table("system", lambda result: result.statement.system, found)
    yield ""
    yield from misses(found)


def table(title: str, group: Callable[[Result], str], results: Sequence[Result]) -> Iterator[str]:
    """One line a group: how many, with an accepted cause first, and among the first three."""
    yield from ["", f"| {title:<28} |   n | first | in three |", f"|{'-' * 30}|----:|------:|---------:|"]
    for name in (*sorted({group(result) for result in results}), "all"):
        mine = [result for result in results if name in ("all", group(result))]
        yield f"| {name:<28} | {len(mine):>3} | {_within(mine, 1):>5} | {_within(mine, 3):>8} |"


def _within(results: Iterable[Result], places: int) -> int:
    return sum(result.place <= places for result in results)


def misses(results: Iterable[Result]) -> Iterator[str]:
    """Every statement whose causes did not come first, worst first, with what did and the reason where one is
    known."""
    for result in sorted(results, key=lambda result: (-result.place, result.statement.id)):
        if result.place > 1:
            found = result.statement
            yield f"- {found.id} ({result.kind}): {'; '.join(found.findings)}"
            yield f"  - place {result.place}; first: {', '.join(id for id, _ in result.first)}"
            yield from (f"  - {why}" for why in (*result.unused, found.miss) if why)


def page() -> str:
    """`docs/handbook.md`: the report with a head."""
    return "\n".join([HEAD, *report()]) + "\n"


def main(arguments: Sequence[str] | None = None) -> None:
    """Print the report, and what is from memory; `--write` writes the page."""
    parser = argparse.ArgumentParser(prog="python -m tests.handbook.harness", description=__doc__)
    parser.add_argument("--write", action="store_true", help=f"write {PAGE.name}")
    if parser.parse_args(arguments).write:
        PAGE.write_text(page(), encoding="utf-8")
    try:
        for line in chain(report(), remembered()):
            print(line)
        sys.stdout.flush()
    except BrokenPipeError:  # `| head` has seen enough; nothing is left for the interpreter to flush
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


if __name__ == "__main__":
    main()
