"""Overlays of an earlier version, with a prior under a cause, open and mean what they meant."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from diagnose.errors import DataError
from diagnose.knowledge import loader
from diagnose.knowledge.earlier import NEW_CAUSE, shipped_priors
from tests.calling import run

FOLDER = Path(__file__).parents[1] / "cli" / "knowledge"
EARLIER = {"pump_worn": 0.04, "debris": 0.01}


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A knowledge with a share and a rate, and the priors that were shipped before."""
    monkeypatch.setenv("DIAGNOSE_CACHE", str(tmp_path / "cache"))
    monkeypatch.setattr("diagnose.knowledge.earlier.shipped_priors", lambda: EARLIER)
    text = (FOLDER / "small.yaml").read_text(encoding="utf-8")
    where = tmp_path / "knowledge"
    where.mkdir()
    (where / "small.yaml").write_text(text.replace("share: 0.002", "rate: 0.05"), encoding="utf-8")
    return where


def overlay(folder: Path, text: str, name: str = "shop.yaml") -> Path:
    path = folder.parent / name
    path.write_text(text, encoding="utf-8")
    return path


def said(folder: Path, path: Path) -> list[str]:
    return [str(one).removeprefix(str(folder.parent) + "/") for one in loader.notices(folder, path)]


def test_a_prior_multiplies_the_rate_that_is_shipped_now(folder: Path) -> None:
    """Odds of 0.02 over those of 0.01: 2.0204, so 0.05 per 1,000 h become 0.10102."""
    path = overlay(folder, "causes:\n  debris:\n    prior: {p: 0.02, ess: 30}\n")
    number = loader.load(folder, path).causes["debris"].frequency
    assert number.value == pytest.approx(0.05 * (0.02 / 0.98) / (0.01 / 0.99), rel=1e-12)
    assert (number.basis, number.ess) == ("shop", 30)
    (words,) = said(folder, path)
    assert words.startswith("shop.yaml:3:")
    assert "Debris in the gallery: the prior 0.02 of an earlier version is read as rate: 0.101" in words


def test_a_prior_multiplies_the_odds_of_a_share(folder: Path) -> None:
    """0.04 is shipped now and was then: 0.5 stays 0.5, and never passes 1."""
    path = overlay(folder, "causes:\n  pump_worn:\n    prior: 0.5\n")
    assert loader.load(folder, path).causes["pump_worn"].frequency.value == pytest.approx(0.5)


def test_what_was_learnt_is_measured_by_what_is_shipped_and_not_by_the_shops(folder: Path) -> None:
    path = overlay(folder, "causes:\n  debris:\n    prior: 0.1\n")
    overlay(folder, "causes:\n  debris:\n    prior: 0.02\n", "shop.learnt.yaml")
    assert loader.load(folder, path).causes["debris"].frequency.value == pytest.approx(
        0.05 * 2.0204, rel=1e-4
    )
    first, second = said(folder, path)
    assert "passed over: what was learnt lies over it" in first
    assert second.startswith("shop.learnt.yaml")


def test_a_cause_with_nothing_to_compare_with_keeps_what_is_shipped(folder: Path) -> None:
    path = overlay(folder, "causes:\n  seal_out:\n    prior: 0.2\n    leads_to: {oil_at_bore: 0.5}\n")
    seal = loader.load(folder, path).causes["seal_out"]
    assert seal.frequency.value == 0.05
    assert next(link for link in seal.leads_to if link.effect == "oil_at_bore").strengths[0][0].value == 0.5
    assert "nothing is known to compare it with" in said(folder, path)[0]


OWN = """\
system: small
causes:
  ours:
    name: Our own bracket
    part: bracket
    prior: 0.01
    leads_to: {metal_in_filter: 0.5}
repairs:
  replace_pump:
    cures: {ours: 0.9}
"""


def test_a_cause_of_the_shops_own_opens_with_a_rate(folder: Path) -> None:
    path = overlay(folder, OWN)
    cause = loader.load(folder, path).causes["ours"]
    assert cause.per == "rate"
    assert cause.frequency.value == pytest.approx(NEW_CAUSE * 0.01 / 0.99 / 0.5)
    assert "read as rate" in said(folder, path)[0]


def test_what_was_learnt_of_the_shops_own_cause_is_in_force(folder: Path) -> None:
    path = overlay(folder, OWN.replace("prior: 0.01", "rate: 0.02"))
    overlay(folder, "causes:\n  ours:\n    rate: {rate: 0.03, ess: 40}\n", "shop.learnt.yaml")
    assert loader.load(folder, path).causes["ours"].frequency.value == 0.03


def test_a_frequency_beside_it_wins(folder: Path) -> None:
    path = overlay(folder, "causes:\n  debris:\n    prior: 0.5\n    rate: 0.07\n")
    assert loader.load(folder, path).causes["debris"].frequency.value == 0.07
    assert "its frequency stands beside it" in said(folder, path)[0]


def test_a_shop_may_count_otherwise_and_what_was_learnt_may_not(folder: Path) -> None:
    path = overlay(folder, "causes:\n  debris:\n    share: 0.07\n")
    cause = loader.load(folder, path).causes["debris"]
    assert (cause.per, cause.frequency.value) == ("share", 0.07)
    path.write_text("", encoding="utf-8")
    overlay(folder, "causes:\n  debris:\n    share: 0.07\n", "shop.learnt.yaml")
    cause = loader.load(folder, path).causes["debris"]
    assert (cause.per, cause.frequency.value) == ("rate", 0.05)


def test_what_is_no_probability_is_still_an_error(folder: Path) -> None:
    with pytest.raises(DataError, match="probability"):
        loader.load(folder, overlay(folder, "causes:\n  debris:\n    prior: 1.5\n"))


def test_a_shipped_file_has_no_prior(folder: Path) -> None:
    file = folder / "small.yaml"
    file.write_text(file.read_text(encoding="utf-8").replace("rate: 0.05", "prior: 0.05"), encoding="utf-8")
    with pytest.raises(DataError, match="write how often it happens"):
        loader.load(folder, overlay(folder, ""))


def test_the_commands_tell_it_and_leave_the_file_alone(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = overlay(folder, "causes:\n  debris:\n    prior: 0.02\n")
    monkeypatch.setenv("DIAGNOSE_KNOWLEDGE", str(folder))
    monkeypatch.setenv("DIAGNOSE_OVERLAY", str(path))
    monkeypatch.setenv("DIAGNOSE_CASES", str(folder.parent / "cases.sqlite"))
    for command in (["knowledge", "check"], ["learn"]):
        assert "the prior 0.02 of an earlier version" in " ".join(run(*command).stdout.split())
        (notice,) = json.loads(run(*command, "--json").stdout)["notices"]
        assert notice["code"] == "K029"
    assert path.read_text(encoding="utf-8") == "causes:\n  debris:\n    prior: 0.02\n"


def test_the_table_is_whole() -> None:
    """Every cause had a prior, and no id was ever dropped."""
    path = Path(loader.__file__).with_name("earlier_priors.csv")
    rows = list(csv.reader(path.read_text(encoding="utf-8").splitlines()))
    assert rows[0] == ["id", "prior"]
    assert len(shipped_priors()) == len(rows) - 1 == 303
    assert all(0 < p < 1 for p in shipped_priors().values())
    assert shipped_priors().keys() <= loader.load(loader.shipped_folder(), learnt=False).causes.keys()
