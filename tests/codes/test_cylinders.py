"""Codes that name a cylinder by their number, against the tables of codes (SAE J1939-71, SAE J2012)."""

from __future__ import annotations

import csv
import re
from pathlib import Path

import pytest

import diagnose
from diagnose.codes.cylinders import cylinder_of
from diagnose.codes.typed import Code, parse_code

TABLES = Path(diagnose.__file__).parent / "codes"


def rows(name: str) -> list[list[str]]:
    with (TABLES / name).open(encoding="utf-8", newline="") as file:
        return list(csv.reader(file))[1:]


def named() -> list[tuple[Code, str]]:
    """Every code of the tables whose words name one cylinder."""
    codes = [(Code(spn=int(row[0]), fmi=5), row[1]) for row in rows("spn.csv") if row[0].isdecimal()]
    codes += [(Code(trouble=row[0]), row[1]) for row in rows("pcodes.csv")]
    return [(code, found[1]) for code, words in codes if (found := re.search(r"cylinder (\d+)\b", words))]


def test_the_tables_name_cylinders() -> None:
    assert len(named()) > 40


@pytest.mark.parametrize(("code", "number"), named(), ids=lambda value: str(value))
def test_as_the_tables_say(code: Code, number: str) -> None:
    if code.spn == 5358:  # "cylinder 1", the only one of its row that is known; no range
        assert cylinder_of(code) == ""
        return
    assert cylinder_of(code) == f"cylinder {number}"


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("P0264", "cylinder 2"),
        ("P0265", "cylinder 2"),
        ("P0312", "cylinder 12"),
        ("SPN 670 FMI 3", "cylinder 20"),
        ("P0300", ""),
        ("P0200", ""),
        ("P030A", ""),
        ("U0301", ""),
        ("SPN 1322 FMI 31", ""),
        ("SPN 100 FMI 1", ""),
    ],
)
def test_the_ends_of_the_ranges(text: str, place: str) -> None:
    assert cylinder_of(parse_code(text)) == place
