"""Both readers' reports by their structure: which sections stand, what each must say and must not."""

from __future__ import annotations

import re
from functools import cache
from xml.etree import ElementTree

import pytest

from diagnose.cases.events import Closed, Event, Noted, Reopened, Repaired, Withdrawn
from diagnose.planning.shop import Shop
from diagnose.report.document.case_record import CaseReport
from diagnose.report.document.customer import customer_paper
from diagnose.report.document.gather import case_report
from diagnose.report.document.html import html
from diagnose.report.document.markdown import escaped, markdown
from diagnose.report.document.technician import technician_paper
from tests import shipped
from tests.report.cases import CAME_BACK, DONE, GONE, MENDED, METAL, NO_START, OPENED, PUMP, SEEN, told
from tests.report.pages import Page, page

SCENARIOS = (
    "pump_worn_plough",
    "replaced_pump_still_dead_plough",
    "cooler_was_not_it_crusher",
    "three_codes_one_root_crusher",
)
STEPS = {"open": SEEN, "mended": MENDED, "done": DONE, "back": CAME_BACK, "empty": (OPENED,)}


@cache
def scenario(name: str) -> CaseReport:
    return case_report(
        shipped.shipped_knowledge(), shipped.scenario(name).case(), Shop(), "2026-03-09T12:00:00Z"
    )


def customer(*events: Event) -> Page:
    return page(html(customer_paper(told(*events))))


def technician(*events: Event) -> Page:
    return page(html(technician_paper(told(*events))))


CUSTOMER = {
    "open": [
        "The machine",
        "For your safety",
        "What we think is wrong",
        "Why we say so",
        "What was done",
        "What would be done next",
        "What it has cost so far",
        "What proves the repair",
        "What remains in doubt",
    ],
    "mended": [
        "The machine",
        "What we think is wrong",
        "Why we say so",
        "What was done",
        "What would be done next",
        "What it has cost so far",
        "What proves the repair",
        "What remains in doubt",
    ],
    "done": [
        "The machine",
        "What was wrong",
        "Why we say so",
        "What was done",
        "What it cost",
        "What proves the repair",
        "What remains in doubt",
    ],
    "empty": [
        "The machine",
        "What we think is wrong",
        "What was done",
        "What proves the repair",
        "What remains in doubt",
    ],
}
TECHNICIAN = {
    "open": [
        "In short",
        "Before anything else",
        "Machine and complaint",
        "What was found and done, in order",
        "Where it stands",
        "For and against",
        "Thought of and excluded",
        "Next checks",
        "Repair proposed",
        "Cost so far",
        "Open doubts",
    ],
    "done": [
        "In short",
        "Machine and complaint",
        "What was found and done, in order",
        "Where it stands",
        "For and against",
        "Thought of and excluded",
        "Repaired",
        "Proof of the repair",
        "Cost so far",
        "Open doubts",
    ],
    "empty": [
        "In short",
        "Machine and complaint",
        "What was found and done, in order",
        "Where it stands",
        "Open doubts",
    ],
}


@pytest.mark.parametrize("kind", CUSTOMER)
def test_the_customers_sections(kind: str) -> None:
    assert customer(*STEPS[kind]).headings == CUSTOMER[kind]


@pytest.mark.parametrize("kind", TECHNICIAN)
def test_the_technicians_sections(kind: str) -> None:
    assert technician(*STEPS[kind]).headings == TECHNICIAN[kind]


@pytest.mark.parametrize("name", SCENARIOS)
def test_the_customer_reads_no_figures_of_probability(name: str) -> None:
    text = page(html(customer_paper(scenario(name)))).text + markdown(customer_paper(scenario(name)))
    assert "%" not in text
    assert not re.search(r"\b0[.,]\d", text)
    assert " dB" not in text
    assert re.search(r"likely", text)


