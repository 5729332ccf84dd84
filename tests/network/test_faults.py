"""Root or consequence: a cause is a consequence where, given that it is there, another brought it about more likely
than not, right above it or through hidden conditions alone. Constructed; probabilities by brute force."""

from __future__ import annotations

import numpy as np
import pytest

from diagnose.network.engine import Engine
from diagnose.network.faults import roots
from diagnose.network.observed import hard
from tests.network.bruteforce import enumerate_posterior
from tests.network.builders import Sketch


def sooted(leak_prior: float) -> Sketch:
    """A charge-air leak makes soot, soot fills the filter (common practice); both show."""
    return (
        Sketch()
        .root("air_leak", leak_prior)
        .noisy_or("soot", 0.02, {"air_leak": 0.9})
        .noisy_or("filter_full", 0.02, {"soot": 0.7})
        .noisy_or("back_pressure", 0.01, {"filter_full": 0.9})
        .noisy_or("hiss", 0.05, {"air_leak": 0.6})
    )


@pytest.mark.parametrize(("prior", "hiss", "told"), [(0.1, "present", True), (0.1, "absent", False)])
def test_a_cause_behind_a_condition_is_named(prior: float, hiss: str, told: bool) -> None:
    network = sooted(prior).network()
    seen = hard(network, {"back_pressure": "present", "hiss": hiss})
    given = seen | hard(network, {"filter_full": "present"})
    leak, full = network.index["air_leak"], network.index["filter_full"]
    chance = float(enumerate_posterior(network, given)[0][leak][1])
    assert (chance >= 0.5) == told
    assert roots(Engine(network, seen), [leak, full]) == ({full: leak} if told else {})


def test_a_cause_right_above_is_named_where_one_of_several_is_likely() -> None:
    network = (
        Sketch()
        .root("pump", 0.05)
        .root("bearing", 0.03)
        .noisy_or("debris", 0.005, {"pump": 0.5, "bearing": 0.5})
        .noisy_or("metal_in_filter", 0.01, {"debris": 0.95})
        .network()
    )
    engine = Engine(network, hard(network, {"metal_in_filter": "present"}))
    pump, bearing, debris = (network.index[name] for name in ("pump", "bearing", "debris"))
    assert roots(engine, [pump, bearing, debris]) == {debris: pump}
    assert np.isclose(engine.marginal(pump)[1], enumerate_posterior(network, engine.evidence)[0][pump][1])
