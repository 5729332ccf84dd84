from contextlib import suppress
from functools import cache
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.cases import scenario as scenarios
from diagnose.cases.events import Coded, Noted, Opened, Repaired
from diagnose.cases.expectation import ExpectedCheck
from diagnose.cases.store import Store
from diagnose.errors import DataError
from diagnose.knowledge.loader import load
from diagnose.knowledge.records import Knowledge
from tests.cases.strategies import calm

HERE = Path(__file__).parent
PLOUGH = (HERE / "plough.yaml").read_text(encoding="utf-8")


@cache
def small() -> Knowledge:
    return load(HERE / "knowledge")


@cache
def plough() -> scenarios.Scenario:
    return scenarios.load(HERE / "plough.yaml", small())


def test_the_machine_has_the_facts_of_its_family_and_its_own() -> None:
    opened = plough().events[0]
    assert isinstance(opened, Opened)
    assert opened.facts == {"cylinders": "6", "oil_change": "overdue"}
    assert (opened.machine, opened.family, opened.hours) == ("D-07", "hydraulic_inline_six", 9800)
    assert opened.renewed == {"injector_seals_leak": 120}
    assert opened.complaint == "cranks all morning, no smoke, no start"


def test_the_events_stand_in_order_with_number_and_knowledge() -> None:
    events = plough().events
    assert [event.sequence for event in events] == list(range(1, len(events) + 1))
    assert {event.knowledge for event in events} == {small().version}
    kinds = "opened noted noted noted noted noted coded opened_up repaired noted checked noted fact"
    assert " ".join(event.kind for event in events) == kinds


def test_a_reading_becomes_the_state_of_every_finding_of_its_quantity() -> None:
    """300 psi x 6.894757 kPa (NIST SP 811, appendix B.8) = 2.07 MPa: below 3.5 and not below 0.7."""
    readings = [event for event in plough().events if isinstance(event, Noted) and event.value is not None]
    assert [(event.finding, event.state) for event in readings] == [
        ("actuation_pressure_cranking", "low"),
        ("actuation_pressure_reached", "present"),
    ]
    assert {(event.value, event.unit) for event in readings} == {(300.0, "psi")}
    assert {event.text for event in readings} == {"actuation pressure cranking 300 psi"}


def test_a_code_becomes_its_findings_or_is_kept_as_not_used() -> None:
    (noted,) = [event for event in plough().events if isinstance(event, Noted) and event.code]
    assert (noted.finding, noted.state, noted.code) == (
        "actuation_pressure_code",
        "present",
        "SPN 164 FMI 18",
    )
    assert noted.text == "164/18"
    (coded,) = [event for event in plough().events if isinstance(event, Coded)]
    assert coded.code == "SPN 100 FMI 1"


def test_a_repair_covers_the_causes_that_it_cures_and_nothing_else() -> None:
    (repaired,) = [event for event in plough().events if isinstance(event, Repaired)]
    assert repaired.causes == ("debris_in_actuation_oil", "injector_seals_leak")
    assert repaired.left_open == ("valve_cover_off",)


def test_the_case_is_folded_by_epoch() -> None:
    case = plough().case()
    before, after = case.epochs
    seen = [(one.finding, one.state, one.confidence) for one in before.observations]
    assert seen[:2] == [
        ("cranks_no_start", "present", "sure"),
        ("exhaust_smoke_cranking", "absent", "likely"),
    ]
    assert [(one.finding, one.state) for one in after.observations] == [
        ("actuation_pressure_cranking", "none"),
        ("metal_in_pump_sump", "present"),
    ]
    assert (case.machine.hours, case.machine.facts["oil_change"]) == (9801, "in time")
    assert (case.checks_done, case.access_open) == (("look_under_pump_cover",), ("valve_cover_off",))


def test_a_scenario_and_a_stored_case_are_the_same(tmp_path: Path) -> None:
    opened, *rest = plough().events
    assert isinstance(opened, Opened)
    with Store(tmp_path / "cases.sqlite") as store:
        stored = store.case(store.new_case(opened, *rest))
    assert (stored.machine, stored.epochs) == (plough().case().machine, plough().case().epochs)


