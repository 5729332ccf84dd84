"""May the machine run on? For each cause that wrecks more than itself: stop, move only, or run to the shop.

The expected damage of running on, P(cause) x P(damage) x cost, stands against what it takes to rule the cause out
here and now. So two per cent of something loose on the crankshaft outrank sixty per cent of a bad sensor.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.diagnosis import Diagnosis, RankedCause
from diagnose.network.network import below
from diagnose.planning.checks import QUICK_TABLE
from diagnose.planning.options import CheckOption, access_path, check_options, open_states
from diagnose.planning.shop import Shop

STOP, MOVE, RUN = "stop now", "move only", "run to the shop"
TELLING = 0.5


@dataclass(frozen=True, slots=True)
class KeepRunning:
    """The advice for one cause. `running`, `moving`: expected damage in money; `ruling_out`: what the cheapest
    check that can settle it costs, and its name."""

    cause: RankedCause
    advice: str
    what: str
    running: float
    moving: float
    ruling_out: float
    check: CheckOption | None


def keep_running(diagnosis: Diagnosis, shop: Shop) -> tuple[KeepRunning, ...]:
    """Advice for every cause that can be behind what was found and has a costly consequence, worst first."""
    costly = [c for c in diagnosis.causes if c.relevant and diagnosis.knowledge.causes[c.id].damage]
    settled = _cheapest_checks(diagnosis, costly, shop)
    found = [_advice(diagnosis, cause, settled.get(cause.id), shop) for cause in costly]
    return tuple(sorted(found, key=lambda one: -one.running))


def _advice(
    diagnosis: Diagnosis, cause: RankedCause, settled: tuple[float, CheckOption] | None, shop: Shop
) -> KeepRunning:
    damage = diagnosis.knowledge.causes[cause.id].damage
    assert damage is not None
    running = cause.probability * damage.running.value * damage.cost.value
    moving = cause.probability * damage.moving.value * damage.cost.value
    ruling_out, check = settled or (shop.time(60), None)
    advice = (
        STOP if moving > ruling_out or running > 5 * ruling_out else MOVE if running > ruling_out else RUN
    )
    return KeepRunning(cause, advice, damage.what, running, moving, ruling_out, check)


def _cheapest_checks(
    diagnosis: Diagnosis, causes: Sequence[RankedCause], shop: Shop
) -> dict[str, tuple[float, CheckOption]]:
    """For each cause the cheapest check with a result that leaves less than half of its probability."""
    options = sorted(check_options(diagnosis), key=lambda option: _cost(diagnosis, option, shop))
    ids = [cause.id for cause in causes]
    found: dict[str, tuple[float, CheckOption]] = {}
    if not ids:
        return found
    built = diagnosis.built
    columns = [built.variable(id) for id in ids]
    reach = {v: below(built.network, v) for v in columns}
    useful = [o for o in options if any(built.variable(f) in reach[v] for f in o.findings for v in columns)]
    singles = list(dict.fromkeys(f for option in useful for f in option.findings))
    items = [(built.variable(f),) for f in singles]
    shown = dict(zip(singles, diagnosis.engine.outcomes_within(QUICK_TABLE, items, columns), strict=True))
    outcomes = {finding: outcome for finding, outcome in shown.items() if outcome is not None}
    for number, cause in enumerate(causes):
        for option in useful:
            told = [outcomes[f].causes[:, number] for f in option.findings if f in outcomes]
            best = min((float(np.min(causes)) for causes in told), default=1.0)
            if best < TELLING * cause.probability:
                found[cause.id] = _cost(diagnosis, option, shop), option
                break
    return found


def _cost(diagnosis: Diagnosis, option: CheckOption, shop: Shop) -> float:
    opened = open_states(diagnosis.knowledge, diagnosis.case.access_open)
    path = access_path(diagnosis.knowledge, option.access, opened)
    return shop.time(option.minutes + sum(state.minutes + state.restore_minutes for state in path))
