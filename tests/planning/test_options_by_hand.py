"""What can be done in a case and what not, one reason after the other, on records made by hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import pytest

from diagnose.cases.case import fold
from diagnose.cases.events import Checked, Event, Learnt, Noted, Opened, OpenedUp, Repaired
from diagnose.diagnosis import Diagnosis, diagnose
from diagnose.knowledge.records import Access, Check, Cure, Finding, Hazard, Knowledge, Repair
from diagnose.planning.options import (
    CheckOption,
    access_path,
    all_hazards,
    check_options,
    empty_handed,
    held_back,
    lost_now,
    not_now,
    open_states,
    redundant,
    repair_options,
    seen_doing,
    suspected,
)
from tests.knowledge_by_hand import HERE, cause, fact, finding, knowledge, number, only, times
from tests.planning.test_away import part
from tests.planning.test_running_by_hand import look

ROUGH = Noted("rough", "present")


def of_kind(id: str, kind: str, leak: float = 0.01, **rest: Any) -> Finding:
    return replace(finding(id, leak), kind=kind, **rest)


def state(id: str, *needs: str, minutes: float = 5, **rest: Any) -> Access:
    return Access(id, id, needs, minutes, 5, rest.pop("hazards", ()), HERE, **rest)


ACCESS = {
    one.id: one
    for one in (
        state("cover", hazards=("crush",)), state("inner", "cover", hazards=("burn", "crush")),
        state("head", "inner", without=("cranking",)), state("side"),
    )
}  # fmt: skip


def world(*checks: Check, hazards: Sequence[Hazard] = (), repairs: Sequence[Repair] = ()) -> Knowledge:
    plain = knowledge(
        cause("loose", 0.2, {
            "rough": 0.9, "shakes": 0.8, "told": 0.5, "squeaks": 0.5, "code": 0.5, "gauge": 0.5, "stuck": 0.3,
            "under_load": 0.5, "cranks_badly": 0.5,
        }, modifiers=times(duty={"road": 3.0})),
        cause("faint", 0.2, {"rough": 0.9, "told_faintly": 0.049, "told_enough": 0.05}),
        cause("lamp", 0.2, {"dark": 0.9, "told_of_lamps": 0.9}),
        of_kind("rough", "symptom"), of_kind("dark", "inspection"), of_kind("squeaks", "symptom"),
        of_kind("shakes", "symptom", kind_of=("rough",)),
        of_kind("told", "question"), of_kind("told_faintly", "question"), of_kind("told_enough", "question"),
        of_kind("told_of_lamps", "question"),
        of_kind("code", "code"), of_kind("gauge", "reading"), of_kind("nobody", "symptom"),
        of_kind("stuck", "symptom", without=("cranking",)),
        of_kind("under_load", "symptom", wants=("load",)), of_kind("cranks_badly", "symptom", wants=("cranking",)),
        fact("duty", {"road": 0.5, "yard": 0.5}),
        fact("tank", {"one": 0.5, "two": 0.5}),
    )  # fmt: skip
    return replace(
        plain,
        checks={one.id: one for one in checks},
        access=ACCESS,
        hazards={one.id: one for one in hazards},
        repairs={one.id: one for one in repairs},
    )


def seen(known: Knowledge, *events: Event, facts: dict[str, str] | None = None) -> Diagnosis:
    told = [Opened("M-1", facts=facts or {}), *events]
    return diagnose(known, fold(1, [replace(event, sequence=n) for n, event in enumerate(told, 1)]))


def options(known: Knowledge, *events: Event, **rest: Any) -> dict[str, CheckOption]:
    return {one.id: one for one in check_options(seen(known, *events, **rest))}


# ---- looks and questions without a procedure ----


def test_what_anyone_can_look_or_ask_for_and_in_how_many_minutes() -> None:
    found = options(world(), ROUGH)
    assert {id: (one.minutes, one.name) for id, one in found.items()} == {
        "look:squeaks": (2, "Look: squeaks?"),
        "look:shakes": (2, "Look: shakes?"),
        "look:told": (1, "Ask: told?"),
        "look:told_enough": (1, "Ask: told_enough?"),
        "look:code": (3, "Read the codes: code?"),
        "look:stuck": (2, "Look: stuck?"),
        "look:under_load": (2, "Look: under_load?"),
        "look:cranks_badly": (2, "Look: cranks_badly?"),
        "ask:duty": (1, "Ask: "),
    }
    assert [found[id].asked for id in ("look:squeaks", "look:told")] == ["squeaks?", "told?"]
    duty = replace(world().facts["duty"], question="Which duty?")
    asked = options(replace(world(), facts={"duty": duty}), ROUGH)["ask:duty"]
    assert (asked.name, asked.asked) == ("Ask: which duty?", "which duty?")
    assert found["look:told"].findings == ("told",)
    assert found["look:told"].check is None
    assert (found["look:told"].wait, found["look:told"].own_hazards) == (0.0, ())


def test_a_symptom_wants_what_it_shows_under_and_the_engine_whole_for_it() -> None:
    found = options(world(), ROUGH)
    assert found["look:under_load"].wants == ("load",)
    assert found["look:under_load"].shut == {"head"}
    assert (found["look:told"].wants, found["look:told"].shut) == ((), frozenset())
    assert "look:under_load" not in options(world(), ROUGH, OpenedUp("head"))
    assert "look:cranks_badly" not in options(world(), ROUGH, Noted("stuck", "present"))
    assert "look:squeaks" in options(world(), ROUGH, OpenedUp("head"))


def test_what_is_known_was_done_or_is_said_more_closely_is_not_looked_for() -> None:
    assert "look:rough" not in options(world(), Noted("shakes", "present"))  # the general of what was found
    assert "look:rough" in options(world(), Noted("squeaks", "present"))
    assert "look:squeaks" not in options(world(), ROUGH, Noted("squeaks", "absent"))
    assert "look:code" not in options(world(), ROUGH, Checked("look:code"))


def test_a_person_is_asked_for_what_a_cause_in_question_brings_about() -> None:
    """told_faintly hangs on a cause with less than 0.05, told_of_lamps on one that is not behind it; where
    nothing was found, all is asked."""
    found = options(world(), ROUGH)
    assert "look:told_faintly" not in found
    assert "look:told_of_lamps" not in found
    assert {"look:told_faintly", "look:told_of_lamps"} <= set(options(world()))


def test_only_the_first_twenty_causes_and_those_of_one_per_cent_are_asked_for() -> None:
    """24 causes of a complaint, all alike but for four that are rare: 20 or so have about 5 %, the four far
    less."""
    many = [cause(f"c{n:02}", 0.1, {"rough": 0.9, f"t{n:02}": 0.9}) for n in range(20)]
    rare = [cause(f"r{n}", 0.0001, {"rough": 0.9, f"s{n}": 0.9}) for n in range(2)]
    some = [cause(f"m{n}", 0.06, {"rough": 0.9, f"u{n}": 0.9}) for n in range(2)]
    told = [of_kind(link.effect, "question") for one in (*many, *rare, *some) for link in one.leads_to[1:]]
    known = knowledge(*many, *rare, *some, of_kind("rough", "symptom", 0.001), *told)
    asked = set(options(known, ROUGH))
    assert {f"look:t{n:02}" for n in range(20)} <= asked
    assert {"look:u0", "look:u1"} <= asked
    assert not {"look:s0", "look:s1"} & asked


def test_what_was_told_before_a_repair_is_not_asked_again_but_looked_for() -> None:
    before = (ROUGH, Noted("told", "absent"), Noted("squeaks", "absent"), Repaired((), ("loose",)), ROUGH)
    found = options(world(), *before)
    assert "look:told" not in found
    assert "look:squeaks" in found


def test_facts_that_bear_on_it_are_asked_for_once() -> None:
    assert "ask:tank" not in options(world(), ROUGH)
    assert "ask:duty" not in options(world(), ROUGH, facts={"duty": "road"})
    assert "ask:duty" not in options(world(), ROUGH, Learnt({"duty": "road"}))
    assert "ask:duty" not in options(world(), ROUGH, Checked("ask:duty"))
    assert "ask:duty" not in options(world(), ROUGH, Checked("ask:duty"), Repaired((), ("lamp",)), ROUGH)
    assert "ask:duty" not in options(world(), Noted("dark", "present"))  # no matter of the duty


# ---- checks ----


def test_a_check_with_what_it_reveals_still() -> None:
    check = look(
        "open_it", 20, "gauge", "squeaks", access=("inner",), hazards=("jet",), wants=("load",), wait=2.0
    )
    one = options(world(check), ROUGH, Noted("squeaks", "absent"))["open_it"]
    assert one == CheckOption(
        "open_it", "open_it", 20, check, ("gauge",), ("inner",), ("jet", "crush", "burn"), ("load",),
        frozenset({"head"}),
    )  # fmt: skip
    assert (one.own_hazards, one.wait) == (("jet",), 2.0)
    assert "look:squeaks" not in options(world(check), ROUGH)  # the check reveals it


@pytest.mark.parametrize(
    ("events", "more", "there"),
    [
        ((), {}, True),
        ((Checked("gauge_it"),), {}, False),
        ((Checked("gauge_it"), Repaired((), ("lamp",)), ROUGH), {}, True),
        ((Noted("gauge", "absent"),), {}, False),
        ((OpenedUp("head"),), {"wants": ("running",)}, False),
        ((OpenedUp("inner"),), {"wants": ("running",)}, True),
        ((Noted("stuck", "present"),), {"wants": ("load",)}, False),
        ((), {"only_if": only(duty=["road"])}, True),
        ((Learnt({"duty": "yard"}),), {"only_if": only(duty=["road"])}, False),
    ],
)
def test_when_a_check_is_offered(events: Sequence[Event], more: dict[str, Any], there: bool) -> None:
    check = replace(look("gauge_it", 20, "gauge"), **more)
    assert ("gauge_it" in options(world(check), ROUGH, *events)) is there


def test_what_takes_nothing_in_hand() -> None:
    assert empty_handed(look("x", 1, "told"))
    for more in ({"tools": ("lamp",)}, {"access": ("cover",)}, {"wants": ("load",)}):
        assert not empty_handed(look("x", 1, "told", **more))


def test_a_part_is_taken_out_in_its_check_and_by_itself_once_that_was_done() -> None:
    """What rattles is looked at with the belt off: in the check that takes it off, before; in its own minutes where
    there is none; where it needs none, in no time."""
    listen = look("listen", 20, "gauge", hazards=("jet",))
    known = replace(world(listen), removable={"belt": part("belt", {"loose": 1.0}, by=("listen",))})
    before, after = options(known, ROUGH), options(known, ROUGH, Checked("listen"))
    assert "try:belt" not in before
    assert {"gauge", "rough@belt"} <= set(before["listen"].findings)
    assert "listen" not in after
    tried = after["try:belt"]
    assert (tried.minutes, tried.hazards, tried.name) == (20, ("jet",), "Try with belt off")
    assert "rough@belt" in tried.findings
    for minutes, taken in ((number(10), 10), (None, 0)):
        alone = part("belt", {"loose": 1.0}, minutes=minutes, access=("inner",), wants=("load",))
        one = options(replace(known, removable={"belt": alone}), ROUGH)["try:belt"]
        assert (one.minutes, one.access, one.wants, one.shut) == (
            taken,
            ("inner",),
            ("load",),
            frozenset({"head"}),
        )
        assert one.hazards == ("crush", "burn")


# ---- what the machine can do ----


def test_what_it_has_lost_and_what_it_was_seen_to_do() -> None:
    known = world(look("crank_it", 5, "gauge", wants=("running",)))
    assert lost_now(seen(known, ROUGH)) == frozenset()
    assert lost_now(seen(known, OpenedUp("head"))) == {"cranking", "running", "load"}
    assert lost_now(seen(known, Noted("stuck", "present"))) == {"cranking", "running", "load"}
    assert seen_doing(seen(known, ROUGH)) == frozenset()
    assert seen_doing(seen(known, Noted("under_load", "present"))) == {"load", "running", "cranking"}
    assert seen_doing(seen(known, Noted("under_load", "absent"))) == frozenset()
    assert seen_doing(seen(known, ROUGH, Checked("crank_it"))) == {"running", "cranking"}
    assert seen_doing(seen(known, ROUGH, Checked("crank_it"), OpenedUp("head"))) == frozenset()
    assert "stuck" in not_now(seen(known, Noted("cranks_badly", "present")))
    assert "stuck" not in not_now(seen(known, ROUGH))
    assert "under_load" in not_now(seen(known, Noted("stuck", "present")))


def test_the_way_in_and_its_hazards() -> None:
    known = world()
    assert [one.id for one in access_path(known, ["head", "side", "cover"], ())] == [
        "cover",
        "inner",
        "head",
        "side",
    ]
    assert [one.id for one in access_path(known, ["head"], ["cover"])] == ["inner", "head"]
    assert open_states(known, ["inner"]) == {"inner", "cover"}
    assert all_hazards(known, ["burn"], ["inner", "side"]) == ("burn", "crush")
    assert all_hazards(known, ["burn", "jet"], ["cover"]) == ("burn", "jet", "crush")


# ---- stops ----


def hazard(**rest: Any) -> Hazard:
    values: dict[str, Any] = {"suspect": ("rough",), "above": 0.5, **rest}
    return Hazard("liquid", "Liquid", "", "", (), True, HERE, **values)


@pytest.mark.parametrize(
    ("how", "events", "live"),
    [
        ({}, (ROUGH,), True),
        ({"above": 1.0}, (ROUGH,), False),
        ({"suspect": ("squeaks", "rough")}, (ROUGH,), True),
        ({"suspect": ("unheard_of",)}, (ROUGH,), False),
        ({"suspect": ()}, (ROUGH,), False),
        ({"cleared_by": ("bar", "open")}, (ROUGH, Checked("bar")), False),
        ({"cleared_by": ("bar",)}, (ROUGH, Checked("other")), True),
        ({"cleared_by": ("bar",)}, (ROUGH, Checked("bar"), Repaired((), ("lamp",)), ROUGH), True),
        ({"forbids": ("running", "load")}, (ROUGH, OpenedUp("head")), False),
        ({"forbids": ("running", "coolant")}, (ROUGH, OpenedUp("head")), True),
        ({"forbids": ()}, (ROUGH, OpenedUp("head")), True),
    ],
)
def test_a_stop_is_suspected_until_it_is_ruled_out(
    how: dict[str, Any], events: Sequence[Event], live: bool
) -> None:
    found = suspected(seen(world(hazards=[hazard(**how)]), *events))
    assert [one.id for one in found] == (["liquid"] if live else [])


@pytest.mark.parametrize(("state", "live"), [("gone", False), ("still there", True)])
def test_what_was_gone_with_a_part_out_is_suspected_of_nothing_else(state: str, live: bool) -> None:
    """What rattles with the belt off sits elsewhere."""
    known = replace(world(hazards=[hazard(above=0.0)]), removable={"belt": part("belt", {"loose": 1.0})})
    found = suspected(seen(known, ROUGH, Noted("rough@belt", state)))
    assert bool(found) is live


@pytest.mark.parametrize(
    ("named", "id", "wants", "held"),
    [
        (("liquid",), "x", (), True),
        (("jet",), "x", (), True),
        (("burn",), "x", (), False),
        (("liquid",), "bar", (), False),
        ((), "x", ("cranking",), True),
        ((), "x", ("load",), True),
        ((), "x", ("oil",), False),
        ((), "bar", ("cranking",), False),
    ],
)
def test_what_a_stop_holds_back(named: Sequence[str], id: str, wants: Sequence[str], held: bool) -> None:
    stop = hazard(blocks=("jet",), forbids=("cranking",), cleared_by=("bar",))
    assert held_back(named, id, [stop], wants) is (stop if held else None)
    other = replace(stop, id="none", blocks=(), forbids=())
    assert held_back(named, id, [other, stop], wants) is (stop if held else None)


# ---- repairs ----


def repair(id: str, *cures: tuple[str, float], **rest: Any) -> Repair:
    values: dict[str, Any] = {"together": (), "only_if": (), **rest}
    made = tuple(Cure(one, number(p), HERE) for one, p in cures)
    return Repair(
        id=id, name=id, system="test", minutes=number(5), access=(), hazards=(), parts=(), cures=made, infant=None,
        verify=(), place=HERE, **values,
    )  # fmt: skip


def test_repairs_of_what_can_be_behind_it_that_fit_the_machine() -> None:
    repairs = [
        repair("tighten", ("loose", 0.9)), repair("bulb", ("lamp", 1.0)),
        repair("both", ("lamp", 1.0), ("loose", 0.1)),
        repair("road", ("loose", 0.9), only_if=only(duty=["road"])),
    ]  # fmt: skip
    known = world(repairs=repairs)
    assert [one.id for one in repair_options(seen(known, ROUGH))] == ["tighten", "both", "road"]
    yard = seen(known, ROUGH, facts={"duty": "yard"})
    assert [one.id for one in repair_options(yard)] == ["tighten", "both"]


def test_a_repair_that_adds_nothing() -> None:
    one, less = repair("one", ("a", 0.9), ("b", 0.8)), repair("less", ("a", 0.94))
    assert redundant([one, less])
    assert redundant([less, one])
    assert not redundant([one, repair("more", ("a", 0.96))])
    assert not redundant([one, repair("other", ("a", 0.9), ("c", 0.1))])
    assert not redundant([replace(one, together=("less",)), less])
    assert not redundant([one])
