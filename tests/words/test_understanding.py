"""Sentences against the shipped knowledge: what is said comes out, and never the opposite."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.understanding import Understanding, understand
from diagnose.understanding.exclusive import exclude
from diagnose.understanding.index import index_of
from diagnose.words.numerals import in_digits, spelt
from tests.shipped import shipped_knowledge
from tests.words.measure import outcome, sentences

KNOWN = shipped_knowledge()
HERE = Path(__file__).parent


def said(text: str) -> Understanding:
    return understand(KNOWN, text)


def recorded(text: str) -> set[tuple[str, str]]:
    """What would be recorded of findings."""
    return {
        (id, part.state)
        for part in said(text).parts
        if part.kind == "finding" and part.sure
        for id in (part.id, *part.also)
    }


def offered(text: str) -> set[tuple[str, str]]:
    return {(one.id, one.state) for part in said(text).doubtful for one in part.alternatives}


# ---- what used to go wrong ----


@pytest.mark.parametrize(
    ("text", "finding", "state"),
    [
        ("no power and black smoke", "low_power", "present"),
        ("no power and black smoke", "black_smoke", "present"),
        ("no start after fuel filter change", "does_not_start", "present"),
        ("cranks but won't start", "cranks_no_start", "present"),
        ("turning over but not firing", "cranks_no_start", "present"),
        ("no crank", "no_crank", "present"),
        ("loss of power", "low_power", "present"),
        ("isn't smoking", "black_smoke", "absent"),
        ("no leaks", "oil_leak_outside", "absent"),
        ("no leaks no smoke", "black_smoke", "absent"),
        ("oil level ok", "oil_below_mark", "absent"),
        ("oil pressure ok", "oil_gauge_low", "absent"),
        ("smoke's gone", "black_smoke", "absent"),
        ("Smokes black when cold, blue when hot, never white", "blue_smoke", "present"),
        ("hard start hot, ok cold", "hard_start_hot", "present"),
    ],
)
def test_what_is_said_is_recorded(text: str, finding: str, state: str) -> None:
    assert (finding, state) in recorded(text)


@pytest.mark.parametrize(
    ("text", "opposite"),
    [
        ("no crank no start", ("cranks_no_start", "present")),
        ("no crank no start", ("cranks_no_start", "absent")),
        ("no crank no start", ("no_crank", "absent")),
        ("no power", ("low_power", "absent")),
        ("no oil pressure", ("oil_gauge_low", "absent")),
        ("no boost", ("boost_at_load", "absent")),
        ("not charging", ("charge_lamp_on", "absent")),
        ("alternator not charging", ("charging_code", "present")),
        ("coolant temp 230 F", ("coolant_stays_cold", "absent")),
        ("starts and runs fine", ("cranks_no_start", "present")),
        ("no start after fuel filter change", ("several_sensor_codes_at_once", "absent")),
        ("low exhaust temperature", ("cold_exhaust_code", "present")),
        ("knock at idle that goes away when you rev it", ("knock_hard_metallic", "absent")),
        ("smoke's gone, knock hasn't", ("knock_hard_metallic", "absent")),
        ("no fuel smell", ("tank_found_empty", "present")),
        ("ran out of fuel", ("tank_found_empty", "present")),
        ("oil in the fuel", ("fuel_in_oil", "present")),
        ("coolant in the fuel", ("oil_in_coolant", "present")),
    ],
)
def test_the_opposite_or_something_else_is_not_recorded(text: str, opposite: tuple[str, str]) -> None:
    assert opposite not in recorded(text)


@pytest.mark.parametrize(
    ("text", "finding"),
    [
        ("no power", "low_power"),
        ("low power", "low_power"),
        ("lack of power", "low_power"),
        ("black smoke", "black_smoke"),
        ("white smoke", "white_smoke"),
        ("blue smoke", "blue_smoke"),
        ("smokes", "smoke_any"),
        ("overheating", "overheats"),
        ("runs hot", "overheats"),
        ("hard start", "hard_start"),
        ("hard to start", "hard_start"),
        ("low oil pressure", "oil_gauge_low"),
        ("no oil pressure", "oil_gauge_low"),
        ("won't start", "does_not_start"),
        ("slow crank", "slow_crank"),
        ("rough idle", "idle_bad"),
        ("misfire", "misfires"),
        ("vibration", "vibrates"),
        ("knocking", "knock_any"),
        ("engine noise", "noise_any"),
        ("oil leak", "oil_leak_outside"),
        ("fuel leak", "fuel_leak_outside"),
        ("leaks", "leaks_any"),
        ("using oil", "oil_consumption_high"),
        ("loses coolant", "coolant_loss"),
        ("hunting", "hunts_any"),
        ("surging", "hunts_any"),
        ("low compression", "compression_low_told"),
        ("turbo noise", "turbo_noise_not_specified"),
        ("turbo failed", "turbo_failed_not_specified"),
        ("def problem", "def_trouble_not_specified"),
        ("derate", "derate_active"),
        ("exhaust leak", "exhaust_leak_ticks"),
    ],
)
def test_short_general_words_mean_the_general_complaint(text: str, finding: str) -> None:
    """Each is the very wording of a complaint in the trade (common practice); what is particular was not said."""
    assert recorded(text) == {(finding, "present")}


@pytest.mark.parametrize(
    "text",
    ["no crank no start", "won't crank won't start", "does not crank, does not start", "no start, no crank"],
)
def test_findings_whose_names_deny_each_other_are_never_both_recorded(text: str) -> None:
    assert recorded(text) - {("does_not_start", "present")} == {("no_crank", "present")}


@pytest.mark.slow
def test_no_two_findings_of_a_text_deny_each_other_in_their_names() -> None:
    index = index_of(KNOWN)
    for say, _ in sentences(HERE / "sentences.yaml"):
        found = [index.ids.index(id) for id, state in recorded(say) if state == "present" and id in index.ids]
        assert not [(say, one, two) for one in found for two in found if exclude(index, one, two)]


@pytest.mark.parametrize(
    ("text", "finding"),
    [
        ("it comes and goes", "comes_and_goes"),
        ("fault is intermittent", "comes_and_goes"),
        ("low power, getting worse every week", "came_on_slowly"),
        ("lost power all of a sudden", "came_on_suddenly"),
        ("only when hot", "only_when_hot"),
        ("worse when warm", "only_when_hot"),
        ("only under load", "only_under_load"),
        ("only on hills", "only_uphill"),
        ("wet days only", "worse_when_wet"),
    ],
)
def test_how_the_trouble_comes_is_a_finding_where_it_is_said_outright(text: str, finding: str) -> None:
    assert (finding, "present") in recorded(text)


@pytest.mark.parametrize("text", ["not intermittent", "gets worse when you rev it", "first only when cold"])
def test_how_the_trouble_comes_is_not_read_into_other_words(text: str) -> None:
    assert not recorded(text) & {
        (id, "present") for id in ("comes_and_goes", "came_on_slowly", "only_when_cold")
    }


@pytest.mark.parametrize(
    ("text", "offer"),
    [
        ("ran out of fuel", "ran_dry_before"),
        ("lots of blowby", "blow_by_visible"),
        ("knocks when cold", "slap_cold"),
        ("dead miss", "misfire_one_cylinder"),
        ("needs a jump", "flat_after_standing"),
        ("won't shut off", "engine_will_not_stop"),
        ("dies on bumps", "cuts_out_on_bumps"),
        ("alternator not charging", "charge_lamp_on"),
        ("low power uphill", "low_power"),
    ],
)
def test_what_may_be_several_is_a_question_with_at_most_three_choices(text: str, offer: str) -> None:
    assert offer in {id for id, _ in offered(text) | recorded(text)}
    assert all(1 <= len(part.alternatives) <= 3 for part in said(text).doubtful)


# ---- codes, readings, the machine and its past ----


@pytest.mark.parametrize(
    ("text", "codes"),
    [
        ("P0087 and P0191", ["P0087", "P0191"]),
        ("SPN 94 FMI 18, 3251-0", ["SPN 94 FMI 18", "SPN 3251 FMI 0"]),
        ("codes SPN 157 FMI 18", ["SPN 157 FMI 18"]),
        ("all fmi 3s - 108, 105, 102", ["SPN 108 FMI 3", "SPN 105 FMI 3", "SPN 102 FMI 3"]),
        ("code list: 111/1, 110/16 active since 06:40", ["SPN 111 FMI 1", "SPN 110 FMI 16"]),
        ("2-3 times a day", []),
        ("load shared 60/40", []),
        ("48-52 hertz", []),
    ],
)
def test_codes_in_any_writing(text: str, codes: list[str]) -> None:
    assert [part.id for part in said(text).parts if part.kind == "code"] == codes


@pytest.mark.parametrize("text", ["no codes", "no other codes", "codes? none", "there isn't a code"])
def test_no_codes_closes_the_question_of_codes(text: str) -> None:
    assert "no codes" in {part.kind for part in said(text).parts}
    assert not recorded(text)


@pytest.mark.parametrize(
    ("text", "quantity", "value", "unit"),
    [
        ("oil pressure 25 psi hot idle", "engine oil pressure hot idle", 25, "psi"),
        ("Oil temp 131 C at WOT", "engine oil temperature", 131, "degC"),
        ("rail pressure 290 bar cranking", "rail pressure cranking", 290, "bar"),
        ("datalink resistance 120 ohm should be 60", "network resistance", 120, "ohm"),
        ("def press 5.1 bar want 9", "urea pressure", 5.1, "bar"),
        ("battery 12.4 V at rest", "battery voltage at rest", 12.4, "V"),
    ],
)
def test_a_value_goes_to_the_quantity_that_is_named(
    text: str, quantity: str, value: float, unit: str
) -> None:
    (part,) = [part for part in said(text).parts if part.kind == "reading"]
    assert (part.id, part.value, part.unit, part.sure) == (quantity, value, unit, True)


@pytest.mark.parametrize(
    ("text", "digits"),
    [
        ("coolant two hundred thirty degrees", 230),
        ("two thirty degrees", 230),
        ("two hundred and ten degrees", 210),
        ("forty five psi", 45),
        ("a hundred and ten psi", 110),
        ("thirteen point eight volts", 13.8),
        ("fifteen hundred rpm", 1500),
        ("eleven thousand five hundred hours", 11500),
        ("zero psi", 0),
        ("twenty-two inches of water", 22),
    ],
)
def test_values_in_words_are_read_where_they_stand(text: str, digits: float) -> None:
    """How numbers are said in English; 230 is also said "two thirty"."""
    assert [number for _, number in spelt(text)] == [digits]
    assert len(in_digits(text)) == len(text)
    assert f"{digits:g}" in in_digits(text)


@pytest.mark.parametrize(
    "text",
    [
        "running on five",
        "one cylinder dead",
        "five volt supply",
        "both of the two fans",
        "four or five times",
    ],
)
def test_counts_in_words_stay_words(text: str) -> None:
    assert in_digits(text) == text


@given(st.integers(20, 999_999))
def test_any_number_in_words_is_read_back(number: int) -> None:
    assert [value for _, value in spelt(f"{in_words(number)} psi")] == [number]


def in_words(number: int) -> str:
    """The number as it is said, by the rules of English."""
    small = [
        "zero",
        "one",
        "two",
        "three",
        "four",
        "five",
        "six",
        "seven",
        "eight",
        "nine",
        "ten",
        "eleven",
        "twelve",
        "thirteen",
        "fourteen",
        "fifteen",
        "sixteen",
        "seventeen",
        "eighteen",
        "nineteen",
    ]
    tens = ["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]
    if number < 20:
        return small[number]
    if number < 100:
        return tens[number // 10 - 2] + (f" {small[number % 10]}" if number % 10 else "")
    scale, name = (1000, "thousand") if number >= 1000 else (100, "hundred")
    rest = number % scale
    return f"{in_words(number // scale)} {name}" + (f" {in_words(rest)}" if rest else "")


@pytest.mark.parametrize(
    ("text", "quantity", "value", "unit"),
    [
        ("oil psi 45 hot idle", "engine oil pressure hot idle", 45, "psi"),
        ("fuel psi 68", "fuel supply pressure", 68, "psi"),
        ("battery at rest twelve point four volts", "battery voltage at rest", 12.4, "V"),
        ("oil pressure twenty five psi hot idle", "engine oil pressure hot idle", 25, "psi"),
    ],
)
def test_a_value_in_words_or_behind_its_unit_is_a_reading(
    text: str, quantity: str, value: float, unit: str
) -> None:
    (part,) = [part for part in said(text).parts if part.kind == "reading"]
    assert (part.id, part.value, part.unit, part.sure) == (quantity, value, unit, True)


def test_the_words_of_a_value_are_kept_as_they_were_said() -> None:
    assert "twenty five psi" in " ".join(
        part.text for part in said("oil pressure twenty five psi hot idle").parts
    )


@pytest.mark.parametrize("text", ["coolant temp 230 F", "engine temp 240F", "13.8 running", "hot 25 cold 60"])
def test_a_value_whose_quantity_or_state_is_not_said_is_not_recorded(text: str) -> None:
    assert not [part for part in said(text).parts if part.kind == "reading" and part.sure and part.id]


def test_what_should_be_or_was_is_no_reading() -> None:
    readings = [
        part.value
        for part in said("datalink resistance 120 ohm should be 60").parts
        if part.kind == "reading"
    ]
    assert readings == [120]


@pytest.mark.parametrize(
    ("text", "kind", "id", "value"),
    [
        ("11,000 hours", "hours", "", 11000),
        ("9,400 hrs on the clock", "hours", "", 9400),
        ("eleven thousand hours", "hours", "", 11000),
        ("on winter fuel", "fact", "fuel_in_tank", None),
        ("trouble since the filter change", "fact", "recent_work", None),
    ],
)
def test_facts_of_the_machine(text: str, kind: str, id: str, value: float | None) -> None:
    assert (kind, id, value) in {(part.kind, part.id, part.value) for part in said(text).parts}


@pytest.mark.parametrize(
    "text",
    ["oil cooler was already changed last week", "turbo replaced in march", "had new injectors all round"],
)
def test_work_done_is_history_and_no_finding(text: str) -> None:
    assert "history" in {part.kind for part in said(text).parts}
    assert not recorded(text)


@pytest.mark.parametrize(("text", "confidence"), [("low power", "sure"), ("i think low power", "likely")])
def test_how_sure_the_speaker_was(text: str, confidence: str) -> None:
    (part,) = [part for part in said(text).parts if part.kind == "finding"]
    assert part.confidence == confidence


def test_a_supposed_cause_is_no_finding() -> None:
    assert not recorded("turbo perhaps?")
    assert not recorded("could be the injectors")


def test_what_is_not_understood_is_told_word_for_word() -> None:
    assert "the flux capacitor" in " ".join(said("low power, the flux capacitor").not_understood) or any(
        "flux" in words for words in said("low power, the flux capacitor").not_understood
    )


@pytest.mark.parametrize(
    "wanted", ["needs abt 250 bar", "should be around 250 bar", "spec is at least 250 bar"]
)
def test_what_it_should_be_is_no_reading(wanted: str) -> None:
    values = [
        one.value for one in said(f"rail 190 bar cranking, {wanted} to fire").parts if one.kind == "reading"
    ]
    assert values == [190.0]


@pytest.mark.parametrize("text", ["no matter how hard i push the pedal", "quite a lot i think"])
def test_idioms_deny_and_name_nothing(text: str) -> None:
    assert not [one for one in said(text).parts if one.kind == "finding" and one.id]


# ---- the work set ----


@pytest.mark.parametrize(
    ("file", "whole", "after_one", "wrong"),
    [
        ("sentences.yaml", 109, 153, 0.0075),  # one more since a value hides no finding
        pytest.param("sentences_first.yaml", 74, 115, 0.0085, marks=pytest.mark.slow),
        ("sentences_second.yaml", 26, 49, 0.01),
        pytest.param("sentences_third.yaml", 24, 38, 0.045, marks=pytest.mark.slow),
    ],
)
def test_the_sentences_do_not_get_worse(file: str, whole: int, after_one: int, wrong: float) -> None:
    """Floors just under what is reached; the goals stand in docs/understanding.md."""
    found = [outcome(KNOWN, say, meant) for say, meant in sentences(HERE / file)]
    assert sum(one.whole for one in found) >= whole
    assert sum(one.whole_after_one for one in found) >= after_one
    assert sum(len(one.wrong) for one in found) <= wrong * sum(one.said for one in found)
