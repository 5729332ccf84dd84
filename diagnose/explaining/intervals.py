"""How far a probability may be off because the knowledge's numbers are: intervals from draws of all of them.

Every row of the knowledge (a prior, a leak, what a link contributes) is drawn from a Beta or Dirichlet distribution
whose mean it is and which is worth as many cases as the knowledge says (`study.spread.worth`); factors on the odds
are drawn log-normal. Each draw gives a posterior of its own (error bars of a network's answer: Van Allen, Singh,
Greiner & Hooper, AIJ 172, 2008, from memory) and counts by how likely it makes the evidence. As every number enters
P(evidence, cause) linearly, the mean of the draws so weighted is the probability that the ranking shows; the
interval holds the middle 90 % of them.

All draws are one batch on one tree: with the numbers laid open, a row p of its own small variable becomes q by a
weight q_t p_0 / (p_t q_0) on its states t and a weight q_0 / p_0 on the parent's state; both are weights of one
variable, of which the engine takes a batch.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from zlib import crc32

import numpy as np

from diagnose.diagnosis import Diagnosis
from diagnose.knowledge.number import Number
from diagnose.network.messages import Beliefs
from diagnose.network.network import Array, Network, NoisyMax
from diagnose.network.predict import frontier
from diagnose.study.exposed import Exposed, ExposedRow, expose
from diagnose.study.lines import LaidOpen, distribution
from diagnose.study.named import NamedNumber, NamedRows, named
from diagnose.study.spread import WIDEST_DEVIATION, spread, worth

LEVEL = 0.9  # share of the draws between the two ends (judgement: 5 % beyond either)
DRAWS, FEWEST = 256, 100
"""The share of draws beyond an end has a standard error of 1.4 in 100 by 256 draws, of 2.2 by 100."""
BUDGET = 1 << 20
"""Numbers touched by all draws together: where the tree is very large, there are fewer draws, at least FEWEST."""
SMALLEST = 1e-12  # keeps a drawn probability off 0 and 1, where its logarithm ends

Interval = tuple[float, float]


def intervals(opened: LaidOpen, causes: Collection[str]) -> dict[str, Interval]:
    """The 90 % interval of each cause's probability."""
    diagnosis = opened.diagnosis
    variables = {id: diagnosis.built.variable(id) for id in causes}
    beliefs = drawn_beliefs(opened, list(variables.values()), how_many(opened))
    shares = np.exp(beliefs.log_probability - beliefs.log_probability.max())
    found = {}
    for id, variable in variables.items():
        low, high = quantiles(1 - beliefs.marginals[variable][0], shares, ((1 - LEVEL) / 2, (1 + LEVEL) / 2))
        point = 1 - float(diagnosis.engine.marginal(variable)[0])
        found[id] = (min(low, point), max(high, point))
    return found


