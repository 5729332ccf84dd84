"""Machines as they arrive: roots and consequences in closed form, the command, the page beside published rates."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner
from jsonschema import Draft202012Validator

from diagnose.cli.main import program
from diagnose.errors import CallError
from diagnose.knowledge.loader import load, shipped_folder
from diagnose.network.network import Network
from diagnose.study.arrivals import Arrivals, Estimate, arrivals, summary, tally
from tests.network.builders import Sketch, built_of
from tests.pages.beside import PAGE, in_100, level, page, same_order, stands
from tests.pages.populations import per_1000, published
from tests.study.small import SMALL, small

MANY = 20_000


def chain() -> Network:
    """A brings B about, B a complaint, which has a leak and a cause that is not listed; C brings nothing about."""
    sketch = Sketch().root("A", 0.2).noisy_or("B", 0.1, {"A": 0.5}).root("C", 0.3).root("other:K", 0.04)
    return sketch.noisy_or("K", 0.05, {"B": 0.8, "other:K": 0.9}).network()


def counted(network: Network) -> Arrivals:
    built = built_of(network, ("A", "B", "C"), {"K": "other:K"})
    found = tally(built, [network.index["K"]], range(len(network.names)), MANY, np.random.default_rng(2))
    return summary(built.causes, {"A": "one", "B": "two", "C": "three"}, found, 500.0)


def agrees(estimate: Estimate, exact: float) -> bool:
    return abs(estimate.value - exact) <= 4.5 * max(estimate.error, 1e-12)


def test_roots_and_consequences_of_a_chain_in_closed_form() -> None:
    """B there: of itself .1, through A .2 x .5, independently. A is a root where its link and B's fired."""
    found = counted(chain())
    by_b = 0.8 * (1 - (1 - 0.1) * (1 - 0.2 * 0.5))
    came = 1 - (1 - 0.05) * (1 - 0.04 * 0.9) * (1 - by_b)
    a, b, only_brought = 0.2 * 0.5 * 0.8 / came, 0.1 * 0.8 / came, 0.2 * 0.5 * (1 - 0.1) * 0.8 / came
    both = 0.2 * 0.5 * 0.1 * 0.8 / came
    assert agrees(found.roots_per_arrival, a + b)
    assert agrees(found.consequences_per_arrival, only_brought)
    assert agrees(found.none_listed, (came - by_b) / came)
    assert {one.cause for one in found.first} == {"A", "B"}
    shares = {one.cause: one.share for one in found.first}
    assert agrees(shares["A"], a)
    assert agrees(shares["B"], b)
    assert agrees(found.systems["one"], a - both / 2)
    assert agrees(found.systems["two"], b - both / 2)
    assert agrees(found.came_in, came)
    assert agrees(found.per_1000_hours["one"], 2 * a * came)
    assert agrees(found.events_per_1000_hours, 2 * (a + b) * came)


def test_a_cause_behind_no_complaint_is_not_counted() -> None:
    assert counted(chain()).systems["three"].value == 0


def test_shares_of_systems_and_none_listed_are_all_arrivals() -> None:
    found = counted(chain())
    assert sum(one.value for one in found.systems.values()) + found.none_listed.value == pytest.approx(1)
    assert found.complaints_per_arrival.value == 1


def test_standard_errors_are_those_of_a_share() -> None:
    one = counted(chain()).none_listed
    assert one.error == pytest.approx((one.value * (1 - one.value) / MANY) ** 0.5, rel=1e-3)


def test_rates_count_the_machines_that_did_not_come_in() -> None:
    """One root at most of the system `one`: the error is that of a share of all drawn, by 0.5 thousand hours."""
    found = counted(chain())
    one = found.per_1000_hours["one"]
    assert found.drawn > 2 * found.machines
    assert one.error == pytest.approx(
        (one.value / 2 * (1 - one.value / 2) / found.drawn) ** 0.5 * 2, rel=1e-6
    )


def test_fewer_arrivals_are_the_first_of_more() -> None:
    network = chain()
    built = built_of(network, ("A", "B", "C"), {"K": "other:K"})
    few, more = (
        tally(built, [network.index["K"]], range(5), many, np.random.default_rng(2)) for many in (50, 100)
    )
    assert np.array_equal(few.roots, more.roots[:50])
    assert few.drawn < more.drawn < 1000


def test_same_seed_same_arrivals() -> None:
    assert arrivals(small(), machines=300, seed=4) == arrivals(small(), machines=300, seed=4)
    assert arrivals(small(), machines=300, seed=4) != arrivals(small(), machines=300, seed=5)


def test_a_knowledge_without_complaints_says_so() -> None:
    known = small()
    silent = {id: replace(one, other=None) for id, one in known.findings.items()}
    with pytest.raises(CallError, match="nothing arrives"):
        arrivals(replace(known, findings=silent))


# ---- the command ----