@pytest.mark.parametrize("name", SCENARIOS)
def test_the_technician_reads_every_entry_and_every_code(name: str) -> None:
    report = scenario(name)
    text = markdown(technician_paper(report))
    assert all(f"| {step.number} | " in text for step in report.story.steps)
    assert all(code.code in text for code in report.codes)
    assert all(
        escaped(reason) in text
        for reason in (report.proposal.option.reasons if report.proposal and report.proposal.option else ())
    )
    assert "Follow the engine maker's service information, local codes and licensed practice." in text


@pytest.mark.parametrize("name", SCENARIOS)
def test_what_is_not_finished_says_so_first(name: str) -> None:
    for paper in (customer_paper(scenario(name)), technician_paper(scenario(name))):
        assert paper.state.title == "Not finished."
        assert markdown(paper).split("\n\n")[2].startswith("> **Not finished.**")


@pytest.mark.parametrize(
    ("events", "title"),
    [
        ((OPENED,), "Not finished."),
        (SEEN, "Not finished."),
        (MENDED, "Not finished."),
        (CAME_BACK, "Not finished."),
        ((OPENED, Withdrawn(1)), "Not a case."),
        (DONE, "Done and proven."),
        ((*MENDED, Closed(())), "Closed without a cause."),
        ((*MENDED, Closed(("pump_worn",), "by sight")), "Closed, not proven."),
        ((*MENDED, Closed(("pump_worn",), "assumed", True)), "Done; the cause is assumed."),
        ((*SEEN, Closed(("pump_worn",), "by sight", True)), "Closed."),
        (
            (*SEEN, PUMP, NO_START, Closed(("pump_worn",), "by sight", True)),
            "Closed with the complaint still there.",
        ),
    ],
)
def test_no_state_is_told_better_than_it_is(events: tuple[Event, ...], title: str) -> None:
    assert customer_paper(told(*events)).state.title == title
    assert technician_paper(told(*events)).state.title == title


def test_how_it_was_confirmed_is_told_in_plain_words() -> None:
    assert "The fault itself was seen." in customer(*DONE).text
    assumed = customer(*MENDED, Closed(("pump_worn",), "assumed", True)).text
    assert "nobody has seen the fault itself" in assumed
    assert "The fault itself was seen." not in assumed


def test_two_likely_faults_are_both_told_and_neither_is_a_doubt() -> None:
    """Metal in the filter comes from the pump; a dead battery is a second fault (common practice)."""
    events = (*SEEN, Noted("battery_rest", "dead"), Noted("battery_cranking", "low"))
    assert {one.id for one in told(*events).likely} == {"pump_worn", "batteries_flat"}
    text = customer(*events).text
    assert "Oil pump worn: very likely" in text
    assert "Batteries flat: very likely" in text
    assert not any("Batteries flat" in doubt.full for doubt in told(*events).doubts)


def test_a_comeback_is_told_to_both() -> None:
    for text in (customer(*CAME_BACK).text, technician(*CAME_BACK).text):
        assert "came back" in text
        assert "no start again" in text
    assert "this was gone, and now it is there again: cranks but does not start" in customer(*CAME_BACK).text


SEAL = Repaired(("reseal",), ("seal_out",))
IN_VAIN = (*SEEN, SEAL, NO_START, PUMP, GONE)


def test_who_paid_for_a_part_in_vain_is_told_so() -> None:
    for text in (customer(*IN_VAIN).text, technician(*IN_VAIN).text):
        assert "It did not cure the complaint, which was still there afterwards." in text
        assert "the complaint stayed" in text
    assert "Afterwards the complaint was gone." in customer(*IN_VAIN).text
    assert "the complaint stayed" not in customer(*MENDED).text
    back = customer(*CAME_BACK).text
    assert "the complaint came back" in back
    assert "the complaint stayed" not in back
    assert [work.since for work in told(*IN_VAIN).works] == ["still there", "gone"]
    assert [work.since for work in told(*SEEN, SEAL, PUMP, GONE).works] == ["not tried", "gone"]


