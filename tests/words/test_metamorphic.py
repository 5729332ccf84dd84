"""What must change nothing in what is understood, or must change it in one way: order, marks, case, units, harmless
words, typing errors, a denial, a second sentence."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.words.units import convert
from tests.words.measure import sentences
from tests.words.test_understanding import HERE, offered, recorded, said

CLEAR = (
    "low power",
    "black smoke under load",
    "cranks but won't start",
    "starter keeps running",
    "wastegate stuck open",
    "oil leak",
    "in derate",
    "metal in the oil filter",
    "coolant in the fuel",
    "dpf light is on",
    "ammonia smell from the exhaust",
    "bulbs keep burning out",
    "engine won't shut off",
)
DENIED = (
    "black smoke",
    "oil leak",
    "fuel leak",
    "metal in the oil filter",
    "ammonia smell from the exhaust",
    "derate",
)
clear = st.sampled_from(CLEAR)
few = settings(max_examples=40, deadline=None)


def test_the_clauses_of_these_tests_are_clear() -> None:
    assert all(recorded(text) for text in CLEAR)
    assert all(recorded(text) for text in DENIED)


@few
@given(
    st.lists(clear, min_size=2, max_size=3, unique=True), st.sampled_from([". ", "; ", ", "]), st.randoms()
)
def test_order_and_marks_change_nothing_and_two_sentences_give_the_union(
    texts: list[str], mark: str, chance: object
) -> None:
    union = set[tuple[str, str]]().union(*map(recorded, texts))
    assert recorded(mark.join(texts)) == union
    assert recorded(mark.join(reversed(texts))) == union


@few
@given(clear, st.sampled_from([str.upper, str.title, lambda text: f"  {text} .", lambda text: f"{text}!"]))
def test_case_and_marks_change_nothing(text: str, change: object) -> None:
    assert recorded(change(text)) == recorded(text)  # type: ignore[operator]


@few
@given(clear, st.sampled_from(["hey, ", "well, ", "customer says: ", "so the truck has ", "this one has "]))
def test_harmless_words_change_nothing(text: str, before: str) -> None:
    assert recorded(before + text) == recorded(text)
    assert recorded(f"{text}, thanks") == recorded(text)


@few
@given(clear, st.data())
def test_a_typing_error_never_makes_it_something_else(text: str, data: st.DataObject) -> None:
    words = [word for word in text.split() if len(word) >= 5]
    word = data.draw(st.sampled_from(words or ["power"]))
    at = data.draw(st.integers(1, len(word) - 2))
    slip = data.draw(st.sampled_from(["drop", "double", "swap"]))
    wrong = {
        "drop": word[:at] + word[at + 1 :],
        "double": word[:at] + word[at] + word[at:],
        "swap": word[:at] + word[at + 1] + word[at] + word[at + 2 :],
    }[slip]
    assert recorded(text.replace(word, wrong)) <= recorded(text)


@few
@given(st.sampled_from(DENIED), st.sampled_from(["no ", "there is no ", "never any ", "no sign of "]))
def test_a_denial_turns_the_finding_or_asks(text: str, denial: str) -> None:
    there = recorded(text)
    assert not recorded(denial + text) & there
    turned = {(id, "absent") for id, _ in there}
    assert turned & (recorded(denial + text) | offered(denial + text))


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("oil pressure hot idle 25 psi", "172 kPa oil pressure at hot idle"),
        ("oil temp 131 C", "oil temp 268 F"),
    ],
)
def test_units_change_nothing(one: str, other: str) -> None:
    readings = [[part.id for part in said(text).parts if part.kind == "reading"] for text in (one, other)]
    assert readings[0] == readings[1] != [""]


@given(st.text(max_size=80))
@settings(max_examples=60, deadline=None)
def test_any_text_is_understood_without_a_fall(text: str) -> None:
    found = said(text)
    assert all(0 <= part.start <= part.end <= len(text) for part in found.parts)


# ---- on the sentences of the work set ----

WORK = tuple(say for say, _ in sentences(HERE / "sentences.yaml"))
work = st.sampled_from(WORK)
some = settings(max_examples=40, deadline=None)


@some
@given(
    work,
    st.sampled_from(
        [
            str.lower,
            lambda text: f"{text}.",
            lambda text: f"{text}, thanks",
            lambda text: text.replace(" ", "  "),
        ]
    ),
)
def test_real_sentences_are_not_changed_by_what_is_harmless(text: str, change: Callable[[str], str]) -> None:
    assert recorded(change(text)) == recorded(text)


def own_words(text: str) -> bool:
    """The sentence says of itself what it is of: what leans on another one takes its topic from that."""
    return not any(part.kind == "no codes" for part in said(text).parts)


@pytest.mark.slow
@some
@given(work.filter(own_words), work.filter(own_words))
def test_two_real_sentences_give_the_union(one: str, other: str) -> None:
    assert recorded(f"{one}. {other}") == recorded(one) | recorded(other)


@few
@given(
    st.integers(20, 600),
    st.sampled_from(
        ["oil pressure hot idle {}", "oil pressure at hot idle is {}", "{} oil pressure hot idle"]
    ),
    st.sampled_from(["kPa", "psi", "bar"]),
)
def test_a_value_is_the_same_in_any_unit(kilopascals: int, words: str, unit: str) -> None:
    value = convert(float(kilopascals), "kPa", unit)
    (part,) = [part for part in said(words.format(f"{value:.4f} {unit}")).parts if part.kind == "reading"]
    assert part.id == "engine oil pressure hot idle"
    assert part.sure
    assert convert(part.value or 0.0, part.unit, "kPa") == pytest.approx(kilopascals, rel=1e-3, abs=0.05)


@pytest.mark.parametrize(
    ("text", "units"),
    [
        ("oil pressure 20 at hot idle", ("psi", "bar", "kPa")),
        ("fuel pressure reads 65", ("psi", "bar", "kPa")),
        ("oil temp 250 degrees", ("degC", "degF")),
    ],
)
def test_a_pressure_or_temperature_without_its_unit_is_asked_in_which(
    text: str, units: tuple[str, ...]
) -> None:
    (part,) = [part for part in said(text).parts if part.kind == "reading"]
    assert not part.sure
    assert tuple(one.unit for one in part.alternatives) == units


@pytest.mark.parametrize(
    ("text", "finding"),
    [
        ("sea strainer clean", "raw_strainer_found_blocked"),
        ("fuel filter element clean", "filter_element_dirty"),
        ("no loss of power", "low_power"),
    ],
)
def test_praise_denies_the_fault_that_it_is_against(text: str, finding: str) -> None:
    assert (finding, "absent") in recorded(text)


@pytest.mark.parametrize("text", ["tank clean", "sensor ok", "bowl dry"])
def test_praise_of_what_may_be_any_part_is_not_recorded(text: str) -> None:
    assert not recorded(text)


@pytest.mark.parametrize(
    "text",
    ["24 volts at the starter when turned to crank", "cyl 5 compression 18 % low", "boost 30", "soot 80"],
)
def test_a_value_of_something_else_is_not_recorded(text: str) -> None:
    assert not [part for part in said(text).parts if part.kind == "reading" and part.sure and part.id]


def test_a_smell_is_of_the_fluid_spoken_of() -> None:
    assert ("fuel_smell", "present") not in recorded("oil level over full and thin as water, smells of fuel")
    assert ("fuel_smell", "present") in recorded("smells of fuel")


@pytest.mark.parametrize("text", ["he shut it down", "after shut down"])
def test_what_somebody_shut_down_did_not_stop_by_itself(text: str) -> None:
    assert not recorded(text)


@pytest.mark.parametrize(
    ("one", "other"),
    [("will not crank", "won't crank"), ("refuses to start", "won't start"), ("overheatin", "overheating")],
)
def test_two_ways_to_say_one_thing(one: str, other: str) -> None:
    assert recorded(one) == recorded(other) != set()


def test_work_told_does_not_swallow_what_the_machine_still_does() -> None:
    assert ("overheats", "present") in recorded("thermostat changed two weeks ago still runs hot")


def test_belt_off_and_noise_gone_is_a_test_and_no_absence() -> None:
    assert not recorded("belt off, noise gone")
