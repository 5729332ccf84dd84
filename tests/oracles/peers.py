"""Other people's programs and networks, ready for comparison."""

from __future__ import annotations

import json
import warnings
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

import numpy as np
import yaml

from diagnose.network.network import Array, Network, Table, full_table
from diagnose.network.pgmpy_bridge import read_file

HERE = Path(__file__).parent


@cache
def example_network(name: str) -> Network:
    """One of the published networks that come with pgmpy, columns normalised."""
    return read_file(Path(str(files("pgmpy") / "utils" / "example_models" / f"{name}.bif.gz")))


@cache
def worked() -> dict[str, Any]:
    """The worked numbers."""
    text = (HERE / "worked.yaml").read_text(encoding="utf-8")
    numbers: dict[str, Any] = yaml.safe_load(text)
    return numbers


@cache
def posterior_rows() -> list[dict[str, Any]]:
    """The stored posteriors on published networks."""
    rows: list[dict[str, Any]] = json.loads((HERE / "posteriors.json").read_text(encoding="utf-8"))
    return rows


@cache
def agrum() -> Any:
    """The pyAgrum module.

    Its compiled types warn at first import that they lack `__module__` (a matter of their wrapper generator);
    with warnings as errors the import would crash the interpreter.
    """
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="builtin type [Ss]wig", category=DeprecationWarning)
        import pyagrum
    return pyagrum


def to_agrum(network: Network) -> Any:
    """The network in pyAgrum, every family as a full double-precision table; variables are v<number>."""
    gum = agrum()
    net = gum.BayesNet()
    for variable, card in enumerate(network.cards):
        net.add(gum.RangeVariable(f"v{variable}", "", 0, card - 1))
    for variable, family in enumerate(network.families):
        for parent in family.parents:
            net.addArc(f"v{parent}", f"v{variable}")
        cpt = net.cpt(f"v{variable}")
        axes = [int(name[1:]) for name in reversed(cpt.names)]
        order = [(*family.parents, variable).index(axis) for axis in axes]
        cpt.fillWith(np.ascontiguousarray(full_table(family).transpose(order)).ravel().tolist())
    return net


def from_agrum(net: Any) -> Network:
    """A network of pyAgrum's as full tables, variables and states under their own names."""
    order = list(net.topologicalOrder())
    names = tuple(net.variable(node).name() for node in order)
    number = {name: variable for variable, name in enumerate(names)}
    states = tuple(tuple(net.variable(node).labels()) for node in order)
    cpts = [net.cpt(node) for node in order]  # the child is the last axis of an array, its parents backwards
    families = [
        Table(
            tuple(number[parent] for parent in cpt.names[1:]),
            np.moveaxis(np.asarray(cpt.toarray()).T, 0, -1),
        )
        for cpt in cpts
    ]
    return Network(names, states, tuple(families))


def agrum_posterior(network: Network, evidence: Mapping[int, Array]) -> tuple[list[Array], float]:
    """All marginals and P(evidence) by pyAgrum's lazy propagation."""
    engine = agrum().LazyPropagation(to_agrum(network))
    engine.setEvidence({f"v{variable}": row.tolist() for variable, row in evidence.items()})
    engine.makeInference()
    names = (f"v{variable}" for variable in range(len(network.names)))
    marginals = [np.array(engine.posterior(name).tolist()) for name in names]
    return marginals, float(engine.evidenceProbability())
