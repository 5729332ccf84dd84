"""What a bus log says, as plain JSON values: the contract of `codes --json`."""

from __future__ import annotations

from diagnose.codes.dtc import Dtc
from diagnose.codes.frames import NO_TIME
from diagnose.codes.log_survey import LogSurvey
from diagnose.codes.parameters import BusReading, ValueRange
from diagnose.codes.timeline import ModuleCodes, SeenCode, Sighting
from diagnose.codes.typed import explain, findings_for, parse_code
from diagnose.knowledge.records import Knowledge
from diagnose.report.data import Json, recorded
from diagnose.report.kept import Noting


def survey_data(knowledge: Knowledge, name: str, found: LogSurvey, noting: Noting | None) -> Json:
    """The whole result; times in seconds as in the log, null where it has none."""
    values: Json = {
        "file": name,
        "frames": found.frames,
        "skipped": found.skipped,
        "broken": found.broken,
        "backwards": found.backwards,
        "modules": [_module(knowledge, one) for one in found.modules],
        "troubles": [
            {"channel": t.module.channel, "address": t.module.address, "what": t.what, "times": t.times}
            | {"first": _time(t.first)}
            for t in found.troubles
        ],
        "readings": [_reading(one) for one in found.readings],
        "cranked": found.cranked,
    }
    if noting:
        kept = noting.kept
        values["noted"] = recorded(kept.number, kept.sequences, kept.events, kept.words)
        values["left_out"] = list(noting.left_out)
    return values


def used_by(knowledge: Knowledge, seen: SeenCode) -> tuple[str, ...]:
    """The findings that a code stands for; none where it is not sound or no finding lists it."""
    return findings_for(knowledge, parse_code(seen.text)) if seen.dtc.sound else ()


def _module(knowledge: Knowledge, one: ModuleCodes) -> Json:
    return {
        "channel": one.module.channel,
        "address": one.module.address,
        "lists": [
            {"status": s.status, "read": s.read, "whole": s.whole, "state": s.state}
            | {"lamps": [{"name": lamp.name, "state": lamp.state, "flash": lamp.flash} for lamp in s.lamps]}
            for s in one.lists
        ],
        "codes": [_code(knowledge, seen) for seen in one.codes],
        "freeze_frames": [_dtc(frame.code) | {"values": frame.values.hex()} for frame in one.freeze_frames],
    }


def _code(knowledge: Knowledge, seen: SeenCode) -> Json:
    sound = seen.dtc.sound
    return _dtc(seen.dtc) | {
        "code": seen.text if sound else None,
        "words": explain(parse_code(seen.text)) if sound else "",
        "findings": list(used_by(knowledge, seen)),
        "sightings": [_sighting(one) for one in seen.sightings],
    }


def _dtc(dtc: Dtc) -> Json:
    return {"raw": dtc.raw.hex(), "spns": list(dtc.spns), "fmi": dtc.fmi, "doubts": list(dtc.doubts)}


def _sighting(one: Sighting) -> Json:
    times = {"first": _time(one.first), "last": _time(one.last), "times": one.times}
    return {"status": one.status} | times | {"count": one.count, "still": one.still}


def _reading(one: BusReading) -> Json:
    return {
        "channel": one.module.channel,
        "address": one.module.address,
        "spn": one.parameter.spn,
        "name": one.parameter.name,
        "unit": one.parameter.unit,
        "all": _span(one.all),
        "cranking": _span(one.cranking),
        "errors": one.errors,
    }


def _span(span: ValueRange) -> Json | None:
    if not span.count:
        return None
    return {"low": span.low, "high": span.high, "mean": span.mean, "values": span.count}


def _time(seconds: float) -> float | None:
    return None if seconds == NO_TIME else seconds
