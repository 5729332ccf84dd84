"""Where a grade and the name of a mistake turn: differences worked out here, on figures of two or three causes.

Root mean square differences of two figures that are off by the same d are d; of one figure off by d, d / sqrt(2).
"""

from __future__ import annotations

from math import log, sqrt

import numpy as np
import pytest

from diagnose.network.engine import Engine
from diagnose.network.network import Network, NoisyMax, Table
from diagnose.network.observed import hard
from diagnose.practice.judging import (
    MISTAKES,
    SUREST,
    Grade,
    apart,
    brier,
    evenly,
    grade,
    in_words,
    log_score,
    mistaken,
    moved,
    points,
)
from tests.practice.small import enumerated, two_layer

EXACT = {0: 0.6, 1: 0.3}


def told(said: dict[int, float], **mistakes: dict[int, float]) -> str:
    return grade(said, EXACT, mistakes).mistake


def test_figures_within_a_tenth_are_no_mistake() -> None:
    """d = 0.099 and 0.101; what they look like is the mistake itself."""
    assert told({0: 0.699, 1: 0.399}, anchored={0: 0.699, 1: 0.399}) == ""
    assert told({0: 0.701, 1: 0.401}, anchored={0: 0.701, 1: 0.401}) == "anchored"


def test_a_mistake_that_changes_little_is_not_named() -> None:
    """The figures lie 0.25 off and 0.15 from what the mistake makes, but that is the exact ones nearly."""
    off = {0: 0.85, 1: 0.55}
    assert told(off, absence={0: 0.699, 1: 0.399}) == "too sure"
    assert told(off, absence={0: 0.74, 1: 0.44}) == "absence"


@pytest.mark.parametrize(("near", "name"), [(0.099, "absence"), (0.101, "too sure")])
def test_it_must_lie_at_less_than_half_the_distance(near: float, name: str) -> None:
    """0.2 off."""
    assert told({0: 0.8, 1: 0.5}, absence={0: 0.8 + near, 1: 0.5 + near}) == name


def test_the_nearest_mistake_is_named() -> None:
    said = {0: 0.8, 1: 0.5}
    assert told(said, anchored={0: 0.85, 1: 0.55}, absence={0: 0.82, 1: 0.52}) == "absence"
    assert told(said, absence={0: 0.82, 1: 0.52}, anchored={0: 0.85, 1: 0.55}) == "absence"


def test_another_leader_is_no_matter_of_too_sure() -> None:
    assert told({0: 0.2, 1: 0.9}) == ""
    assert told({0: 0.85, 1: 0.3}) == "too sure"
    assert told({0: 0.4, 1: 0.1}) == "too timid"


def test_points_are_the_share_of_the_way_from_saying_nothing() -> None:
    """Nothing is 1 % for each: off by 0.59 and 0.29, mean square 0.2161; off by 0.1 each: 0.01."""
    assert points([0.6, 0.3], [0.6, 0.3]) == pytest.approx(100)
    assert points([0.7, 0.4], [0.6, 0.3]) == pytest.approx(100 * (1 - 0.01 / 0.2161))
    assert points([0.01, 0.01], [0.6, 0.3]) == pytest.approx(0, abs=1e-9)
    assert points([0.01, 0.99], [0.6, 0.3]) == 0
    assert points([0.06, 0.06], [0.01, 0.01]) == pytest.approx(75)  # 0.05 against 0.1 at least


def test_a_grade_holds_every_figure_between_one_and_ninety_nine_per_cent() -> None:
    found = grade({0: 1.0, 1: 0.0}, {0: 1.0, 1: 0.0}, {})
    assert (found.brier, found.best_brier) == pytest.approx(
        (0.01**2, 0.01**2)
    )  # the exact ones count as they are
    assert (found.log, found.best_log) == pytest.approx((-log(0.99), -log(0.99)))
    assert (found.points, found.mistake) == (100, "")
    assert grade({0: 0.5, 1: 0.2}, {0: 0.4, 1: 0.1}, {}).brier == pytest.approx(
        (0.4 * 0.25 + 0.6 * 0.25 + 0.1 * 0.64 + 0.9 * 0.04) / 2
    )
    assert SUREST == 0.99


def test_scores_where_something_is_sure() -> None:
    assert log_score([1.0, 0.0], [1.0, 0.0]) == 0
    assert log_score([0.5, 0.5], [1.0, 0.0]) == pytest.approx(log(2))
    assert brier([1.0, 0.0], [0.0, 1.0]) == 1


@pytest.mark.parametrize(
    ("mistake", "score", "words"),
    [("", 75, "Well judged."), ("", 74.9, "Not close yet."), ("absence", 90, MISTAKES["absence"])],
)
def test_a_grade_in_words(mistake: str, score: float, words: str) -> None:
    assert in_words(Grade(0, 0, 0, 0, score, mistake)) == words


