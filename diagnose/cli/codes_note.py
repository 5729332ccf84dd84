"""The codes and readings of a log as events of a case, all or none."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from diagnose.cases.case import Case
from diagnose.cli.context import CommandContext
from diagnose.codes.log_survey import LogSurvey
from diagnose.codes.parameters import BusReading
from diagnose.codes.timeline import ModuleCodes, SeenCode
from diagnose.codes.typed import PENDING, PREVIOUS
from diagnose.errors import CallError
from diagnose.intake.note import note
from diagnose.intake.outcome import Intake
from diagnose.intake.readings import measured
from diagnose.knowledge.readings import quantities
from diagnose.knowledge.records import Knowledge
from diagnose.report.kept import Kept, Noting

LONG_ENOUGH = (
    5.0  # seconds of cranking in one go, after which a sound engine shows its values (common practice)
)


@dataclass(frozen=True, slots=True)
class _BusQuantity:
    """A value on the bus that is the same thing as a quantity of the knowledge. `which`: `high` or `mean`."""

    spn: int
    which: str
    quantity: str


SAME = (
    _BusQuantity(164, "high", "actuation pressure cranking"),
    _BusQuantity(157, "high", "rail pressure cranking"),
    _BusQuantity(168, "mean", "module voltage cranking"),
    _BusQuantity(190, "mean", "cranking speed"),
    _BusQuantity(190, "mean", "engine speed shown cranking"),
)


def into_case(context: CommandContext, number: int, name: str, found: LogSurvey) -> Noting:
    """Append what the log says to a case; what is there already is not repeated."""
    case, knowledge = context.case(number), context.knowledge
    told: list[str] = []
    intakes = [*_codes(knowledge, case, name, found, told), *_readings(knowledge, case, found, told)]
    events = tuple(event for one in intakes for event in one.events)
    words = tuple(line for one in intakes for line in one.words)
    sequences = context.record(number, events) if events else ()
    return Noting(Kept(number, sequences, events, words), tuple(told))


def _codes(
    knowledge: Knowledge, case: Case, name: str, found: LogSurvey, told: list[str]
) -> Iterator[Intake]:
    done = {seen.code for seen in case.epochs[-1].observations} | set(case.codes_not_used)
    for module in found.modules:
        for seen in module.codes:
            if not seen.dtc.sound:
                told.append(f"{seen.text}: not noted, it is not certain which code it is")
            elif seen.text in done:
                told.append(f"{seen.text}: noted before")
            else:
                done.add(seen.text)
                written = f"{_written(module, seen)}, {name}"
                yield note(knowledge, case, _said(seen), as_written=written)


def _said(seen: SeenCode) -> str:
    """The code, with its status where every list says that it is not active now: it counts less then."""
    statuses = {one.status for one in seen.sightings}
    return f"{seen.text} {min(statuses)}" if statuses and statuses <= {PREVIOUS, PENDING} else seen.text


def _written(module: ModuleCodes, seen: SeenCode) -> str:
    statuses = " and ".join(one.status for one in seen.sightings)
    count = max((one.count or 0 for one in seen.sightings), default=0)
    counted = f" x{count}" if count else ""
    return f"{seen.text}{counted} {statuses}, address {module.module.address}"


# ---- readings ----


def _readings(knowledge: Knowledge, case: Case, found: LogSurvey, told: list[str]) -> Iterator[Intake]:
    for reading in found.readings:
        same = [
            one for one in SAME if one.spn == reading.parameter.spn and one.quantity in quantities(knowledge)
        ]
        why = _not_noted(reading, found, bool(same))
        if why:
            told.append(f"{reading.parameter.name}, address {reading.module.address}: not noted, {why}")
        else:
            yield from _measured(knowledge, case, [(one.quantity, _text(reading, one)) for one in same], told)


def _measured(
    knowledge: Knowledge, case: Case, values: list[tuple[str, str]], told: list[str]
) -> Iterator[Intake]:
    """What the values mean, or are kept as; those that this machine cannot show are told."""
    for quantity, text in values:
        try:
            yield measured(knowledge, case, quantity, text)
        except CallError as error:
            told.append(f"not noted: {error}")


def _not_noted(reading: BusReading, found: LogSurvey, known: bool) -> str:
    """Why a reading does not go into the case; empty where it does."""
    spn = reading.parameter.spn
    if not known:
        return "the knowledge asks for it under conditions that a log does not tell"
    if sum(one.parameter.spn == spn and one.cranking.count > 0 for one in found.readings) > 1:
        return "several modules send it"
    if not reading.cranking.count or found.cranked < LONG_ENOUGH:
        return f"no {LONG_ENOUGH:g} s of cranking in one go"
    return ""


def _text(reading: BusReading, same: _BusQuantity) -> str:
    value = reading.cranking.high if same.which == "high" else reading.cranking.mean
    return f"{value:.4g} {reading.parameter.unit}"
