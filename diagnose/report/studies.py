"""The screens of the heavier studies of the knowledge: what it tells apart, and what an answer rests on."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import asdict
from typing import Any

from rich.console import Group, RenderableType
from rich.text import Text

from diagnose.knowledge.records import Knowledge
from diagnose.report.screen_words import count, minutes, percent
from diagnose.report.text import QUIET, STRONG, grid, line, titled
from diagnose.study.deep import NOTHING, ConfusablePair, DeepReport
from diagnose.study.stress import Stress, StressReport

SHOWN = 15  # rows of a screen


def deep_data(report: DeepReport, every: bool = False) -> dict[str, Any]:
    """A deep check as plain values. Of the pairs only the bad ones, unless `every` one is wanted."""
    return {
        "causes": report.causes,
        "samples": report.samples,
        "pairs": [asdict(pair) for pair in report.pairs] if every else [],
        "pair_count": len(report.pairs),
        "not_separated": [asdict(pair) for pair in report.not_separated],
        "long": [asdict(pair) for pair in report.long],
        "idle_findings": [asdict(one) for one in report.idle],
        "dominated_checks": [asdict(one) for one in report.dominated],
        "never_leading": [asdict(one) for one in report.never_leading],
    }


def deep_screen(knowledge: Knowledge, report: DeepReport, limit: int = SHOWN) -> RenderableType:
    """What the knowledge can and cannot tell apart."""
    return Group(
        line("What the knowledge can tell apart", style=STRONG),
        line(
            f"{count(report.causes, 'cause')}; {len(report.pairs)} pairs of comparable likelihood with a "
            "complaint in common. Right at even odds: how often the better guess is right after the check."
        ),
        _section("Pairs that nothing separates", _pairs(knowledge, report.not_separated), limit),
        _section("Pairs that only a long check separates", _pairs(knowledge, report.long), limit),
        _section("Findings that never matter", _idle(knowledge, report), limit),
        _section("Checks that another check makes needless", _dominated(knowledge, report), limit),
        _section(
            f"Causes that never come first in {report.samples} cases of their own",
            _never(knowledge, report),
            limit,
        ),
    )


def _section(title: str, items: Iterable[tuple[str, str]], limit: int) -> RenderableType:
    rows = list(items)
    table = grid("left", "left")
    for mark, words in rows[:limit]:
        table.add_row(mark, words)
    if not rows:
        table.add_row("", "none")
    if len(rows) > limit:
        table.add_row("", Text(f"and {len(rows) - limit} more: --limit {len(rows)} shows all", QUIET))
    return titled(f"{title}: {len(rows)}", table)


def _pairs(knowledge: Knowledge, pairs: Iterable[ConfusablePair]) -> Iterator[tuple[str, str]]:
    for pair in pairs:
        right = percent((1 + pair.apart) / 2)
        by = f"{_how(knowledge, pair)}, {minutes(pair.minutes)}, right {right}"
        if pair.apart < NOTHING:
            by = f"at best {by}" if pair.finding else "nothing at all"
        first, second = (knowledge.causes[id].name for id in (pair.first, pair.second))
        yield "-", f"{first} / {second} ({pair.first}, {pair.second}): {by}"


def _how(knowledge: Knowledge, pair: ConfusablePair) -> str:
    if pair.check:
        return f"{knowledge.checks[pair.check].name} ({pair.check})"
    return f"look for {pair.finding}"


def _idle(knowledge: Knowledge, report: DeepReport) -> Iterator[tuple[str, str]]:
    for one in report.idle:
        name = knowledge.findings[one.finding].name
        yield "-", f"{name} ({one.finding}): no cause shifts it by more than {percent(one.most)}"


def _dominated(knowledge: Knowledge, report: DeepReport) -> Iterator[tuple[str, str]]:
    for one in report.dominated:
        yield (
            "-",
            f"{one.check} ({minutes(one.minutes)}): {one.by} shows as much in {minutes(one.by_minutes)}",
        )


def _never(knowledge: Knowledge, report: DeepReport) -> Iterator[tuple[str, str]]:
    for one in report.never_leading:
        name = knowledge.causes[one.cause].name
        looked = ", ".join(one.findings)
        yield (
            "-",
            f"{name} ({one.cause}): {percent(one.highest)} at most, below {one.above}; looked at {looked}",
        )


def stress_data(report: StressReport) -> dict[str, Any]:
    """A stress test as plain values."""
    return {
        "leading": report.leading,
        "probability": report.probability,
        "flips": sum(map(report.flips, report.numbers)),
        "left_out": report.left_out,
        "numbers": [asdict(one) | {"swing": one.swing, "flips": report.flips(one)} for one in report.numbers],
    }


def stress_screen(knowledge: Knowledge, report: StressReport, limit: int = 10) -> RenderableType:
    """The numbers that the answer rests on most, each with its place in the files."""
    if not report.leading:
        return line("Nothing was seen yet that speaks of a cause: the answer rests on the priors alone.")
    name = knowledge.causes[report.leading].name
    flips = sum(map(report.flips, report.numbers))
    return Group(
        line(f"Leading: {name} ({report.leading}), {percent(report.probability)}", style=STRONG),
        line(
            f"Each of {len(report.numbers)} numbers moved alone, by as much as it is uncertain; "
            f"{'no one of them changes' if not flips else f'{flips} of them change'} the first place."
        ),
        *(piece for one in report.numbers[:limit] for piece in _stressed(knowledge, report, one)),
        *(
            [
                line(
                    f"{count(report.left_out, 'number')} of repairs already done could not be moved.",
                    style=QUIET,
                )
            ]
            if report.left_out
            else []
        ),
    )


def _stressed(knowledge: Knowledge, report: StressReport, one: Stress) -> Iterator[RenderableType]:
    number = one.number
    yield line("")
    yield line(f"{number.place.file}:{number.place.line}: {one.label}")
    yield line(
        f"{number.value:.3g} ({number.basis}, worth {number.ess:g} cases) between {one.low:.3g} and "
        f"{one.high:.3g}: leading {percent(one.p_low)} to {percent(one.p_high)}",
        indent=2,
    )
    for value, first in ((one.low, one.first_low), (one.high, one.first_high)):
        if first != report.leading:
            yield line(
                f"at {value:.3g} first place goes to {knowledge.causes[first].name}", indent=2, style=STRONG
            )