# ---- what each mistake would make of it ----

CAUSES = (0, 1, 2, 3)


def test_without_later_findings_or_unread_codes_there_is_nothing_to_mistake() -> None:
    found = mistaken(two_layer(), hard(two_layer(), {"F1": 1}), CAUSES, CAUSES, [])
    assert set(found) == {"base rate", "anchored", "counted twice"}
    exact = enumerated({"F1": 1})
    assert [found["anchored"][v] for v in CAUSES] == pytest.approx(list(exact.values()), abs=1e-12)
    assert [found["counted twice"][v] for v in CAUSES] == pytest.approx(list(exact.values()), abs=1e-9)


def test_a_code_that_was_read_is_not_taken_for_not_set() -> None:
    """Variable 7 is F4, 8 is F5: F4 was read and is set."""
    found = mistaken(two_layer(), hard(two_layer(), {"F1": 1, "F4": 1}), CAUSES, CAUSES, [7, 8])
    exact = enumerated({"F1": 1, "F4": 1, "F5": 0})
    assert [found["absence"][v] for v in CAUSES] == pytest.approx(list(exact.values()), abs=1e-12)


def test_one_base_rate_is_the_geometric_mean() -> None:
    even = Engine(evenly(two_layer(), CAUSES), {})
    mean = sqrt(sqrt(0.01 * 0.05 * 0.02 * 0.10))
    assert [even.marginal(v)[1] for v in CAUSES] == pytest.approx([mean] * 4)
    two = Engine(evenly(two_layer(), (1, 3)), {})
    assert [two.marginal(v)[1] for v in CAUSES] == pytest.approx([0.01, sqrt(0.005), 0.02, sqrt(0.005)])


def chain() -> Network:
    """A (0.1) wrecks B (0.2 of itself) with 0.5; what A shows never shows without it, what B shows at times."""
    sure, half = np.array([[1.0, 0.0], [0.2, 0.8]]), np.array([[1.0, 0.0], [0.5, 0.5]])
    families = (
        Table((), np.array([0.9, 0.1])),
        NoisyMax((0,), np.array([0.8, 0.2]), (half,)),
        NoisyMax((0,), np.array([1.0, 0.0]), (sure,)),
        NoisyMax((1,), np.array([0.9, 0.1]), (sure,)),
    )
    return Network(("A", "B", "FA", "FB"), (("absent", "present"),) * 4, families)


def test_a_consequence_keeps_what_brings_it_about_without_base_rates() -> None:
    """Geometric mean of 0.1 and 0.2: m; B is there with 1 - (1 - m)(1 - 0.5 m), and after its finding by Bayes."""
    m = sqrt(0.02)
    even = evenly(chain(), (0, 1))
    b = 1 - (1 - m) * (1 - 0.5 * m)
    assert Engine(even, {}).marginal(1)[1] == pytest.approx(b)
    shows = 1 - 0.9 * 0.2
    posterior = b * shows / (b * shows + (1 - b) * 0.1)
    assert Engine(even, hard(even, {"FB": 1})).marginal(1)[1] == pytest.approx(posterior)


def test_what_is_sure_by_one_finding_is_sure_among_several() -> None:
    found = apart(chain(), hard(chain(), {"FA": 1, "FB": 1}), (0, 1))
    assert found[0] == pytest.approx(1, abs=1e-6)
    assert 0.5 < found[1] < 1


def test_two_findings_counted_apart_multiply_the_odds() -> None:
    """F2 does not speak of B: its factor is 1; F3 and F1 do."""
    found = apart(two_layer(), hard(two_layer(), {"F1": 1, "F3": 1, "F2": 1}), CAUSES)
    odds = {1: 0.05 / 0.95, 0: 0.01 / 0.99}
    for v, name in ((1, "B"), (0, "A")):
        for finding in ("F1", "F2", "F3"):
            alone, prior = enumerated({finding: 1})[name], {1: 0.05, 0: 0.01}[v]
            odds[v] *= alone / (1 - alone) / (prior / (1 - prior))
        assert found[v] == pytest.approx(odds[v] / (1 + odds[v]), abs=1e-12)


def test_moves_that_count() -> None:
    """Up 0.3, down 0.01, 0.02 and 0.5; nothing for the last."""
    before, after = {0: 0.2, 1: 0.5, 2: 0.52, 3: 0.6, 4: 0.1}, {0: 0.5, 1: 0.49, 2: 0.5, 3: 0.1, 4: 0.1}
    assert moved(before, after, [0, 1], [2, 3]) == (3, 1, 3)
    assert moved(before, after, [4], [4, 1]) == (1, 2, 3)
    assert np.array(moved(before, after, [], [])).tolist() == [0, 0, 3]
