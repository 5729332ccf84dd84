"""The reasoning for the technician: where the causes stand, what speaks for and against, what was excluded."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.plain import small
from diagnose.report.document.blocks import Block, Figure, Grid, Para, Points
from diagnose.report.document.case_record import CaseReport, Excluded, WeighedFinding
from diagnose.report.document.figures import argument_picture, argument_words
from diagnose.report.screen_words import listed, percent
from diagnose.report.text import NOT_LISTED

TELLING = 0.5
"""Decibans below which a finding says nothing about a cause."""


def where_it_stands(report: CaseReport) -> Iterator[Block]:
    """The ranking, and which faults come together."""
    if report.impossible:
        yield Para(
            f"No cause can be ranked: these cannot all be true by this knowledge: {listed(report.impossible)}."
        )
        return
    if not report.causes:
        yield Para("Nothing that tells anything has been noted yet.")
        return
    if report.proof.tried == "gone":
        yield Para(
            "The complaint is gone; of the faults that could still be there, these the findings made likelier."
        )
    rows = [
        (
            str(c.rank),
            percent(c.probability),
            c.name,
            f"wrecked by: {small(c.wrecked_by)}" if c.wrecked_by else "root",
        )
        for c in report.causes
    ]
    if report.other_cause:
        rows.append(("", percent(report.other_cause), NOT_LISTED, ""))
    yield Grid(("Rank", "Probability", "Cause", "Most likely"), tuple(rows), frozenset({1}))
    if report.combinations:
        yield Para("Exactly these faults, alone or together:")
        yield Points(tuple(f"{percent(p)}: {_set(names)}" for names, p in report.combinations))


def _set(names: tuple[str, ...]) -> str:
    return (
        f"only {small(names[0])}"
        if len(names) == 1
        else listed(map(small, names)) or "none of the leading causes"
    )


def for_and_against(report: CaseReport) -> Iterator[Block]:
    """What each finding weighs for the leading causes."""
    weights = [abs(reason.decibans) for argument in report.arguments for reason in argument.reasons]
    scale = max([*weights, 10.0])
    for argument in report.arguments:
        if any(abs(reason.decibans) >= TELLING for reason in argument.reasons):
            then = f" before step {argument.step}" if argument.step else ""
            now = f"{percent(argument.cause.probability)}{then}"
            title = f"{argument.cause.name}: {now}, raised by {argument.raised:+.0f} dB in all"
            yield Figure(title, argument_picture(argument, scale), argument_words(argument))
    if report.arguments:
        yield Para(
            "What one finding adds is told in decibans (10: ten times the odds), given all the others; findings "
            "that say the same share it, so they need not add up.",
            quiet=True,
        )


def excluded_causes(report: CaseReport) -> Iterator[Block]:
    """What was thought of, and why no longer."""
    rows = tuple((one.name, percent(one.highest), percent(one.now), _because(one)) for one in report.excluded)
    if rows:
        yield Grid(("Cause", "At most", "Now", "Why"), rows, frozenset({1, 2}))


def _because(one: Excluded) -> str:
    why = [f"repaired in step {one.repaired}"] if one.repaired else []
    return "; ".join([*why, *map(weight_words, one.because)]) or "other causes explain it better"


def weight_words(reason: WeighedFinding) -> str:
    """A finding with its weight."""
    return f"{reason.words} ({reason.decibans:+.0f} dB)"
