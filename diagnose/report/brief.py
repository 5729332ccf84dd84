"""Why a cause is suspected, on one screen of plain words; the depth stands in `reasoning`."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from rich.console import Console, ConsoleOptions, Group, RenderableType, RenderResult
from rich.text import Text

from diagnose.diagnosis import Diagnosis, RankedCause
from diagnose.explaining.mistaken import Rival, mistaken_for
from diagnose.explaining.reasons import WORTH_SAYING, Reason, reasons
from diagnose.explaining.settling import Telling, telling_findings
from diagnose.knowledge.records import Knowledge
from diagnose.moves.standing import SURE
from diagnose.plain import shortened
from diagnose.report.ranking import conflict_line
from diagnose.report.screen_words import chance, minutes, strength, yes_or_no
from diagnose.report.text import STRONG, Pieces, foot, item, line, notices

LINES = 20
"""Lines that the whole screen takes at most."""
TELLING = 0.02
"""Change of the probability below which a result settles nothing (judgement)."""
LONGEST = 90
"""Letters of what was noted, before its middle is left out."""


@dataclass(frozen=True, slots=True)
class Brief:
    """What is said of a cause at first: what speaks for and against it, what would settle it, what it is often
    mistaken for."""

    cause: RankedCause
    rank: int
    reasons: tuple[Reason, ...]
    tests: tuple[Telling, ...]
    rivals: tuple[Rival, ...]


def brief(diagnosis: Diagnosis, ranked: RankedCause) -> Brief:
    """The explanation that one screen holds."""
    tests = (one for one in telling_findings(diagnosis, ranked.id) if _moves(one, ranked.probability))
    return Brief(
        ranked,
        diagnosis.causes.index(ranked) + 1,
        tuple(one for one in reasons(diagnosis, ranked) if abs(one.decibans) >= WORTH_SAYING),
        tuple(tests)[:2],
        mistaken_for(diagnosis, ranked),
    )


def _moves(test: Telling, now: float) -> bool:
    return any(abs(answer.after - now) >= TELLING for answer in test.answers)


@dataclass(frozen=True, slots=True)
class Room:
    """How many entries of each kind there is room for; `whole`: with results and how rivals are told apart;
    `notes`: with what is to be known of the case."""

    pro: int = 4
    contra: int = 3
    tests: int = 2
    rivals: int = 3
    whole: bool = True
    notes: bool = True


ROOMS = (
    Room(),
    Room(3, 2, 2, 2),
    Room(3, 2, 1, 2),
    Room(2, 2, 1, 2),
    Room(2, 1, 1, 1),
    Room(1, 1, 1, 1),
    Room(1, 1, 1, 1, whole=False),
    Room(1, 1, 1, 1, whole=False, notes=False),
)


def brief_screen(diagnosis: Diagnosis, told: Brief) -> RenderableType:
    """The explanation with the case it belongs to, within so many lines."""
    _, *foot_lines = foot(f"diagnose why {told.rank} --all (all there is to say), diagnose next")
    return _Within(
        lambda room: Group(*_head(diagnosis, room), *_body(diagnosis, told, room), *foot_lines), LINES
    )


def brief_in(diagnosis: Diagnosis, told: Brief, lines: int) -> RenderableType:
    """The same within another screen, without head and foot, in so many lines."""
    return _Within(lambda room: Group(*_body(diagnosis, told, room)), lines)


class _Within:
    """The roomiest of several screens that has no more than so many lines."""

    def __init__(self, screen: Callable[[Room], RenderableType], lines: int):
        self.screen, self.lines = screen, lines

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """The screen that fits the width, else the smallest."""
        for room in ROOMS:
            found = self.screen(room)
            if len(console.render_lines(found, options, pad=False)) <= self.lines:
                break
        yield found


def _head(diagnosis: Diagnosis, room: Room) -> Pieces:
    """The machine and what it came in for in one line, however long it is."""
    case = diagnosis.case
    which = f"Case {case.number}" if case.number else "Scenario"
    words = ": ".join(part for part in (case.machine.number, case.complaint) if part)
    yield Text(f"{which} / {words or 'no machine number'}", STRONG, no_wrap=True, overflow="ellipsis")
    if room.notes:
        yield from notices(diagnosis.knowledge, case)
        yield from conflict_line(diagnosis)


def _body(diagnosis: Diagnosis, told: Brief, room: Room) -> Pieces:
    yield item(f"{told.rank}", f"{told.cause.name}: {chance(told.cause.probability)}", style=STRONG)
    pro = [one for one in told.reasons if one.decibans > 0]
    contra = [one for one in told.reasons if one.decibans < 0]
    yield from _listed("Speaks for it", [_reason(one) for one in pro[: room.pro]], NOTHING)
    yield from _listed("Speaks against it", [_reason(one) for one in contra[: room.contra]], NOTHING)
    tests = [_test(diagnosis.knowledge, one, room.whole) for one in told.tests[: room.tests]]
    yield from _listed("Would settle it", tests, _settled(told))
    rivals = [_rival(one, room.whole) for one in told.rivals[: room.rivals]]
    yield from _listed("Often mistaken for", rivals, "nothing that looks like it at first")


NOTHING = "nothing that is noted"


def _listed(title: str, words: Sequence[str], none: str) -> Pieces:
    """Each on its own under a heading; that there is none beside it."""
    if not words:
        yield line(f"{title}: {none}")
        return
    yield Text(title, STRONG)
    yield from (item("-", one, 1) for one in words)


def _reason(reason: Reason) -> str:
    return f"{shortened(reason.words, LONGEST)} ({strength(reason.decibans)})"


def _settled(told: Brief) -> str:
    sure = told.cause.probability >= SURE
    return "no more is needed" if sure else "no check that can be done now tells much of it"


def _test(knowledge: Knowledge, test: Telling, whole: bool) -> str:
    """The check, and the two results that go farthest apart."""
    check, finding = test.question.check, knowledge.findings[test.question.finding]
    words = f"{check.name} ({minutes(test.question.minutes)})"
    if not whole:
        return words
    ends = sorted(test.answers, key=lambda answer: -answer.after)
    results = ", ".join(f"{yes_or_no(finding, a.state)}: {chance(a.after)}" for a in (ends[0], ends[-1]))
    return f"{words}: {finding.name}? {results}"


def _rival(rival: Rival, whole: bool) -> str:
    apart = f"; told apart by: {rival.apart.check.name}" if whole and rival.apart else ""
    return f"{rival.cause.name} ({chance(rival.cause.probability)}){apart}"
