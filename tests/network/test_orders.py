"""The order of elimination changes nothing: hubs before their variables or after, whatever had come in by then."""

from __future__ import annotations

from itertools import product
from math import log

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from diagnose.network import factors
from diagnose.network.engine import Engine
from diagnose.network.network import Array, Network
from diagnose.network.observed import hard
from diagnose.network.subsets import by_subset
from tests.network.bruteforce import enumerate_posterior
from tests.network.builders import Sketch
from tests.network.random_networks import cases

Case = tuple[Network, dict[int, Array]]


@settings(max_examples=300)
@given(cases(max_variables=6), st.data())
def test_any_order_equals_enumeration(case: Case, data: st.DataObject) -> None:
    network, evidence = case
    expected, total = enumerate_posterior(network, evidence)
    assume(total > 0)
    everything = range(len(network.names))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(factors, "SMALL_TABLE", 0)  # every family with two parents gets a hub
        variables = Engine(network, evidence, everything).tree.variables
        engine = Engine(network, evidence, everything, order=data.draw(st.permutations(variables)))
    assert engine.log_probability == pytest.approx(log(total), abs=1e-9)
    for variable in everything:
        np.testing.assert_allclose(engine.marginal(variable), expected[variable], rtol=0, atol=1e-9)


@pytest.mark.parametrize("small", [0, factors.SMALL_TABLE])
def test_any_part_of_the_evidence_equals_enumeration(small: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Two findings that are absent share a cause, one is there, one is told with doubt: each subset of them."""
    monkeypatch.setattr(factors, "SMALL_TABLE", small)
    network = (
        Sketch()
        .root("pump", 0.1)
        .root("filter", 0.2)
        .root("wire", 0.15)
        .noisy_or("low", 0.05, {"pump": 0.7, "filter": 0.6})
        .noisy_or("code", 0.02, {"filter": 0.4, "wire": 0.8})
        .noisy_or("stall", 0.03, {"pump": 0.5, "wire": 0.9})
        .noisy_or("smoke", 0.04, {"pump": 0.3, "filter": 0.5, "wire": 0.2})
        .network()
    )
    evidence = hard(network, {"low": "absent", "code": "absent", "stall": "present"})
    evidence[network.index["smoke"]] = np.array([1.0, 3.0])
    items, causes = list(evidence), [network.index[name] for name in ("pump", "filter", "wire")]
    masks = np.array(list(product((True, False), repeat=len(items))))
    found = by_subset(Engine(network, evidence), items, masks, causes)
    for row, mask in enumerate(masks):
        kept = {item: evidence[item] for item, counts in zip(items, mask, strict=True) if counts}
        expected, total = enumerate_posterior(network, kept)
        assert found.log_probability[row] == pytest.approx(log(total), abs=1e-12)
        for cause in causes:
            np.testing.assert_allclose(found.marginals[cause][:, row], expected[cause], rtol=0, atol=1e-12)
