"""Cases too tangled even with links on average: what is set aside is named, and the rest is exact."""

from __future__ import annotations

from dataclasses import replace

import pytest

from diagnose.cases.case import Case, Epoch, Observation
from diagnose.diagnosis import diagnose
from diagnose.evidence import engaged
from diagnose.network.machine import Machine
from tests.knowledge_by_hand import cause, condition, finding, knowledge

WHOLE = knowledge(
    *(cause(f"c{i}", 0.05, {"k": 0.5, "m": 0.4, f"f{i}": 0.8}) for i in range(6)),
    condition("k", 0.01, {"vague": 0.9}),
    condition("m", 0.01, {"vague": 0.8}),
    finding("vague", 0.02),
    *(finding(f"f{i}", 0.01) for i in range(6)),
)


def too_little_room(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(engaged, "WIDEST", 4)
    monkeypatch.setattr(engaged, "THINNED", (4, 4))
    monkeypatch.setattr(engaged, "SPARED", 4)


def case(*findings: str) -> Case:
    return Case(
        1, Machine(), epochs=(Epoch(observations=tuple(Observation(f, "present") for f in findings)),)
    )


def test_the_vaguest_goes_first_and_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    whole = diagnose(WHOLE, case("f0", "f1"))
    too_little_room(monkeypatch)
    narrowed = diagnose(WHOLE, case("vague", "f0", "f1"))
    assert [line for line in narrowed.unused if line.startswith("vague")]
    for one in whole.causes:
        again = narrowed.cause(one.id)
        assert again is not None
        assert again.probability == pytest.approx(one.probability, abs=1e-12)


def test_links_stand_on_average_before_that(monkeypatch: pytest.MonkeyPatch) -> None:
    exact = diagnose(WHOLE, case("vague", "f0", "f1"))
    monkeypatch.setattr(engaged, "WIDEST", 4)
    thinned = diagnose(WHOLE, case("vague", "f0", "f1"))
    assert thinned.unused == ()
    assert thinned.thinned is not None
    assert exact.thinned is None
    assert [one.id for one in thinned.causes][:2] == [one.id for one in exact.causes][:2]


def test_the_complaint_goes_last(monkeypatch: pytest.MonkeyPatch) -> None:
    too_little_room(monkeypatch)
    came = replace(case("vague", "f0", "f1"), came_in_for=("vague",))
    assert diagnose(WHOLE, came).unused[0].startswith(("f0", "f1"))


def test_nothing_is_set_aside_where_it_fits() -> None:
    assert diagnose(WHOLE, case("vague", "f0", "f1")).unused == ()