def how_many(opened: LaidOpen) -> int:
    """The number of draws: by the case alone, so that every question about it has the same."""
    return min(DRAWS, max(FEWEST, BUDGET // opened.diagnosis.engine.tree.size))


def quantiles(values: Array, shares: Array, levels: Sequence[float]) -> tuple[float, ...]:
    """Quantiles of values that count by their shares."""
    order = np.argsort(values, kind="stable")
    passed = np.cumsum(shares[order]) - shares[order] / 2
    return tuple(map(float, np.interp(levels, passed / shares.sum(), values[order])))


def drawn_beliefs(opened: LaidOpen, variables: Sequence[int], count: int) -> Beliefs:
    """For each draw of all numbers log P(evidence) and the marginals of the plain network's variables."""
    places = opened.exposed.places
    inside, beyond = frontier(opened.diagnosis.engine, variables)
    rows = drawn_rows(opened.exposed, opened.named, count)
    weights = as_weights(opened.exposed.network, rows)
    beliefs = opened.engine.tree.run(weights, [places[v] for v in inside], count)
    known = {v: beliefs.marginals[places[v]] for v in inside}
    return Beliefs(beliefs.log_probability, known | _outside(opened.diagnosis, beyond, known, count))


def _outside(
    diagnosis: Diagnosis, beyond: Sequence[int], known: Mapping[int, Array], count: int
) -> dict[int, Array]:
    """Marginals, for each draw, of variables that the evidence does not speak of, as if their parents were
    independent of each other."""
    network, fixed = diagnosis.built.network, diagnosis.engine.fixed
    exposed = expose(network, [v for v in beyond if v not in fixed])
    rows = drawn_rows(exposed, named(diagnosis, exposed), count)
    drawn = {row.variable: (row, values) for row, values in rows.items()}
    seen = {
        v: np.repeat(np.eye(network.cards[v])[:, [fixed[v]]], count, axis=1) for v in beyond if v in fixed
    }
    found = {exposed.places[v]: marginal for v, marginal in {**known, **seen}.items()}
    for variable in sorted({row.variable for row in exposed.rows} | {exposed.places[v] for v in beyond}):
        if variable not in found:
            found[variable] = _from_parents(exposed.network, variable, drawn.get(variable), found, count)
    return {v: found[exposed.places[v]] for v in beyond}


def drawn_rows(exposed: Exposed, numbers: NamedRows, count: int) -> dict[ExposedRow, Array]:
    """Draws of every row that has numbers and is neither all nor nothing, shape (card, count) each."""
    found = {}
    for row, items in numbers.rows.items():
        values = distribution(exposed.network, row)
        if 0 < values[0] < 1:
            found[row] = draws(values, items, count)
    return found


def as_weights(network: Network, rows: Mapping[ExposedRow, Array]) -> dict[int, Array]:
    """Weights of the network's variables, shape (card, count), that put every row at its draws."""
    weights: dict[int, Array] = {}
    for row, drawn in rows.items():
        values = distribution(network, row)
        ratio = drawn / np.where(values > 0, values, 1.0)[:, None]
        for parent in network.parents(row.variable):
            shown = weights.setdefault(parent, np.ones((network.cards[parent], drawn.shape[1])))
            shown[row.state] *= ratio[0]
            ratio = ratio / ratio[0]
        weights[row.variable] = weights.get(row.variable, 1.0) * ratio
    return weights


def draws(values: Array, items: Sequence[NamedNumber], count: int) -> Array:
    """Draws of one row, shape (card, count). A number has the same draws wherever and whenever it is asked for."""
    source = np.random.default_rng(crc32(items[0].label.encode()))
    if len(values) == 2:
        return _of_two(values, items, count, source)
    cases = worth(values[0], min(item.number.ess for item in items))
    shares = source.gamma(cases * values[:, None], size=(len(values), count))
    found: Array = np.clip(shares / shares.sum(axis=0), SMALLEST, 1.0)
    return found


def _of_two(values: Array, items: Sequence[NamedNumber], count: int, source: np.random.Generator) -> Array:
    """Draws of a number and its complement. A share is drawn as the knowledge has it, at the reference age, and its
    odds are then multiplied as this machine's are; a rate, and factors that are numbers themselves,
    multiply them."""
    if items[0].multiplies == "hazard":
        return _of_hazard(values, items, count, source)
    odds = np.full(count, values[1] / values[0])
    factors = [item.number for item in items]
    if not items[0].multiplies:
        number, *factors = factors
        p, cases = number.value, worth(number.value, number.ess)
        drawn = np.clip(source.beta(cases * p, cases * (1 - p), count), SMALLEST, 1 - SMALLEST)
        odds = drawn / (1 - drawn) * odds / (p / (1 - p))
    odds = odds * _factors(factors, count, source)
    return np.stack([1 / (1 + odds), odds / (1 + odds)])


def _of_hazard(values: Array, items: Sequence[NamedNumber], count: int, source: np.random.Generator) -> Array:
    """The same of what happens at a rate: each number multiplies the hazard."""
    numbers = [item.number for item in items]
    sound = np.exp(np.log(values[0]) * _factors(numbers, count, source))
    return np.stack([sound, np.maximum(1 - sound, SMALLEST)])


def _factors(numbers: Sequence[Number], count: int, source: np.random.Generator) -> Array:
    """Draws, with mean 1, of what these numbers multiply by, all together."""
    found = np.ones(count)
    for number in numbers:
        deviation = min(spread(number, "hazard"), WIDEST_DEVIATION)
        found = found * np.exp(deviation * source.standard_normal(count) - deviation**2 / 2)
    return found


def _from_parents(
    network: Network,
    variable: int,
    drawn: tuple[ExposedRow, Array] | None,
    known: Mapping[int, Array],
    count: int,
) -> Array:
    """The marginal from those of the parents, shape (card, count)."""
    family = network.families[variable]
    if isinstance(family, NoisyMax):
        cumulative = np.cumsum(family.leak)[:, None]
        for parent, link in zip(family.parents, family.links, strict=True):
            cumulative = cumulative * (np.cumsum(link, axis=1).T @ known[parent])
        return np.diff(cumulative, axis=0, prepend=0.0)
    table = np.repeat(family.values[..., None], count, axis=-1)
    if drawn is not None:
        row, values = drawn
        table[(row.state,) if family.parents else ()] = values
    for parent in family.parents:
        mine = known[parent]
        table = (table * mine.reshape(len(mine), *(1,) * (table.ndim - 2), count)).sum(axis=0)
    return table
