"""Intervals: each draw is a diagnosis with other numbers, and the mean of all is the answer."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from diagnose.diagnosis import Diagnosis, diagnose
from diagnose.explaining.intervals import DRAWS, drawn_beliefs, drawn_rows, draws, intervals, quantiles
from diagnose.knowledge.number import Number
from diagnose.network.network import Array
from diagnose.study.lines import lay_open, lines
from diagnose.study.named import NamedNumber, record_of
from diagnose.study.spread import WIDEST_DEVIATION, worth
from tests.explaining.small import AGED, SEEN, SMALL, case, diagnosed
from tests.knowledge_by_hand import HERE, cause, condition, finding, knowledge
from tests.study.test_stress import changed

PLAIN = knowledge(
    cause("pump_worn", 0.2, {"starved": 0.8, "debris": 0.5}),
    cause("debris", 0.1, {"grit": 0.9}),
    cause("leak", 0.3, {"starved": 0.4, "wet": 0.7}),
    cause("elsewhere", 0.25, {"cold": 0.5}),
    cause("further", 0.05, {"cold": 0.5, "elsewhere": 0.6}),
    condition("starved", 0.05, {"pressure": [[0.5, 0.4]], "stalls": 0.7}),
    finding("pressure", [0.1, 0.05], "normal", "low", "none"),
    finding("stalls", 0.1),
    finding("grit", 0.1),
    finding("wet", 0.15),
    finding("cold", 0.1),
)
"""No ageing and no facts: every number stands in the network as it is written."""
PLAIN_SEEN = (("pressure", "low"), ("stalls", "present"), ("wet", "absent"))


def worth_more(value: Any, ess: float) -> Any:
    """The records with every number worth so many cases."""
    if isinstance(value, Number):
        return replace(value, ess=ess)
    if isinstance(value, tuple):
        return tuple(worth_more(inner, ess) for inner in value)
    if isinstance(value, dict):
        return {key: worth_more(inner, ess) for key, inner in value.items()}
    if hasattr(value, "__dataclass_fields__") and not isinstance(value, type):
        parts = {name: worth_more(getattr(value, name), ess) for name in value.__dataclass_fields__}
        return replace(value, **parts)
    return value


def plain(ess: float = 10) -> Diagnosis:
    return diagnose(worth_more(PLAIN, ess), case(*PLAIN_SEEN))


def drawn(diagnosis: Diagnosis, id: str, count: int) -> tuple[Array, Array]:
    """P(cause) for each draw, and how much each draw counts."""
    variable = diagnosis.built.variable(id)
    beliefs = drawn_beliefs(lay_open(diagnosis), [variable], count)
    return 1 - beliefs.marginals[variable][0], np.exp(beliefs.log_probability)


def test_each_draw_is_the_diagnosis_with_its_numbers() -> None:
    """Every number of the small knowledge changed to what one draw has, and diagnosed anew; with ageing, a fact
    that multiplies the odds, a cause that another wrecks, and ordered states."""
    diagnosis = diagnosed()
    opened = lay_open(diagnosis)
    rows = drawn_rows(opened.exposed, opened.named, 3)
    ids = [ranked.id for ranked in diagnosis.causes if opened.holds(ranked.id)]
    for at in range(3):
        other: Any = SMALL
        for row, values in rows.items():
            for item in opened.named.rows[row]:
                if not item.multiplies:
                    to = float(values[item.state, at])
                    id = record_of(diagnosis.built, row.child)
                    if row.parent is None and id in SMALL.causes:
                        to = reference(diagnosis, id, to)
                    other = changed(other, item.number, to)
        anew = diagnose(other, case(*SEEN, machine=AGED))
        for id in ids:
            variable = diagnosis.built.variable(id)
            found = drawn_beliefs(opened, [variable], 3)
            other_cause = anew.cause(id)
            assert other_cause
            assert 1 - found.marginals[variable][0, at] == pytest.approx(other_cause.probability, abs=1e-9)
        change = anew.engine.log_probability - diagnosis.engine.log_probability
        nothing = opened.engine.tree.run({}, [], 1).log_probability[0]
        assert found.log_probability[at] - nothing == pytest.approx(change, abs=1e-9)


def reference(diagnosis: Diagnosis, id: str, to: float) -> float:
    """The prior as the knowledge must have it for this one on the machine: the odds' factor taken out again."""
    now, written = diagnosis.built.priors[id], SMALL.causes[id].frequency.value
    factor = now / (1 - now) / (written / (1 - written))
    odds = to / (1 - to) / factor
    return odds / (1 + odds)


