"""A plan arranged for reading: one main line straight down, the other results beside it, the rare ones counted.

The tree of a plan has hundreds of ends. Whoever follows it sees one result at a time; so what is reached too rarely
is left out and said to be left out: when it comes, `plan` is asked again with what was noted. Pure.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from diagnose.knowledge.records import Knowledge
from diagnose.planning.decide import Branch, Decision, PlanStep
from diagnose.report.checklist import result_words
from diagnose.report.screen_words import listed, percent

MOST_RESULTS = 2  # results told in a sentence


@dataclass(frozen=True, slots=True)
class OutlineStep:
    """One step as shown. `reached`: how likely the plan comes here. `main`: the way straight on, if there is one;
    `sides`: the other ways; `rarer`: probability of results at this step that are not shown."""

    step: PlanStep
    reached: float
    main: Way | None
    sides: tuple[Way, ...]
    rarer: float


@dataclass(frozen=True, slots=True)
class Way:
    """A result in words with its probability, and where it leads."""

    words: str
    probability: float
    to: OutlineStep


def outline(knowledge: Knowledge, decision: Decision, rare: float = 0.0) -> OutlineStep:
    """The plan from its first step, without what is reached with less than `rare`."""
    return _stop(knowledge, decision.first, 1.0, rare)


def _stop(knowledge: Knowledge, step: PlanStep, reached: float, rare: float) -> OutlineStep:
    shown = [branch for branch in step.branches if reached * branch.probability >= rare]
    ways = [
        Way(
            branch_words(knowledge, step, branch),
            branch.probability,
            _stop(knowledge, branch.then, reached * branch.probability, rare),
        )
        for branch in shown
    ]
    on = len(ways) == 1 or bool(ways and ways[0].probability >= 0.5)
    left = sum(branch.probability for branch in step.branches if branch not in shown)
    return OutlineStep(step, reached, ways[0] if on else None, tuple(ways[1:] if on else ways), left)


def branch_words(knowledge: Knowledge, step: PlanStep, branch: Branch) -> str:
    """What was seen, in words; after a repair, that it is still broken."""
    if step.kind == "repair":
        return "still broken"
    told = list(dict.fromkeys(result_words(knowledge, states) for states in branch.when))
    more = len(told) - MOST_RESULTS
    return listed([*told[:MOST_RESULTS], *([f"{more} other results"] if more > 0 else [])], "or")


def end_words(stop: OutlineStep) -> str:
    """How a repair ends: cured, and how often."""
    if stop.step.kind != "repair":
        return ""
    cured = 1 - sum(branch.probability for branch in stop.step.branches)
    return f"cured in {percent(cured)}"


def stops_of(stop: OutlineStep) -> Iterator[OutlineStep]:
    """All steps shown, each before those after it."""
    yield stop
    for way in (*stop.sides, *([stop.main] if stop.main else [])):
        yield from stops_of(way.to)
