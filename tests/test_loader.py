"""Loading: folders, the cache, all problems at once, and whatever a mangled file does."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose import caching
from diagnose.errors import DataError, Place
from diagnose.forms import content
from diagnose.knowledge import assemble as assembling
from diagnose.knowledge import cache, files, loader
from diagnose.knowledge.assemble import assemble
from diagnose.knowledge.files import FileText
from tests import generated_knowledge

BASE = Path(__file__).parent / "rules" / "base.yaml"
BASE_TEXT = BASE.read_text(encoding="utf-8")


@pytest.fixture(autouse=True)
def own_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv(caching.CACHE_VARIABLE, str(tmp_path / "cache"))
    return tmp_path / "cache"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    shutil.copy(BASE, tmp_path / "base.yaml")
    return tmp_path


def forbid_assembling(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> None:
        raise AssertionError("read anew")

    monkeypatch.setattr(assembling, "assemble", refuse)


def test_shipped_knowledge_has_no_problem() -> None:
    assert [str(one) for one in loader.check()[1]] == []


def test_generated_knowledge_has_no_problem(tmp_path: Path) -> None:
    assert generated_knowledge.write(tmp_path, systems=2, causes=3) > 100
    knowledge = loader.load(tmp_path)
    assert len(knowledge.causes) == len(knowledge.findings) == 6


def test_records_hold_what_the_file_says(folder: Path) -> None:
    knowledge = loader.load(folder)
    link = knowledge.conditions["pressure_low"].leads_to[1]
    assert [[number.value for number in row] for row in link.strengths] == [[0.9, 0.0], [0.1, 0.9]]
    assert link.place == Place(str(folder / "base.yaml"), 42, 7)
    assert [number.value for number in knowledge.findings["gauge_low"].leak] == [0.01, 0.0]
    cause = knowledge.causes["pump_worn"]
    assert (cause.frequency.value, cause.frequency.basis, cause.frequency.ess) == (0.03, "judgement", 10)
    assert cause.system == "injection"
    assert knowledge.families["inline_six"].facts == {"duty": "heavy"}
    assert knowledge.repairs["replace_pump"].cures[0].effectiveness.value == 0.97


def test_all_problems_of_all_files_are_raised(folder: Path) -> None:
    (folder / "one.yaml").write_text("hazard: {}\n")
    (folder / "two.yaml").write_bytes(b"\xff\xfe")
    (folder / "zero.yaml").write_text("sources: [\n")
    with pytest.raises(DataError) as raised:
        loader.load(folder)
    found = [(Path(one.place.file).name, one.code) for one in raised.value.problems]
    assert found == [("one.yaml", "K010"), ("two.yaml", "K002"), ("zero.yaml", "K004")]


def test_file_too_large_is_one_problem_and_no_noise(folder: Path) -> None:
    text = BASE_TEXT.partition("checks:")
    (folder / "base.yaml").write_text(text[0])
    (folder / "checks.yaml").write_bytes(b"#" * (content.MAX_BYTES + 1))
    assert [one.code for one in loader.check(folder)[1]] == ["K003"]


@pytest.mark.parametrize("removed", range(1, BASE_TEXT.count("\n")))
def test_any_line_removed_is_a_problem_or_knowledge(removed: int) -> None:
    lines = BASE_TEXT.splitlines(keepends=True)
    text = "".join(lines[:removed] + lines[removed + 1 :])
    knowledge, problems = assemble([FileText("base.yaml", text.encode())])
    assert (knowledge is None) == bool(problems)


@given(
    st.lists(
        st.tuples(
            st.integers(0, len(BASE_TEXT)),
            st.integers(0, 8),
            st.text("ab01.,:{}[]\"'-&*!? \n\t#%ö", max_size=4),
        ),
        min_size=1,
        max_size=5,
    )
)
@settings(max_examples=150, deadline=None, derandomize=True)
def test_mangled_file_never_raises(changes: list[tuple[int, int, str]]) -> None:
    text = BASE_TEXT
    for start, length, new in changes:
        text = text[:start] + new + text[start + length :]
    knowledge, problems = assemble([FileText("base.yaml", text.encode())])
    assert (knowledge is None) == bool(problems)
    assert all(one.place.file == "base.yaml" and one.place.line >= 1 for one in problems)


@given(st.integers(0, len(BASE_TEXT)))
@settings(max_examples=60, deadline=None, derandomize=True)
def test_truncated_file_never_raises(end: int) -> None:
    knowledge, problems = assemble([FileText("base.yaml", BASE_TEXT[:end].encode())])
    assert (knowledge is None) == bool(problems)


def test_folder_of_the_environment(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(files.FOLDER_VARIABLE, str(folder))
    assert list(loader.load().causes) == ["pump_worn"]


def test_shipped_folders_of_checkout_and_wheel(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert loader.shipped("knowledge").parent == Path(files.__file__).parents[2]
    module = tmp_path / "diagnose" / "knowledge" / "files.py"
    inside = tmp_path / "diagnose" / "shipped" / "scenarios"
    inside.mkdir(parents=True)
    monkeypatch.setattr(files, "__file__", str(module))
    assert loader.shipped("scenarios") == inside.resolve()


def test_version_follows_content_and_not_place(folder: Path, tmp_path: Path) -> None:
    version = loader.load(folder).version
    other = tmp_path / "other"
    other.mkdir()
    shutil.copy(BASE, other)
    assert loader.load(other).version == version
    (other / "base.yaml").write_text(BASE_TEXT.replace("0.97", "0.96"))
    assert loader.load(other).version != version


def test_cached_knowledge_is_the_same(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    fresh = loader.load(folder)
    forbid_assembling(monkeypatch)
    assert loader.load(folder) == fresh


def test_keeping_loses_nothing(own_cache: Path) -> None:
    knowledge, _ = assemble(texts := [FileText("base.yaml", BASE_TEXT.encode())])
    assert knowledge is not None
    assert cache.put(knowledge, texts) == knowledge == cache.get(texts)


def test_a_folder_whose_name_is_no_text_is_no_error(own_cache: Path) -> None:
    knowledge, _ = assemble(texts := [FileText("\udcff/base.yaml", BASE_TEXT.encode())])
    assert knowledge is not None
    assert cache.put(knowledge, texts) == knowledge
    assert cache.get(texts) is None


def test_cached_places_name_the_present_folder(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    loader.load(folder)
    forbid_assembling(monkeypatch)
    moved = folder / "moved"
    moved.mkdir()
    shutil.copy(BASE, moved)
    assert loader.load(moved).causes["pump_worn"].place.file == str(moved / "base.yaml")


@pytest.mark.parametrize("damage", [b"", b"{", b"[]", b"\xff", b"0\n[]"])
def test_damaged_cache_is_made_anew(folder: Path, own_cache: Path, damage: bytes) -> None:
    fresh = loader.load(folder)
    (kept,) = own_cache.iterdir()
    whole = kept.read_bytes()
    kept.write_bytes(damage)
    assert loader.load(folder) == fresh
    assert kept.read_bytes() == whole


def test_flipped_letter_in_the_cache_is_noticed(folder: Path, own_cache: Path) -> None:
    fresh = loader.load(folder)
    (kept,) = own_cache.iterdir()
    kept.write_bytes(kept.read_bytes().replace(b"0.97", b"0.79"))
    assert loader.load(folder) == fresh


def test_flipped_letter_in_what_is_made_from_the_knowledge_is_noticed(own_cache: Path) -> None:
    assert caching.kept("words", "key", lambda: ["worn"]) == ["worn"]
    (file,) = own_cache.iterdir()
    file.write_bytes(file.read_bytes().replace(b"worn", b"torn"))
    assert caching.kept("words", "key", lambda: ["made anew"]) == ["made anew"]


def test_cache_that_cannot_be_written_is_no_error(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(caching.CACHE_VARIABLE, str(folder / "base.yaml" / "below_a_file"))
    assert loader.load(folder).causes


def test_wrong_knowledge_is_not_kept(folder: Path, own_cache: Path) -> None:
    (folder / "wrong.yaml").write_text("hazard: {}\n")
    for _ in range(2):
        assert loader.check(folder)[0] is None
    assert not own_cache.exists()


def test_new_rules_see_old_files(folder: Path, own_cache: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    loader.load(folder)
    monkeypatch.setattr(cache, "_program", lambda: "another")
    loader.load(folder)
    assert len(list(own_cache.iterdir())) == 2


def test_cache_keeps_few_files(folder: Path, own_cache: Path) -> None:
    for number in range(caching.KEPT + 3):
        (folder / "base.yaml").write_text(f"{BASE_TEXT}# {number}\n")
        loader.load(folder)
    assert len(list(own_cache.iterdir())) == caching.KEPT


def test_cached_load_needs_neither_yaml_nor_rules(folder: Path) -> None:
    loader.load(folder)
    program = (
        "import sys; from pathlib import Path; from diagnose.knowledge.loader import load; "
        f"load(Path({str(folder)!r})); "
        "print([name for name in ('yaml', 'rapidfuzz', 'diagnose.knowledge.rules') if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
