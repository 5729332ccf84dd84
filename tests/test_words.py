"""Words: slang, misspellings and fragments to findings. Expected answers are common practice of the trade."""

from __future__ import annotations

from cProfile import Profile

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.knowledge.lookup import Resolution, find, find_any, resolve, resolve_any
from diagnose.knowledge.records import Knowledge
from tests.words.small import access, cause, finding, knowledge

KNOWN = knowledge(
    findings=[
        finding("cranks_no_start", "Cranks but does not start", "turns over but won't fire", "no start"),
        finding("slow_cranking", "Starter cranks slowly", "drags over"),
        finding("white_smoke_cranking", "White smoke while cranking", "white smoke out the stack"),
        finding("no_smoke_cranking", "No smoke from the exhaust while cranking"),
        finding("oil_in_coolant", "Oil in the coolant", "oil floating in the radiator"),
        finding("coolant_in_oil", "Coolant in the engine oil", "milky oil"),
        finding("no_oil_pressure", "No oil pressure", kind="reading"),
        finding("oil_pressure_low", "Oil pressure low", kind="reading"),
        finding("actuation_pressure_low", "Actuation pressure low while cranking", "icp low", kind="reading"),
        finding("tank_empty", "Tank empty", "out of fuel", kind="inspection"),
        finding("actuation_high_code", "Code for high actuation pressure", kind="code"),
        finding("overheats", "Engine overheats", "overheating", "running hot"),
        finding("metal_in_oil", "Metal in the oil", "glitter in the oil"),
    ],
    causes=[
        cause("hp_oil_pump_worn", "High-pressure oil pump worn", "high-pressure oil pump"),
        cause("o_ring_leaks", "Injector O-ring leaks", "injector o-ring"),
    ],
    states=[access("valve_cover_off", "valve cover off"), access("sump_off", "sump off")],
)


def clear_id(resolution: Resolution) -> str | None:
    return resolution.clear.id if resolution.clear else None


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("cranks_no_start", "cranks_no_start"),
        ("Oil in the Coolant", "oil_in_coolant"),
        ("ICP low", "actuation_pressure_low"),
        ("white  smoke while cranking", "white_smoke_cranking"),
        ("low icp", "actuation_pressure_low"),  # order turned
        ("low injection control presure", "actuation_pressure_low"),  # written out, misspelt
        ("smoke white cranking", "white_smoke_cranking"),
        ("oil in cooland", "oil_in_coolant"),
        ("coolent in oil", "coolant_in_oil"),
        ("antifreeze in the oil", "coolant_in_oil"),
        ("over heating", "overheats"),  # cut in two
        ("glitter in oil", "metal_in_oil"),
        ("oil floating in rad", "oil_in_coolant"),
    ],
)
def test_a_clear_text_resolves_to_the_finding(typed: str, meant: str) -> None:
    assert clear_id(resolve(KNOWN, typed)) == meant


def test_a_rare_fragment_is_first_but_asked_about() -> None:
    resolution = resolve(KNOWN, "glitter")
    assert resolution.clear is None
    assert [match.id for match in resolution.close] == ["metal_in_oil"]


def test_fluids_turned_round_are_told_apart() -> None:
    assert find(KNOWN, "oil into coolant")[0].id == "oil_in_coolant"
    assert find(KNOWN, "coolant into oil")[0].id == "coolant_in_oil"


@pytest.mark.parametrize("typed", ["oil", "cranking", "smoke", "oil coolant"])
def test_a_vague_text_asks(typed: str) -> None:
    resolution = resolve(KNOWN, typed)
    assert resolution.clear is None
    assert len(resolution.close) >= 2


@pytest.mark.parametrize("typed", ["", "   ", "?!", "xyzzy plugh", "the", "tyre flat"])
def test_a_foreign_text_finds_nothing(typed: str) -> None:
    assert resolve(KNOWN, typed) == Resolution(typed, None, ())


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("no start", "cranks_no_start"),
        ("won't start", "cranks_no_start"),
        ("no oil pressure", "no_oil_pressure"),
        ("no oil presure", "no_oil_pressure"),
        ("no fuel", "tank_empty"),
        ("no smoke cranking", "no_smoke_cranking"),
    ],
)
def test_a_negative_finding_wins_as_itself(typed: str, meant: str) -> None:
    resolution = resolve(KNOWN, typed)
    assert (clear_id(resolution), resolution.negated) == (meant, False)


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("no white smoke while cranking", "white_smoke_cranking"),
        ("not overheating", "overheats"),
        ("without metal in the oil", "metal_in_oil"),
        ("never running hot", "overheats"),
        ("no sign of oil in the coolant", "oil_in_coolant"),
        ("there is no milky oil", "coolant_in_oil"),
    ],
)
def test_negation_is_taken_off_as_a_hint(typed: str, meant: str) -> None:
    resolution = resolve(KNOWN, typed)
    assert (clear_id(resolution), resolution.negated) == (meant, True)


