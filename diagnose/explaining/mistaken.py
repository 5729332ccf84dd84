"""What a cause is often mistaken for: others that look like it at first sight, and the check that tells them apart.

At first sight are symptoms and codes, before anything is opened or measured. If the cause c is there, each of them
speaks on average for c rather than another cause r by the divergence KL(P(finding | c) || P(finding | r))
(Kullback & Leibler 1951, from memory), and what each is worth beforehand stands against that: the odds of r against
c that the first sight of c leaves, as if the signs were independent given the cause, are
prior(r) / prior(c) exp(-sum KL). They order the rivals; nothing else is made of them. A rival must itself be told
by these signs: it looks more like c than a machine of which nothing is known does.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.diagnosis import Diagnosis, RankedCause
from diagnose.explaining.settling import UnknownFinding, promising, questions
from diagnose.network.engine import Engine
from diagnose.network.network import Array, below
from diagnose.network.predict import predict
from diagnose.network.ties import untied

PLAIN = ("symptom", "code")
"""Kinds of findings that are there to be seen, heard or read at first."""
LOOKED_AT = 200
"""Leading causes that are looked at."""
ODDS = 0.02
"""Odds against the cause below which another one is not mistaken for it (judgement)."""
TOLD = 2.0
"""How many times likelier than on any machine the first sight must be with a rival (judgement)."""
ANYWAY = 30.0
"""Minutes that any check takes beyond its own: a strong one is worth a walk, a weak one is not (judgement)."""
LEAST = 1e-4
"""Least probability of a sign, so that no single one rules a cause out for good (judgement)."""


@dataclass(frozen=True, slots=True)
class Rival:
    """A cause that this one is mistaken for, and the question that tells them best apart, None where none does."""

    cause: RankedCause
    apart: UnknownFinding | None


def mistaken_for(diagnosis: Diagnosis, cause: RankedCause, most: int = 3) -> tuple[Rival, ...]:
    """The causes that look most like it, the nearest first."""
    others = [one for one in diagnosis.causes[:LOOKED_AT] if one.id != cause.id]
    near = alike(diagnosis, cause, others)
    order = sorted(range(len(others)), key=lambda i: (-near[i], others[i].id))
    chosen = [others[i] for i in order if near[i] >= np.log(ODDS)][:most]
    return tuple(Rival(one, _apart(diagnosis, cause, one)) for one in chosen)


def alike(diagnosis: Diagnosis, cause: RankedCause, others: Sequence[RankedCause]) -> Array:
    """The logarithm of the odds of each of the others against the cause by its first sight, -inf of those that it
    does not speak of, shape (others,)."""
    causes = [cause, *others]
    built = untied(
        diagnosis.built, diagnosis.built.telling
    )  # the causes are held: what ties them says nothing
    columns = [built.variable(one.id) for one in causes]
    engine = Engine(built.network, {}, inside=columns)
    plain = [one.id for one in diagnosis.knowledge.findings.values() if one.kind in PLAIN]
    rows: list[dict[int, int]] = [*({column: 1} for column in columns), {}]
    shown = predict(engine, rows, map(built.variable, plain))
    *apart, unlike = np.sum([_divergence(np.clip(one, LEAST, None)) for one in shown.values()], axis=0)[1:]
    before = np.log([max(one.prior, LEAST**2) for one in causes])
    odds: Array = before[1:] - before[0] - np.array(apart)
    return np.where(unlike - np.array(apart) >= np.log(TOLD), odds, -np.inf)


def _divergence(shown: Array) -> Array:
    """Of the first column from each, shape (columns,)."""
    found: Array = (shown[:, :1] * np.log(shown[:, :1] / shown)).sum(axis=0)
    return found


def _apart(diagnosis: Diagnosis, one: RankedCause, other: RankedCause) -> UnknownFinding | None:
    """The question whose answer tells best which of the two it is, if only one of them is there."""
    network = diagnosis.built.network
    pair = [diagnosis.built.variable(cause.id) for cause in (one, other)]
    asked = questions(diagnosis, below(network, pair[0]) | below(network, pair[1]))
    hold = [{pair[0]: 1, pair[1]: 0}, {pair[0]: 0, pair[1]: 1}]
    return next(iter(promising(diagnosis, hold, (0.5, 0.5), asked, _worth)), None)


def _worth(bits: float, question: UnknownFinding) -> float:
    return bits / (ANYWAY + question.minutes)