def test_the_expectation() -> None:
    expect = plough().expect
    assert expect is not None
    assert (expect.causes, expect.within) == (("hp_oil_pump_worn",), 1)
    assert expect.probability == {"hp_oil_pump_worn": (0.5, 0.999)}
    assert expect.consequence == ("debris_in_actuation_oil",)
    assert expect.check == ExpectedCheck(3, ("look_under_pump_cover",))
    assert expect.repairs == ("replace_hp_oil_pump",)
    assert not expect.unexplained
    assert (expect.place.line, expect.place.column) == (27, 3)


def test_within_is_the_number_of_causes_where_it_is_not_said() -> None:
    text = small_scenario("", "expect: {causes: [hp_oil_pump_worn, injector_seals_leak]}")
    expect = scenarios.loads(text, "x.yaml", small()).expect
    assert expect is not None
    assert expect.within == 2


def test_what_is_advised_is_expected_by_cause() -> None:
    text = small_scenario("", "expect: {keep_running: {hp_oil_pump_worn: move only}}")
    expect = scenarios.loads(text, "x.yaml", small()).expect
    assert expect is not None
    assert expect.keep_running == {"hp_oil_pump_worn": "move only"}


def small_scenario(event: str = "", expect: str = "", machine: str = "") -> str:
    """A scenario with one event in line 5 and an expectation in line 6."""
    machine = f"machine: {{number: D-07, family: hydraulic_inline_six{machine}}}\n"
    events = f"events: [{event}]\n" if event else "events: []\n"
    return (
        "scenario: a\ntitle: A\n"
        + machine
        + "complaint: no start\n"
        + events
        + (expect + "\n" if expect else "")
    )


def problems(text: str) -> list[tuple[str, int, int]]:
    with pytest.raises(DataError) as caught:
        scenarios.loads(text, "x.yaml", small())
    assert all(problem.place.file == "x.yaml" for problem in caught.value.problems)
    return [(problem.code, problem.place.line, problem.place.column) for problem in caught.value.problems]


def test_a_scenario_can_be_small() -> None:
    scenario = scenarios.loads(small_scenario(), "x.yaml", small())
    assert (len(scenario.events), scenario.expect, scenario.about) == (1, None, "")


@pytest.mark.parametrize(
    ("event", "code", "column"),
    [
        ("{note: cranks_no_strat}", "S001", 17),
        ("{note: cranks_no_start, state: low}", "S002", 41),
        ("{note: actuation_pressure_cranking}", "S002", 17),
        ("{note: actuation_pressure_cranking, state: low, not: true}", "S002", 53),
        ("{note: cranks_no_start, confidence: certain}", "K015", 46),
        ("{note: cranks_no_start, not: yes}", "K007", 39),
        ("{note: Cranks No Start}", "K013", 17),
        ("{note: }", "K016", 17),
        ("{reading: actuation presure cranking, value: 2 MPa}", "S001", 20),
        ("{reading: actuation pressure cranking, value: 2 V}", "S003", 56),
        ("{reading: actuation pressure cranking, value: 2 furlong}", "S003", 56),
        ("{reading: actuation pressure cranking, value: 2}", "K012", 56),
        ("{reading: actuation pressure cranking}", "K011", 10),
        ("{reading: actuation pressure cranking, value: 2 MPa, unit: MPa}", "K010", 63),
        ("{code: SPN 164}", "S004", 17),
        ("{code: the lamp is on}", "S004", 17),
        ("{check: look_under_pump}", "S001", 18),
        ("{opened: sump_off}", "S001", 19),
        ("{repaired: [replace_pump]}", "S001", 22),
        ("{repaired: []}", "K012", 21),
        ("{repaired: replace_hp_oil_pump}", "K012", 21),
        ("{repaired: [replace_hp_oil_pump], left_open: [sump_off]}", "S001", 56),
        ("{learnt: {oil_chnge: overdue}}", "S001", 20),
        ("{learnt: {oil_change: never}}", "S002", 32),
        ("{learnt: {cylinders: 6}}", "K012", 31),
        ("{learnt: {}, renewed: {pump: 1}}", "S001", 33),
        ("{note: cranks_no_start, check: look_under_pump_cover}", "S005", 10),
        ("{seen: cranks_no_start}", "S005", 10),
        ("cranks_no_start", "S005", 10),
    ],
)
def test_a_wrong_event_is_placed(event: str, code: str, column: int) -> None:
    assert problems(small_scenario(event)) == [(code, 5, column)]


