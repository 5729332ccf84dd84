"""Which of the codes one cause explains.

A code is explained by a cause that at least doubles its probability: given the cause, the code is then more likely
due to it than to anything else (the attributable fraction (P(code | cause) - P(code | no cause)) / P(code | cause)
is at least 1/2; Greenland & Robins 1988, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from diagnose.diagnosis import Diagnosis
from diagnose.evidence.counted import CountedObservation
from diagnose.knowledge.observable import observable
from diagnose.network.weighing import DECIBANS, log_odds

DOUBLED = DECIBANS * float(np.log(2))
"""Decibans of a factor of two."""


@dataclass(frozen=True, slots=True)
class CodeWeight:
    """A code that was seen, by its place in the evidence; `decibans`: what it alone weighs for the cause."""

    place: int
    decibans: float

    @property
    def explained(self) -> bool:
        """Whether the cause at least doubles its probability."""
        return self.decibans >= DOUBLED


@dataclass(frozen=True, slots=True)
class Codes:
    """The codes that were seen, in the order noted, and what those that the cause explains weigh together."""

    seen: tuple[CodeWeight, ...]
    together: float

    @property
    def explained(self) -> tuple[CodeWeight, ...]:
        """Those that the cause explains."""
        return tuple(code for code in self.seen if code.explained)


def codes(diagnosis: Diagnosis, id: str) -> Codes:
    """The codes set, each weighed alone for the cause, and those that it explains taken together."""
    alone = diagnosis.weights_alone(id)
    seen = tuple(
        CodeWeight(i, alone[i]) for i, item in enumerate(diagnosis.evidence) if _is_code(diagnosis, item)
    )
    mask = np.zeros((2, len(diagnosis.evidence)), dtype=np.bool_)
    mask[1, [code.place for code in seen if code.explained]] = True
    column = diagnosis.built.variable(id)
    odds = log_odds(diagnosis.weighing.run(mask, [column]), [column])[:, 0]
    return Codes(seen, float(odds[1] - odds[0]))


def _is_code(diagnosis: Diagnosis, item: CountedObservation) -> bool:
    finding = observable(diagnosis.knowledge, item.observation.finding)
    return finding.kind == "code" and item.observation.state != finding.normal
