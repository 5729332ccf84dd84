"""Exchange with pgmpy: models, files, the second opinion."""

from __future__ import annotations

import subprocess
import sys
from math import log
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.errors import CallError
from diagnose.network import pgmpy_bridge as bridge
from diagnose.network.engine import posterior
from diagnose.network.network import Network, Table, full_table
from diagnose.network.observed import ImpossibleEvidence, hard
from tests.network.bruteforce import enumerate_posterior
from tests.network.builders import Sketch
from tests.network.random_networks import random_evidence, random_network
from tests.oracles.peers import agrum, example_network


def mixed() -> Network:
    """Names as the knowledge has them, one family wide enough to be split."""
    sketch = Sketch()
    causes = [f"worn-part-{number}" for number in range(11)]
    for number, cause in enumerate(causes):
        sketch.root(cause, 0.01 * (number + 1))
    sketch.noisy_or("low-oil-pressure", 0.02, {cause: 0.3 + 0.05 * n for n, cause in enumerate(causes)})
    return sketch.table("3rd_gauge x-ray", ["low-oil-pressure"], [0.1, 0.9]).network()


def assert_same(first: Network, second: Network) -> None:
    assert set(first.names) == set(second.names)
    for variable, name in enumerate(first.names):
        other = second.index[name]
        assert first.states[variable] == second.states[other]
        assert parent_names(first, variable) == parent_names(second, other)
        expected, got = full_table(first.families[variable]), full_table(second.families[other])
        np.testing.assert_allclose(got, expected, rtol=0, atol=1e-15)


def parent_names(network: Network, variable: int) -> list[str]:
    return [network.names[parent] for parent in network.parents(variable)]


# --- models -----------------------------------------------------------------------------------------------


def test_pgmpy_accepts_the_model_and_no_table_is_large() -> None:
    model = bridge.to_pgmpy(mixed())
    assert model.check_model()
    assert bridge.check_model(mixed())
    assert max(cpd.values.size for cpd in model.get_cpds()) <= bridge.MAX_ENTRIES
    assert set(mixed().names) < set(model.nodes())


def test_pgmpy_refuses_columns_that_do_not_sum_to_one() -> None:
    broken = Network(("a",), (("no", "yes"),), (Table((), np.array([0.5, 0.2])),))
    with pytest.raises(ValueError, match="not equal to 1"):
        bridge.check_model(broken)


def test_to_pgmpy_and_back() -> None:
    network = random_network(3, count=10)
    assert_same(network, bridge.from_pgmpy(bridge.to_pgmpy(network)))


@pytest.mark.parametrize("name", ["alarm", "hepar2", "insurance"])
def test_columns_of_published_networks_are_normalised(name: str) -> None:
    """As shipped, some columns are off by up to 1e-7; engines that prune differently would disagree."""
    network = example_network(name)
    for variable, family in enumerate(network.families):
        np.testing.assert_allclose(full_table(family).sum(axis=-1), 1.0, rtol=0, atol=1e-15)
        assert all(parent < variable for parent in family.parents)


# --- names and files --------------------------------------------------------------------------------------

odd_names = st.text(st.sampled_from("aAxXzZ09-_. é~'\"{},|"), max_size=8)


@settings(max_examples=300, deadline=None, derandomize=True)
@given(st.lists(odd_names, unique=True, max_size=6))
def test_safe_names_are_safe_distinct_and_reversible(names: list[str]) -> None:
    safe = bridge.bif_names(names)
    assert [bridge.plain_name(name) for name in safe] == names
    assert len({name.lower() for name in safe}) == len(names)
    assert all(name.isascii() and name.isidentifier() for name in safe)


def test_ordinary_names_stay_readable() -> None:
    assert bridge.bif_names(["low-oil-pressure"]) == ("low_oil_pressure",)


@pytest.mark.parametrize("ending", ["net.bif", "net.bif.gz", "net.xmlbif", "net.xml"])
def test_files_written_and_read_keep_every_digit(tmp_path: Path, ending: str) -> None:
    network = random_network(5, count=9)
    bridge.write_file(network, tmp_path / ending)
    assert_same(network, bridge.with_plain_names(bridge.read_file(tmp_path / ending)))