def test_mended_and_not_closed_it_is_not_said_what_it_was() -> None:
    text = customer(*MENDED).text
    assert "The complaint is gone since step 6" in text
    assert "Nobody has said yet what exactly was wrong." in text
    assert "No single cause stands out" not in text


def test_closed_without_a_cause_no_cause_is_argued_for() -> None:
    text = customer(*MENDED, Closed(())).text
    assert "This points to it" not in text
    assert "Why we say so" not in text


def test_a_cause_that_the_record_hardly_bears_out_is_a_doubt_for_the_customer_too() -> None:
    """It was said to be seen; what was written down speaks of another."""
    wrong = Closed(("heater_dead",), "by sight", True)
    assert "hardly points to it (start heater dead)" in customer(*MENDED, wrong).text
    assert "hardly points to it" not in customer(*DONE).text


def test_a_case_taken_up_again_did_not_come_in_for_it() -> None:
    too_early = customer(*DONE, Reopened("the words were missing", comeback=False))
    assert "Taken up again the words were missing" in " ".join(too_early.text.split())


def test_only_what_was_ever_likely_is_drawn() -> None:
    for steps in (MENDED, DONE, CAME_BACK, IN_VAIN):
        for trace in told(*steps).story.traces:
            assert max(trace.values) >= 0.1
    traces = {trace.id: trace for trace in told(*MENDED).story.traces}
    assert traces["pump_worn"].repaired == 6
    assert "dealt with in step 6" in customer(*MENDED).text


def test_an_empty_case_names_no_cause() -> None:
    for text in (customer(OPENED).text, technician(OPENED).text):
        assert "Oil pump worn" not in text
        assert "Nothing has been found yet." in text


def test_the_caution_stands_before_the_checks() -> None:
    text = technician(OPENED, NO_START, Noted("hard_stop", "present")).text
    assert text.index("Stop first: liquid in a cylinder") < text.index("Next checks")
    plain = customer(OPENED, NO_START, Noted("hard_stop", "present")).text
    assert plain.index("Do not crank again") < plain.index("What was done")


def test_what_was_taken_back_is_listed_for_the_technician_only() -> None:
    events = (OPENED, NO_START, METAL, Withdrawn(3))
    assert "3: Metal in the oil filter" in technician(*events).text
    assert "Metal in the oil filter" not in customer(*events).text


def test_a_repair_not_tried_proves_nothing() -> None:
    assert "Nothing is proven." in customer(*SEEN, PUMP).text
    assert "this was gone: cranks but does not start" in customer(*SEEN, PUMP, GONE).text


@pytest.mark.parametrize("name", SCENARIOS)
def test_a_page_is_whole_and_needs_nothing_beside_it(name: str) -> None:
    for paper in (customer_paper(scenario(name)), technician_paper(scenario(name))):
        text = html(paper)
        found = page(text)
        assert (found.left_open, found.closed_wrongly) == ([], [])
        assert not found.tags & {"script", "img", "link", "iframe", "object", "a", "form"}
        assert not [value for _, name, value in found.attributes if name in ("src", "href", "style")]
        drawings = re.findall(r"<svg.*?</svg>", text, re.DOTALL)
        assert drawings
        for drawing in drawings:
            root = ElementTree.fromstring(drawing)
            assert root.find("{http://www.w3.org/2000/svg}title") is not None


def test_the_markdown_is_made_of_the_same_blocks_as_the_page() -> None:
    from markdown_it import MarkdownIt

    paper = technician_paper(told(*DONE))
    tokens = MarkdownIt("commonmark").enable("table").parse(markdown(paper))
    headings = [
        tokens[place + 1].content
        for place, token in enumerate(tokens)
        if token.type == "heading_open" and token.tag == "h2"
    ]
    assert headings == [section.title for section in paper.sections]
    tables = [token for token in tokens if token.type == "table_open"]
    blocks = [block for section in paper.sections for block in section.blocks]
    assert len(tables) == sum(block.kind == "grid" for block in blocks)
