"""One step of learning at a time, against sums and derivatives worked out here."""

from __future__ import annotations

import numpy as np
import pytest

from diagnose.knowledge.records import Knowledge
from diagnose.learning import em
from diagnose.learning.accelerate import Accelerator
from diagnose.learning.counts import School
from diagnose.learning.em import BINS, maximised, objective, of_roots, solved_priors, solved_rates, trials
from diagnose.learning.expect import occurrences, priors_by_bin
from diagnose.learning.expected_counts import ExpectedCounts, scores
from diagnose.learning.groups import ABSENT, EXCLUDED, OPEN, PRESENT, CaseEvidence
from diagnose.learning.learnable import NumberRow, Numbers
from diagnose.learning.multipliers import BIN, LAST_BIN
from diagnose.learning.whole_network import Graph
from tests.knowledge_by_hand import cause, condition, finding, knowledge
from tests.learning.test_rates import worth

HALF = round(float(np.log(0.5)) / BIN)
"""The bin of a factor of a half or so."""


def base() -> Knowledge:
    """A share, something that happens, and a consequence of the first."""
    plain = knowledge(
        cause("a", 0.2, {"f": 0.5, "c": 0.3}),
        cause("b", 3.0, {"f": 0.5}, per="rate"),
        cause("c", 0.1, {"f": 0.4}),
        condition("d", 0.3, {"f": 0.2}),
        finding("f", 0.1),
    )
    return worth(plain, 20)


def graph() -> Graph:
    return School(base()).graph


def known(standing: list[int], bins: tuple[int, int, int] = (0, 0, 0), weight: float = 1.0) -> CaseEvidence:
    return CaseEvidence({}, np.array(standing, np.int8), np.array(bins, np.int16), frozenset(), weight, 0)


def test_a_case_is_a_trial_of_each_cause_that_the_machine_can_have() -> None:
    """By weight and by the bin of its factor; what something else brings about is hidden even where it was
    there."""
    cases = [
        known([PRESENT, ABSENT, PRESENT], (3, 0, -2), 2.0),
        known([ABSENT, PRESENT, ABSENT], (3, HALF, 0), 0.5),
        known([OPEN, EXCLUDED, EXCLUDED]),
    ]
    found = trials(graph(), cases)
    wanted = np.zeros((3, 3, len(BINS)))
    absent, present, hidden = range(3)
    for kind, cause_, bin_, weight in (
        (present, 0, 3, 2.0), (absent, 0, 3, 0.5), (hidden, 0, 0, 1.0),
        (absent, 1, 0, 2.0), (present, 1, HALF, 0.5),
        (hidden, 2, -2, 2.0), (hidden, 2, 0, 0.5),
    ):  # fmt: skip
        wanted[kind, cause_, bin_ + LAST_BIN] = weight
    assert found == pytest.approx(wanted)


def test_priors_on_a_machine_with_a_factor() -> None:
    """Odds times r of a share; 1 - (1 - p)^r of what happens: 3 in 1,000 h are 1.5 in the window of 500."""
    numbers = graph().numbers
    r = np.exp(BIN * HALF)
    found = priors_by_bin(numbers, numbers.values, np.arange(3), np.array([HALF, HALF, 0], np.int16))
    odds = 0.25 * r
    assert found == pytest.approx([odds / (1 + odds), 1 - np.exp(-1.5 * r), 0.1])
    assert occurrences(numbers, np.arange(3), found) == pytest.approx(
        [1, 1.5 * r / (1 - np.exp(-1.5 * r)), 1]
    )
    assert occurrences(numbers, np.array([1]), np.array([0.0])) == pytest.approx([1])