@pytest.mark.parametrize("typed", ["no actuation pressure", "no actuation pressure cranking", "no icp"])
def test_no_pressure_is_never_read_as_pressure_not_low(typed: str) -> None:
    """No pressure is the worst kind of low pressure: "low pressure: not found" would mislead."""
    resolution = resolve(KNOWN, typed)
    assert not resolution.negated
    assert "actuation_pressure_low" in [match.id for match in resolution.close]


def test_a_condition_is_not_taken_for_its_stored_code() -> None:
    assert clear_id(resolve(KNOWN, "high icp")) is None
    assert clear_id(resolve(KNOWN, "code high icp")) == "actuation_high_code"


def test_the_positive_is_not_taken_for_the_negative() -> None:
    assert clear_id(resolve(KNOWN, "oil pressure low")) == "oil_pressure_low"
    assert clear_id(resolve(KNOWN, "start")) is None


def test_one_alias_for_two_findings_asks() -> None:
    twins = knowledge([finding("a_one", "First", "same words"), finding("b_two", "Second", "same words")])
    resolution = resolve(twins, "same words")
    assert resolution.clear is None
    assert {match.id for match in resolution.close} == {"a_one", "b_two"}


def test_matches_carry_kind_and_phrase() -> None:
    match = find(KNOWN, "icp low")[0]
    assert (match.id, match.kind, match.phrase, match.score) == (
        "actuation_pressure_low", "reading", "icp low", 100.0,
    )  # fmt: skip


def test_other_things_are_found_by_name_part_or_id() -> None:
    assert clear_id(resolve_any(KNOWN, "valve cover", ["access"])) == "valve_cover_off"
    assert clear_id(resolve_any(KNOWN, "hpop", ["causes"])) == "hp_oil_pump_worn"
    assert find_any(KNOWN, "injector oring")[0].id == "o_ring_leaks"
    assert find_any(KNOWN, "sump_off")[0].score == 100
    assert resolve_any(KNOWN, "valve cover", ["causes"]).clear is None


@given(st.text(max_size=60))
def test_any_text_is_answered_in_order_and_range(text: str) -> None:
    scores = [match.score for match in find(KNOWN, text)]
    assert scores == sorted(scores, reverse=True)
    assert all(0 < score <= 100 for score in scores)


@given(st.sampled_from(sorted(KNOWN.findings.values(), key=lambda known: known.id)), st.data())
def test_every_name_alias_and_id_is_clear(known: object, data: st.DataObject) -> None:
    thing = KNOWN.findings[known.id]  # type: ignore[attr-defined]
    phrase = data.draw(st.sampled_from([thing.id, thing.name, *thing.aliases]))
    assert clear_id(resolve(KNOWN, phrase.upper())) == thing.id


def test_large_knowledge_is_searched_fast() -> None:
    """500 findings with 5 aliases each: a search takes well under 30 ms. Counted in calls of functions, a million
    of which take some 100 ms, so that a busy machine changes nothing."""
    parts = ["oil", "fuel", "coolant", "boost", "valve", "pump", "rail", "filter", "sensor", "injector"]
    signs = ["low", "high", "leaks", "noisy", "hot", "cold", "worn", "stuck", "dirty", "empty"]
    wheres = ["cranking", "idle", "under load", "on hills", "after shutdown"]
    names = [f"{part} {sign} {where}" for part in parts for sign in signs for where in wheres]
    large = knowledge(
        finding(f"f{i}", name, *(f"{name} {word}" for word in ("again", "bad", "in bay", "seen", "now")))
        for i, name in enumerate(names)
    )
    find(large, "build the index")
    queries = ["coolent leaks on hill", "no rail pressure cranking low", "injector stuck hot idle worn"]
    assert max(_calls(large, query) for query in queries) < 150_000


def _calls(large: Knowledge, query: str) -> int:
    profile = Profile()
    assert profile.runcall(find, large, query)
    return sum(entry.callcount for entry in profile.getstats())
