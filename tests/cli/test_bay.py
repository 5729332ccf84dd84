"""The guided talk, driven line by line: what is stored, what is shown, and that leaving loses nothing."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from diagnose.cases.case import Case
from diagnose.cases.events import Checked, Closed, Noted, OpenedUp, Reopened, Repaired
from diagnose.cli.bay import hold
from diagnose.cli.bay.results import ask_together
from diagnose.cli.bay.session import BaySession
from diagnose.cli.context import CommandContext
from diagnose.cli.talk import Talk, page
from diagnose.diagnosis import diagnose
from diagnose.moves.advice import Advice
from tests.cli.conftest import FOLDER

Screens = list[list[str]]
Hold = Callable[..., Screens]
END = EOFError()


@pytest.fixture
def context(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> CommandContext:
    monkeypatch.setenv("COLUMNS", "60")
    monkeypatch.delenv("DIAGNOSE_SHOP", raising=False)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    return CommandContext(FOLDER, tmp_path / "cases.sqlite")


@pytest.fixture
def talk(context: CommandContext, capsys: pytest.CaptureFixture[str]) -> Hold:
    """Hold the talk with these answers, then the end of input; what was printed before each question."""

    def run(*answers: str | BaseException) -> Screens:
        left: Iterator[str | BaseException] = iter([*answers, END])
        screens: Screens = []

        def read(prompt: str) -> str:
            screens.append([*capsys.readouterr().out.splitlines(), prompt])
            answer = next(left)
            if isinstance(answer, BaseException):
                raise answer
            return answer

        hold(context, Talk(read))
        screens.append(capsys.readouterr().out.splitlines())
        assert next(left, None) is None or isinstance(answers[-1], BaseException) or answers[-1] == "q"
        return screens

    return run


def words(screen: list[str]) -> str:
    return " ".join(" ".join(screen).split())


def seen(case: Case) -> dict[str, str]:
    return {one.finding: one.state for one in case.observations}


NEW = ("P-7", "1", "5200", "no start")  # machine, family by number, hours, complaint
BATTERIES = ("d",)  # the check of the batteries, two findings: the next move


def test_a_new_case_is_asked_for_and_kept(context: CommandContext, talk: Hold) -> None:
    talk(*NEW)
    case = context.case(1)
    assert (case.machine.number, case.machine.family, case.machine.hours) == ("P-7", "old_six", 5200)
    assert seen(case) == {"no_start": "present"}


def test_every_stand_shows_leading_causes_and_the_next_check(context: CommandContext, talk: Hold) -> None:
    stand = talk(*NEW)[-2]
    case = context.case(1)
    advice = Advice(context.knowledge, case, context.shop)
    leading = advice.diagnosis.causes[0].name
    assert f"CHECK {advice.move.name}" in stand
    assert advice.next_checks()[0].name == advice.move.name
    assert "Expected to save" in words(stand)
    assert any(line.startswith("1 ") and leading in line for line in stand)
    assert stand[-1].startswith("What did you see?")


def test_words_codes_readings_and_absent_findings_are_noted(context: CommandContext, talk: Hold) -> None:
    talk(
        *NEW,
        "P2291",
        "rail pressure cranking 2.1 MPa",
        "no metal in the filter",
        "gallery_dirty, white smoke warm",
    )
    assert seen(context.case(1)) == {
        "no_start": "present",
        "pressure_code": "present",
        "rail_pressure": "low",
        "metal_in_filter": "absent",
        "gallery_dirty": "present",
        "smoke_warm": "present",
    }


def test_unclear_words_are_asked_by_number(context: CommandContext, talk: Hold) -> None:
    screens = talk(*NEW, "white smoke", "7", "x", "1", "no white smoke", "")
    assert "Give a number from 1 to 2" in words(screens[6])
    noted = [event for event in context.case(1).history if isinstance(event, Noted)]
    assert noted[1].text == "white smoke"
    # Denied in general, each kind is denied.
    assert {(one.text, one.state) for one in noted[2:]} == {("no white smoke", "absent")}


def test_unknown_words_are_said_to_be_unknown(context: CommandContext, talk: Hold) -> None:
    screens = talk(*NEW, "xyzzy", "")
    assert "nothing that the knowledge knows" in words(screens[5])
    assert len(context.case(1).history) == 2


def test_what_is_typed_at_a_pause_is_not_lost(context: CommandContext, talk: Hold) -> None:
    talk(*NEW, "xyzzy", "P2291")
    assert "pressure_code" in seen(context.case(1))


def test_a_check_asks_each_result_and_stores_each_at_once(context: CommandContext, talk: Hold) -> None:
    talk(*NEW, *BATTERIES, "2", END)  # the batteries at rest: dead, low, normal
    assert seen(context.case(1)) == {"no_start": "present", "battery_rest": "low"}


def test_a_check_half_done_comes_back_for_what_is_left(context: CommandContext, talk: Hold) -> None:
    talk(*NEW, *BATTERIES, "2", "4")  # the second question: not done
    assert not context.case(1).checks_done
    left = Advice(context.knowledge, context.case(1), context.shop).check_option("measure_batteries")
    assert left is not None
    assert left.findings == ("battery_cranking",)


def test_a_check_done_is_offered_no_more(context: CommandContext, talk: Hold) -> None:
    talk(*NEW, *BATTERIES, "2", "3")  # the second question: could not tell
    assert context.case(1).checks_done == ("measure_batteries",)
    assert Advice(context.knowledge, context.case(1), context.shop).check_option("measure_batteries") is None


def test_a_reading_is_typed_with_its_unit(context: CommandContext, talk: Hold) -> None:
    talk(*NEW, *BATTERIES, "12.1 V", "9.0 V")
    case = context.case(1)
    assert seen(case) == {"no_start": "present", "battery_rest": "low", "battery_cranking": "low"}
    assert [one.value for one in case.observations] == [None, 12.1, 9.0]


def test_could_not_tell_is_no_evidence_and_not_done_no_check(context: CommandContext, talk: Hold) -> None:
    talk(*NEW, *BATTERIES, "5", "4")  # not done; then of two states: not done
    assert not context.case(1).checks_done
    talk("1", *BATTERIES, "4", "3")  # could not tell; then of two states: could not tell
    assert context.case(1).checks_done == ("measure_batteries",)
    assert seen(context.case(1)) == {"no_start": "present"}


@pytest.mark.parametrize("answer", ["0", "9", "maybe", "12 rpm"])
def test_an_answer_that_is_none_is_asked_again(context: CommandContext, talk: Hold, answer: str) -> None:
    talk(*NEW, *BATTERIES, answer, "1", "2")
    assert seen(context.case(1)) == {
        "no_start": "present",
        "battery_rest": "dead",
        "battery_cranking": "normal",
    }


def test_undo_within_a_check_goes_back_to_the_question_before(context: CommandContext, talk: Hold) -> None:
    screens = talk(*NEW, *BATTERIES, "1", "u", "3", "1")
    assert "1 of 2" in words(screens[7])
    assert seen(context.case(1)) == {
        "no_start": "present",
        "battery_rest": "normal",
        "battery_cranking": "low",
    }


def test_undo_takes_back_one_answer_after_another(context: CommandContext, talk: Hold) -> None:
    talk(*NEW, "P2291", "gallery_dirty", "u", "u", "u")
    assert seen(context.case(1)) == {}
    assert "There is nothing to undo" in words(talk("1", "u")[2])


def test_undo_works_on_an_earlier_talk_too(context: CommandContext, talk: Hold) -> None:
    talk(*NEW, "P2291")
    talk("1", "u")
    assert seen(context.case(1)) == {"no_start": "present"}


def test_cautions_are_shown_and_read_before_the_steps(context: CommandContext, talk: Hold) -> None:
    talk(*NEW, "rail pressure cranking 2 MPa")
    offered = words(talk("1", "o")[2])
    labels = [context.knowledge.checks[id].name for id in ("look_under_cover", "open_gallery")]
    number = next(n for n in range(1, 9) if f"{n} {labels[0]}" in offered)
    screens = talk("1", "o", str(number), "", "1")
    assert "CAUTION" in words(screens[3])
    assert "1. Bar the engine" not in words(screens[3])
    assert "1. Bar the engine" in words(screens[4])
    case = context.case(1)
    assert [type(event) for event in case.history[-3:]] == [OpenedUp, Noted, Checked]


def test_a_suspected_hazard_comes_first_and_holds_checks_back(context: CommandContext, talk: Hold) -> None:
    stand = words(talk(*NEW, "starter stops hard on a cylinder")[-2])
    assert stand.index("Liquid in a cylinder") < stand.index("MAKE SAFE")
    assert "MAKE SAFE Bar it by hand with the injectors out" in stand
    offered = words(talk("1", "o")[2])
    assert context.knowledge.checks["open_gallery"].name not in offered
    assert "until it is ruled out: Liquid in a cylinder" in offered


def test_a_number_tells_why(context: CommandContext, talk: Hold) -> None:
    screens = talk(*NEW, "1", "", "", "")
    assert "Speaks for it" in words(screens[5])
    assert "no number 77" in words(talk("1", "77")[2])


def test_a_repair_starts_anew_and_asks_for_the_complaint(context: CommandContext, talk: Hold) -> None:
    talk(*NEW, "f", "renew the injector seals", "1")
    case = context.case(1)
    assert [event.repairs for event in case.history if isinstance(event, Repaired)] == [("reseal",)]
    assert [(one.finding, one.state) for one in case.epochs[-1].observations] == [("no_start", "present")]


def test_with_the_complaint_gone_the_proofs_are_a_list_to_tick(context: CommandContext, talk: Hold) -> None:
    screens = talk(*NEW, "f", "renew the injector seals", "2", "1l")
    assert "1 No oil at the bores" in words(screens[7])
    (ticked,) = [event for event in context.case(1).history if isinstance(event, Checked)]
    assert (ticked.check, ticked.text) == ("prove:reseal:1", "later")
    assert Advice(context.knowledge, context.case(1), context.shop).move.kind in ("prove", "close")


def test_questions_with_yes_or_no_are_answered_in_one_line(context: CommandContext, talk: Hold) -> None:
    """Three of them: six keys."""
    session = _visit(context, talk, "1, ?2")
    findings = [context.knowledge.findings[id] for id in ("steam_white", "smoke_warm", "gallery_dirty")]
    ask_together(session, findings, "")
    assert seen(context.case(1)) == {
        "no_start": "present",
        "steam_white": "present",
        "gallery_dirty": "absent",
    }


def _visit(context: CommandContext, talk: Hold, *answers: str) -> BaySession:
    talk(*NEW)
    left = iter(answers)
    return BaySession(context, Talk(lambda prompt: next(left)), 1)


def test_whether_it_is_gone_is_asked_once_a_repair_and_of_what_stood_before_all_of_them(
    context: CommandContext, talk: Hold
) -> None:
    """Not tried after the first: the second asks again, for the same complaint, and neither asks twice."""
    screens = talk(*NEW, "f", "renew the injector seals", "3", "f", "charge the batteries", "2")
    asked = [words(screen) for screen in screens if "Is it still so?" in words(screen)]
    assert len(asked) == 2
    assert context.case(1).epochs[-1].observations[-1].state == "absent"


def test_several_repairs_at_once_by_number_and_words(context: CommandContext, talk: Hold) -> None:
    talk(*NEW, "f", "renew the injector seals, charge the batteries", "1")
    (mended,) = [event for event in context.case(1).history if isinstance(event, Repaired)]
    assert len(mended.repairs) == 2


def test_codes_are_typed_in_one_line(context: CommandContext, talk: Hold) -> None:
    """Then the reading is done, and not asked again."""
    listed = words(talk(*NEW, "o")[5])
    number = next(n for n in range(1, 9) if f"{n} Read the codes" in listed)
    screens = talk("1", "o", str(number), "P2291", "")
    told = words([line for screen in screens for line in screen])
    assert "Type the codes as read" in told
    assert seen(context.case(1))["pressure_code"] == "present"
    left = Advice(context.knowledge, context.case(1), context.shop).checks
    assert not any("pressure_code" in option.findings for option in left)


def test_closing_asks_what_was_found_and_done(context: CommandContext, talk: Hold) -> None:
    first = diagnose(context.knowledge, _opened(context, talk)).causes[0].id
    screens = talk("1", "c", "1, debris", "1", "3", "renew the injector seals", "n", "y")
    assert "No repair is recorded. What was done?" in words(screens[5])
    assert "prove it: No oil at the bores" in words(screens[7])
    *_, mended, noted, closed = context.case(1).history
    assert isinstance(mended, Repaired)
    assert mended.repairs == ("reseal",)
    assert isinstance(noted, Noted)
    assert (noted.finding, noted.state) == ("no_start", "absent")
    assert isinstance(closed, Closed)
    assert closed.causes == (first, "debris")
    assert [closed.how(cause) for cause in closed.causes] == ["by sight", "assumed"]
    assert closed.proven
    talk("1", "r", "came back")
    assert context.case(1).closed is None


@pytest.mark.parametrize(("answer", "comeback"), [("", True), ("t", False)])
def test_taking_a_case_up_again_asks_whether_it_came_back(
    context: CommandContext, talk: Hold, answer: str, comeback: bool
) -> None:
    talk(*NEW, "c", "", "not found")
    talk("1", "r", answer)
    last = context.case(1).history[-1]
    assert isinstance(last, Reopened)
    assert last.comeback == comeback


def test_a_repair_noted_before_is_not_asked_for_at_the_closing(context: CommandContext, talk: Hold) -> None:
    screens = talk(*NEW, "f", "renew the injector seals", "2", "1", "c", "1", "2", "y")
    assert "No repair is recorded" not in words([line for screen in screens for line in screen])
    closed = context.case(1).closed
    assert closed
    assert (closed.causes, closed.confirmed, closed.proven) == (("seal_out",), "by repair", True)


def _opened(context: CommandContext, talk: Hold) -> Case:
    talk(*NEW)
    return context.case(1)


def test_a_wrong_number_at_closing_closes_nothing(context: CommandContext, talk: Hold) -> None:
    talk(*NEW, "c", "9")
    assert context.case(1).closed is None


def test_list_help_and_back(context: CommandContext, talk: Hold) -> None:
    screens = talk(*NEW, "l", "", "?", "", "b", "n", "P-8", "", "", "")
    assert "opened: no start [5200 h, start_aid = none]" in words(screens[5])
    assert "undo the last entry" in words(screens[7])
    assert context.case(2).machine.number == "P-8"


@pytest.mark.parametrize("end", [EOFError(), KeyboardInterrupt(), "q"])
def test_leaving_anywhere_is_clean_and_keeps_everything(
    context: CommandContext, talk: Hold, end: str | BaseException
) -> None:
    for way in (("P2291",), ("d",), ("d", "2"), ("o",), ("f",), ("c",), ("white smoke",)):
        machine, *more = NEW
        new = ("n", machine, "2", *more) if _cases(context) else NEW  # each way starts from a case of its own
        screens = talk(*new, *way, end)
        assert "Everything is kept in case" in words(screens[-1])
    assert len(_cases(context)) == 7
    assert seen(context.case(1)) == {"no_start": "present", "pressure_code": "present"}


def _cases(context: CommandContext) -> list[int]:
    with context.store() as store:
        return [one.number for one in store.cases()]


def test_leaving_before_there_is_a_case(context: CommandContext, talk: Hold) -> None:
    assert "Everything is kept" not in words(talk()[-1])
    assert not _cases(context)


def test_evidence_that_cannot_be_still_lets_one_undo(
    context: CommandContext, talk: Hold, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from diagnose.moves import standing
    from diagnose.network.observed import ImpossibleEvidence

    def cannot_be(*_: object) -> None:
        raise ImpossibleEvidence(["Cranks but does not start"])

    monkeypatch.setattr(standing, "diagnose", cannot_be)
    screens = talk(*NEW, "u")
    assert "u takes back the last entry" in words(screens[4])
    assert seen(context.case(1)) == {}


@pytest.mark.parametrize("columns", ["60", "100"])
def test_no_page_is_too_long_or_too_wide(
    context: CommandContext, talk: Hold, monkeypatch: pytest.MonkeyPatch, columns: str
) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    tour = (
        "d",
        "12.1 V",
        "9 V",
        "rail pressure cranking 2 MPa",
        "metal in the filter, P2291",
        "1",
        *("",) * 4,
    )
    screens = talk(
        *NEW, *tour, "l", "", "?", "", "stops dead while cranking", "o", "1", "", "b", "f", "1", "1", "c"
    )
    assert max(len(screen) for screen in screens) <= page() + 1
    assert max(len(line) for screen in screens for line in screen) <= int(columns)