def test_the_mean_of_the_draws_is_the_answer() -> None:
    """Every number enters P(evidence, cause) linearly, so the mean is that at the numbers' means; four standard
    errors."""
    diagnosis = plain()
    for id in ("pump_worn", "debris", "leak"):
        present, shares = drawn(diagnosis, id, 40_000)
        mean = float((present * shares).sum() / shares.sum())
        error = float(np.sqrt((shares**2 * (present - mean) ** 2).sum()) / shares.sum())
        found = diagnosis.cause(id)
        assert found
        assert abs(mean - found.probability) < 4 * error
        assert error < 0.002


def test_where_the_numbers_are_nearly_sure_the_spread_is_that_of_the_derivatives() -> None:
    """First order: variance = sum over numbers of (df/dt)^2 p (1 - p) / (ess + 1), the variance of a Beta."""
    diagnosis = plain(ess=5000)
    opened = lay_open(diagnosis)
    for id in ("pump_worn", "leak"):
        variance = 0.0
        rows = [row for row in opened.named.rows if len(opened.exposed.network.states[row.variable]) == 2]
        for line in lines(opened.engine, [opened.place(id)], rows):
            slope = line.slope[1] - line.base[1] * line.slope[0]
            variance += slope**2 * line.value * (1 - line.value) / 5001
        present, shares = drawn(fixed_pressure(), id, 4000)
        assert np.std(present) == pytest.approx(np.sqrt(variance), rel=0.05)
        assert shares.std() < 0.2 * shares.mean()


def fixed_pressure() -> Diagnosis:
    """As `plain(5000)`, the rows of three states all but fixed."""
    sure: Any = worth_more(PLAIN, 5000)
    findings = dict(sure.findings)
    findings["pressure"] = worth_more(findings["pressure"], 1e9)
    conditions = dict(sure.conditions)
    starved = conditions["starved"]
    first, *rest = starved.leads_to
    conditions["starved"] = replace(starved, leads_to=(worth_more(first, 1e9), *rest))
    return diagnose(replace(sure, findings=findings, conditions=conditions), case(*PLAIN_SEEN))


def row(p: float, ess: float, label: str = "x") -> list[NamedNumber]:
    return [NamedNumber(label, Number(p, "judgement", ess, HERE))]


def test_a_number_is_drawn_from_the_beta_worth_its_cases() -> None:
    """Mean p and variance p (1 - p) / (ess + 1): Beta(ess p, ess (1 - p)) in closed form."""
    found = draws(np.array([0.7, 0.3]), row(0.3, 20), 100_000)
    assert found[1].mean() == pytest.approx(0.3, abs=0.002)
    assert found[1].var() == pytest.approx(0.3 * 0.7 / 21, rel=0.03)
    np.testing.assert_allclose(found.sum(axis=0), 1.0)


def test_ordered_states_are_drawn_from_the_dirichlet_worth_its_cases() -> None:
    """Variance p (1 - p) / (ess + 1) and covariance - p q / (ess + 1), in closed form."""
    found = draws(np.array([0.5, 0.3, 0.2]), row(0.3, 30), 100_000)
    np.testing.assert_allclose(found.mean(axis=1), [0.5, 0.3, 0.2], atol=0.002)
    assert found[1].var() == pytest.approx(0.3 * 0.7 / 31, rel=0.03)
    assert np.cov(found[1], found[2])[0, 1] == pytest.approx(-0.3 * 0.2 / 31, rel=0.05)


