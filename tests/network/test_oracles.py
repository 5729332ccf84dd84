"""The engine against published and twice-computed numbers (tests/oracles)."""

from __future__ import annotations

from math import exp, log, log2
from typing import Any

import numpy as np
import pytest

from diagnose.network.engine import posterior
from diagnose.network.network import Array, Network, NoisyMax, Table, full_table
from diagnose.network.observed import hard
from tests.network.builders import BINARY, Sketch, noisy_or_table
from tests.oracles.peers import agrum, example_network, posterior_rows, worked

TOLERANCE = 1e-9


def near(value: float) -> Any:
    return pytest.approx(value, rel=0, abs=TOLERANCE)


def probability(network: Network, evidence: dict[int, Array]) -> float:
    return exp(posterior(network, evidence, []).log_probability)


def present(network: Network, evidence: dict[int, Array], name: str) -> float:
    return float(posterior(network, evidence).marginals[network.index[name]][-1])


# --- published networks ----------------------------------------------------------------------------


@pytest.mark.parametrize("row", posterior_rows(), ids=lambda row: f"{row['net']}-{len(row['evidence'])}")
def test_published_networks_as_two_other_programs_answer(row: dict[str, Any]) -> None:
    network = example_network(row["net"])
    answer = posterior(network, hard(network, row["evidence"]))
    assert exp(answer.log_probability) == near(row["p_evidence"])
    for name, expected in row["posteriors"].items():
        variable = network.index[name]
        got = dict(zip(network.states[variable], answer.marginals[variable], strict=True))
        assert got == {state: near(value) for state, value in expected.items()}


@pytest.mark.parametrize(
    "row", worked()["networks"]["rows"], ids=lambda row: f"{row['net']}-{len(row['evidence'])}"
)
def test_lines_worked_out_for_published_networks(row: dict[str, Any]) -> None:
    network = example_network(row["net"])
    answer = posterior(network, hard(network, row["evidence"]))
    if "p_evidence" in row:
        assert exp(answer.log_probability) == near(row["p_evidence"])
    for name, states in row["posterior"].items():
        variable = network.index[name]
        for state, expected in states.items():
            assert answer.marginals[variable][network.states[variable].index(state)] == near(expected)


@pytest.mark.parametrize("check", worked()["next_check_bits"]["bits"])
def test_bits_that_a_check_would_tell_about_its_parent(check: str) -> None:
    oracle = worked()["next_check_bits"]
    network = example_network(oracle["net"])
    evidence = hard(network, oracle["evidence"])
    (parent,) = network.parents(network.index[check])
    now = posterior(network, evidence)
    left = sum(
        chance * entropy(posterior(network, evidence | hard(network, {check: state})).marginals[parent])
        for state, chance in enumerate(now.marginals[network.index[check]])
    )
    assert entropy(now.marginals[parent]) - left == near(oracle["bits"][check])


def entropy(distribution: Array) -> float:
    return -sum(float(p) * log2(p) for p in distribution if p > 0)


# --- noisy-OR and noisy-MAX ------------------------------------------------------------------------------


def noisy_or_network() -> Network:
    oracle = worked()["noisy_or"]
    sketch = Sketch()
    for name, prior in oracle["priors"].items():
        sketch.root(name, prior)
    for name, finding in oracle["findings"].items():
        sketch.noisy_or(name, finding["leak"], finding["links"])
    return sketch.network()


@pytest.mark.parametrize("row", worked()["noisy_or"]["rows"], ids=lambda row: "".join(row["evidence"]))
def test_noisy_or_with_several_findings(row: dict[str, Any]) -> None:
    network = noisy_or_network()
    answer = posterior(network, hard(network, row["evidence"]))
    assert exp(answer.log_probability) == near(row["p_evidence"])
    assert {name: answer.marginals[network.index[name]][1] for name in row["posterior"]} == {
        name: near(value) for name, value in row["posterior"].items()
    }


def leak_case() -> Network:
    oracle = worked()["leak_conventions"]
    return Sketch().root("A", 0.5).root("B", 0.5).noisy_or("F", oracle["leak"], oracle["links"]).network()


def test_the_leak_is_the_net_convention_and_not_the_compound_one() -> None:
    oracle = worked()["leak_conventions"]
    shown = full_table(leak_case().families[2])[..., 1]
    got = {"none": shown[0, 0], "A": shown[1, 0], "B": shown[0, 1], "both": shown[1, 1]}
    assert got == {key: near(value) for key, value in oracle["net"].items()}
    assert got["A"] != near(oracle["compound"]["A"])


