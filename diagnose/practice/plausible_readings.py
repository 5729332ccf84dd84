"""A plausible value with its unit for a reading that is in a given state."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise

import numpy as np

from diagnose.cases.case import Case
from diagnose.cases.understood import values_known
from diagnose.errors import CallError
from diagnose.knowledge.limits import limits
from diagnose.knowledge.readings import meaning
from diagnose.knowledge.records import Finding, Knowledge
from diagnose.words.quantity import Quantity
from diagnose.words.units import convert, parse_unit

OUTSIDE = 0.4
"""How far beyond the last limit a value may lie, as a share of the limit (judgement)."""
Stretch = tuple[float, float]


def siblings(knowledge: Knowledge, finding: Finding) -> list[Finding]:
    """The findings set from the same value, the finding itself among them."""
    if finding.reading is None:
        return [finding]
    quantity = finding.reading.quantity
    return [f for f in knowledge.findings.values() if f.reading and f.reading.quantity == quantity]


def plausible(
    knowledge: Knowledge,
    finding: Finding,
    wanted: Mapping[str, str],
    rng: np.random.Generator,
    case: Case | None = None,
) -> Quantity | None:
    """A value that puts each finding of the same quantity into the state wanted, on the machine of the case; None
    where no value does. A fact that is not known, and that the value would decide, is taken as its first value.
    """
    case = case or Case(0)
    reading = finding.reading
    if reading is None:
        return None
    fitting = [
        s for s in _stretches(_limits(knowledge, finding)) if _fits(knowledge, case, finding, wanted, s)
    ]
    if not fitting:
        return None
    low, high = fitting[int(rng.integers(len(fitting)))]
    value = _rounded(low + (high - low) * (0.15 + 0.7 * float(rng.random())), high - low)
    return _quantity(finding, value if low < value < high else (low + high) / 2)


def _quantity(finding: Finding, value: float) -> Quantity:
    assert finding.reading is not None
    unit = parse_unit(finding.reading.unit)
    return Quantity(value, unit.name, "absolute" if unit.reference == "absolute" else "")


def _limits(knowledge: Knowledge, finding: Finding) -> list[float]:
    """The limits of all findings of the quantity, in the unit of this one."""
    found = set[float]()
    unit = parse_unit(finding.reading.unit if finding.reading else "").name
    for other in siblings(knowledge, finding):
        assert other.reading is not None
        given = parse_unit(other.reading.unit).name
        found |= {convert(x, given, unit) for x in limits(other.reading)}
    return sorted(found)


def _stretches(limits: list[float]) -> list[Stretch]:
    """The stretches between the limits, and one beyond each end."""
    if not limits:
        return []
    first, last = limits[0], limits[-1]
    span = max(abs(first), abs(last), last - first, 1e-6) * OUTSIDE
    floor = max(0.0, first - span) if first > 0 else first - span
    return [(floor, first), *pairwise(limits), (last, last + span)]


def _fits(
    knowledge: Knowledge, case: Case, finding: Finding, wanted: Mapping[str, str], stretch: Stretch
) -> bool:
    assert finding.reading is not None
    middle = _quantity(finding, (stretch[0] + stretch[1]) / 2)
    try:
        others = values_known(knowledge, case)
        found = meaning(knowledge, finding.reading.quantity, middle, case.machine.facts, others)
    except CallError:
        return False
    states = dict(found.states)
    first = all(value == knowledge.facts[fact].values[0] for fact, value in found.learnt.items())
    return bool(states) and first and all(states.get(id, state) == state for id, state in wanted.items())


def _rounded(value: float, span: float) -> float:
    """As a gauge is read: to about a fiftieth of the stretch, one figure of it."""
    step = 10.0 ** np.floor(np.log10(max(span, 1e-9) / 20))
    return float(f"{round(value / step) * step:.6g}")