@pytest.mark.parametrize("ending", ["net.bif", "net.xml"])
def test_an_exported_network_answers_alike(tmp_path: Path, ending: str) -> None:
    network = mixed()
    bridge.write_file(network, tmp_path / ending)
    read = bridge.with_plain_names(bridge.read_file(tmp_path / ending))
    evidence = {"3rd_gauge x-ray": "present", "worn-part-4": "absent"}
    expected = posterior(network, hard(network, evidence))
    answer = posterior(read, hard(read, evidence))
    assert answer.log_probability == pytest.approx(expected.log_probability, abs=1e-12)
    for variable, name in enumerate(network.names):
        got = answer.marginals[read.index[name]]
        np.testing.assert_allclose(got, expected.marginals[variable], rtol=0, atol=1e-12)


@pytest.mark.parametrize(("ending", "tolerance"), [("net.bif", 1e-6), ("net.bifxml", 1e-12)])
@pytest.mark.parametrize("network", [mixed(), random_network(5, count=9)], ids=["split", "ordered states"])
def test_exported_files_are_read_by_another_program(
    tmp_path: Path, network: Network, ending: str, tolerance: float
) -> None:
    """pyAgrum's own readers; the one for BIF keeps single precision, hence the wide tolerance."""
    bridge.write_file(network, tmp_path / ending)
    engine = agrum().LazyPropagation(agrum().loadBN(str(tmp_path / ending)))
    seen = len(network.names) - 1
    engine.setEvidence({bridge.bif_names([network.names[seen]])[0]: 1})
    engine.makeInference()
    expected = posterior(network, hard(network, {network.names[seen]: 1}))
    for variable, name in enumerate(network.names[:-1]):
        got = np.array(engine.posterior(bridge.bif_names([name])[0]).tolist())
        np.testing.assert_allclose(got, expected.marginals[variable], rtol=0, atol=tolerance)


def test_an_unknown_ending_is_a_wrong_call(tmp_path: Path) -> None:
    with pytest.raises(CallError, match=r"\.bif"):
        bridge.write_file(mixed(), tmp_path / "network.txt")
    assert not list(tmp_path.iterdir())


# --- second opinion -----------------------------------------------------------------------------------------


def test_second_opinion_with_hard_and_virtual_evidence_equals_enumeration() -> None:
    network = random_network(8, count=9)
    evidence = random_evidence(9, network, hard=2, virtual=3)
    expected, total = enumerate_posterior(network, evidence)
    opinion = bridge.second_opinion(network, evidence, range(9))
    assert opinion.log_probability == pytest.approx(log(total), abs=1e-12)
    for variable, marginal in enumerate(expected):
        np.testing.assert_allclose(opinion.marginals[variable], marginal, rtol=0, atol=1e-12)


def test_second_opinion_on_a_split_family() -> None:
    network = mixed()
    evidence = hard(network, {"low-oil-pressure": "present"}) | {12: np.array([4.0, 1.0])}
    opinion = bridge.second_opinion(network, evidence, range(11))
    answer = posterior(network, evidence)
    assert opinion.log_probability == pytest.approx(answer.log_probability, abs=1e-12)
    for cause in range(11):
        np.testing.assert_allclose(opinion.marginals[cause], answer.marginals[cause], rtol=0, atol=1e-12)


def certain() -> Network:
    return Sketch().root("cause", 0.1).table("shown", ["cause"], [0.0, 1.0]).root("apart", 0.3).network()


def test_impossible_evidence_is_named_not_answered_with_nan() -> None:
    evidence = hard(certain(), {"apart": 1, "shown": 1, "cause": 0})
    with pytest.raises(ImpossibleEvidence) as caught:
        bridge.second_opinion(certain(), evidence, [2])
    assert {"cause", "shown"} <= set(caught.value.names)


def test_a_likelihood_of_zeros_is_impossible() -> None:
    with pytest.raises(ImpossibleEvidence):
        bridge.second_opinion(certain(), {2: np.zeros(2)}, [0])


def test_pgmpy_is_not_imported_until_asked_for() -> None:
    code = "import sys, diagnose.network.pgmpy_bridge; sys.exit(bool({'pgmpy', 'pandas'} & set(sys.modules)))"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
