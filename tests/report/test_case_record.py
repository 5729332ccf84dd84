"""Money, proof, repairs and doubts of a report, reckoned by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from diagnose.cases.events import Checked, Closed, Noted, Opened, OpenedUp, Reopened, Repaired
from diagnose.report.document.case_record import CaseReport
from diagnose.report.document.record_data import report_data
from diagnose.report.document.record_words import LIKELIHOODS, likelihood
from diagnose.report.document.work_records import Money
from tests.report.cases import CAME_BACK, DONE, GONE, MENDED, METAL, NO_START, OPENED, PUMP, SEEN, told


def spent(report: CaseReport) -> dict[int, tuple[float, Money]]:
    return {line.step: (line.minutes, line.money) for line in report.spent if line.recorded}


# ---- cost: a minute of labour is 1, of standing still 0.5, parts as in the knowledge ----


def test_each_step_costs_what_the_knowledge_says() -> None:
    report = told(*MENDED)
    assert spent(report) == {
        4: (20, Money(20, 0, 10)),  # cutting the filter
        6: (270, Money(270, 900, 135)),  # pump 180, flushing 90; the pump 900
    }
    assert report.total == Money(290, 900, 145)


def test_dismantling_is_paid_once_and_again_after_it_was_closed() -> None:
    """The cover takes 30 minutes to open and 40 to close, looking at the bores 15, new seals 240."""
    report = told(
        OPENED,
        OpenedUp("cover_off"),
        Checked("look_under_cover"),
        Repaired(("reseal",), ("seal_out",)),
        Checked("look_under_cover"),
    )
    assert {step: minutes for step, (minutes, _) in spent(report).items()} == {2: 70, 3: 15, 4: 240, 5: 85}


def test_what_is_left_open_is_not_paid_again() -> None:
    mend = Repaired(("reseal",), ("seal_out",), left_open=("cover_off",))
    report = told(OPENED, Checked("look_under_cover"), mend, Checked("look_under_cover"))
    assert {step: minutes for step, (minutes, _) in spent(report).items()} == {2: 85, 3: 240, 4: 15}


def test_a_finding_without_its_check_stands_beside_the_sum() -> None:
    """Cutting the filter takes 20 minutes, and no entry says that it was done."""
    report = told(OPENED, NO_START, METAL)
    assert report.total == Money()
    assert [(line.step, line.minutes, line.recorded) for line in report.spent] == [(3, 20, False)]


def test_a_look_costs_its_minutes_and_codes_are_read_at_once() -> None:
    """Looking 2 minutes, reading codes 3 (planning/options.py, judgement); the complaint is free to hear."""
    code = Noted("pressure_code", "present", code="SPN 164 FMI 18")
    again = replace(code, code="P2291")
    report = told(OPENED, NO_START, Noted("steam_white", "present"), code, again)
    assert {step: minutes for step, (minutes, _) in spent(report).items()} == {3: 2, 4: 3}


# ---- proof ----


def test_nothing_repaired_proves_nothing() -> None:
    proof = told(*SEEN).proof
    assert (proof.tried, proof.complaints) == ("nothing repaired", ("Cranks but does not start",))


@pytest.mark.parametrize(
    ("since", "tried"),
    [
        ((), "not tried"),
        ((METAL,), "not tried"),
        ((GONE,), "gone"),
        ((NO_START,), "still there"),
        ((NO_START, GONE), "gone"),
        ((GONE, NO_START), "there again"),
    ],
)
def test_the_complaint_since_the_repair(since: tuple[Noted, ...], tried: str) -> None:
    assert told(*SEEN, PUMP, *since).proof.tried == tried


def test_a_second_complaint_that_nobody_noted_again_leaves_it_open() -> None:
    proof = told(OPENED, NO_START, Noted("hard_stop", "present"), PUMP, GONE).proof
    assert proof.tried == "gone"  # the hard stop is no complaint of this knowledge
    assert proof.not_again == ("Starter stops hard on a cylinder",)


def test_readings_before_and_after_stand_side_by_side() -> None:
    rows = {one.name: one for one in told(*MENDED).proof.compared}
    assert (rows["Cranks but does not start"].before, rows["Cranks but does not start"].after) == (
        "yes",
        "no",
    )
    pressure = rows["Rail pressure cranking"]
    assert (pressure.before, pressure.after, pressure.tells) == ("2 MPa (low)", "5 MPa (normal)", True)
    assert told(*MENDED).proof.not_again == ("Metal in the oil filter",)


# ---- repairs ----


def test_a_repair_done_is_told_with_how_it_was_weighed_before() -> None:
    (work,) = told(*MENDED).works
    assert (work.step, work.names) == (6, ("Replace the oil pump", "Flush the gallery"))
    assert work.option is not None
    assert set(work.option.repairs) == {"replace_pump", "flush_gallery"}
    assert 0 < work.option.still_broken < 0.5
    assert work.others
    assert work.verify[0].startswith("Rail pressure rises within 5 s")
    assert told(*MENDED).proposal is None  # the complaint is gone


def test_parts_say_what_is_never_put_back() -> None:
    (work,) = told(
        OPENED, NO_START, Noted("oil_at_bore", "present"), Repaired(("reseal",), ("seal_out",))
    ).works
    (part,) = work.parts
    assert (part.name, part.quantity, part.price, part.single_use, part.as_set) == (
        "seal kit",
        6,
        20,
        True,
        True,
    )
    assert {caution.name for caution in work.cautions} == set()
    assert work.access == ("valve cover off",)


def test_an_open_case_has_a_proposal_and_next_checks() -> None:
    report = told(*SEEN)
    assert report.proposal is not None
    assert not report.proposal.done
    assert "Replace the oil pump" in report.proposal.names
    assert report.checks


def test_a_hazard_holds_back_what_it_forbids_and_stands_first() -> None:
    report = told(OPENED, NO_START, Noted("hard_stop", "present"))
    assert [caution.name for caution in report.stops] == ["Liquid in a cylinder"]
    assert report.checks[0].name == "Bar it by hand with the injectors out"
    assert not report.checks[0].held_back


# ---- doubts ----


def doubts(*events: object) -> str:
    return " | ".join(doubt.full for doubt in told(*events).doubts)  # type: ignore[arg-type]


def test_an_open_case_doubts_itself() -> None:
    assert "The case is not closed" in doubts(*SEEN)
    assert "The case is not closed" not in doubts(*DONE)
    assert "No cause is likely yet" in doubts(OPENED, NO_START)


@pytest.mark.parametrize(
    ("closed", "says"),
    [
        (Closed(()), "closed without a cause"),
        (Closed(("pump_worn",), "assumed", True), "Assumed, not confirmed: Oil pump worn"),
        (Closed(("pump_worn",), "by sight"), "not proven by its own test"),
        (Closed(("pump_worn", "debris"), "by sight", True, "", {"debris": "assumed"}), "confirmed: Debris"),
        (Closed(("heater_dead",), "by sight", True), "Start heater dead was named at the closing, though"),
    ],
)
def test_a_closing_is_doubted_where_it_says_less_than_all(closed: Closed, says: str) -> None:
    assert says in doubts(*MENDED, closed)


def test_a_closing_seen_and_proven_leaves_no_doubt_of_its_cause() -> None:
    text = doubts(*DONE)
    assert "Assumed" not in text
    assert "not proven" not in text
    assert "named at the closing" not in text


def test_a_comeback_doubts_what_was_found_before() -> None:
    text = doubts(*CAME_BACK)
    assert "It came back after it was closed (Oil pump worn)" in text
    assert "There again after it was gone" in text
    too_early = doubts(*DONE, Reopened("a second look", comeback=False))
    assert "came back" not in too_early


def test_what_was_not_seen_for_sure_is_a_doubt() -> None:
    unsure = Noted("steam_white", "present", "unsure")
    assert "not for sure: White smoke while cranking" in doubts(OPENED, NO_START, unsure)


def test_other_knowledge_is_a_doubt() -> None:
    from diagnose.cases.case import fold
    from diagnose.planning.shop import Shop
    from diagnose.report.document.gather import case_report
    from tests.report.cases import small

    events = (replace(OPENED, sequence=1, knowledge="another"), replace(NO_START, sequence=2))
    report = case_report(small(), fold(1, events), Shop())
    assert any("another version of the knowledge" in doubt.full for doubt in report.doubts)


# ---- words ----

SCALE = {
    "very likely": (0.90, 1.0),
    "likely": (0.66, 1.0),
    "about as likely as not": (0.33, 0.66),
    "unlikely": (0.0, 0.33),
    "very unlikely": (0.0, 0.10),
    "exceptionally unlikely": (0.0, 0.01),
}
"""Likelihood scale of the IPCC: Guidance Notes for Lead Authors of the Fourth Assessment Report on Addressing
Uncertainties, July 2005. "Virtually certain" (above 0.99) is not used by the program."""


def test_a_word_for_a_likelihood_is_that_of_the_published_scale() -> None:
    for p in (n / 1000 for n in range(1001)):
        low, high = SCALE[likelihood(p)]
        assert low <= p <= high


def test_every_word_of_the_scale_but_the_last_certainty_is_used() -> None:
    assert {likelihood(n / 1000) for n in range(1001)} == set(SCALE)
    assert [limit for limit, _ in LIKELIHOODS] == sorted((limit for limit, _ in LIKELIHOODS), reverse=True)


def test_the_data_are_plain_and_complete() -> None:
    import json

    values = json.loads(json.dumps(report_data(told(*DONE))))
    assert values["closed"]
    assert values["total"] == {"labour": 290, "parts": 900, "standing": 145, "bill": 1190}
    assert values["machine"]["facts"] == {"Start aid": "heater"}
    assert values["visits"][0]["closing"]["found"][0]["confirmed"] == "by sight"
    assert [step["number"] for step in values["story"]["steps"]] == list(range(1, 10))


def test_a_case_that_names_what_is_no_longer_known_is_told_all_the_same() -> None:
    report = told(
        Opened("P-9", "gone_family", {"gone_fact": "x"}, renewed={"gone": 9.0}),
        Noted("gone_finding", "present"),
        Checked("gone_check"),
        OpenedUp("gone_access"),
        Repaired(("gone_repair",), ("gone_cause",)),
        Closed(("gone_cause",), "by repair", True),
    )
    assert "gone_repair" in report.story.steps[4].words
    assert report.works[0].names == ("gone_repair", "gone_cause")
    assert report.closing is not None
    assert report.closing.found[0].probability is None
