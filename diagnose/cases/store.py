"""The case store: a log of the events of cases, one SQLite file that only grows."""

from __future__ import annotations

import json
import os
import re
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from platformdirs import user_data_dir

from diagnose.append_only.audit import Audit
from diagnose.append_only.format import LOST, Format
from diagnose.append_only.log import Log
from diagnose.append_only.sqlite import made
from diagnose.cases.case import Case, fold
from diagnose.cases.events import COOLING, Event, Learnt, Opened, Withdrawn, from_json, to_json
from diagnose.cases.waiting import PROOF, waits_for
from diagnose.errors import DataError

ENVIRONMENT = "DIAGNOSE_CASES"
TURNS = re.compile(
    f'"kind":"(?:opened|closed|reopened|withdrawn|repaired|waits)"|"check":"{re.escape(PROOF)}'
)
"""In the canonical JSON of the events that open and close a case, and of those that tell what it waits for (a
quotation mark within a text is escaped)."""
SIGNED = '"by":"'
"""In that of the events that name who noted them."""


def _encoded(event: Event, sequence: int, now: str) -> str:
    return to_json(replace(event, sequence=sequence, time=event.time or now))


def _stand_in(sequence: int) -> Event:
    return Opened(f"({LOST})") if sequence == 1 else Learnt(text=LOST)


def _misplaced(event: Event, sequence: int) -> str:
    """What only position can tell: a case opens once, first; only earlier events are withdrawn."""
    if isinstance(event, Opened) != (sequence == 1):
        return "A case starts with its opening, and has one only."
    if isinstance(event, Withdrawn) and not 0 < event.event < sequence:
        return f"There is no event {event.event} to withdraw."
    return ""


CASES: Format[Event] = Format(
    file="case store",
    stream="case",
    entry="event",
    entries="events",
    letter="C",
    mark=0x44436173,
    column="case_number",
    migrations={"m001_event_table": made},
    encode=_encoded,
    decode=from_json,
    stand_in=_stand_in,
    misplaced=_misplaced,
)


@dataclass
class Listing(Audit):
    """What the list of cases needs of the rows, case by case. `turns`: number and text of the events that open and
    close it or tell what it waits for; `newest`: the text of its last event; `signed`: of the last that names who
    noted it; `summaries`: the list made of these, once it was.
    """

    turns: defaultdict[int, list[tuple[int, str]]] = field(default_factory=lambda: defaultdict(list))
    newest: dict[int, str] = field(default_factory=dict)
    signed: dict[int, str] = field(default_factory=dict)
    summaries: list[Summary] | None = None

    def noticed(self, stream: int, sequence: int, body: str) -> None:
        """Keep what the list needs of a row."""
        self.summaries = None
        self.newest[stream] = body
        if SIGNED in body:
            self.signed[stream] = body
        if TURNS.search(body):
            self.turns[stream].append((sequence, body))


@dataclass(frozen=True, slots=True)
class Summary:
    """One line of the list of cases. `opened` and `latest`: times of the first and last event; `void`: the
    opening was withdrawn; `problem`: why the case cannot be read, all else being empty then. `by`: who noted last,
    of those who said so; `waits_for`: what an open case waits for, with what was said of it in `waits_text`;
    `causes`: what a closed one was, by id.
    """

    number: int
    machine: str
    family: str
    complaint: str
    opened: str
    latest: str
    events: int
    closed: bool
    void: bool
    problem: str = ""
    by: str = ""
    waits_for: tuple[str, ...] = ()
    waits_text: str = ""
    causes: tuple[str, ...] = ()


def default_path() -> Path:
    """The file named by the environment's DIAGNOSE_CASES, else `cases.sqlite` in the user's data folder."""
    named = os.environ.get(ENVIRONMENT)
    return Path(named).expanduser() if named else Path(user_data_dir("diesel-diagnose")) / "cases.sqlite"


class Store(Log[Event, Listing]):
    """The cases in one file. Raises DataError as every log does."""

    format, look = CASES, Listing

    def __init__(self, path: Path | None = None, wait: float = 5.0):
        """Open the file, that of `default_path` where none is named."""
        super().__init__(default_path() if path is None else Path(path), wait)

    def new_case(self, opened: Opened, *more: Event) -> int:
        """Open a case with this event, and those that follow from it; return its number (1, 2, 3, ...)."""
        return self.begin(opened, *more)

    def events(self, case: int) -> tuple[Event, ...]:
        """Every event of a case, in order. CallError: no such case."""
        return self.entries(case)

    def case(self, number: int) -> Case:
        """The case as its events leave it. CallError: no such case."""
        return fold(number, self.events(number))

    def cases(self) -> list[Summary]:
        """One summary a case, by number. A case that cannot be read says so in its summary."""
        with self._database.explained():
            known = self._audit()
            if known.summaries is None:
                known.summaries = [self._summary(known, number) for number in sorted(known.rows)]
        return list(known.summaries)

    def summary(self, number: int) -> Summary | None:
        """That of one case; None where there is no such case."""
        with self._database.explained():
            known = self._audit()
            return self._summary(known, number) if number in known.rows else None

    def last_case(self) -> int | None:
        """The number of the case opened last, None where there is none."""
        return self.last()

    def _summary(self, known: Listing, number: int) -> Summary:
        length = len(known.rows[number])
        try:
            self._intact(number)
            turns = [self._decoded(number, *turn) for turn in known.turns[number]]
            latest, by = known.newest[number], known.signed.get(number)
            named = str(json.loads(by)["by"]) if by else ""
            return _summary(number, turns, str(json.loads(latest)["time"]), length, named)
        except DataError as error:
            return Summary(number, "", "", "", "", "", length, closed=False, void=False, problem=str(error))


def _gone_on(state: Case, since: int, length: int) -> bool:
    """Whether anything but withdrawals came after this number and counts, also what is not among the turns."""
    withdrawals = {event.sequence for event in state.history if isinstance(event, Withdrawn)}
    return bool(set(range(since + 1, length + 1)) - withdrawals - state.withdrawn)


def _summary(number: int, turns: Sequence[Event], latest: str, length: int, by: str) -> Summary:
    state = fold(number, turns)
    if state.waits and state.waits.reason == COOLING and _gone_on(state, state.waits.sequence, length):
        state = replace(state, waits=None)
    first = next((event for event in turns if isinstance(event, Opened)), Opened(""))
    return Summary(
        number=number,
        machine=first.machine,
        family=first.family,
        complaint=first.complaint,
        opened=first.time,
        latest=latest,
        events=length,
        closed=state.closed is not None,
        void=state.opened is None,
        by=by,
        waits_for=waits_for(state),
        waits_text=state.waits.text if state.waits else "",
        causes=state.closed.causes if state.closed else (),
    )