@pytest.mark.parametrize(("kind", "add"), [("net", "addNoisyORNet"), ("compound", "addNoisyORCompound")])
def test_the_leak_conventions_as_pyagrum_has_them(kind: str, add: str) -> None:
    oracle, gum = worked()["leak_conventions"], agrum()
    net = gum.BayesNet()
    for name in "AB":
        net.add(gum.RangeVariable(name, "", 0, 1))
    getattr(net, add)(gum.RangeVariable("F", "", 0, 1), oracle["leak"])
    for name, weight in oracle["links"].items():
        net.addWeightedArc(name, "F", weight)
    cpt = net.cpt("F")
    states = {"none": (0, 0), "A": (1, 0), "B": (0, 1), "both": (1, 1)}
    got = {key: cpt[{"A": a, "B": b}][1] for key, (a, b) in states.items()}
    assert got == {key: near(value) for key, value in oracle[kind].items()}


def noisy_max_network() -> Network:
    oracle = worked()["noisy_max"]
    rows = [np.array([[1.0, 0.0, 0.0], oracle["links"][name]]) for name in "AB"]
    root = Table((), np.array([0.5, 0.5]))
    child = NoisyMax((0, 1), np.array(oracle["leak"]), tuple(rows))
    return Network(("A", "B", "F"), (BINARY, BINARY, ("low", "mid", "high")), (root, root, child))


@pytest.mark.parametrize("row", worked()["noisy_max"]["rows"], ids=lambda row: "".join(row["present"]))
def test_noisy_max_of_ordered_states(row: dict[str, Any]) -> None:
    network = noisy_max_network()
    evidence = hard(network, {name: int(name in row["present"]) for name in "AB"})
    assert list(posterior(network, evidence).marginals[2]) == [near(value) for value in row["distribution"]]


# --- evidence ---------------------------------------------------------------------------------------------


def burglary_network() -> Network:
    oracle = worked()["virtual"]["burglary"]
    alarm = [oracle["alarm"]["none"], oracle["alarm"]["burglary"]]
    return Sketch().root("burglary", oracle["prior"]).table("alarm", ["burglary"], alarm).network()


def test_pearls_alarm_that_was_perhaps_heard() -> None:
    oracle, network = worked()["virtual"]["burglary"], burglary_network()
    heard = np.array(oracle["heard"])
    assert present(network, {1: heard}, "burglary") == near(oracle["posterior"])
    assert present(network, hard(network, {"alarm": 1}), "burglary") == near(oracle["alarm_certain"])
    assert present(network, {0: heard}, "burglary") == near(oracle["straight_on_burglary"])


def asia_lung(xray: Array) -> tuple[float, float]:
    """P(lung) and P(x-ray shows it) under a likelihood on the x-ray; asia's first state is `yes`."""
    network = example_network("asia")
    marginals = posterior(network, {network.index["xray"]: xray}).marginals
    return float(marginals[network.index["lung"]][0]), float(marginals[network.index["xray"]][0])


def test_virtual_evidence_is_a_likelihood_and_not_jeffreys_rule() -> None:
    oracle = worked()["virtual"]
    virtual = oracle["xray"]["likelihood"]
    lung, xray = asia_lung(np.array([virtual["yes"], virtual["no"]]))
    assert lung == near(oracle["xray"]["lung"])
    assert abs(xray - oracle["jeffrey"]["q"]) > 0.1


def test_the_likelihood_ratio_that_jeffreys_rule_would_need() -> None:
    oracle = worked()["virtual"]["jeffrey"]
    lung, xray = asia_lung(np.array([oracle["ratio"], 1.0]))
    assert lung == near(oracle["lung"])
    assert xray == near(oracle["q"])


@pytest.mark.parametrize(
    "row", worked()["likelihood_ratios"]["rows"], ids=lambda row: "+".join(row["evidence"])
)
def test_weight_of_evidence_from_probabilities_of_the_evidence(row: dict[str, Any]) -> None:
    network = example_network("asia")
    given = [
        posterior(network, hard(network, row["evidence"] | {"lung": lung}), []).log_probability
        - posterior(network, hard(network, {"lung": lung}), []).log_probability
        for lung in ("yes", "no")
    ]
    assert exp(given[0] - given[1]) == near(row["ratio"])


