"""Cases too tangled to be exact: what is set aside is named, and the rest is exact."""

from __future__ import annotations

from dataclasses import replace

import pytest

from diagnose import diagnosis
from diagnose.cases.case import Case, Epoch, Observation
from diagnose.network.machine import Machine
from tests.knowledge_by_hand import cause, condition, finding, knowledge

WHOLE = knowledge(
    *(cause(f"c{i}", 0.05, {"k": 0.5, "m": 0.4, f"f{i}": 0.8}) for i in range(6)),
    condition("k", 0.01, {"vague": 0.9}),
    condition("m", 0.01, {"vague": 0.8}),
    finding("vague", 0.02),
    *(finding(f"f{i}", 0.01) for i in range(6)),
)


def case(*findings: str) -> Case:
    return Case(
        1, Machine(), epochs=(Epoch(observations=tuple(Observation(f, "present") for f in findings)),)
    )


def test_the_vaguest_goes_first_and_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    whole = diagnosis.diagnose(WHOLE, case("f0", "f1"))
    monkeypatch.setattr(diagnosis, "WIDEST", 4)
    monkeypatch.setattr(diagnosis, "PATIENT", 4)
    narrowed = diagnosis.diagnose(WHOLE, case("vague", "f0", "f1"))
    assert [line for line in narrowed.unused if line.startswith("vague")]
    for one in whole.causes:
        again = narrowed.cause(one.id)
        assert again is not None
        assert again.probability == pytest.approx(one.probability, abs=1e-12)


def test_what_is_not_normal_stays_where_patience_is_enough(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(diagnosis, "WIDEST", 4)
    assert diagnosis.diagnose(WHOLE, case("vague", "f0", "f1")).unused == ()


def test_the_complaint_goes_last(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(diagnosis, "WIDEST", 4)
    monkeypatch.setattr(diagnosis, "PATIENT", 4)
    came = replace(case("vague", "f0", "f1"), came_in_for=("vague",))
    assert diagnosis.diagnose(WHOLE, came).unused[0].startswith(("f0", "f1"))


def test_nothing_is_set_aside_where_it_fits() -> None:
    assert diagnosis.diagnose(WHOLE, case("vague", "f0", "f1")).unused == ()