def test_a_prior_is_drawn_at_the_reference_age_and_then_multiplied() -> None:
    """Reference 0.1, on this machine odds three times as high: so are the draws' odds."""
    there, here = (draws(np.array([1 - p, p]), row(0.1, 50), 1000) for p in (0.1, 0.25))
    np.testing.assert_allclose(here[1] / here[0], 3 * there[1] / there[0])


def test_a_factor_on_the_odds_is_drawn_with_its_value_as_mean() -> None:
    factor = NamedNumber("x: odds", Number(2.0, "judgement", 10, HERE), multiplies="odds")
    sure = row(0.2, 1e9)
    found = draws(np.array([0.8, 0.2]), [*sure, factor], 200_000)
    odds = found[1] / found[0]
    assert odds.mean() == pytest.approx(0.25, rel=0.02)
    assert np.log(odds).std() == pytest.approx(WIDEST_DEVIATION, rel=0.01)


def test_a_rare_event_is_worth_about_one_case_of_it_at_least() -> None:
    assert 0.9 < worth(0.004, 10) * 0.004 < 1.2
    assert worth(0.3, 40) == 40


def test_an_interval_holds_the_answer_and_narrows_with_what_the_numbers_are_worth() -> None:
    widths = []
    for ess in (5, 50, 500):
        diagnosis = plain(ess)
        ids = [ranked.id for ranked in diagnosis.causes]
        found = intervals(lay_open(diagnosis), ids)
        for ranked in diagnosis.causes:
            low, high = found[ranked.id]
            assert 0 <= low <= ranked.probability <= high <= 1
        widths.append([high - low for low, high in found.values()])
    assert all(a > b > c for a, b, c in zip(*widths, strict=True))


def test_nine_draws_in_ten_lie_in_the_interval() -> None:
    diagnosis = plain()
    low, high = intervals(lay_open(diagnosis), ["leak"])["leak"]
    present, shares = drawn(diagnosis, "leak", DRAWS)
    inside = shares[(present >= low) & (present <= high)].sum() / shares.sum()
    assert inside == pytest.approx(0.9, abs=0.02)


def test_the_same_whether_asked_for_alone_or_with_all() -> None:
    opened = lay_open(diagnosed())
    ids = [ranked.id for ranked in opened.diagnosis.causes]
    alone = {id: intervals(opened, [id])[id] for id in ids}
    assert intervals(opened, ids) == {id: pytest.approx(found, abs=1e-12) for id, found in alone.items()}


def test_a_cause_the_evidence_does_not_speak_of_keeps_the_interval_of_its_prior() -> None:
    """Quantiles of the Beta by another program (SciPy)."""
    from scipy.stats import beta

    diagnosis = diagnose(worth_more(PLAIN, 20), case())
    low, high = intervals(lay_open(diagnosis), ["leak"])["leak"]
    expected = beta.ppf([0.05, 0.95], 20 * 0.3, 20 * 0.7)
    np.testing.assert_allclose((low, high), expected, atol=0.02)


def test_outside_the_evidence_a_cause_of_one_other_is_exact() -> None:
    """P = 1 - (1 - p)(1 - w q): each draw of the cause's own prior, the link and the other's prior."""
    diagnosis = plain()
    names = {
        "elsewhere": diagnosis.built.variable("elsewhere"),
        "further": diagnosis.built.variable("further"),
    }
    found = drawn_beliefs(lay_open(diagnosis), list(names.values()), 50_000).marginals
    mean = 1 - found[names["elsewhere"]][0].mean()
    assert mean == pytest.approx(1 - (1 - 0.25) * (1 - 0.6 * 0.05), abs=0.003)
    ranked = diagnosis.cause("elsewhere")
    assert ranked
    assert mean == pytest.approx(ranked.probability, abs=0.003)


def test_quantiles_count_values_by_their_shares() -> None:
    values, shares = np.array([3.0, 1.0, 2.0]), np.array([1.0, 1.0, 2.0])
    assert quantiles(values, shares, (0.5,)) == (2.0,)
    assert quantiles(np.arange(101.0), np.ones(101), (0.05, 0.95)) == pytest.approx((4.55, 95.45))