@pytest.mark.parametrize("row", worked()["conflict"]["rows"], ids=lambda row: "+".join(row["evidence"]))
def test_conflict_measure_from_probabilities_of_the_evidence(row: dict[str, Any]) -> None:
    network = example_network("asia")
    alone = sum(
        posterior(network, hard(network, {name: state}), []).log_probability
        for name, state in row["evidence"].items()
    )
    together = posterior(network, hard(network, row["evidence"]), []).log_probability
    assert (alone - together) / log(2) == near(row["bits"])


def fire_alarm(tampering: float = 0.02) -> Network:
    """Poole and Neufeld's network; parameters from memory, the posteriors belong to them as they stand."""
    sketch = Sketch().root("tampering", tampering).root("fire", 0.01)
    sketch.table("alarm", ["fire", "tampering"], [[0.0001, 0.85], [0.99, 0.5]])
    sketch.table("smoke", ["fire"], [0.01, 0.9]).table("leaving", ["alarm"], [0.001, 0.88])
    return sketch.table("report", ["leaving"], [0.01, 0.75]).network()


def test_fire_alarm_report_without_smoke() -> None:
    network = fire_alarm()
    evidence = hard(network, {"report": 1, "smoke": 0})
    for name, expected in worked()["fire_alarm"]["posterior"].items():
        assert present(network, evidence, name) == near(expected)


def test_fire_alarm_prior_at_which_tampering_reaches_065() -> None:
    network = fire_alarm(worked()["fire_alarm"]["tampering_prior_for_065"])
    evidence = hard(network, {"report": 1, "smoke": 0})
    assert present(network, evidence, "tampering") == pytest.approx(0.65, abs=1e-5)  # prior has 5 digits


# --- a part replaced and the complaint still there ----------------------------------------------------


def repair_network(noise: str, success: float) -> Network:
    """Both epochs side by side; every mechanism's noise is a variable of its own where it persists."""
    oracle = worked()["repair"]
    sketch = Sketch().root("A", oracle["priors"]["A"]).root("B", oracle["priors"]["B"])
    sketch.table("A2", ["A"], [0.0, 1 - success])
    if noise == "redrawn":
        for complaint, cause in (("before", "A"), ("after", "A2")):
            weights = {cause: oracle["links"]["A"], "B": oracle["links"]["B"]}
            sketch.noisy_or(complaint, oracle["leak"], weights)
        return sketch.network()
    for mechanism, chance in (("linkA", oracle["links"]["A"]), ("linkB", oracle["links"]["B"])):
        sketch.root(mechanism, chance)
    sketch.root("leak", oracle["leak"])
    for complaint, cause in (("before", "A"), ("after", "A2")):
        sketch.table(complaint, [cause, "linkA", "B", "linkB", "leak"], shown_by_mechanisms())
    return sketch.network()


def shown_by_mechanisms() -> Array:
    shown = np.zeros((2,) * 5)
    for a, link_a, b, link_b, leak in np.ndindex(*shown.shape):
        shown[a, link_a, b, link_b, leak] = (a and link_a) or (b and link_b) or leak
    return shown


@pytest.mark.parametrize("noise", ["persists", "redrawn"])
def test_before_the_repair(noise: str) -> None:
    before, network = worked()["repair"]["before"], repair_network(noise, 1.0)
    evidence = hard(network, {"before": 1})
    assert probability(network, evidence) == near(before["complaint"])
    assert present(network, evidence, "A") == near(before["A"])
    assert present(network, evidence, "B") == near(before["B"])


@pytest.mark.parametrize(
    "row", worked()["repair"]["rows"], ids=lambda row: f"{row['noise']}-{row['success']}"
)
def test_repair_that_did_not_cure(row: dict[str, Any]) -> None:
    network = repair_network(row["noise"], row["success"])
    first, both = hard(network, {"before": 1}), hard(network, {"before": 1, "after": 1})
    assert probability(network, both) / probability(network, first) == near(row["p_persists"])
    assert present(network, both, "B") == near(row["B"])
    assert present(network, both, "A2") == near(row["A"])


def test_persistent_noise_and_perfect_repair_equal_conditioning_on_absence() -> None:
    oracle = worked()["repair"]
    network = Sketch().root("A", 0.1).root("B", 0.04).noisy_or("C", oracle["leak"], oracle["links"]).network()
    answer = present(network, hard(network, {"A": 0, "C": 1}), "B")
    assert answer == near(oracle["rows"][0]["B"])


def test_noisy_or_row_by_row_is_the_same_family() -> None:
    family = leak_case().families[2]
    assert np.allclose(full_table(family)[..., 1], noisy_or_table(0.1, [0.9, 0.3]), atol=1e-15)
