"""The chest clinic of Lauritzen and Spiegelhalter (1988) as it comes with pgmpy, its states turned round so that
the first is "no", as everywhere in the program."""

from __future__ import annotations

import numpy as np

from diagnose.network.engine import Engine
from diagnose.network.network import Network, Table, full_table
from diagnose.network.observed import hard
from tests.oracles.peers import example_network


def asia() -> Network:
    plain = example_network("asia")
    assert all(states == ("yes", "no") for states in plain.states)
    families = tuple(Table(family.parents, np.flip(full_table(family))) for family in plain.families)
    return Network(plain.names, (("no", "yes"),) * len(plain.names), families)


def engine(evidence: dict[str, str]) -> Engine:
    network = asia()
    return Engine(network, hard(network, evidence))
