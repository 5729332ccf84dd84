"""Which observations count, and what they weigh: likelihoods by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from diagnose.cases.case import Observation
from diagnose.evidence.counted import as_evidence, in_words, latest_of_each, usable
from tests.evidence.small import built, case, saw, whole


def counted(
    *seen: Observation, repairs: tuple[tuple[str, ...], ...] = ()
) -> tuple[list[tuple[str, str]], list[str]]:
    own, of = whole(), case(*seen, repairs=repairs)
    latest, overtaken = latest_of_each(own, built(own, of), of.observations)
    return [(one.name, one.observation.state) for one in latest], overtaken


def test_what_the_knowledge_no_longer_has_is_told() -> None:
    own = whole()
    seen = (saw("whine"), saw("hum"), saw("pressure", "present"), saw("pressure", "low", place="bank A"))
    good, unused = usable(own, case(*seen, codes_not_used=("17-3",)))
    assert [(one.finding, one.state) for one in good] == [("whine", "present"), ("pressure", "low")]
    assert unused == [
        "code 17-3 is not in the knowledge",
        "finding hum is no longer in the knowledge",
        "pressure: state present is no longer in the knowledge",
    ]


def test_the_later_one_counts_where_nothing_was_done_in_between() -> None:
    """A new pump says nothing of the squeal: one variable. The pressure hangs on the pump: two."""
    seen = (
        saw("squeal"), saw("pressure", "low"), saw("whine"),
        saw("squeal", "absent", 1), saw("pressure", "normal", 1),
    )  # fmt: skip
    latest, overtaken = counted(*seen, repairs=(("new_pump",),))
    assert latest == [
        ("pressure", "low"), ("whine", "present"), ("squeal", "absent"), ("pressure", "normal")
    ]  # fmt: skip
    (words,) = overtaken
    assert words.startswith("squeal: present before, absent later, though no repair in between acts on it")


def test_what_is_seen_again_the_same_is_not_told() -> None:
    latest, overtaken = counted(saw("squeal"), saw("squeal", epoch=1), repairs=(("new_pump",),))
    assert (latest, overtaken) == ([("squeal", "present")], [])


@pytest.mark.parametrize(
    ("seen", "weighs"),
    [
        (saw("whine"), [0, 1]),
        (saw("whine", "absent"), [1, 0]),
        (saw("pressure", "none", confidence="likely"), [1 / 6, 1 / 6, 1]),
        (saw("pressure", "low", confidence="unsure"), [1 / 2, 1, 1 / 2]),
        (saw("squeal@belt_off", "gone"), [1, 0.1]),  # what is still there is told as gone once in ten
        (saw("squeal@belt_off", "still there"), [0, 1]),
        (saw("squeal@belt_off", "gone", confidence="unsure"), [1, 0.5]),
        (saw("squeal@belt_off", "still there", confidence="likely"), [1 / 6, 1]),
    ],
)
def test_what_an_observation_weighs(seen: Observation, weighs: list[float]) -> None:
    """As many times likelier reported as the confidence says (docs: sure certain, likely 6, unsure 2)."""
    own, of = whole(), case(seen)
    net = built(own, of)
    latest, _ = latest_of_each(own, net, of.observations)
    ((variable, vector),) = as_evidence(own, net, latest).items()
    assert variable == net.variable(seen.id, 0)
    assert vector == pytest.approx(weighs)


def test_a_variable_in_words() -> None:
    own, of = whole(), case(saw("whine"))
    named = replace(
        own, findings={**own.findings, "pressure": replace(own.findings["pressure"], name="Boost")}
    )
    net = built(own, of)
    assert in_words(named, net, net.variable("pressure")) == "Boost"
    assert in_words(named, net, net.variable("pump")) == "pump"
