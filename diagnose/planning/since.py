"""When the machine was last known right: what each answer would make of the case, and whether it is worth
asking.

What is wrong now happened since then, so the answer scales how likely each cause that happens is to have
arisen (network/priors.py). What built up unnoticed does not care, nor does what nothing listed brings about:
a short time speaks for these, a long one for wear. The likely fault sets of the planning problem are weighed
anew under each answer, each by how much more or less likely its faults are to have arisen in that time and
the other candidates not to have: exact of faults that nothing else brings about, near it else.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, partial

import numpy as np

from diagnose.diagnosis import Diagnosis
from diagnose.knowledge.observable import LAST_RIGHT, LAST_RIGHT_ANSWERS
from diagnose.network.arising import Arising
from diagnose.network.facts import Facts
from diagnose.network.network import Array
from diagnose.planning.planner import Planner, State
from diagnose.planning.situation import Situation

ASK_LAST_RIGHT = f"ask:{LAST_RIGHT}"
"""The id of the question among the checks."""
SHARES = np.array([0.2, 0.35, 0.3, 0.15])
"""How common each answer is among machines that come in (judgement)."""
MATTERS = 0.05
"""An answer that saves less than this share of the expected cost saves nothing that is sure: the likely fault
sets leave about so much out (judgement)."""
CLEAR = 0.1
"""What must lie between two probabilities for a person to decide otherwise (judgement): another cause leads
where an answer puts it so far ahead; the leading one hangs on the answer where it moves so far."""


@dataclass(frozen=True, eq=False)
class Since:
    """`causes`: P(candidate present | answer), shape (answers, candidates). `lead`: the candidate that leads
    now, by number. `reckon`: works out `cost` and `gain` when they are asked for."""

    causes: Array
    lead: int
    reckon: Callable[[], tuple[float, float]]

    @cached_property
    def _money(self) -> tuple[float, float]:
        return self.reckon()

    @property
    def cost(self) -> float:
        """Expected cost of the best check and repairs with the answer unknown."""
        return self._money[0]

    @property
    def gain(self) -> float:
        """What the answer saves of that."""
        return self._money[1]

    @property
    def turns(self) -> bool:
        """Whether some answer puts another cause clearly first."""
        return bool((self.causes.max(axis=1) - self.causes[:, self.lead]).max() >= CLEAR)

    @property
    def moves(self) -> bool:
        """Whether the leading cause hangs on the answer; else this tells only of other faults beside it."""
        return bool(np.ptp(self.causes[:, self.lead]) >= CLEAR)

    def pays(self, price: float) -> bool:
        """Whether the answer is worth this price: it changes what leads, or moves it and saves more."""
        return self.turns or (self.moves and self.gain - price > MATTERS * self.cost)


def since(diagnosis: Diagnosis, now: Situation) -> Since | None:
    """What the answers would tell; None where it was told or asked, or nothing is suspected."""
    asked = any(ASK_LAST_RIGHT in epoch.checks for epoch in diagnosis.case.epochs)
    if asked or diagnosis.case.machine.last_right is not None or not now.candidates:
        return None
    beliefs = _beliefs(diagnosis, now)
    lead = int(np.argmax(now.problem.probabilities @ now.present))
    return Since(beliefs @ now.present, lead, partial(_costs, now, beliefs))


def _costs(now: Situation, beliefs: Array) -> tuple[float, float]:
    """Expected cost with the answer unknown, and what the answer saves of that."""
    planner = Planner(now.problem)
    untold, *told = (_cost(planner, State(one, now.open_now)) for one in (SHARES @ beliefs, *beliefs))
    return untold, max(0.0, untold - float(SHARES @ told))


def _cost(planner: Planner, state: State) -> float:
    """Expected cost with the best single check, or none, and repairs alone after it: the question counts only
    for what it adds to the check that would be done anyhow."""
    alone = float(planner.values([state])[0])
    return min([alone, *(step.estimate for step in planner.estimated(planner.tests(state)))])


def _beliefs(diagnosis: Diagnosis, now: Situation) -> Array:
    """P(fault set | evidence, answer), shape (answers, fault sets)."""
    present = now.present
    brought = _brought_about(diagnosis, now.candidates, present)
    as_is = _arising(diagnosis, now.candidates, diagnosis.case.machine.last_right)
    rows = [
        _weighed(now.problem.probabilities, present, brought, as_is, _arising(diagnosis, now.candidates, h))
        for h in LAST_RIGHT_ANSWERS.values()
    ]
    return np.array(rows)


def _weighed(chances: Array, present: Array, brought: Array, before: Array, after: Array) -> Array:
    """The chances of the fault sets where the candidates arise with `after` in place of `before`."""
    there = np.where(brought, 1.0, after / np.maximum(before, 1e-300))
    away = (1 - after) / np.maximum(1 - before, 1e-300)
    weighed = chances * np.where(present > 0, there, away).prod(axis=1)
    return np.asarray(weighed / weighed.sum())


def _arising(diagnosis: Diagnosis, candidates: Sequence[str], hours: float | None) -> Array:
    """P(each candidate arises of itself), were the machine last right so many hours ago."""
    knowledge, machine = diagnosis.knowledge, replace(diagnosis.case.machine, last_right=hours)
    arising = Arising(knowledge, machine, Facts(knowledge.facts, machine.facts))
    return np.array([arising.marginal(knowledge.causes[id]) for id in candidates])


def _brought_about(diagnosis: Diagnosis, candidates: Sequence[str], present: Array) -> Array:
    """Whether the set holds something that can have brought the candidate about: then it need not have
    arisen."""
    built = diagnosis.whole.built
    variables = [built.variable(id) for id in candidates]
    above = [built.network.ancestors([v]) - {v} for v in variables]
    leads = np.array([[float(v in up) for v in variables] for up in above])
    return np.asarray(present @ leads.T > 0)
