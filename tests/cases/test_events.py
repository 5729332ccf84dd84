import json
from dataclasses import replace

import pytest
from hypothesis import given

from diagnose.cases.events import (
    KINDS,
    VERSION,
    Event,
    EventError,
    Learnt,
    NewerEvent,
    Noted,
    Opened,
    from_json,
    to_json,
)
from tests.cases.strategies import calm, histories


@calm
@given(histories())
def test_every_event_survives_its_json(events: tuple[Event, ...]) -> None:
    assert tuple(from_json(to_json(event)) for event in events) == events


@calm
@given(histories())
def test_json_is_canonical(events: tuple[Event, ...]) -> None:
    for event in events:
        text = to_json(event)
        assert text == json.dumps(json.loads(text), sort_keys=True, separators=(",", ":"))
        assert text.isascii()


def test_equal_events_have_one_text() -> None:
    one = Learnt(facts={"a": "1", "b": "2"}, hours=9800)
    other = Learnt(facts={"b": "2", "a": "1"}, hours=9800.0)
    assert to_json(one) == to_json(other)


def test_the_text_of_a_kind_stays_as_it_is() -> None:
    """A stored text is hashed: if this changes, old stores still hold, but raise VERSION and say why."""
    noted = Noted("a", "low", "likely", "a bit low", 2.1, "MPa", sequence=3, time="t", knowledge="k")
    assert to_json(noted) == (
        '{"code":"","confidence":"likely","finding":"a","kind":"noted","knowledge":"k","sequence":3,'
        '"state":"low","text":"a bit low","time":"t","unit":"MPa","value":2.1,"version":1}'
    )


def test_who_noted_it_is_written_where_somebody_says_and_old_programs_see_that_it_is_new() -> None:
    text = to_json(Noted("a", "low", by="Ann"))
    assert from_json(text).by == "Ann"
    assert json.loads(text)["version"] == VERSION + 1
    assert "by" not in json.loads(to_json(Noted("a", "low")))


def changed(**values: object) -> str:
    return json.dumps(json.loads(to_json(Noted("a", "present"))) | values)


@pytest.mark.parametrize("text", [changed(kind="vibrated"), changed(version=VERSION + 2)])
def test_an_event_of_a_newer_program_is_named_as_such(text: str) -> None:
    with pytest.raises(NewerEvent, match="newer program"):
        from_json(text)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "[]",
        "{}",
        "nul",
        "[" * 100_000,
        changed(confidence="certain"),
        changed(value="2.1"),
        changed(value=True),
        changed(sequence=-1),
        changed(sequence=1.0),
        changed(version="1"),
        changed(version=True),
        changed(finding=None),
        changed(surprise=1),
        changed(value=float("nan")),
        json.dumps({"kind": "noted", "version": 1, "finding": "a"}),
        json.dumps({"kind": "opened", "version": 1, "machine": "D-07", "facts": {"a": 1}}),
        json.dumps({"kind": "repaired", "version": 1, "repairs": "replace_pump"}),
    ],
)
def test_what_is_no_event_is_refused(text: str) -> None:
    with pytest.raises(EventError) as caught:
        from_json(text)
    assert not isinstance(caught.value, NewerEvent)


@pytest.mark.parametrize("value", [float("nan"), float("inf"), "2", True])
def test_a_value_that_is_no_number_is_not_written(value: float) -> None:
    with pytest.raises(EventError, match="value"):
        to_json(Noted("a", "low", value=value))


def test_a_text_without_later_fields_takes_their_defaults() -> None:
    assert from_json('{"kind":"opened","version":1,"machine":"D-07"}') == Opened("D-07")


def test_kinds_are_named_once() -> None:
    assert len(KINDS) == 12
    assert all(from_json(to_json(replace(Noted("a", "b"), sequence=n))).sequence == n for n in (0, 7))