@pytest.mark.parametrize(
    ("expect", "code", "column"),
    [
        ("expect: {}", "S006", 9),
        ("expect: {causes: [pump_worn]}", "S001", 19),
        ("expect: {causes: [hp_oil_pump_worn], within: 0}", "K014", 46),
        ("expect: {causes: [hp_oil_pump_worn], within: 1.5}", "K014", 46),
        ("expect: {causes: [hp_oil_pump_worn, injector_seals_leak], within: 1}", "S006", 59),
        ("expect: {causes: [hp_oil_pump_worn], unexplained: true}", "S006", 38),
        ("expect: {probability: {hp_oil_pump_worn: [0.9, 0.5]}}", "S006", 24),
        ("expect: {probability: {hp_oil_pump_worn: [0.9]}}", "S006", 24),
        ("expect: {probability: {hp_oil_pump_worn: [0.9, 50]}}", "K014", 48),
        ("expect: {probability: {pump: [0.1, 0.5]}}", "S001", 24),
        ("expect: {consequence: [pump]}", "S001", 24),
        ("expect: {repairs: [pump]}", "S001", 20),
        ("expect: {check: {first: 1, any_of: [pump]}}", "S001", 37),
        ("expect: {check: {first: 1}}", "K011", 17),
        ("expect: {keep_running: {pump: stop now}}", "S001", 25),
        ("expect: {keep_running: {hp_oil_pump_worn: park it}}", "K015", 43),
        ("expect: {surprise: 1}", "K010", 10),
    ],
)
def test_a_wrong_expectation_is_placed(expect: str, code: str, column: int) -> None:
    assert (code, 6, column) in problems(small_scenario("", expect))


def test_every_problem_is_told_at_once_with_what_was_meant() -> None:
    text = small_scenario("{note: cranks_no_strat}, {check: look}", "expect: {repairs: [x]}", ", hours: -1")
    with pytest.raises(DataError) as caught:
        scenarios.loads(text, "x.yaml", small())
    assert [problem.code for problem in caught.value.problems] == ["K014", "S001", "S001", "S001"]
    assert caught.value.problems[1].hint == "did you mean `cranks_no_start`?"


@pytest.mark.parametrize(
    "text", ["", "[]", "scenario: a", "a: [", "\x00", "machine: 7\nevents: {}\nexpect: 1"]
)
def test_what_is_no_scenario_is_refused(text: str) -> None:
    assert problems(text)


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(DataError, match="K001"):
        scenarios.load(tmp_path / "none.yaml", small())


def test_a_folder_is_read_whole(tmp_path: Path) -> None:
    (tmp_path / "a.yaml").write_text(PLOUGH, encoding="utf-8")
    (tmp_path / "b.yaml").write_text(small_scenario(), encoding="utf-8")
    assert [one.id for one in scenarios.load_folder(tmp_path, small())] == ["plough_pump", "a"]
    (tmp_path / "c.yaml").write_text(small_scenario("{note: nothing}"), encoding="utf-8")
    (tmp_path / "d.yaml").write_text(small_scenario(), encoding="utf-8")
    with pytest.raises(DataError) as caught:
        scenarios.load_folder(tmp_path, small())
    assert [(p.code, Path(p.place.file).name) for p in caught.value.problems] == [
        ("S001", "c.yaml"),
        ("S007", "d.yaml"),
    ]
    with pytest.raises(DataError, match="S008"):
        scenarios.load_folder(tmp_path / "none", small())


LINES = PLOUGH.splitlines(keepends=True)
broken = st.one_of(
    st.tuples(st.integers(0, len(PLOUGH)), st.text(max_size=3), st.integers(0, 6)).map(
        lambda cut: PLOUGH[: cut[0]] + cut[1] + PLOUGH[cut[0] + cut[2] :]
    ),
    st.lists(st.sampled_from(LINES), max_size=len(LINES)).map("".join),
    st.sets(st.sampled_from(range(len(LINES)))).map(
        lambda gone: "".join(line for i, line in enumerate(LINES) if i not in gone)
    ),
)


@calm
@given(broken)
def test_any_text_is_a_scenario_or_a_list_of_problems(text: str) -> None:
    with suppress(DataError):
        scenario = scenarios.loads(text, "x.yaml", small())
        assert scenario.case().history == scenario.events
