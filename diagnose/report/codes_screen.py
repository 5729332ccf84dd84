"""The screen of a bus log: module by module, and what could not be used."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime

from rich.console import Group, RenderableType
from rich.text import Text

from diagnose.codes.frames import NO_TIME
from diagnose.codes.log_survey import LogSurvey
from diagnose.codes.parameters import BusReading, ValueRange
from diagnose.codes.timeline import NONE, UNKNOWN, ListState, Module, ModuleCodes, SeenCode, Sighting
from diagnose.codes.typed import Code, explain, kind_of_fault, part_of
from diagnose.knowledge.records import Knowledge
from diagnose.report.codes_data import used_by
from diagnose.report.kept import Noting
from diagnose.report.record import recorded_screen
from diagnose.report.screen_words import count, listed
from diagnose.report.text import QUIET, STRONG, WARN, Pieces, foot, item, line, titled

# Preferred addresses of SAE J1939 (from memory); a machine may use others.
USUAL = {
    0: "engine 1", 1: "engine 2", 3: "transmission", 11: "brakes", 15: "engine retarder", 23: "instruments",
    33: "body", 39: "management computer", 49: "cab", 61: "exhaust emission control", 249: "service tool",
}  # fmt: skip
MOST_MODULES, MOST_TROUBLES = (
    32,
    20,
)  # shown: a machine has fewer; what a spoilt log tells fills no more than pages
CALENDAR = 1e9  # seconds from which a time is one of the calendar, not of the log


def survey_screen(knowledge: Knowledge, name: str, found: LogSurvey, noting: Noting | None) -> RenderableType:
    """Everything that a log says of codes and values."""
    pieces = [*_head(name, found)]
    for module in found.modules[:MOST_MODULES]:
        pieces.append(titled(_who(module.module), *_module(knowledge, module)))
    pieces += _more(len(found.modules) - MOST_MODULES, "module", "modules")
    if not found.modules:
        pieces.append(line("No list of fault codes was read: that says nothing of the modules.", style=WARN))
    if found.readings:
        pieces.append(titled("Readings", *_readings(found)))
    if found.troubles:
        pieces.append(titled("Not usable", *_troubles(found)))
    if noting:
        pieces += _noted(noting)
    return Group(*pieces, *foot(_next_step(noting)))


def _next_step(noting: Noting | None) -> str:
    if noting:
        return "diagnose causes (the ranking), diagnose next (what to check)"
    return "the same with --note adds the codes to the case"


def _head(name: str, found: LogSurvey) -> Pieces:
    yield Text(f"{name}: {count(found.frames, 'frame', 'frames')}", STRONG)
    if found.skipped:
        yield line(f"Passed over: {listed(f'{n} {kind}' for kind, n in found.skipped.items())}", style=QUIET)
    if found.broken:
        yield line(found.broken[0].upper() + found.broken[1:], style=WARN)
    if found.backwards:
        times = count(found.backwards, "time", "times")
        yield line(f"The clock steps back {times}: first and last seen may be wrong.", style=WARN)


def _who(module: Module) -> str:
    usual = USUAL.get(module.address)
    bus = f"{module.channel}, " if module.channel else ""
    return f"{bus}address {module.address}" + (f" (usually {usual})" if usual else "")


def _module(knowledge: Knowledge, one: ModuleCodes) -> Pieces:
    for state in one.lists:
        yield line(_state(state), 2, WARN if state.state == UNKNOWN else "")
    for seen in one.codes:
        yield from _code(knowledge, seen)
    if one.freeze_frames:
        kept = listed(dict.fromkeys(_spns(frame.code.spns, frame.code.fmi) for frame in one.freeze_frames))
        yield line(f"Freeze frames kept for {kept} (values with --json, as sent)", 2, QUIET)


def _spns(spns: tuple[int, ...], fmi: int) -> str:
    return f"SPN {' or '.join(map(str, spns))} FMI {fmi}"


def _state(state: ListState) -> str:
    read = count(state.read, "list", "lists")
    lit = [str(lamp) for lamp in state.lamps if lamp.state != "off"]
    lamps = f"; {', '.join(lit)}" if lit else ""
    if state.state == NONE:
        return f"No {state.status} code {_none_of(state, read)}{lamps}"
    if state.state == UNKNOWN:
        return f"{state.status.capitalize()} codes: not known, no whole list to go by ({read} read){lamps}"
    return f"{state.status.capitalize()} codes ({read}){lamps}"


def _none_of(state: ListState, read: str) -> str:
    """How far a module is without codes: in all its lists, or in the last one alone."""
    if not state.with_codes:
        return f"({read})"
    return f"in the last list; {state.with_codes} of {state.read} had one"


def _code(knowledge: Knowledge, seen: SeenCode) -> Iterator[RenderableType]:
    if seen.dtc.sound:
        yield item("*", explain(Code(spn=seen.dtc.spn, fmi=seen.dtc.fmi)), 2, STRONG)
        names = [knowledge.findings[id].name for id in used_by(knowledge, seen)]
        yield line(
            f"-> {listed(names)}" if names else "Not used: no finding lists it", 4, "" if names else QUIET
        )
    else:
        yield from _doubtful(seen)
    for sighting in seen.sightings:
        yield line(_sighting(sighting), 4, QUIET)


def _doubtful(seen: SeenCode) -> Iterator[RenderableType]:
    """A code that cannot be taken at its word: what was sent, and all that it can be."""
    yield item("?", f"{seen.text} (sent: {seen.dtc.raw.hex(' ').upper()})", 2, WARN)
    if len(seen.dtc.spns) > 1:
        yield line("Older packing: any of these; --legacy tells which, by the maker's documents.", 4, WARN)
        yield from (line(f"SPN {spn}: {part_of(spn)}", 4) for spn in seen.dtc.spns)
        yield line(f"FMI {seen.dtc.fmi}: {kind_of_fault(seen.dtc.fmi)}", 4)
    yield from (line(f"{doubt}: kept as sent, not used", 4, WARN) for doubt in seen.dtc.doubts)


def _sighting(one: Sighting) -> str:
    counted = f", count {one.count}" if one.count is not None else ""
    gone = "" if one.still else "; not in the last whole list"
    return f"{one.status}{_when(one)}, in {count(one.times, 'list', 'lists')}{counted}{gone}"


def _when(one: Sighting) -> str:
    if one.first == NO_TIME:
        return ""
    first, last = _moment(one.first), _moment(one.last)
    return f" at {first}" if first == last else f" from {first} to {last}"


def _moment(seconds: float) -> str:
    if seconds < CALENDAR:
        return f"{seconds:.1f} s"
    try:
        return f"{datetime.fromtimestamp(seconds, UTC):%Y-%m-%d %H:%M:%S}"
    except (ValueError, OverflowError, OSError):
        return f"{seconds:.1f} s"


def _readings(found: LogSurvey) -> Iterator[RenderableType]:
    for one in found.readings:
        yield item(f"{one.module.address:3}", f"{one.parameter.name}: {_reading(one)}", 2)
    cranked = f"longest cranking {found.cranked:.1f} s" if found.cranked else "no cranking seen"
    yield line(f"First column: address. {cranked[0].upper()}{cranked[1:]}, told by engine speed.", 2, QUIET)


def _reading(one: BusReading) -> str:
    unit = one.parameter.unit
    told = [f"{_span(one.all)} {unit}"] if one.all.count else []
    if one.cranking.count:
        told.append(f"while cranking {_span(one.cranking)}, mean {one.cranking.mean:.4g} {unit}")
    if one.errors:
        told.append(f"sensor at fault {count(one.errors, 'time', 'times')}")
    return "; ".join(told)


def _span(span: ValueRange) -> str:
    return f"{span.low:.4g} to {span.high:.4g}"


def _troubles(found: LogSurvey) -> Iterator[RenderableType]:
    for one in found.troubles[:MOST_TROUBLES]:
        first = "" if one.first == NO_TIME else f", first at {_moment(one.first)}"
        where = f"{one.module.channel}, " if one.module.channel else ""
        times = count(one.times, "time", "times")
        yield line(f"{where}address {one.module.address}: {one.what} ({times}{first})", 2, WARN)
    yield from _more(len(found.troubles) - MOST_TROUBLES, "kind of trouble", "kinds of trouble")


def _more(left: int, one: str, many: str) -> Pieces:
    if left > 0:
        yield line(f"and {count(left, one, many)} more: all of them with --json", 2, QUIET)


def _noted(noting: Noting) -> Iterator[RenderableType]:
    yield Text("")
    yield recorded_screen(
        noting.kept.number,
        noting.kept.sequences,
        noting.kept.words,
        "diagnose withdraw NUMBER takes one back",
    )
    yield from (line(words, 2, QUIET) for words in noting.left_out)
