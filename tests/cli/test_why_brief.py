"""why on one screen: twenty lines of plain words at 60 and 100 columns, the depth behind --all."""

from __future__ import annotations

import re

import numpy as np
import pytest

from diagnose.cases.scenario import folder
from diagnose.cli.show import rendered
from diagnose.diagnosis import Diagnosis, RankedCause
from diagnose.errors import DiagnoseError
from diagnose.explaining.mistaken import alike, mistaken_for
from diagnose.report.brief import brief, brief_screen
from diagnose.report.screen_words import chance, strength
from tests import shipped
from tests.cli.conftest import Call, Shown

WIDTHS, LINES = (60, 100), 20
FORBIDDEN = re.compile(
    r"\bbits?\b|deciban|\bdB\b|\bodds\b|posterior|prior\b|\.yaml|\.py\b"
    r"|\d[.,]\d+ ?%|[<>] ?\d+ ?%|\b0\.\d+(?! ?(?:V|A|bar|MPa|mm)\b)",
    re.I,
)
"""Words of the reckoning, names of files, and more precision than there is."""
FEW = [
    "pump_worn_plough",
    "wet_stacking_generator",
    "replaced_pump_still_dead_plough",
    "nothing_listed_chipper",
]
REST = sorted({path.stem for path in folder().glob("*.yaml")} - set(FEW))[::12]
PARTS = ("Speaks for it", "Speaks against it", "Would settle it", "Often mistaken for")


def asked_about(diagnosis: Diagnosis) -> list[RankedCause]:
    """The leading causes and one far down."""
    return [*diagnosis.causes[:3], diagnosis.causes[len(diagnosis.causes) // 2]]


def check(name: str) -> None:
    try:
        diagnosis = shipped.diagnosed(name)
    except DiagnoseError:
        pytest.skip("what was found cannot all be true")
    for cause in asked_about(diagnosis):
        screen = brief_screen(diagnosis, brief(diagnosis, cause))
        for width in WIDTHS:
            text = rendered(screen, width)
            lines = text.splitlines()
            assert len(lines) <= LINES, text
            assert max(map(len, lines)) <= width
            assert not FORBIDDEN.search(text), FORBIDDEN.search(text)
            assert all(part in text for part in PARTS), text
            assert cause.name in " ".join(text.split())


@pytest.mark.parametrize("name", FEW)
def test_why_is_twenty_lines_of_plain_words(name: str) -> None:
    check(name)


@pytest.mark.slow
@pytest.mark.parametrize("name", REST)
def test_why_is_twenty_lines_of_plain_words_elsewhere(name: str) -> None:
    check(name)


def test_what_speaks_loudest_is_told_first() -> None:
    diagnosis = shipped.diagnosed("pump_worn_plough")
    told = brief(diagnosis, diagnosis.causes[0])
    text = " ".join(rendered(brief_screen(diagnosis, told), 100).split())
    heaviest = max(told.reasons, key=lambda one: one.decibans)
    assert f"Speaks for it - {heaviest.words} (strongly)" in text


def test_the_depth_is_behind_all(call: Call, shown: Shown) -> None:
    call("new", "P-1", "no start", "--family", "old_six", "--hours", "5000")
    call("note", "rail pressure cranking 2.0 MPa", "P2291", "metal in the filter")
    short, whole = call("why").stdout, call("why", "--all").stdout
    assert "dB" not in short
    assert "dB" in whole
    assert "diagnose why 1 --all" in " ".join(short.split())
    names = [one["name"] for one in shown("why")["mistaken_for"]]
    assert all(name in " ".join(whole.split()) for name in names)


def test_a_rival_looks_like_it_and_a_sound_machine_is_none() -> None:
    """By hand on shipped causes: gaskets and heads let gas into the coolant; weak coolant shows nothing."""
    diagnosis = shipped.diagnosed("gas_in_coolant_dump_truck")
    gasket = diagnosis.causes[0]
    names = {one.cause.name: one for one in mistaken_for(diagnosis, gasket)}
    assert "Cylinder head cracked or warped" in names
    assert names["Cylinder head cracked or warped"].apart is not None
    silent = diagnosis.cause("coolant_mix_wrong") or diagnosis.causes[-1]
    head = diagnosis.cause(names["Cylinder head cracked or warped"].cause.id)
    assert head is not None
    near = alike(diagnosis, gasket, [head, silent])
    assert near[0] > near[1]
    assert near[1] == -np.inf


@pytest.mark.parametrize(
    ("p", "words"), [(0.001, "hardly likely"), (0.02, "2 %"), (0.994, "99 %"), (0.999, "as good as sure")]
)
def test_chances_in_words(p: float, words: str) -> None:
    assert chance(p) == words


def test_strength_in_words() -> None:
    assert [strength(x) for x in (2.9, -5.0, 12.0)] == ["slightly", "clearly", "strongly"]
