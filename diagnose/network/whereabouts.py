"""What a network that is written out by cylinder or bank (places.py) says of the machine as a whole, and of where
its causes are."""

from __future__ import annotations

from collections.abc import Mapping, Set

import numpy as np

from diagnose.knowledge.located import apart
from diagnose.network.built import Built
from diagnose.network.engine import Engine
from diagnose.network.network import Array
from diagnose.network.strikes import ELSEWHERE

LIKELY = 0.5
"""Share from which the place of a cause is said."""


def copies_of(built: Built) -> dict[int, int]:
    """The variable of each copy, and the machine's own one."""
    return {
        built.variable(copy): built.variable(id) for id, copies in built.places.items() for copy in copies
    }


def machine_wide(built: Built, variables: Set[int]) -> set[int]:
    """The machine's own variables of what has a copy among these."""
    ids = {built.variables[v].id for v in variables}
    return {built.variable(id) for id, copies in built.places.items() if not ids.isdisjoint(copies)}


def in_the_tree(built: Built, evidence: Mapping[int, Array]) -> dict[int, Array]:
    """Evidence that says nothing, on the machine's own variables of the causes written out above the evidence: so
    they stand in the tree, where questions about them are answered."""
    wanted = machine_wide(built, built.network.ancestors(evidence)) if built.places else set()
    causes = {built.variable(id) for id in built.causes if id in built.places}
    return {v: np.ones(built.network.cards[v]) for v in sorted(wanted & causes)}


def likely_places(engine: Engine, built: Built) -> dict[str, str]:
    """Of each cause written out, the place told where it is in half of all cases or more, given that it is there at
    all."""
    found = {}
    for id in built.causes:
        for copy in built.places.get(id, ()):
            place = apart(copy)[1]
            there = [built.variable(one) for one in (copy, id)]
            if place != ELSEWHERE and engine.region.issuperset(there):
                here, all_in_all = (1 - float(engine.marginal(v)[0]) for v in there)
                if here >= LIKELY * all_in_all > 0:
                    found[id] = place
    return found