def test_roots_that_are_known_on_machines_with_a_factor() -> None:
    """Three with the factor r: b there twice, absent once; a absent in all."""
    cases = [known([ABSENT, state, EXCLUDED], (HALF, HALF, 0)) for state in (PRESENT, PRESENT, ABSENT)]
    whole = graph()
    tally = of_roots(whole, whole.numbers.values, trials(whole, cases))
    r = np.exp(BIN * HALF)
    a, b = 0.25 * r / (1 + 0.25 * r), 1 - np.exp(-1.5 * r)
    assert tally.counts[:4] == pytest.approx([3, 0, 1, 2])
    assert tally.events == pytest.approx([0, 2 * 1.5 * r / b, 0])
    assert tally.log_probability == pytest.approx(3 * np.log(1 - a) + 2 * np.log(b) + np.log(1 - b))
    assert tally.known[:2] == pytest.approx([3 * a / (1 - a), 2 * (1 - b) / b + b / (1 - b)])
    assert tally.whole[:2] == pytest.approx(tally.known[:2])
    assert not tally.known[2:].any()


def filled(numbers: Numbers, **cells: float) -> ExpectedCounts:
    tally = ExpectedCounts.empty(graph())
    for row, count in cells.items():
        number = {"leak": numbers.leak["d"], "link": numbers.link["a", "f"]}[row]
        tally.counts[numbers.start[number] : numbers.start[number + 1]] = [10 - count, count]
    return tally


def test_a_step_moves_the_rows_that_are_learnt() -> None:
    """A row worth n0 cases of theta0 with counts c of n: (n0 theta0 + c) / (n0 + n). A share on the reference
    machine and a rate by its own formula; what is not learnt stays where it is now, not where the knowledge
    has it."""
    numbers = graph().numbers
    tally = filled(numbers, leak=4, link=7)
    tally.counts[1], tally.events[:] = 3.0, [9.0, 5.0, 9.0]
    at = np.zeros((3, 3, len(BINS)))
    at[0, 0, LAST_BIN], at[1, 0, LAST_BIN] = 7, 3
    learnt = np.zeros(len(numbers.rows), dtype=bool)
    learnt[[0, 1, numbers.leak["d"]]] = True
    now = np.full(len(numbers.values), 0.123)
    found = maximised(numbers, tally, at, np.array([0.0, 30.0, 0.0]), learnt, now)
    n0 = numbers.ess[numbers.leak["d"]]
    assert n0 == 10  # of the hand-made knowledge
    assert found[1] == pytest.approx((20 * 0.2 + 3) / (20 + 10))
    assert found[0] == pytest.approx(1 - found[1])
    assert found[3] == pytest.approx(1 - np.exp(-(20 * 1.5 + 5) / (20 + 30)))
    assert found[2] == pytest.approx(1 - found[3])
    start = numbers.start[numbers.leak["d"]]
    assert found[start : start + 2] == pytest.approx([(10 * 0.7 + 6) / 20, (10 * 0.3 + 4) / 20])
    others = np.ones(len(now), dtype=bool)
    others[[0, 1, 2, 3, start, start + 1]] = False
    assert found[others] == pytest.approx(0.123)


def test_a_prior_solves_its_equation_on_machines_of_all_kinds() -> None:
    """n0 p0 + found = n0 p + sum over cases of p(r), r from a hundredth to a hundred, from any start."""
    random = np.random.default_rng(2)
    bins = random.integers(-92, 93, (4, 30))
    at = np.zeros((4, len(BINS)))
    for row, some in zip(at, bins, strict=True):
        np.add.at(row, some + LAST_BIN, 1.5)
    ess, before = np.array([3.0, 50.0, 10.0, 1e-6]), np.array([0.001, 0.9, 0.3, 0.5])
    found = np.array([40.0, 2.0, 1e-3, 44.9])
    p = solved_priors(ess, before, found, at)
    odds = (p / (1 - p))[:, None] * np.exp(BIN * BINS)
    total = ess * p + (at * odds / (1 + odds)).sum(axis=1)
    assert total == pytest.approx(ess * before + found, rel=1e-9)
    assert solved_priors(np.array([5.0]), np.array([0.3]), np.array([0.0]), np.zeros((1, len(BINS)))) == (
        pytest.approx([0.3])
    )


