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
    batch: str = ""
    first_contact: Mapping[str, str | int] = field(default_factory=dict)

    @property
    def accepted(self) -> frozenset[str]:
        """Every cause of the knowledge that means one of the source's."""
        return frozenset(id for means in self.accept for id in means)

    @property
    def kind(self) -> str:
        """What the source leaves open, and how well it was read."""
        return f"{self.discrimination}, {self.confidence}"

    @property
    def said(self) -> str:
        """How much of it could be said at first contact."""
        return str(self.first_contact.get("said", "no"))

    @property
    def published(self) -> bool:
        """Whether the passage was read, or a trade article says so; what is from memory proves nothing."""
        return self.confidence != "low"


@dataclass(frozen=True, slots=True)
class Batch:
    """Statements that nobody who worked on the knowledge had read: signs and causes were put into its words apart
    from each other, then the program was asked, once, at this commit. What it said then stands with each of
    them."""

    id: str
    commit: str
    date: str
    about: str = ""


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
        return self.statement.kind


@cache
def _loaded() -> Any:
    return yaml.load((HERE / "cases.yaml").read_text(encoding="utf-8"), yaml.CSafeLoader)


@cache
def statements() -> tuple[Statement, ...]:
    """All published statements, mapped or not."""
    return tuple(_statement(raw) for raw in _loaded()["cases"])


def batches() -> tuple[Batch, ...]:
    """Those read blind, in the order of their first contact."""
    return tuple(Batch(id, **one) for id, one in _loaded().get("batches", {}).items())


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
    ranking = [cause for cause in diagnosis.causes if cause.wrecked_by not in statement.accepted]
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
    yield from at_first_contact()
    yield from ["", "## Not first", ""]
    yield from misses(scored)
    yield from ["", "## Not expressed", ""]
    yield from (f"- {one.id}: {one.reason}" for one in statements() if not one.mapped)


SAID = {"whole": "all of it can be said", "part": "said in part", "no": "cannot be said"}


def at_first_contact() -> Iterator[str]:
    """What came of the batches before anybody learnt from them: fixed for ever, beside the same statements today.

    Counted over all, what could not be said being missed.
    """
    if not batches():
        return
    yield from ["", "## At first contact", ""]
    yield "Statements that nobody who worked on the knowledge had read. Their signs were put into its words by one"
    yield "who did not see the causes, the causes by another; then the program was asked, once. Shares are of all;"
    yield "what could not be said counts as missed. *Today* is the knowledge after learning from them."
    yield from ["", "| batch | statements | n | first | in three | first today | in three today |"]
    yield "|---|---|--:|--:|--:|--:|--:|"
    for batch in batches():
        mine = [one for one in statements() if one.batch == batch.id and one.published]
        groups = {"all": mine, "single, high": [one for one in mine if one.kind == "single, high"]}
        groups |= {
            f"single, high: {SAID[how]}": [o for o in groups["single, high"] if o.said == how] for how in SAID
        }
        for name, chosen in groups.items():
            yield f"| {batch.id.upper()} | {name} | {len(chosen)} | {_counts(chosen)} |"
    for batch in batches():
        yield from [
            "",
            f"Batch {batch.id.upper()}: {batch.date}, knowledge of commit {batch.commit}. {batch.about}".rstrip(),
        ]


def _counts(chosen: Sequence[Statement]) -> str:
    then = [int(one.first_contact.get("place", 0)) for one in chosen]
    now = [result(one.id).place for one in chosen if one.mapped]
    counts = [sum(0 < place <= most for place in places) for places in (then, now) for most in (1, 3)]
    return " | ".join(f"{n} ({n / max(len(chosen), 1):.0%})" for n in counts)


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