SHARE = {"type": "number", "minimum": 0, "maximum": 1}
CONTRACT = {
    "type": "object",
    "required": ["schema", "families"],
    "properties": {
        "schema": {"const": "diagnose.arrivals/1"},
        "families": {
            "type": "array",
            "minItems": 1,
            "items": {
                "type": "object",
                "required": [
                    "family",
                    "roots_per_arrival",
                    "none_listed",
                    "complaints_per_arrival",
                    "systems",
                    "first",
                ],
                "properties": {
                    "family": {"type": "string"},
                    "roots_per_arrival": {"type": "number", "minimum": 0},
                    "none_listed": SHARE,
                    "complaints_per_arrival": {"type": "number", "minimum": 1},
                    "systems": {"type": "object", "additionalProperties": SHARE},
                    "first": {
                        "type": "array",
                        "items": {
                            "type": "object",
                            "required": ["cause", "share"],
                            "properties": {"cause": {"type": "string"}, "share": SHARE},
                        },
                    },
                },
            },
        },
    },
}
FAMILIES = """
families:
  old_six: {name: "An old engine of six cylinders in line, with nothing else known of it", facts: {}}
  new_six: {name: A new engine, facts: {}}
"""


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    where = tmp_path / "knowledge"
    where.mkdir()
    (where / "small.yaml").write_text(SMALL, encoding="utf-8")
    (where / "machines.yaml").write_text(FAMILIES, encoding="utf-8")
    monkeypatch.setenv("DIAGNOSE_KNOWLEDGE", str(where))
    return where


def called(*args: str) -> str:
    result = CliRunner().invoke(program, ("knowledge", "arrivals", *args))
    assert result.exit_code == 0, result.output
    return result.stdout


def values(*args: str) -> Any:
    return json.loads(called(*args, "--json"))


def test_json_keeps_its_contract(folder: Path) -> None:
    found = values("--machines", "200")
    Draft202012Validator(CONTRACT).validate(found)
    assert [one["family"] for one in found["families"]] == ["old_six", "new_six"]
    assert all(one["machines"] == 200 <= one["drawn"] for one in found["families"])


def test_json_of_one_family_with_hours(folder: Path) -> None:
    (one,) = values("--machines", "200", "--family", "new_six", "--hours", "8000")["families"]
    assert one["family"] == "new_six"
    assert sum(one["systems"].values()) + one["none_listed"] == pytest.approx(1)
    shares = [often["share"] for often in one["first"]]
    assert shares == sorted(shares, reverse=True)


@pytest.mark.parametrize("width", [60, 100])
def test_screen_fits_the_terminal(folder: Path, monkeypatch: pytest.MonkeyPatch, width: int) -> None:
    monkeypatch.setenv("COLUMNS", str(width))
    text = called("--machines", "100", "--limit", "2")
    assert max(map(len, text.splitlines())) <= width
    assert "Filter plugged (filter_plugged)" in text
    assert "and 2 more: --limit 4 shows all" in text


# ---- beside published rates ----


@pytest.mark.parametrize(
    ("given", "expected"),
    [
        ({"miles": [1000], "km_h": 72}, [44.73873]),  # 72 km/h are 44.74 miles an hour
        ({"mean_hours": [1100]}, [0.909091]),
        ({"median_hours": [40]}, [17.3287]),  # exp(-40 x 0.0173287) = 0.5
        ({"failed": 0.2, "within_hours": 336}, [0.664118]),  # 0.00066 an hour, as the source reckons it
        ({"per_year": [0.034], "hours_a_year": 5000}, [0.0068]),
        ({"per_start": [0.0094]}, [9.4]),
        ({}, []),
    ],
)
def test_levels_become_events_per_1000_hours(given: Mapping[str, Any], expected: list[float]) -> None:
    assert per_1000(given) == pytest.approx(expected, rel=1e-5)


def test_populations_say_something_of_systems_that_there_are() -> None:
    found, systems = published(), load(shipped_folder()).systems.keys()
    assert {id for ids in found.classes.values() for id in ids} <= systems
    for one in found.populations:
        assert set(one.systems) <= systems
        assert {*one.shares, *(name for group in one.order for name in group)} <= found.classes.keys()
        assert bool(one.figures) + bool(one.shares) + bool(one.order) == 1, one.id
        assert one.source
        assert one.confidence


def test_starts_are_set_beside_starts() -> None:
    """0.25 faults in 1,000 hours of 400 starts are 0.625 in 1,000 starts."""
    found = published()
    one = next(one for one in found.populations if one.by_start)
    ours = replace(
        counted(chain()), per_1000_hours={"starting": Estimate(0.25, 0), "cooling": Estimate(9, 0)}
    )
    assert level(ours, one, found) == pytest.approx(0.625)


def test_words_follow_the_figures() -> None:
    assert stands([0.6, 1.9], 2) == "alike"
    assert stands([2.5, 3], 2) == "ours more"
    assert stands([0.3, 0.4], 2) == "ours less"
    assert stands([0.3, 1], 2) == "it differs by family"
    assert same_order([{"a": "1"}, {"b": "2", "c": "2"}], {"a": 3, "b": 1, "c": 2})
    assert not same_order([{"a": "1"}, {"b": "2", "c": "2"}], {"a": 1.5, "b": 1, "c": 2})
    assert same_order([{"a": "1"}, {"b": "2"}, {"c": "3"}], {"a": 3, "b": 0, "c": 2})
    assert in_100({"a": 1, "b": 3}) == {"a": 25, "b": 75}


def test_page_of_a_small_knowledge_holds_every_population() -> None:
    text = page(small(), machines=200)
    for one in published().populations:
        assert one.name in text
        assert one.counted.split(";")[0][:40] in " ".join(text.split())


@pytest.mark.slow
def test_page_is_up_to_date() -> None:
    """If not: python -m tests.pages."""
    assert PAGE.read_text(encoding="utf-8") == page(load(shipped_folder()))