def test_near_its_start_newton_takes_few_steps(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each doubles the digits: four are enough from 0.2 to 0.3 or so, where halving has hardly begun."""
    at = np.zeros((1, len(BINS)))
    at[0, LAST_BIN - 20 : LAST_BIN + 21 : 5] = 5.0
    of = np.array([10.0]), np.array([0.2]), np.array([15.0]), at
    p = solved_priors(*of)
    assert 0.28 < p[0] < 0.34
    monkeypatch.setattr(em, "NEWTON", 4)
    assert solved_priors(*of) == pytest.approx(p, rel=1e-11)


def test_what_a_step_raises_is_the_density_of_the_posterior() -> None:
    """A Dirichlet of each row, n0 theta0 ln theta; of what happens a Gamma of n0 windows, n0 (l0 ln l - l),
    and of the windows outside the cases exp(-l) each."""
    numbers = graph().numbers
    values = numbers.values.copy()
    values[0:4] = [0.7, 0.3, 0.5, 0.5]
    at = np.zeros((3, 3, len(BINS)))
    at[0, 1, LAST_BIN], at[2, 1, HALF + LAST_BIN], at[1, 0, LAST_BIN] = 4, 2, 99
    at_risk = np.array([7.0, 30.0, 7.0])
    rate = np.log(2)
    gamma = 20 * (1.5 * np.log(rate) - rate) + rate * (4 + 2 * np.exp(BIN * HALF) - 30)
    rows = 20 * (0.8 * np.log(0.7) + 0.2 * np.log(0.3))
    for number in range(2, len(numbers.rows)):
        cells = slice(numbers.start[number], numbers.start[number + 1])
        theta = numbers.values[cells]
        rows += numbers.ess[number] * float((theta * np.log(theta)).sum())
    assert objective(numbers, 11.0, values, at, at_risk) == pytest.approx(11.0 + rows + gamma)


def test_a_rate_is_at_the_top_of_its_density() -> None:
    """With no case in between the step (n0 l0 + events) / (n0 + at risk) is where the derivative is
    nought."""
    numbers = graph().numbers
    rate = solved_rates(numbers, np.zeros(3), np.full(3, 30.0))[1]
    assert rate == pytest.approx(30 / 50)

    def density(at: float) -> float:
        values = numbers.values.copy()
        values[2:4] = [np.exp(-at), 1 - np.exp(-at)]
        return objective(numbers, 0.0, values, np.zeros((3, 3, len(BINS))), np.full(3, 30.0))

    assert density(rate) > max(density(rate * 0.99), density(rate * 1.01))


def test_scores_of_a_row() -> None:
    """Seen in full, what is known is what there is; of counts of 0.5 each at theta = 0.5 nothing is known. On
    average over a row drawn by theta the score is the number of cells less one."""
    theta = np.array([[0.3], [0.7]])
    for seen in ([1.0, 0.0], [0.0, 1.0]):
        got, all_ = scores(np.array(seen)[:, None], theta)
        assert got == pytest.approx(all_)
    mean = 0.3 * scores(np.array([[1.0], [0.0]]), theta)[1] + 0.7 * scores(np.array([[0.0], [1.0]]), theta)[1]
    assert mean == pytest.approx([1.0])
    got, all_ = scores(np.array([[0.5], [0.5]]), np.array([[0.5], [0.5]]))
    assert (got[0], all_[0]) == (0.0, 1.0)
    assert scores(np.array([[0.0], [2.0]]), np.array([[0.0], [1.0]]))[0] == pytest.approx([0.0])


def test_tallies_add_up_cell_by_cell() -> None:
    one, two = ExpectedCounts.empty(graph()), ExpectedCounts.empty(graph())
    for number, part in enumerate((two.counts, two.events, two.known, two.whole), 1):
        part += number
    two.log_probability = -3.0
    whole = one.merge([two, two])
    assert whole is one
    parts = (whole.counts, whole.events, whole.known, whole.whole)
    assert [set(part.tolist()) for part in parts] == [{2.0}, {4.0}, {6.0}, {8.0}]
    assert whole.log_probability == -6.0


def test_how_many_cases_a_row_was_learnt_from() -> None:
    """Half of what there was to know of 10; of what happens the windows at risk in place of the cases;
    nothing of nothing."""
    whole = graph()
    tally = filled(whole.numbers, leak=4)
    row = whole.numbers.leak["d"]
    tally.counts[0:2] = [3, 1]
    tally.known[[0, 1, row]], tally.whole[[0, 1, row]] = [0.1, 1.0, 3.0], [0.4, 4.0, 6.0]
    found = tally.cases(whole, np.array([7.0, 30.0, 7.0]))
    assert found[row] == pytest.approx(5)
    assert found[1] == pytest.approx(30 / 4)
    assert found[0] == pytest.approx(1)
    assert found[2] == 0


@pytest.mark.parametrize(
    ("values", "ess", "worth_"), [((0.5, 0.5), 7, 7), ((0.98, 0.02), 7, 50), ((1.0, 0.0), 7, 7)]
)
def test_a_row_is_worth_the_cases_in_which_its_rarest_is_met(
    values: tuple[float, ...], ess: float, worth_: float
) -> None:
    assert NumberRow("leak", "d", "", 0, values, ess).worth == pytest.approx(worth_)


# ---- longer steps ----


def test_a_longer_step_is_that_of_the_published_formula() -> None:
    """x0 - 2 a r + a^2 v with a = -|r| / |v| on the logarithms (Varadhan & Roland 2008, from memory), each
    row normalised: the first row stands still, the second goes from 0.5 by 0.6 to 0.65."""
    numbers = Numbers(
        (NumberRow("leak", "d", "", 0, (0.5, 0.5), 1), NumberRow("leak", "e", "", 0, (0.5, 0.5), 1))
    )
    steps = [np.array([0.5, 0.5, p, 1 - p]) for p in (0.5, 0.6, 0.65)]
    go_on = Accelerator(numbers)
    assert go_on.next(steps[0], steps[1]) is steps[1]
    assert go_on.safe is None
    found = go_on.next(steps[1], steps[2])
    assert go_on.safe is steps[2]
    x0, x1, x2 = map(np.log, steps)
    r, v = x1 - x0, (x2 - x1) - (x1 - x0)
    a = -np.linalg.norm(r) / np.linalg.norm(v)
    assert a < -1
    raw = np.exp(x0 - 2 * a * r + a * a * v)
    wanted = np.concatenate([raw[:2] / raw[:2].sum(), raw[2:] / raw[2:].sum()])
    assert found == pytest.approx(wanted)
    assert go_on.next(steps[0], steps[1]) is steps[1]  # it begins anew


def test_a_longer_step_is_never_shorter_than_the_own_nor_64_times_as_long() -> None:
    """The second step turns back: |r| < |v|, and a = -1 is where EM itself had come to. Or it is the same
    again."""
    numbers = Numbers((NumberRow("leak", "d", "", 0, (0.5, 0.5), 1),))
    back = [np.array([p, 1 - p]) for p in (0.5, 0.6, 0.5)]
    go_on = Accelerator(numbers)
    go_on.next(back[0], back[1])
    assert go_on.next(back[1], back[2]) == pytest.approx(back[2])
    x0, r, v = np.log([0.5, 0.5]), np.array([1e-3, 0.0]), np.array([1e-6, 0.0])
    points = [np.exp(x0), np.exp(x0 + r), np.exp(x0 + 2 * r + v)]
    go_on.next(points[0], points[1])
    far = np.exp(x0 + 2 * 64 * r + 64**2 * v)
    assert go_on.next(points[1], points[2]) == pytest.approx(far / far.sum())
    go_on.next(back[0], back[0])
    assert go_on.next(back[0], back[0]) is back[0]


def test_what_is_impossible_stays_so() -> None:
    numbers = Numbers((NumberRow("leak", "d", "", 0, (0.5, 0.5, 0.0), 1),))
    go_on = Accelerator(numbers)
    steps = [np.array([p, 1 - p, 0.0]) for p in (0.5, 0.6, 0.65)]
    go_on.next(steps[0], steps[1])
    found = go_on.next(steps[1], steps[2])
    assert found[2] == 0
    assert found.sum() == pytest.approx(1)
