"""What machines come in with beside published populations, and the page docs/rates.md:
`python -m tests.pages` writes it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import pairwise
from pathlib import Path
from textwrap import fill

from diagnose.knowledge.records import Knowledge
from diagnose.study.arrivals import Arrivals, Estimate, all_arrivals
from tests.pages.populations import Population, Published, published
from tests.pages.reconcile import table

PAGE = Path(__file__).resolve().parents[2] / "docs" / "rates.md"
MACHINES, SEED = 4000, 0
"""The draw that the page is made from."""

HEAD = """# How often, beside what was published

Made from the knowledge by `python -m tests.pages`; do not edit.

Machines are drawn from the knowledge, {machines} with a complaint for each family, as
`diagnose knowledge arrivals` does. A fault counts where it arose of itself and is behind a complaint; what nobody
complains of does not. Its rate is reckoned from all machines drawn, those without a complaint among them, and the
{window:g} running hours since they were last right. One standard error stands after each +-.

Almost every published population counts whole machines, with tyres, brakes and lighting; ours knows the engine and
what belongs to it. So shares are compared between named systems of the engine only, and made to add up to 100
among these. A level of a whole machine is no more than a bound and is marked with a *. Miles become hours by the
mean speed stated. Rates within a factor of {alike:g} are called alike: by so much does one fleet's care move the
rate of its kind."""
OURS = """## What comes in"""
SYSTEMS = """## By system

Share of the machines that come in, in 100, by system of the fault (one with several counts in equal parts); in
brackets faults per 1,000 running hours of a machine in service."""
LEVELS = """## Levels

Events per 1,000 running hours (failures to start: per 1,000 starts, {starts:g} starts in 1,000 hours); the lowest
and the highest where several were published. Under each family ours, and in brackets ours over the mean of the
published ones. * whole machines."""
SHARES = """## Shares

In 100 of the classes compared; in brackets ours over the published one."""
ORDERS = """## Orders

Only the order was published. Ours are faults per 1,000 running hours."""
WORDS = """## What was counted, and which was followed

The figures stand above. Here is what they are of, and, where they part from trade judgement, which of the two the
knowledge follows."""


def page(knowledge: Knowledge, given: Published | None = None, machines: int = MACHINES) -> str:
    """The whole page."""
    beside = given or published()
    found = all_arrivals(knowledge, machines=machines, seed=SEED)
    head = HEAD.format(machines=machines, window=found[0].window, alike=beside.alike)
    blocks = (
        head,
        OURS,
        _ours(knowledge, found),
        SYSTEMS,
        _systems(knowledge, found),
        LEVELS.format(starts=beside.starts_per_1000_hours),
        _levels(knowledge, found, beside),
        SHARES,
        *_shares(knowledge, found, beside),
        ORDERS,
        *_orders(knowledge, found, beside),
        WORDS,
        *_words(found, beside),
    )
    return "\n\n".join(blocks) + "\n"


# ---- ours ----


def _ours(knowledge: Knowledge, found: Sequence[Arrivals]) -> str:
    heads = (
        "family",
        "came in, in 100",
        "faults",
        "complaints",
        "no listed fault, in 100",
        "faults in 1,000 h",
    )
    cells = [
        [
            _name(knowledge, one),
            _in_100(one.came_in),
            _number(one.roots_per_arrival),
            _number(one.complaints_per_arrival),
            _in_100(one.none_listed),
            _number(one.events_per_1000_hours),
        ]
        for one in found
    ]
    return table(heads, cells)


def _systems(knowledge: Knowledge, found: Sequence[Arrivals]) -> str:
    rows = [id for id in knowledge.systems if any(id in one.systems for one in found)]
    cells = [
        [
            knowledge.systems[id].name,
            *(
                f"{_in_100(one.systems[id])} ({one.per_1000_hours[id].value:.3f})"
                if id in one.systems
                else "-"
                for one in found
            ),
        ]
        for id in rows
    ]
    return table(("system", *_names(knowledge, found)), cells)


def rate(one: Arrivals, systems: Sequence[str] = ()) -> float:
    """Our faults per 1,000 running hours in these systems (none: in all)."""
    wanted = systems or tuple(one.per_1000_hours)
    return sum(one.per_1000_hours[id].value for id in wanted if id in one.per_1000_hours)


# ---- beside the published ones ----


def level(one: Arrivals, population: Population, beside: Published) -> float:
    """Ours in the population's own terms: per 1,000 running hours, or per 1,000 starts."""
    per = beside.starts_per_1000_hours / 1000 if population.by_start else 1.0
    return rate(one, population.systems) / per


