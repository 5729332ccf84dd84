"""What can be behind what was found, before and after a repair, by the drawing of the network."""

from __future__ import annotations

from diagnose.cases.case import Case
from diagnose.evidence.counted import CountedObservation, latest_of_each
from diagnose.evidence.relevance import PERSISTS, above_the_shown, matters, shown
from diagnose.network.built import Built
from tests.evidence.small import built, case, saw, whole


def seen(of: Case) -> tuple[Built, tuple[CountedObservation, ...]]:
    own = whole()
    net = built(own, of)
    return net, latest_of_each(own, net, of.observations)[0]


def test_only_what_is_above_a_finding_that_is_not_normal() -> None:
    net, all_seen = seen(case(saw("squeal"), saw("pressure", "normal")))
    assert above_the_shown(net, all_seen) == {net.variable("belt"), net.variable("squeal")}
    net, all_seen = seen(case(saw("pressure", "normal")))
    assert above_the_shown(net, all_seen) == set(range(len(net.variables)))


def test_a_cause_behind_what_was_found_before_a_repair_counts_while_it_may_still_be_there() -> None:
    net, all_seen = seen(case(saw("whine"), saw("whine", "absent", 1), repairs=(("new_pump",),)))
    behind = above_the_shown(net, all_seen)
    now, before = net.variable("pump"), net.variable("pump", 0)
    assert now not in behind
    assert before in behind
    assert matters(net, now, PERSISTS, behind)
    assert not matters(net, now, PERSISTS / 2, behind)
    assert matters(net, before, 0.0, behind)
    assert not matters(net, net.variable("belt"), 1.0, behind)


def test_what_is_shown_is_the_latest_and_not_normal() -> None:
    of = case(
        saw("whine"), saw("squeal"), saw("pressure", "low"), saw("whine", "absent", 1), saw("pressure", "none", 1),
        repairs=(("new_pump",),),
    )  # fmt: skip
    net, all_seen = seen(of)
    assert [(one.name, one.observation.state) for one in shown(net, all_seen)] == [
        ("squeal", "present"), ("pressure", "none")
    ]  # fmt: skip
