"""What was done or learnt: the event, and the words on it."""

from __future__ import annotations

from diagnose.cases.events import Checked, Learnt, Noted, OpenedUp, Repaired
from diagnose.intake.done import checked, learnt, opened, remarked, repaired
from diagnose.intake.outcome import Intake, several, together, unknown
from tests.intake.engine import case, engine

KNOWN = engine()
VERSION = KNOWN.version


def test_facts_learnt() -> None:
    facts = {"system": "24 V", "cylinders": "8"}
    found = learnt(KNOWN, facts, "by the plate", "2024-05-01T10:00:00Z")
    assert found.events == (
        Learnt(facts, text="by the plate", knowledge=VERSION, time="2024-05-01T10:00:00Z"),
    )
    assert found.words == ("Machine: system: 24 V; cylinders: 8 (by the plate)",)
    plain = learnt(KNOWN, {"system": "12 V"})
    assert plain == Intake((Learnt({"system": "12 V"}, knowledge=VERSION),), ("Machine: system: 12 V",))


def test_a_remark() -> None:
    assert remarked(KNOWN, "came on a low loader") == Intake(
        (Learnt(text="came on a low loader", knowledge=VERSION),), ("Remark: came on a low loader",)
    )


def test_a_check_done_opens_what_was_not_open() -> None:
    found = checked(KNOWN, case(OpenedUp("cover")), "look", "dry")
    assert found.events == (Checked("look", "dry", knowledge=VERSION), OpenedUp("sump", knowledge=VERSION))
    assert found.words == ("Done: Look inside", "Open now: sump off")


def test_what_was_opened() -> None:
    assert opened(KNOWN, "sump") == Intake((OpenedUp("sump", knowledge=VERSION),), ("Open now: sump off",))


def test_repairs_and_causes_dealt_with_are_told_once_each() -> None:
    found = repaired(KNOWN, ["belt_new", "belt_kit", "belt_new", "bearing", "stretched"], "tried")
    assert found.events == (
        Repaired(("belt_new", "belt_kit"), ("stretched", "bearing"), text="tried", knowledge=VERSION),
    )
    assert found.words == (
        "Repaired: Renew belt_new", "Repaired: Renew belt_kit", "Repaired: bearing", "Repaired: stretched"
    )  # fmt: skip


def test_several_things_are_kept_in_their_order() -> None:
    one, two = Intake((Noted("rattle", "present"),), ("a", "b")), Intake((OpenedUp("sump"),), ("c",))
    assert together([one, two]) == Intake((*one.events, *two.events), ("a", "b", "c"))
    assert "blah" in str(unknown("blah"))
    assert "blah" in several("blah")
