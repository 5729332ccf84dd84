"""What would be found if exactly these causes were there: quick predictions for planning.

Variables of the tree are exact; below them each parent's marginal is used as if the parents were independent
given the causes. With the causes held, what is left uncertain is little, so planning may use it; posteriors and
the information of checks never do.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import numpy as np

from diagnose.network.engine import Engine
from diagnose.network.network import Array, Family, Table
from diagnose.network.observed import held


def predict(engine: Engine, rows: Sequence[Mapping[int, int]], wanted: Iterable[int]) -> dict[int, Array]:
    """P(variable | evidence, row) for each row of held variables, shape (card, rows)."""
    network = engine.network
    asked = list(wanted)
    inside, below = frontier(engine, asked)
    if any(rows):
        known = engine.tree.run(held(rows, network.cards), inside, len(rows)).marginals
    else:
        known = {v: np.repeat(engine.marginal(v)[:, None], len(rows), axis=1) for v in inside}
    for variable in sorted(below):
        if variable in engine.fixed or not network.parents(variable):
            known[variable] = np.repeat(engine.marginal(variable)[:, None], len(rows), axis=1)
        else:
            known[variable] = from_parents(network.families[variable], known)
    return {v: known[v] for v in asked}


def rough_marginals(engine: Engine, variables: Iterable[int]) -> dict[int, Array]:
    """P(variable | evidence): exact of those in the tree, below it as `predict` has it."""
    asked = list(variables)
    below = predict(engine, [{}], [v for v in asked if v not in engine.region])
    return {v: below[v][:, 0] if v in below else engine.marginal(v) for v in asked}


def frontier(engine: Engine, asked: Iterable[int]) -> tuple[list[int], list[int]]:
    """The nearest variables of the tree above those asked for, and all that lies between."""
    inside, below, waiting = [], [], list(asked)
    seen = set(waiting)
    while waiting:
        variable = waiting.pop()
        if variable in engine.region and variable not in engine.fixed:
            inside.append(variable)
            continue
        below.append(variable)
        new = set() if variable in engine.fixed else set(engine.network.parents(variable)) - seen
        seen |= new
        waiting.extend(new)
    return inside, below


def from_parents(family: Family, known: Mapping[int, Array]) -> Array:
    """The marginal from those of the parents, as if these were independent; shape (card, rows)."""
    if isinstance(family, Table):
        found = family.values[..., None]
        for parent in family.parents:
            mine = known[parent]
            found = (found * mine.reshape(len(mine), *(1,) * (found.ndim - 2), -1)).sum(axis=0)
        return found
    cumulative = np.cumsum(family.leak)[:, None]
    for parent, link in zip(family.parents, family.links, strict=True):
        cumulative = cumulative * (np.cumsum(link, axis=1).T @ known[parent])
    return np.diff(cumulative, axis=0, prepend=0.0)
