"""Which case is meant in the bay: by number, machine or words; no second case of a machine without a word."""

from __future__ import annotations

from diagnose.cases.events import Checked
from diagnose.cli.bay.case_choice import SHOWN
from diagnose.cli.context import CommandContext
from tests.cli.test_bay import NEW, Hold, context, seen, talk, words

__all__ = ["context", "talk"]


def _many(talk: Hold, number: int) -> None:
    for place in range(number):
        first = ("n",) if place else ()
        talk(*first, f"M-{place}", "1", "", "no start")


def test_every_case_is_reached_by_machine_or_words(context: CommandContext, talk: Hold) -> None:
    _many(talk, SHOWN + 2)
    listed = words(talk()[0])
    assert "2 more" in listed
    assert "M-0: no start" not in listed
    assert "Case 1 / M-0" in words(talk("m-0")[1])
    assert "M-0: no start" in words(talk("a")[1])


def test_words_that_several_hold_list_those(context: CommandContext, talk: Hold) -> None:
    _many(talk, 2)
    screens = talk("no start", "xyzzy", "2")
    assert "No case fits" in words(screens[2])
    assert "Case 1 / M-0" in words(screens[3])


def test_an_open_case_of_the_machine_is_offered_before_another(context: CommandContext, talk: Hold) -> None:
    talk(*NEW)
    assert "This machine has an open case" in words(talk("n", "p-7", "1")[2])
    with context.store() as store:
        assert len(store.cases()) == 1
    talk("n", "P-7", "2", *NEW[1:])
    with context.store() as store:
        assert len(store.cases()) == 2


def test_a_closed_case_comes_after_the_open_ones(context: CommandContext, talk: Hold) -> None:
    _many(talk, 2)
    talk("m-1", "c", "", "not found")
    listed = words(talk()[0])
    assert listed.index("M-0: no start") < listed.index("M-1: no start (case 2, closed)")


def test_a_complaint_not_understood_is_asked_for_again(context: CommandContext, talk: Hold) -> None:
    screens = talk("P-7", "1", "", "xyzzy", "no start")
    assert "Nothing wrong was understood" in words(screens[4])
    assert seen(context.case(1)) == {"no_start": "present"}


def test_the_move_asks_for_the_complaint_where_none_was_told(context: CommandContext, talk: Hold) -> None:
    screens = talk("P-7", "1", "", "xyzzy", "", "d", "no start")
    assert screens[6][-1].startswith("What did it come in for")
    assert seen(context.case(1)) == {"no_start": "present"}


def test_a_proof_due_later_keeps_the_case_open_and_says_so(context: CommandContext, talk: Hold) -> None:
    screens = talk(*NEW, "f", "renew the injector seals", "2", "1l")
    assert "The case stays open until then" in words(screens[-2])
    assert "PROVE" in words(screens[-2])
    assert "waits for later proof" in words(talk()[0])
    talk("1", "d", "1")
    ticked = [event.text for event in context.case(1).history if isinstance(event, Checked)]
    assert ticked == ["later", ""]


def test_the_closing_does_not_ask_what_was_ticked(context: CommandContext, talk: Hold) -> None:
    screens = talk(*NEW, "f", "renew the injector seals", "2", "1", "d", "1", "2")
    assert "proven by its own test" not in words([line for screen in screens for line in screen])
    closed = context.case(1).closed
    assert closed is not None
    assert closed.proven