def middle(figures: Sequence[float]) -> float:
    """The mean of what was published."""
    return sum(figures) / len(figures)


def in_100(values: Mapping[str, float]) -> dict[str, float]:
    """The values made to add up to 100."""
    whole = sum(values.values()) or 1.0
    return {name: 100 * value / whole for name, value in values.items()}


def by_class(one: Arrivals, names: Sequence[str], beside: Published) -> dict[str, float]:
    """Our faults per 1,000 running hours by class."""
    return {name: rate(one, beside.classes[name]) for name in names}


def _levels(knowledge: Knowledge, found: Sequence[Arrivals], beside: Published) -> str:
    cells = []
    for population in (one for one in beside.populations if one.figures):
        theirs = middle(population.figures)
        ours = [level(one, population, beside) for one in found]
        cells.append(
            [
                population.name + (" *" if population.whole_machine else ""),
                _range(population.figures, ""),
                *(f"{_short(mine)} ({_short(mine / theirs)})" for mine in ours),
            ]
        )
    return table(("population", "published", *_names(knowledge, found)), cells)


def _shares(knowledge: Knowledge, found: Sequence[Arrivals], beside: Published) -> Iterator[str]:
    for population in (one for one in beside.populations if one.shares):
        theirs = in_100(population.shares)
        ours = [in_100(by_class(one, list(theirs), beside)) for one in found]
        cells = [
            [name, f"{share:.0f}", *(f"{mine[name]:.0f} ({_short(mine[name] / share)})" for mine in ours)]
            for name, share in theirs.items()
        ]
        yield f"### {population.name}"
        yield table(("class", "published", *_names(knowledge, found)), cells)


def _orders(knowledge: Knowledge, found: Sequence[Arrivals], beside: Published) -> Iterator[str]:
    for population in (one for one in beside.populations if one.order):
        places = {name: place for group in population.order for name, place in group.items()}
        ours = [by_class(one, list(places), beside) for one in found]
        cells = [[name, place, *(f"{mine[name]:.2f}" for mine in ours)] for name, place in places.items()]
        cells.append(
            ["same order", "", *("yes" if same_order(population.order, one) else "no" for one in ours)]
        )
        yield f"### {population.name}"
        yield table(("class", "published", *_names(knowledge, found)), cells)


def same_order(groups: Sequence[Iterable[str]], values: Mapping[str, float]) -> bool:
    """Whether all classes of a group come before all of the next; what a machine does not have stands nowhere."""
    there = [[values[name] for name in group if values[name] > 0] for group in groups]
    left = [group for group in there if group]
    return all(min(first) >= max(second) for first, second in pairwise(left))


def _words(found: Sequence[Arrivals], beside: Published) -> Iterator[str]:
    for one in beside.populations:
        whole = "Whole machines. " if one.whole_machine else ""
        words = (
            f"**{one.name}.** Counted: {one.counted}. {one.assumed}{whole}{_verdict(one, found, beside)}"
            f"Followed: {one.followed} Source: {one.source} ({one.confidence})."
        )
        yield fill(words, 116, break_long_words=False, break_on_hyphens=False)


def _verdict(population: Population, found: Sequence[Arrivals], beside: Published) -> str:
    """How ours stands to a level: over all families."""
    if not population.figures:
        return ""
    ratios = [level(one, population, beside) / middle(population.figures) for one in found]
    return f"Ours is {_range(ratios, ' times')} the published level: {stands(ratios, beside.alike)}. "


def stands(ratios: Sequence[float], factor: float) -> str:
    """`alike`, `ours more` or `ours less`; over several families what holds for all, else that it differs."""
    words = {"ours more" if r > factor else "ours less" if r < 1 / factor else "alike" for r in ratios}
    return words.pop() if len(words) == 1 else "it differs by family"


# ---- words ----


def _name(knowledge: Knowledge, one: Arrivals) -> str:
    return knowledge.families[one.family].name if one.family else "any machine"


def _names(knowledge: Knowledge, found: Sequence[Arrivals]) -> list[str]:
    return [_name(knowledge, one) for one in found]


def _number(one: Estimate) -> str:
    return f"{one.value:.2f} +- {one.error:.2f}"


def _in_100(one: Estimate) -> str:
    return f"{100 * one.value:.1f} +- {100 * one.error:.1f}"


def _short(value: float) -> str:
    return f"{value:.2g}" if value < 0.1 else f"{value:.2f}" if value < 10 else f"{value:.0f}"


def _range(values: Sequence[float], unit: str) -> str:
    low, high = _short(min(values)), _short(max(values))
    return f"{low}{unit}" if low == high else f"{low} to {high}{unit}"
