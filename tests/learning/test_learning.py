"""Learning: conjugate where all is seen, the published limit where something is hidden, and numbers found
again."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from diagnose.cases.case import Observation
from diagnose.errors import Place
from diagnose.knowledge.number import Number
from diagnose.knowledge.records import Age, Knowledge
from diagnose.learning.case_sources import from_files
from diagnose.learning.counts import School
from diagnose.learning.em import maximised, solved_priors, trials
from diagnose.learning.expect import tally_of
from diagnose.learning.groups import ABSENT, PRESENT, CaseEvidence, grouped
from diagnose.learning.jsonl import to_json
from diagnose.learning.learn import LearntNumbers, learn
from diagnose.learning.lesson import Lesson
from diagnose.learning.multipliers import BIN, LAST_BIN
from diagnose.network.machine import Machine
from tests.knowledge_by_hand import HERE, cause, condition, finding, knowledge
from tests.learning.worlds import STATES, cases, lesson, small, with_numbers

GRADER = Machine("GRADER-3")


def learnt_from(base: Knowledge, lessons: list[Lesson], folder: Path, **how: object) -> LearntNumbers:
    path = folder / "cases.jsonl"
    path.write_text("".join(to_json(one) + "\n" for one in lessons), encoding="utf-8")
    return learn(base, from_files([path]), processes=1, **how)  # type: ignore[arg-type]


def row(learnt: LearntNumbers, number: int) -> list[float]:
    start = learnt.numbers.start
    return list(map(float, learnt.values[start[number] : start[number + 1]]))


# --- conjugate ----------------------------------------------------------------------------------------------


def worth(one: Number, ess: float) -> Number:
    return replace(one, ess=ess)


def test_a_prior_is_updated_by_counts(tmp_path: Path) -> None:
    """Beta with mean 0.05 worth 20 cases, 3 of 10: (0.05 x 20 + 3) / (20 + 10) = 0.133333 (the conjugate
    update, worked out independently of the program)."""
    base = knowledge(cause("a", 0.05, {"f": 0.5}), cause("b", 0.5, {"f": 0.5}), finding("f", 0.1))
    a = base.causes["a"]
    base = replace(base, causes={**base.causes, "a": replace(a, frequency=worth(a.frequency, 20))})
    found = [lesson(str(n), ["a", "b"] if n < 3 else ["b"], [], GRADER) for n in range(10)]
    assert row(learnt_from(base, found, tmp_path), 0)[1] == pytest.approx(4 / 30, abs=1e-9)


def test_a_link_of_several_states_is_updated_by_counts(tmp_path: Path) -> None:
    """Dirichlet with mean (0.7, 0.2, 0.1) worth 10 cases, counts (3, 5, 2): (0.5, 0.35, 0.15) (worked out
    independently of the program)."""
    base = knowledge(cause("a", 0.5, {"gauge": [[0.2, 0.1]]}), finding("gauge", [0.0, 0.0], *STATES))
    states = ["normal"] * 3 + ["low"] * 5 + ["none"] * 2
    found = [lesson(str(n), ["a"], [Observation("gauge", state)], GRADER) for n, state in enumerate(states)]
    learnt = learnt_from(base, found, tmp_path)
    assert row(learnt, learnt.numbers.link["a", "gauge"]) == pytest.approx([0.5, 0.35, 0.15], abs=1e-9)
    assert learnt.cases[learnt.numbers.link["a", "gauge"]] == pytest.approx(10)


def test_how_a_cause_was_confirmed_weighs(tmp_path: Path) -> None:
    base = knowledge(cause("a", 0.05, {"f": 0.5}), cause("b", 0.5, {"f": 0.5}), finding("f", 0.1))
    found = [lesson(str(n), ["a", "b"], [], GRADER, "by repair") for n in range(10)]
    assert learnt_from(base, found, tmp_path).weight == pytest.approx(10 * 0.8)
    found = [replace(one, proven=False) for one in found]
    assert learnt_from(base, found, tmp_path).weight == pytest.approx(10 * 0.8 * 0.5)


def test_a_rare_number_is_worth_the_cases_that_it_takes_to_meet_it(tmp_path: Path) -> None:
    """0.5 % worth 10 cases, and 100 cases without: as if from 200 cases, not wiped out."""
    base = knowledge(cause("a", 0.005, {"f": 0.5}), cause("b", 0.5, {"f": 0.5}), finding("f", 0.1))
    found = [lesson(str(n), ["b"], [], GRADER) for n in range(100)]
    assert row(learnt_from(base, found, tmp_path), 0)[1] == pytest.approx(1 / 300, abs=1e-9)


# --- hidden -------------------------------------------------------------------------------------------------


def test_em_reaches_the_published_limit() -> None:
    """Dempster, Laird & Rubin, JRSS B 39 (1977), the genetic linkage of 197 animals in cells of 125, 18, 20,
    34 with probabilities 1/2 + t/4, (1 - t)/4, (1 - t)/4, t/4 (counts from memory): the maximum is (15 + sqrt
    53809) / 394.

    Here t is the leak of a hidden condition: without it the cells have 1/2, 1/4, 1/4, 0, with it 3/4, 0, 0,
    1/4. The missing data differ from theirs, the likelihood and so the limit are the same.
    """
    base = knowledge(
        cause("unrelated", 0.5, {"other": 0.5}),
        condition("t", 0.5, {"cell": [[0.0, 0.75, 0.25]]}),
        finding("cell", [0.25, 0.5, 0.0], "second", "third", "first", "fourth"),
        finding("other", 0.1),
    )
    school = School(base)
    graph, numbers = school.graph, school.graph.numbers
    shares = [
        CaseEvidence({graph.findings["cell"]: (state, 0)}, *_unrelated(count)) for state, count in CELLS
    ]
    may_change = np.arange(len(numbers.rows)) == numbers.leak["t"]
    values = numbers.values
    for _ in range(60):
        tally = tally_of(graph, values, grouped(graph, shares))
        values = maximised(numbers, tally, trials(graph, shares), np.zeros(1), may_change, values)
    assert values[numbers.start[numbers.leak["t"]] + 1] == pytest.approx(
        (15 + np.sqrt(53809)) / 394, abs=1e-8
    )
    assert (15 + np.sqrt(53809)) / 394 == pytest.approx(0.626821497871, abs=1e-12)


CELLS = ((2, 125), (0, 18), (1, 20), (3, 34))
MANY = 1e9
"""Each animal counts so often that what the knowledge said before weighs nothing."""


def _unrelated(count: int) -> tuple[np.ndarray, np.ndarray, frozenset[int], float, int]:
    standing = np.array([PRESENT], dtype=np.int8)
    return standing, np.zeros(1, dtype=np.int16), frozenset(), count * MANY, 0


def test_every_pass_raises_the_posterior_density(tmp_path: Path) -> None:
    """A property of EM (Dempster, Laird & Rubin 1977, theorem 1): one chunk, so that it is EM in the strict
    sense."""
    made = cases(small(), 400, seed=3, looked=0.5, unlisted={"debris": 0.2})
    learnt = learnt_from(with_numbers(small(), 0.4, ess=2), made, tmp_path, set_aside=False)
    assert len(learnt.objective) > 3
    assert (np.diff(learnt.objective) > -1e-9).all()


@pytest.mark.slow
def test_numbers_are_found_again_from_cases_with_hidden_findings(tmp_path: Path) -> None:
    """Cases drawn by the mechanism of the network, starting from numbers that are all wrong; one consequence
    in five goes unlisted, four findings in ten are not looked at. Nothing may be off by more than four
    standard errors, and the sum of their squares not beyond the 99.99 % point of chi-square."""
    truth = with_wear(small())
    made = cases(truth, 6000, seed=7, unlisted={"debris": 0.2})
    learnt = learnt_from(with_numbers(truth, 0.4, ess=1), made, tmp_path, set_aside=False, passes=300)
    z = errors(learnt, School(truth).graph.numbers.values)
    assert len(z) > 15
    assert np.abs(z).max() < 4
    assert (z**2).sum() < chi_square(len(z))


def with_wear(base: Knowledge) -> Knowledge:
    """With one more cause that nearly every machine has, and that shows nothing: only cases with a cause
    count, and without it machines that have none would be missing."""
    return replace(base, causes={**base.causes, "wear": cause("wear", 0.999, {})})


def errors(learnt: LearntNumbers, true: np.ndarray) -> np.ndarray:
    """(learnt - true) / standard error, for every cell above the first of rows that were learnt from
    enough."""
    numbers, found = learnt.numbers, []
    for number in range(len(numbers.rows)):
        for cell in range(numbers.start[number] + 1, numbers.start[number + 1]):
            p, n = true[cell], learnt.cases[number]
            if n > 50:
                found.append((learnt.values[cell] - p) / np.sqrt(p * (1 - p) / n))
    return np.array(found)


def chi_square(degrees: int) -> float:
    """About the 99.99 % point (Wilson-Hilferty)."""
    return float(degrees * (1 - 2 / (9 * degrees) + 3.72 * np.sqrt(2 / (9 * degrees))) ** 3)


def test_where_the_start_was_wrong_is_seen(tmp_path: Path) -> None:
    """The test above can fail: the numbers it starts from are far outside."""
    learnt = learnt_from(with_numbers(small(), 0.4), cases(small(), 2000, seed=7), tmp_path, passes=1)
    stale = replace(learnt, values=learnt.numbers.values)
    assert (errors(stale, School(small()).graph.numbers.values) ** 2).sum() > 10 * chi_square(20)


# --- priors on differing machines ---------------------------------------------------------------------------


def test_priors_are_found_again_from_machines_of_differing_age() -> None:
    """On a machine the odds are r times those at the reference. Drawn with p = 0.03 and r from 0.1 to 10."""
    random = np.random.default_rng(5)
    bins = random.integers(-46, 47, 40_000)
    odds = 0.03 / 0.97 * np.exp(BIN * bins)
    came = random.random(len(bins)) < odds / (1 + odds)
    counted = np.zeros((1, 2 * LAST_BIN + 1))
    np.add.at(counted[0], bins + LAST_BIN, 1)
    p = solved_priors(np.array([10.0]), np.array([0.2]), np.array([came.sum()], dtype=float), counted)[0]
    error = 1 / np.sqrt((odds / (1 + odds) ** 2).sum())  # of the log odds, by Fisher's information
    assert abs(np.log(p / (1 - p)) - np.log(0.03 / 0.97)) < 4 * error


def test_ageing_is_taken_off_before_a_prior_is_learnt(tmp_path: Path) -> None:
    """Weibull, shape 2: at half the reference age the odds are half. A cause found in 100 of 400 such
    machines has odds of 1/3 there, so 2/3 at the reference."""
    base = knowledge(cause("a", 0.5, {"f": 0.5}), cause("b", 0.5, {"f": 0.5}), finding("f", 0.1))
    ageing = Age(Number(2.0, "judgement", 10, HERE), 8000, Place("by_hand.yaml"))
    base = with_numbers(
        replace(base, causes={**base.causes, "a": replace(base.causes["a"], age=ageing)}), ess=1
    )
    machine = Machine("GRADER-3", hours=4000)
    found = [lesson(str(n), ["a", "b"] if n < 100 else ["b"], [], machine) for n in range(400)]
    p = row(learnt_from(base, found, tmp_path), 0)[1]
    assert p / (1 - p) == pytest.approx(2 / 3, rel=0.03)  # bins of log odds are 5 % wide


# --- selection ----------------------------------------------------------------------------------------------


def test_an_unlisted_cause_counts_as_absent_in_a_proven_case_only() -> None:
    from diagnose.learning.counts import known_of
    from diagnose.learning.groups import OPEN

    school = School(small())
    proven = lesson("1", ["pump"], [], GRADER)
    standing = dict(zip(school.graph.numbers.causes, known_of(school, proven).standing.tolist(), strict=True))
    assert standing == {"pump": PRESENT, "debris": OPEN, "seal": ABSENT}
    open = replace(proven, proven=False)
    standing = dict(zip(school.graph.numbers.causes, known_of(school, open).standing.tolist(), strict=True))
    assert standing == {"pump": PRESENT, "debris": OPEN, "seal": OPEN}


def test_what_is_only_written_down_where_it_is_there_teaches_nothing(tmp_path: Path) -> None:
    """Of 200 machines with the cause, 60 show the finding, and only these mention it: the link must not go to
    1."""
    base = knowledge(cause("a", 0.5, {"smoke": 0.3}), finding("smoke", 0.02))
    found = [
        lesson(str(n), ["a"], [Observation("smoke", "present")] if n < 60 else [], GRADER) for n in range(200)
    ]
    learnt = learnt_from(base, found, tmp_path)
    assert row(learnt, learnt.numbers.link["a", "smoke"])[1] == 0.3
    assert learnt.survey.noted["smoke"] == 60


def test_complaints_teach_nothing(tmp_path: Path) -> None:
    base = knowledge(cause("a", 0.5, {"no_start": 0.3}), finding("no_start", 0.02, other=0.03))
    states = ["present"] * 50 + ["absent"] * 10
    found = [
        lesson(str(n), ["a"], [Observation("no_start", state)], GRADER) for n, state in enumerate(states)
    ]
    learnt = learnt_from(base, found, tmp_path)
    assert row(learnt, learnt.numbers.link["a", "no_start"])[1] == 0.3


def test_nothing_learnt_from_nothing(tmp_path: Path) -> None:
    learnt = learnt_from(small(), [], tmp_path)
    assert learnt.values == pytest.approx(learnt.numbers.values, abs=1e-12)
    assert learnt.counted == 0
