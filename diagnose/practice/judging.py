"""Own probabilities against the exact posterior: a proper score, and which mistake they look like.

Brier and logarithmic score as expected under the exact posterior p: for one cause and the figure q said,
p (1 - q)^2 + (1 - p) q^2 and -p ln q - (1 - p) ln(1 - q). Both are strictly proper (Gneiting & Raftery 2007, from
memory): they are lowest for q = p, where they are p (1 - p) and the entropy of p. A mistake is named when the
figures lie nearer to what one gets by making it than to the exact ones.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from diagnose.network.engine import Engine
from diagnose.network.messages import TooWide
from diagnose.network.network import Array, Network, NoisyMax, Table
from diagnose.network.observed import ImpossibleEvidence, one_hot

SUREST = 0.99
"""No figure counts as surer than this, nor less sure than the rest to one: nobody is ruined by one answer."""
CLOSE = 0.1
"""Root mean square difference from the exact figures up to which they count as well judged."""
WELL = 75.0
"""Points from which on figures in which no mistake shows count as well judged (judgement)."""
Figures = Mapping[int, float]
Likelihoods = Mapping[int, Array]

MISTAKES: Mapping[str, str] = {
    "base rate": "Your figures look as if every cause were equally common to begin with. How often does each fail "
    "on a machine like this?",
    "anchored": "Your figures look like those of the first finding alone. What have the later ones changed?",
    "counted twice": "Your figures look as if each finding were news of its own. Several signs of one fault tell "
    "little more than one of them.",
    "absence": "Your figures look as if codes that nobody read were known to be not set. What was not looked for "
    "says nothing.",
    "too sure": "Your figures go in the right direction, and too far.",
    "too timid": "Your figures go in the right direction, and not far enough.",
}
TEACHES: Mapping[str, str] = {
    "base rate": "forget how common each cause is",
    "anchored": "stay with the first finding",
    "counted twice": "count several signs of one fault as news each",
    "absence": "take a code that nobody read for not set",
}


@dataclass(frozen=True, slots=True)
class Grade:
    """`brier`, `log`: expected scores by the exact posterior, mean over the causes (log in nats); `best_brier`,
    `best_log`: those of the exact posterior itself. `points`: 0 to 100. `mistake`: a key of MISTAKES, or empty."""

    brier: float
    log: float
    best_brier: float
    best_log: float
    points: float
    mistake: str


def brier(said: Sequence[float], truth: Sequence[float]) -> float:
    """Mean Brier score; `truth`: what happened (0 or 1), or its probabilities for the expected score."""
    q, p = np.asarray(said, dtype=float), np.asarray(truth, dtype=float)
    return float(np.mean(p * (1 - q) ** 2 + (1 - p) * q**2))


def log_score(said: Sequence[float], truth: Sequence[float]) -> float:
    """Mean logarithmic score in nats, lower is better; `truth` as for `brier`."""
    q, p = np.asarray(said, dtype=float), np.asarray(truth, dtype=float)
    with np.errstate(divide="ignore", invalid="ignore"):
        hit, miss = np.where(p > 0, p * np.log(q), 0.0), np.where(p < 1, (1 - p) * np.log1p(-q), 0.0)
    return float(-np.mean(hit + miss))


def points(said: Sequence[float], exact: Sequence[float]) -> float:
    """Brier skill: 100 for the exact figures, 0 for those no better than saying nothing (the least figure for all).
    The excess of an expected Brier score is the mean square difference from the exact figures."""
    nothing = max(_apart([1 - SUREST] * len(exact), exact), CLOSE)
    return 100.0 * max(0.0, 1 - (_apart(said, exact) / nothing) ** 2)


def grade(said: Figures, exact: Figures, mistaken: Mapping[str, Figures]) -> Grade:
    """Grade figures by variable. `mistaken`: what each mistake would make of the same causes."""
    order = list(said)
    q = [min(SUREST, max(1 - SUREST, said[v])) for v in order]
    p = [exact[v] for v in order]
    held = [min(SUREST, max(1 - SUREST, x)) for x in p]
    told = _mistake(q, held, {name: [f[v] for v in order] for name, f in mistaken.items()})
    return Grade(brier(q, p), log_score(q, p), brier(held, p), log_score(held, p), points(q, held), told)


def in_words(graded: Grade) -> str:
    """What to tell of a grade."""
    return MISTAKES.get(graded.mistake, "Well judged." if graded.points >= WELL else "Not close yet.")


def _mistake(said: Sequence[float], exact: Sequence[float], mistaken: Mapping[str, Sequence[float]]) -> str:
    """The mistake that the figures look like, if they are off and one explains them clearly better."""
    off = _apart(said, exact)
    if off <= CLOSE:
        return ""
    near = {
        name: _apart(said, figures) for name, figures in mistaken.items() if _apart(figures, exact) > CLOSE
    }
    name = min(near, key=lambda one: near[one], default="")
    if name and near[name] < off / 2:
        return name
    q, p = np.asarray(said), np.asarray(exact)
    if int(np.argmax(q)) != int(np.argmax(p)):
        return ""
    return "too sure" if q.max() > p.max() else "too timid"


def _apart(one: Sequence[float], other: Sequence[float]) -> float:
    return float(np.sqrt(np.mean((np.asarray(one) - np.asarray(other)) ** 2)))


# ---- what each mistake would make of it ----


def mistaken(
    network: Network,
    evidence: Likelihoods,
    causes: Sequence[int],
    roots: Sequence[int],
    unread: Sequence[int],
) -> dict[str, Figures]:
    """Posteriors of `causes` under each mistake. `evidence`: likelihoods in the order in which they were seen;
    `roots`: all causes, whose base rates are left out; `unread`: codes that nobody read."""
    first = dict(list(evidence.items())[:1])
    silent = {v: one_hot(network.cards[v], 0) for v in unread if v not in evidence}
    found = {
        "base rate": _posterior(evenly(network, roots), evidence, causes),
        "anchored": _posterior(network, first, causes),
        "counted twice": apart(network, evidence, causes),
        "absence": _posterior(network, {**evidence, **silent}, causes) if silent else None,
    }
    return {name: figures for name, figures in found.items() if figures is not None}


def evenly(network: Network, roots: Sequence[int]) -> Network:
    """The network with one base rate for all these causes, the geometric mean of theirs."""
    families = list(network.families)
    present = np.array([_base(families[v])[1:].sum() for v in roots])
    mean = float(np.exp(np.mean(np.log(np.clip(present, 1e-9, 1.0)))))
    for v in roots:
        family, even = families[v], np.array([1 - mean, mean])
        families[v] = replace(family, leak=even) if isinstance(family, NoisyMax) else Table((), even)
    return Network(network.names, network.states, tuple(families))


def _base(family: Table | NoisyMax) -> Array:
    return family.leak if isinstance(family, NoisyMax) else family.values


def apart(network: Network, evidence: Likelihoods, causes: Sequence[int]) -> Figures:
    """Every finding counted as news of its own: prior odds times the product of each one's factor alone."""
    prior = _posterior(network, {}, causes) or {}
    odds = {v: _odds(prior[v]) for v in causes}
    for variable, vector in evidence.items():
        alone = _posterior(network, {variable: vector}, causes) or prior
        odds = {v: odds[v] * _odds(alone[v]) / _odds(prior[v]) for v in causes}
    return {v: o / (1 + o) for v, o in odds.items()}


def _odds(p: float) -> float:
    held = min(1 - 1e-9, max(1e-9, p))
    return held / (1 - held)


def _posterior(network: Network, evidence: Likelihoods, causes: Sequence[int]) -> Figures | None:
    try:
        engine = Engine(network, evidence, inside=[v for v in causes if network.parents(v)], widest=1 << 16)
        return {v: 1 - float(m[0]) for v, m in engine.marginals(causes).items()}
    except (TooWide, ImpossibleEvidence):
        return None


# ---- which causes rise and fall ----

CLEARLY = 0.02
"""A change of probability from which on a cause counts as risen or fallen (judgement)."""


def moved(before: Figures, after: Figures, up: Sequence[int], down: Sequence[int]) -> tuple[int, int, int]:
    """Right, wrong and clear moves of the causes that were said to rise and fall."""
    change = {v: after[v] - before[v] for v in before}
    right = sum(change[v] > 0 for v in up) + sum(change[v] < 0 for v in down)
    clear = sum(bool(abs(c) >= CLEARLY) for c in change.values())
    return int(right), int(len(up) + len(down) - right), clear
