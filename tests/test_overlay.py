"""The shop's overlay: what it adds and changes, what is wrong in it, and that nothing stale is ever read."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

from diagnose import caching
from diagnose.errors import DataError, Place
from diagnose.knowledge import files, loader
from diagnose.knowledge.number import SHOP
from diagnose.knowledge.records import Knowledge

BASE = Path(__file__).parent / "rules" / "base.yaml"
AUTHORING = Path(__file__).parents[1] / "docs" / "authoring.md"
SCALE = ("certain", "probable", "expected", "fifty-fifty", "uncertain", "improbable", "impossible")


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv(caching.CACHE_VARIABLE, str(tmp_path / "cache"))
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    where = tmp_path / "knowledge"
    where.mkdir()
    shutil.copy(BASE, where / "base.yaml")
    return where


def overlay(folder: Path, text: str, name: str = "overlay.yaml") -> Path:
    path = folder.parent / name
    path.write_text(text, encoding="utf-8")
    return path


def load(folder: Path, text: str) -> Knowledge:
    return loader.load(folder, overlay(folder, text))


def problems(folder: Path, text: str) -> list[str]:
    with pytest.raises(DataError) as error:
        load(folder, text)
    return [f"{one.place.line}:{one.place.column} {one.code}" for one in error.value.problems]


def test_a_field_is_replaced_and_all_else_stays(folder: Path) -> None:
    before = loader.load(folder).causes["pump_worn"]
    after = load(folder, "causes:\n  pump_worn:\n    share: 0.07\n").causes["pump_worn"]
    assert (after.frequency.value, after.frequency.basis, after.frequency.ess) == (0.07, SHOP, 10)
    assert after.frequency.place == Place(str(folder.parent / "overlay.yaml"), 3, 12)
    assert (after.name, after.leads_to, after.age, after.place) == (
        before.name,
        before.leads_to,
        before.age,
        before.place,
    )


def test_links_and_leaks_are_changed_entry_by_entry(folder: Path) -> None:
    before = loader.load(folder).conditions["pressure_low"]
    text = (
        "conditions:\n  pressure_low:\n    leak: {none: 0.02}\n    leads_to:\n"
        "      no_start: {by_state: {low: 0.4, none: 0.8}, ess: 3}\n"
    )
    after = load(folder, text).conditions["pressure_low"]
    assert [link.effect for link in after.leads_to] == ["no_start", "gauge_low"]
    strengths = [row[0] for row in after.leads_to[0].strengths]
    assert [(one.value, one.basis, one.ess) for one in strengths] == [(0.4, SHOP, 3), (0.8, SHOP, 3)]
    assert after.leads_to[1] == before.leads_to[1]
    assert [(one.value, one.basis) for one in after.leak] == [(0.01, "judgement"), (0.02, SHOP)]


@pytest.mark.parametrize(
    ("link", "source"),
    [
        ("{to: {low: 0.2, none: 0.7}}", "handbook"),
        ("{to: {low: 0.2, none: 0.7}, source: other}", "other"),
    ],
)
def test_a_link_with_another_strength_keeps_its_source(folder: Path, link: str, source: str) -> None:
    """That a link exists and how strong it is have separate bases: a new number leaves the first alone."""
    _name_the_link(folder, "{to: {low: 0.3, none: 0.6}}", "{to: {low: 0.3, none: 0.6}, source: handbook}")
    other = "sources: {other: {title: Another, confidence: read}}\n"
    text = f"{other}causes:\n  pump_worn:\n    leads_to:\n      pressure_low: {link}\n"
    (after,) = load(folder, text).causes["pump_worn"].leads_to
    assert [(one.value, one.basis) for one in after.strengths[0]] == [(0.2, SHOP), (0.7, SHOP)]
    assert after.source == source


def test_a_plain_number_keeps_the_source_too(folder: Path) -> None:
    named = "{to: {low: 0.3, none: 0.6}}\n      valve_stuck: {p: 0.5, source: handbook}"
    _name_the_link(folder, "{to: {low: 0.3, none: 0.6}}", named)
    effects = "{pressure_low: {to: {none: 0.9}}}"
    new = f"  valve_stuck: {{name: Valve stuck, part: valve, share: 0.01, leads_to: {effects}}}"
    repair = "repairs:\n  free_valve: {name: Free the valve, minutes: 9, cures: {valve_stuck: 0.9}}\n"
    text = f"system: injection\n{repair}causes:\n{new}\n  pump_worn:\n    leads_to:\n      valve_stuck: 0.7\n"
    after = load(folder, text).causes["pump_worn"].leads_to[1]
    assert (after.strengths[0][0].value, after.strengths[0][0].basis, after.source) == (0.7, SHOP, "handbook")


def _name_the_link(folder: Path, old: str, new: str) -> None:
    path = folder / "base.yaml"
    text = path.read_text(encoding="utf-8")
    assert text.count(old) == 1
    path.write_text(text.replace(old, new), encoding="utf-8")


@pytest.mark.parametrize(
    ("head", "basis", "ess"),
    [("", SHOP, 10.0), ("default_basis: {basis: common practice, ess: 4}\n", "common practice", 4.0)],
)
def test_numbers_take_the_basis_of_the_overlay(folder: Path, head: str, basis: str, ess: float) -> None:
    prior = load(folder, f"{head}causes:\n  pump_worn:\n    share: 0.07\n").causes["pump_worn"].frequency
    assert (prior.basis, prior.ess) == (basis, ess)


def test_a_basis_of_its_own_stays(folder: Path) -> None:
    text = "causes:\n  pump_worn:\n    share: {p: 0.07, basis: handbook, ess: 99}\n"
    prior = load(folder, text).causes["pump_worn"].frequency
    assert (prior.basis, prior.ess) == ("handbook", 99)


def test_an_unknown_id_is_new_and_needs_everything(folder: Path) -> None:
    text = "system: injection\ncauses:\n  pump_wornn:\n    share: 0.07\n"
    with pytest.raises(DataError, match="did you mean `pump_worn`"):
        load(folder, text)
    assert problems(folder, text) == ["3:3 K011", "3:3 K011"]


def test_a_new_record_needs_a_system(folder: Path) -> None:
    text = "checks:\n  look:\n    name: Look\n    minutes: 1\n    reveals: [gauge_low]\n"
    assert problems(folder, text) == ["2:3 K027"]
    assert load(folder, "system: injection\n" + text).checks["look"].minutes.basis == SHOP


def test_an_id_has_one_use(folder: Path) -> None:
    assert problems(folder, "findings:\n  pump_worn:\n    name: Pump worn\n") == ["2:3 K020"]


def test_an_id_twice_in_the_shipped_files_is_still_told(folder: Path) -> None:
    shutil.copy(folder / "base.yaml", folder / "again.yaml")
    found = loader.check(folder, overlay(folder, "causes: {}\n"))[1]
    assert {one.code for one in found} == {"K020"}


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("causes:\n  pump_worn:\n    share: 1.5\n", ["3:12 K014"]),
        ("causes:\n  pump_worn:\n    piror: 0.5\n", ["3:5 K010"]),
        ("causes:\n  pump_worn:\n    share: {p: 0.1, basis: hearsay, ess: 3}\n", ["3:28 K022"]),
        ("causes: [\n", ["2:1 K004"]),
    ],
)
def test_what_is_wrong_is_told_with_its_place(folder: Path, text: str, found: list[str]) -> None:
    got = problems(folder, text)
    assert [one.split()[0] for one in got] == [one.split()[0] for one in found]
    if found[0].endswith(("K010", "K004")):
        assert got == found


@pytest.mark.parametrize("word", SCALE)
def test_words_of_the_scale_are_no_numbers(folder: Path, word: str) -> None:
    """The verbal scale (Renooij & Witteman 1999, from memory) is for talking; a file takes numbers."""
    assert problems(folder, f"causes:\n  pump_worn:\n    share: {word}\n") == ["3:12 K012"]
    assert f"| {word} |" in AUTHORING.read_text(encoding="utf-8")


def test_the_version_follows_the_overlay_and_the_cache_stays_right(folder: Path) -> None:
    plain = loader.load(folder)
    first = load(folder, "causes:\n  pump_worn:\n    share: 0.07\n")
    second = load(folder, "causes:\n  pump_worn:\n    share: 0.08\n")
    assert len({plain.version, first.version, second.version}) == 3
    assert [k.causes["pump_worn"].frequency.value for k in (first, second)] == [0.07, 0.08]
    again = load(folder, "causes:\n  pump_worn:\n    share: 0.07\n")
    assert again == first
    assert loader.load(folder) == plain


def test_an_overlay_is_not_taken_for_a_file_of_the_knowledge(folder: Path) -> None:
    content = b"system: injection\n"
    plain = files.FileText("base.yaml", BASE.read_bytes())
    over, within = (files.FileText("x.yaml", content, overlay=flag) for flag in (True, False))
    assert files.version([plain, over]) != files.version([plain, within])


def test_where_the_overlay_is_looked_for(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    named = overlay(folder, "causes:\n  pump_worn:\n    share: 0.07\n")
    usual = folder.parent / "config" / "diesel-diagnose" / "overlay.yaml"
    usual.parent.mkdir(parents=True)
    usual.write_text("causes:\n  pump_worn:\n    share: 0.09\n", encoding="utf-8")
    monkeypatch.setenv(files.FOLDER_VARIABLE, str(folder))

    def prior(folder: Path | None = None, overlay: Path | None = None) -> float:
        return loader.load(folder, overlay).causes["pump_worn"].frequency.value

    monkeypatch.setenv(files.OVERLAY_VARIABLE, str(named))
    assert prior() == 0.07
    monkeypatch.setenv(files.OVERLAY_VARIABLE, "")
    without = prior()
    assert without not in (0.07, 0.09)
    monkeypatch.delenv(files.OVERLAY_VARIABLE)
    assert prior() == 0.09
    assert prior(None, named) == 0.07
    assert prior(folder) == without  # another folder: the usual overlay was not written for it


def test_an_overlay_that_is_not_there_is_told(folder: Path) -> None:
    knowledge, found = loader.check(folder, folder / "none.yml")
    assert knowledge is None
    assert [one.code for one in found] == ["K001"]


def test_an_overlay_can_be_a_folder(folder: Path) -> None:
    where = folder.parent / "own"
    where.mkdir()
    (where / "a.yaml").write_text("causes:\n  pump_worn:\n    share: 0.07\n", encoding="utf-8")
    (where / "b.yaml").write_text("causes:\n  pump_worn:\n    part: the pump\n", encoding="utf-8")
    cause = loader.load(folder, where).causes["pump_worn"]
    assert (cause.frequency.value, cause.part) == (0.07, "the pump")


def test_the_cause_of_the_authoring_page_is_sound(tmp_path: Path) -> None:
    block = re.search(r"```yaml\n(.*?)```", AUTHORING.read_text(encoding="utf-8"), re.DOTALL)
    assert block
    path = tmp_path / "overlay.yaml"
    path.write_text(block[1], encoding="utf-8")
    knowledge, found = loader.check(loader.shipped_folder(), path)
    assert list(map(str, found)) == []
    assert knowledge
    assert knowledge.causes["radiator_air_seals_missing"].frequency.basis == SHOP


def test_the_authoring_page_quotes_the_checker(tmp_path: Path) -> None:
    page = AUTHORING.read_text(encoding="utf-8")
    block = re.search(r"```yaml\n(.*?)```", page, re.DOTALL)
    quoted = re.search(r"^overlay\.yaml:(.*)$", page, re.MULTILINE)
    assert block
    assert quoted
    path = tmp_path / "overlay.yaml"
    path.write_text(block[1].replace("[unexpected_start, noise]", "[unexpected_start]"), encoding="utf-8")
    found = [str(one) for one in loader.check(loader.shipped_folder(), path)[1]]
    assert found == [f"{path}:{quoted[1]}"]
