"""The reader: hostile text, places, and the declarations of fields with their JSON Schema."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import jsonschema
import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.errors import DataError, Place, Problem
from diagnose.forms.fields import (
    Amount,
    Either,
    Field,
    FreeText,
    Id,
    Many,
    Map,
    Notes,
    Numeric,
    Shape,
    Truth,
    demand,
)
from diagnose.forms.reader import Leaf, MappingNode, Node, plain_value, read_file, read_text
from diagnose.knowledge.files import shipped_folder
from diagnose.knowledge.schema import schema
from diagnose.knowledge.sections.file import FILE
from tests.test_rules import cases

STEADY = settings(deadline=None, derandomize=True)
SHOP = Shape(
    "a shop",
    {
        "name": Field(FreeText(), required=True),
        "rate": Field(Amount(low=0), default=90.0),
        "open": Field(Truth(), default=True),
        "benches": Field(Many(Id()), default=()),
        "prices": Field(
            Map(Either(Amount(low=0), Shape("a price", {"net": Field(Amount(), required=True)})))
        ),
    },
)


def only_problem(content: bytes | str) -> Problem:
    document = read_text(content, "f.yaml")
    assert document.root is None
    (problem,) = document.problems
    return problem


def test_places_of_keys_and_values_count_from_one() -> None:
    root = read_text("a: 1\nb:\n  - ü: 'x'\n", "f.yaml").root
    assert isinstance(root, MappingNode)
    (a, one), (b, items) = root.entries
    assert (a.place, one.place) == (Place("f.yaml", 1, 1), Place("f.yaml", 1, 4))
    assert (b.place, items.place) == (Place("f.yaml", 2, 1), Place("f.yaml", 3, 3))
    inner = items.nodes[0]  # type: ignore[union-attr]
    assert inner.entries[0][1].place == Place("f.yaml", 3, 8)  # type: ignore[union-attr]


def test_line_of_100_megabytes_is_refused_without_reading_it(tmp_path: Path) -> None:
    path = tmp_path / "long.yaml"
    with path.open("wb") as file:
        file.write(b"about: ")
        file.seek(100_000_000)
        file.write(b"x")
    document = read_file(path)
    assert [(one.code, one.place) for one in document.problems] == [("K003", Place(str(path)))]


def test_file_that_is_not_there(tmp_path: Path) -> None:
    assert [one.code for one in read_file(tmp_path / "no.yaml").problems] == ["K001"]
    assert [one.code for one in read_file(tmp_path).problems] == ["K001"]


def test_utf16_is_refused_with_its_place() -> None:
    problem = only_problem("about: Öl".encode("utf-16"))
    assert (problem.code, problem.place) == ("K002", Place("f.yaml", 1, 1))


def test_latin1_is_refused_with_its_place() -> None:
    problem = only_problem(b"a: b\nc: \xd6l\n")
    assert (problem.code, problem.place) == ("K002", Place("f.yaml", 2, 4))


@pytest.mark.parametrize("open_", ["[", "{a: ", "- "])
def test_deep_nesting_is_refused(open_: str) -> None:
    assert only_problem(open_ * 100_000).code in ("K003", "K004")


def test_depth_of_real_files_is_read() -> None:
    assert read_text("[" * 39 + "]" * 39, "f.yaml").problems == ()


def test_words_of_what_cannot_be_read_are_doubtful() -> None:
    assert {"pump_worn", "prior"} <= read_text("causes:\n  pump_worn: {prior", "f.yaml").doubtful


@STEADY
@given(st.text())
def test_any_text_is_read_or_refused(text: str) -> None:
    document = read_text(text, "f.yaml")
    assert document.root is not None or document.problems
    assert all(one.place.file == "f.yaml" for one in document.problems)


@STEADY
@given(st.binary())
def test_any_bytes_are_read_or_refused(content: bytes) -> None:
    document = read_text(content, "f.yaml")
    assert document.root is not None or document.problems


TREES = st.recursive(
    st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"])) | st.booleans() | st.none(),
    lambda inner: (
        st.lists(inner, max_size=4) | st.dictionaries(st.text("abc_", min_size=1), inner, max_size=4)
    ),
    max_leaves=20,
)


@STEADY
@given(TREES)
def test_what_pyyaml_writes_is_read_back(tree: Any) -> None:
    document = read_text(yaml.safe_dump(tree, allow_unicode=True), "f.yaml")
    assert document.problems == ()
    assert document.root is not None
    assert plain_value(document.root) == tree


# YAML 1.1, types int, float and bool (yaml.org/type): the forms that do not mean what they show.
@pytest.mark.parametrize(
    "text", ["010", "-017", "0x1F", "0b11", "1:30", "12:30:45", "1_000", ".inf", "-.INF", ".NaN"]
)
def test_numbers_in_disguise(text: str) -> None:
    assert Leaf(text, True, Place("")).looks == "number trap"
    assert Leaf(text, False, Place("")).looks == "text"
    assert yaml.safe_load(text) != text  # YAML makes something else of it


@pytest.mark.parametrize("text", ["0", "10", "-3", "+3", "0.5", ".5", "5.", "1e3", "1.5e-3", "00.5"])
def test_decimal_numbers(text: str) -> None:
    assert Leaf(text, True, Place("")).looks == "number"


@pytest.mark.parametrize("text", ["yes", "No", "ON", "off", "True", "FALSE"])
def test_truth_in_disguise(text: str) -> None:
    assert Leaf(text, True, Place("")).looks == "truth trap"
    assert isinstance(yaml.safe_load(text), bool)


@pytest.mark.parametrize(
    "text", ["-", "none", "10 mm", "1:3x", "P0123", "nothing", "+", ".", "0.7 MPa", "on top"]
)
def test_text_stays_text(text: str) -> None:
    assert Leaf(text, True, Place("")).looks == "text"


def test_declared_file_is_read_with_defaults() -> None:
    text = "name: Depot\nbenches: [left, right]\nprices: {oil: 4.5, pump: {net: 900}}\n"
    shop = demand(SHOP, read_text(text, "shop.yaml"))
    assert (shop["name"], shop["rate"], shop["open"], shop["benches"]) == (
        "Depot",
        90.0,
        True,
        ("left", "right"),
    )
    assert shop["prices"] == {"oil": 4.5, "pump": {"net": 900.0}}
    assert shop["name"].place == Place("shop.yaml", 1, 7)


def test_all_problems_are_raised_at_once() -> None:
    with pytest.raises(DataError) as raised:
        demand(SHOP, read_text("nam: Depot\nrate: -3\nopen: yes\nbenches: [Left]\n", "shop.yaml"))
    assert [one.code for one in raised.value.problems] == ["K010", "K011", "K014", "K007", "K013"]


@pytest.mark.parametrize(
    "kind", [Numeric("p", Amount(low=0, high=1)), SHOP, FILE, Map(FreeText()), Many(Id(), least=1)]
)
def test_schemas_are_valid(kind: Any) -> None:
    jsonschema.Draft202012Validator.check_schema(kind.schema())


@pytest.mark.parametrize("path", sorted(shipped_folder().glob("*.yaml")), ids=lambda path: path.name)
def test_shipped_file_fits_the_schema(path: Path) -> None:
    root = read_file(path).root
    assert root is not None
    jsonschema.validate(plain_value(root), schema(), jsonschema.Draft202012Validator)


def trees() -> list[Any]:
    """The case files that YAML itself has nothing against, as trees."""
    texts = {case.id: case.values[1].get("pass", case.values[1].get("fail", "")) for case in cases()}
    documents = {id: read_text(text, "case.yaml") for id, text in texts.items()}
    return [
        pytest.param(one.root, id=id)
        for id, one in documents.items()
        if one.root is not None and not one.problems and "1e999" not in texts[id]  # infinite: not JSON
    ]


# Every case of the rules again, through an implementation of JSON Schema that is not ours.
@pytest.mark.parametrize("root", trees())
def test_schema_and_reader_agree(root: Node) -> None:
    notes = Notes()
    FILE.read(root, notes)
    valid = jsonschema.Draft202012Validator(schema()).is_valid(plain_value(root))
    in_disguise = {"K007", "K008"} & {one.code for one in notes.problems}  # JSON does not know these traps
    assert valid == (not notes.problems) or in_disguise
