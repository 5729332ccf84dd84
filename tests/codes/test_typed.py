"""Typed codes. The forms are common practice of the trade; the ranges are those of SAE J1939-73 and the shape
of trouble codes that of SAE J2012 (both from memory; the standards were not read)."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import diagnose.codes.typed as typed
from diagnose.codes.typed import Code, explain, findings_for, parse_code
from diagnose.errors import CallError
from tests.words.small import finding, knowledge

TABLES = Path(typed.__file__).parent
ACTUATION = Code(spn=164, fmi=18)


@pytest.mark.parametrize(
    "text",
    [
        "SPN 164 FMI 18", "spn164/18", "164/18", "164-18", "164 18", "s164 f18", "s164f18", "spn164fmi18",
        "SPN:164, FMI:18", "Spn 164 - Fmi 18", " 164 / 18 ", "SPN#164 FMI#18", "spn 164 fmi: 18",
    ],
)  # fmt: skip
def test_usual_writings_of_spn_and_fmi(text: str) -> None:
    assert parse_code(text) == ACTUATION


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("P2291", Code(trouble="P2291")),
        ("p 2291", Code(trouble="P2291")),
        ("p20ee-17", Code(trouble="P20EE", failure_type=0x17)),
        ("P20EE:1C", Code(trouble="P20EE", failure_type=0x1C)),
        ("u0100", Code(trouble="U0100")),
        ("s164 f18 x3", Code(spn=164, fmi=18, count=3)),
        ("164/18 3 times", Code(spn=164, fmi=18, count=3)),
        ("SPN 164 FMI 18 count 4 inactive", Code(spn=164, fmi=18, count=4, status="previously active")),
        ("164/18 previously active x5", Code(spn=164, fmi=18, count=5, status="previously active")),
        ("164/18 active", Code(spn=164, fmi=18, status="active")),
        ("164/18 not active", Code(spn=164, fmi=18, status="previously active")),
        ("pending P2291", Code(trouble="P2291", status="pending")),
        ("P2291 stored", Code(trouble="P2291")),
        ("1/0", Code(spn=1, fmi=0)),
        ("524286/31", Code(spn=524286, fmi=31)),
    ],
)
def test_trouble_codes_counts_and_status(text: str, code: Code) -> None:
    assert parse_code(text) == code


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("0/3", "SPN is 1 to 524286"),
        ("524287/31", "SPN is 1 to 524286"),
        ("600000/1", "SPN is 1 to 524286"),
        ("164/32", "FMI is 0 to 31"),
        ("164/18 x0", "count is 1 to 126"),
        ("164/18 x127", "count is 1 to 126"),
        ("SPN 164", "needs its FMI"),
        ("164", "not a fault code"),
        ("164.18", "not a fault code"),
        ("-164/18", "not a fault code"),
        ("P4291", "not a fault code"),
        ("P229", "not a fault code"),
        ("P229G", "not a fault code"),
        ("hello", "not a fault code"),
        ("", "not a fault code"),
        ("9" * 5000 + "/1", "not a fault code"),
        ("P2O91", "Did you mean: P2091"),
    ],
)
def test_bad_codes_are_told(text: str, said: str) -> None:
    with pytest.raises(CallError, match=said):
        parse_code(text)


def test_the_error_shows_example_forms() -> None:
    with pytest.raises(CallError) as error:
        parse_code("engine light")
    examples = str(error.value).split("one of these: ")[1].rstrip(".").split(", ")
    assert len(examples) == 5
    assert all(parse_code(example) for example in examples)


status = st.sampled_from(["", "active", "previously active", "pending"])
count = st.none() | st.integers(1, 126)
spn_codes = st.builds(Code, spn=st.integers(1, 524286), fmi=st.integers(0, 31), count=count, status=status)
trouble = st.from_regex(r"[PCBU][0-3][0-9A-F]{3}", fullmatch=True)
trouble_codes = st.builds(
    Code, trouble=trouble, failure_type=st.none() | st.integers(0, 255), count=count, status=status
)


@given(spn_codes | trouble_codes)
def test_round_trip(code: Code) -> None:
    assert parse_code(str(code)) == code
    assert parse_code(str(code).lower()) == code
    assert explain(code).startswith(str(code))


@given(st.text(max_size=40) | st.from_regex(r"[spn fmix/0-9-]{1,25}", fullmatch=True))
def test_any_text_gives_a_code_or_a_clear_error(text: str) -> None:
    try:
        code = parse_code(text)
    except CallError:
        return
    assert parse_code(str(code)) == code


def test_explained_in_plain_words() -> None:
    assert "actuation" in explain(ACTUATION)
    assert "electrically good" in explain(ACTUATION)
    assert "Circuit fault" in explain(Code(spn=164, fmi=3))
    assert "too low" in explain(Code(trouble="P2291"))
    assert "engine maker's service information" in explain(Code(spn=520200, fmi=4))
    assert "not in the table" in explain(Code(trouble="P3FFF"))


@pytest.mark.parametrize("fmi", range(22, 31))
def test_reserved_fmis_are_flagged(fmi: int) -> None:
    code = parse_code(f"164/{fmi}")
    assert code.reserved
    assert "reserved" in explain(code)


@pytest.mark.parametrize("fmi", [*range(22), 31])
def test_other_fmis_are_not_reserved(fmi: int) -> None:
    assert not parse_code(f"164/{fmi}").reserved


def test_codes_are_compared_by_meaning() -> None:
    known = knowledge(
        [
            finding(
                "pressure_code", "Pressure code", kind="code", codes=("SPN 164 FMI 1", "s164 f18", "p2291")
            ),
            finding("other_code", "Other code", kind="code", codes=("164/3",)),
            finding("scr_code", "Code", kind="code", codes=("P20EE",)),
            finding("scr_17_code", "Code", kind="code", codes=("P20EE-17",)),
        ]
    )
    assert findings_for(known, parse_code("164-18 x2 active")) == ("pressure_code",)
    assert findings_for(known, parse_code("P2291")) == ("pressure_code",)
    assert findings_for(known, parse_code("164/3")) == ("other_code",)
    assert findings_for(known, parse_code("164/4")) == ()
    assert findings_for(known, parse_code("P20EE-17")) == ("scr_code", "scr_17_code")
    assert findings_for(known, parse_code("P20EE")) == ("scr_code",)


def test_a_code_that_nobody_lists_is_taken_by_its_neighbour_or_its_kind() -> None:
    known = knowledge(
        [
            finding("circuit_code", "Circuit code", kind="code", codes=("FMI 3", "FMI 4")),
            finding("coolant_code", "Coolant code", kind="code", codes=("SPN 110 FMI 4",)),
        ]
    )
    assert findings_for(known, parse_code("110/4")) == ("coolant_code",)
    assert findings_for(known, parse_code("110/3")) == ("circuit_code",)
    assert findings_for(known, parse_code("520300/4")) == ("circuit_code",)
    assert findings_for(known, parse_code("110/2")) == ()
    assert findings_for(known, parse_code("P0117")) == ("coolant_code",)
    assert findings_for(known, parse_code("P0118")) == ("circuit_code",)
    assert findings_for(known, parse_code("P3FFF")) == ()


def rows(name: str) -> list[dict[str, str]]:
    return list(csv.DictReader((TABLES / name).read_text(encoding="utf-8").splitlines()))


def test_every_row_of_the_tables_is_a_code_with_a_source() -> None:
    for row in rows("spn.csv"):
        assert parse_code(f"{row['number']}/0").spn == int(row["number"])
    for row in rows("pcodes.csv"):
        assert parse_code(row["code"]).trouble == row["code"]
    for row in [*rows("spn.csv"), *rows("pcodes.csv"), *rows("fmi.csv")]:
        assert row["source"]
        assert row["confidence"] in {"high", "medium", "low"}
        assert row["confidence"] != "high" or "+" in row["source"]


def test_every_trouble_code_with_a_near_spn_names_a_fmi_in_the_table() -> None:
    fmis = {row["number"] for row in rows("fmi.csv")}
    near = [row["near"].split()[0] for row in rows("pcodes.csv") if row["near"]]
    assert near
    assert all(pair.split("/")[1] in fmis for pair in near)
