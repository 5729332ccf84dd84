"""How events are written and what is refused, kind by kind."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import pytest

from diagnose.cases.events import (
    KINDS,
    VERSION,
    Closed,
    Event,
    EventError,
    Learnt,
    Measured,
    NewerEvent,
    Noted,
    Opened,
    Repaired,
    Waits,
    Withdrawn,
    checked,
    from_json,
    to_json,
)

EVENTS = (
    Opened("D-07", facts={"duty": "road"}, hours=5, renewed={"pump": 4}, inspection=True, last_right=0),
    Noted("hiss", "loud", place="cylinder 4"),
    Noted("hiss", "loud"),
    Measured("rail", 1.0, "MPa"),
    Repaired(("weld",), ("crack",), ("sump",)),
    Learnt({"duty": "road"}, 9.0, {"belt": 0.0}),
    Withdrawn(3),
    Closed(("a", "b"), "by sight", True, otherwise={"b": "by repair"}),
    Waits("parts"),
)


@pytest.mark.parametrize("event", EVENTS)
def test_written_and_read(event: Event) -> None:
    """The version is one more where somebody is named; of three kinds it is the second, of a finding without a
    place the first, as programs of before wrote it."""
    second = event.kind in ("opened", "fact") or (isinstance(event, Noted) and bool(event.place))
    values = json.loads(to_json(event))
    assert from_json(to_json(event)) == event
    assert values["version"] == VERSION + second
    assert "by" not in values
    assert ("place" in values) == (isinstance(event, Noted) and bool(event.place))
    named = json.loads(to_json(replace(event, by="Ann")))
    assert (named["version"], named["by"]) == (VERSION + second + 1, "Ann")


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_versions_up_to_one_more_than_its_own_are_read(kind: str) -> None:
    """One more where somebody is named; what is newer still is another program's."""
    own = VERSION + (kind in ("opened", "fact", "noted"))
    for version in range(1, own + 2):
        with pytest.raises(EventError) as error:
            from_json(json.dumps({"kind": kind, "version": version, "surprise": 1}))
        assert not isinstance(error.value, NewerEvent)
    with pytest.raises(NewerEvent, match=f"“{kind}”, version {own + 2}"):
        from_json(json.dumps({"kind": kind, "version": own + 2}))


@pytest.mark.parametrize(
    ("name", "kind", "given", "read"),
    [
        ("hours", "opened", 5, 5.0),
        ("hours", "opened", None, None),
        ("facts", "opened", {"a": "b"}, {"a": "b"}),
        ("renewed", "opened", {"a": 1}, {"a": 1.0}),
        ("causes", "closed", ["a", "b"], ("a", "b")),
        ("otherwise", "closed", {"a": "assumed"}, {"a": "assumed"}),
        ("event", "withdrawn", 0, 0),
        ("inspection", "opened", True, True),
        ("reason", "waits", "", ""),
        ("value", "measured", -2, -2.0),
    ],
)
def test_a_value_that_fits(name: str, kind: str, given: object, read: object) -> None:
    found = checked(given, name, kind)
    assert (found, type(found)) == (read, type(read))


@pytest.mark.parametrize(
    ("name", "kind", "given"),
    [
        ("hours", "opened", True),
        ("hours", "opened", "5"),
        ("hours", "opened", float("inf")),
        ("hours", "opened", 10**400),
        ("value", "measured", None),
        ("facts", "opened", {"a": 1}),
        ("facts", "opened", {1: "a"}),
        ("facts", "opened", [["a", "b"]]),
        ("renewed", "opened", {"a": "b"}),
        ("causes", "closed", "ab"),
        ("causes", "closed", [1]),
        ("otherwise", "closed", {"a": "sure"}),
        ("confirmed", "closed", "sure"),
        ("confidence", "noted", "assumed"),
        ("event", "withdrawn", -1),
        ("event", "withdrawn", True),
        ("event", "withdrawn", 1.0),
        ("inspection", "opened", 1),
        ("reason", "waits", "rain"),
        ("finding", "noted", 3),
        ("surprise", "noted", 3),
    ],
)
def test_a_value_that_does_not_fit_is_named(name: str, kind: str, given: Any) -> None:
    with pytest.raises(EventError, match=f"“{name}”") as error:
        checked(given, name, kind)
    assert f"“{kind}”" in str(error.value)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('{"version":1,"finding":"a","state":"b"}', "no kind and version"),
        ('{"kind":"noted","finding":"a","state":"b"}', "no kind and version"),
        ('{"kind":1,"version":1}', "no kind and version"),
        ('{"kind":"noted","version":1.0}', "no kind and version"),
        ('{"kind":"noted","version":1,"finding":"a"}', "“noted” event lacks its “state”"),
        ('{"kind":"closed","version":1}', "“closed” event lacks its “causes”"),
        ("[1]", "not a JSON object"),
        ("{", "this is no event"),
    ],
)
def test_what_is_no_event_says_why(text: str, says: str) -> None:
    with pytest.raises(EventError, match=says) as error:
        from_json(text)
    assert not isinstance(error.value, NewerEvent)


def test_texts_enter_on_one_line() -> None:
    """Wherever they stand; what needs no change stays the very same object."""
    event = Opened("D\n07", facts={"du\nty": "ro\tad"}, by="A\nnn", time="no\nw", knowledge="k\n1")
    assert (event.machine, event.facts) == ("D 07", {"du ty": "ro ad"})
    assert (event.by, event.time, event.knowledge) == ("A nn", "no w", "k 1")
    assert Repaired(("a", "b\nc")).repairs == ("a", "b c")
    facts, repairs = {"duty": "road"}, ("a", "b")
    assert Opened("D-07", facts=facts).facts is facts
    assert Repaired(repairs).repairs is repairs


def test_the_text_is_ascii_and_what_nobody_says_is_said_as_nothing() -> None:
    """Version 1 is what stores hold: another one would be another meaning."""
    text = to_json(Noted("é", "loud"))
    assert text.isascii()
    assert json.loads(text) == {
        "kind": "noted", "version": 1, "finding": "é", "state": "loud", "confidence": "sure", "text": "",
        "value": None, "unit": "", "code": "", "sequence": 0, "time": "", "knowledge": "",
    }  # fmt: skip
    assert (Opened("D-07").inspection, Closed(("a",)).proven) == (False, False)


def test_each_cause_is_confirmed_in_its_own_way() -> None:
    closed = Closed(("a", "b"), "by sight", otherwise={"b": "by repair"})
    assert (closed.how("a"), closed.how("b")) == ("by sight", "by repair")
