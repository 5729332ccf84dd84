"""What is set aside where there is no room: in which order, how little of it, and in which words."""

from __future__ import annotations

import pytest

from diagnose.evidence import engaged
from diagnose.evidence.counted import as_evidence, latest_of_each
from diagnose.network.engine import posterior
from diagnose.network.messages import TooWide
from diagnose.network.observed import ImpossibleEvidence
from tests.evidence.small import built, case, saw, whole
from tests.knowledge_by_hand import cause, finding, knowledge

SEEN = (
    saw("whine"), saw("pressure", "low"), saw("squeal"),
    saw("whine", "present", 1), saw("pressure", "normal", 1), saw("squeal", "absent", 1),
)  # fmt: skip
OF = case(*SEEN, repairs=(("new_pump", "tighten"),), came_in_for=("squeal", "pressure"))


def test_what_a_later_one_repeats_goes_first() -> None:
    """Repairs only take causes away: the whine after it implies the whine before; a pressure that came back not."""
    net = built(whole(), OF)
    assert engaged._repeated(net, OF.observations) == [SEEN[0]]


def test_the_complaint_goes_last_before_it_what_is_not_normal_now_and_the_vaguest_first() -> None:
    """Vague: with most causes above it. What a repair has overtaken is not known of the machine as it is."""
    own = whole()
    of = case(saw("squeal"), saw("whine"), saw("pressure", "low"), came_in_for=("squeal",))
    order = engaged._spare_first(built(own, of), of, of.observations)
    assert [one.finding for one in order] == ["pressure", "whine", "squeal"]
    normal = case(saw("whine"), saw("squeal", "absent"), saw("pressure", "normal"), came_in_for=("squeal",))
    order = engaged._spare_first(built(own, normal), normal, normal.observations)
    assert [one.finding for one in order] == ["pressure", "squeal", "whine"]
    order = engaged._spare_first(built(own, OF), OF, OF.observations)
    assert order[-1] == SEEN[3]  # all else is normal now, or was before the repair
    assert {(one.finding, one.epoch) for one in order[:2]} == {("pressure", 1), ("pressure", 0)}


def test_only_as_many_are_set_aside_as_must_be(monkeypatch: pytest.MonkeyPatch) -> None:
    """Room for so many of the last ones, counted one by one."""
    own = whole()
    net = built(own, OF)
    spare = list(dict.fromkeys([SEEN[0], *engaged._spare_first(net, OF, OF.observations)]))
    for fits in range(len(spare) + 1):
        monkeypatch.setattr(
            engaged,
            "has_room",
            lambda _, seen, room, most=fits: room == engaged.SPARED and len(seen) <= most,
        )
        assert engaged._set_aside(own, net, OF, OF.observations) == spare[: len(spare) - fits]


def test_what_is_set_aside_is_told_and_the_rest_exact(monkeypatch: pytest.MonkeyPatch) -> None:
    own, asked = whole(), list(OF.observations)
    first, calls = engaged.with_engine, []

    def narrow(net: object, evidence: object) -> object:
        calls.append(evidence)
        if len(calls) == 1:
            raise TooWide(4)
        return first(net, evidence)  # type: ignore[arg-type]

    monkeypatch.setattr(engaged, "with_engine", narrow)
    monkeypatch.setattr(engaged, "has_room", lambda _, seen, __: len(seen) <= 4)
    found = engaged.engaged(own, OF, asked)
    assert [line.partition("; ")[0] for line in found.unused] == ["whine: present", "pressure: normal"]
    assert all("set aside" in line for line in found.unused)
    kept = [one for one in asked if one not in (SEEN[0], SEEN[4])]
    assert [one.observation for one in found.seen] == kept
    net = built(own, OF)
    seen, _ = latest_of_each(own, net, kept)
    exact = posterior(net.network, as_evidence(own, net, seen)).marginals
    for id in ("pump", "belt"):
        there = found.engine.marginal(found.built.variable(id))
        assert there == pytest.approx(exact[net.variable(id)], abs=1e-12)


def test_what_is_overtaken_is_told_too() -> None:
    of = case(saw("squeal"), saw("squeal", "absent", 1), repairs=(("new_pump",),))
    found = engaged.engaged(whole(), of, of.observations)
    assert [line.partition(":")[0] for line in found.unused] == ["squeal"]
    assert found.thinned is None


def test_what_cannot_be_is_told_in_words() -> None:
    """Nothing brings the hum about, and it is told for certain."""
    own = knowledge(cause("pump", 0.05, {"whine": 1.0}), finding("whine", 0.0), finding("hum", 0.0))
    of = case(saw("hum"))
    with pytest.raises(ImpossibleEvidence) as error:
        engaged.engaged(own, of, of.observations)
    assert (error.value.names, len(error.value.variables)) == (("hum",), 1)
