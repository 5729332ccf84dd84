"""Closing a case: what it really was, how that was confirmed, what was done about it, whether it was proven."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Protocol

from rich.console import RenderableType

from diagnose.cases.case import Case, fold
from diagnose.cases.events import CONFIRMED, Closed, Confirmed, Event, Noted, Repaired
from diagnose.cli.context import CommandContext
from diagnose.cli.types import CAUSE, REPAIR
from diagnose.diagnosis import Diagnosis, diagnose
from diagnose.errors import CallError, DiagnoseError
from diagnose.intake.done import repaired
from diagnose.knowledge.records import Finding, Knowledge
from diagnose.moves.ending import complaint_to_note, complaints, proofs
from diagnose.moves.ending import gone as is_gone
from diagnose.moves.ending import repaired as repaired_since
from diagnose.report.kept import Kept
from diagnose.report.ranking import worth_a_look
from diagnose.report.record import event_words
from diagnose.report.screen_words import listed
from diagnose.report.text import item

LEADING = 4  # causes offered as the one found: with the two mended last they fill a short list


class Talker(Protocol):
    """Somebody to ask."""

    def ask(self, prompt: str) -> str:
        """The answer to a question, trimmed."""

    def choose(self, question: str, labels: Sequence[str]) -> int | None:
        """The place of the label chosen; None for none of them."""

    def say(self, *screen: RenderableType) -> None:
        """Print something."""


@dataclass(frozen=True)
class Ending:
    """What is said of the end of a case; None where nothing is said yet. `how`: for some causes by themselves,
    `confirmed` for the others. `gone`: for complaints, by finding, whether the repair took them away."""

    causes: tuple[str, ...] | None = None
    confirmed: Confirmed | None = None
    how: Mapping[str, Confirmed] = field(default_factory=dict)
    repaired: tuple[str, ...] = ()
    gone: Mapping[str, bool] = field(default_factory=dict)
    proven: bool | None = None
    text: str = ""


def close_case(context: CommandContext, number: int, said: Ending, talk: Talker | None = None) -> Kept:
    """Close a case; what is not said is asked for where there is somebody to ask."""
    case = context.case(number)
    if case.closed:
        raise CallError(f"Case {number} is closed already; diagnose reopen takes it up again.")
    if talk:
        ranked = ranked_causes(context.knowledge, case) if said.causes is None else ()
        said = ask_ending(context.knowledge, case, said, talk, ranked)
    events, words = ending_events(context.knowledge, case, said)
    return Kept(number, context.record(number, events), events, words)


def ask_ending(
    knowledge: Knowledge, case: Case, said: Ending, talk: Talker, ranked: Sequence[str] = ()
) -> Ending:
    """The ending with what was missing asked for. `ranked`: causes offered by number. Raises CallError on an answer
    that cannot be, with nothing recorded."""
    causes = _causes(knowledge, ranked, talk) if said.causes is None else said.causes
    text = said.text or ("" if causes else _without_a_cause(talk))
    how = {cause: said.how.get(cause) or said.confirmed or _how(knowledge, cause, talk) for cause in causes}
    mended = bool(repaired_since(case))
    done = said.repaired or (() if mended or not causes else _repairs(knowledge, causes, talk))
    gone = dict(said.gone) or (
        _gone(complaints(knowledge, case), talk) if done or complaint_to_note(knowledge, case) else {}
    )
    proven = said.proven
    if proven is None:
        proven = (mended or bool(done)) and _proven(knowledge, case, done, talk)
    return Ending(causes, None, how, done, gone, proven, text)


def ending_events(
    knowledge: Knowledge, case: Case, said: Ending
) -> tuple[tuple[Event, ...], tuple[str, ...]]:
    """The events of an ending, with a line of words for each; lines after those say what is missing."""
    causes = tuple(dict.fromkeys(said.causes or ()))
    how = {cause: said.how.get(cause) or said.confirmed or "assumed" for cause in causes}
    most = how[causes[0]] if causes else said.confirmed or "assumed"
    others = {cause: confirmed for cause, confirmed in how.items() if confirmed != most}
    done = repaired(knowledge, said.repaired).events if said.repaired else ()
    seen = [
        Noted(
            id,
            knowledge.findings[id].states[0 if gone else 1],
            text="at the closing",
            knowledge=knowledge.version,
        )
        for id, gone in said.gone.items()
    ]
    closed = Closed(causes, most, bool(said.proven), said.text, others, knowledge=knowledge.version)
    events = (*done, *seen, closed)
    return events, (*(event_words(knowledge, event) for event in events), *_missing(knowledge, case, said))


def ranked_causes(knowledge: Knowledge, case: Case) -> tuple[str, ...]:
    """The leading causes; none where the findings cannot all be true."""
    try:
        return offered(knowledge, case, diagnose(knowledge, case))
    except DiagnoseError:
        return offered(knowledge, case, None)


def offered(knowledge: Knowledge, case: Case, diagnosis: Diagnosis | None) -> tuple[str, ...]:
    """The causes that are offered by number: what was repaired, by how likely it was before; then what leads, where
    the complaint is not gone."""
    mended = _mended(knowledge, case)
    others = () if mended and is_gone(knowledge, case) else leading(diagnosis)
    return tuple(dict.fromkeys([*mended, *others]))[: LEADING + 2]


def _mended(knowledge: Knowledge, case: Case) -> Sequence[str]:
    cured = {
        c.cause for id in repaired_since(case) if id in knowledge.repairs for c in knowledge.repairs[id].cures
    }
    first = next((n for n, one in enumerate(case.history) if isinstance(one, Repaired)), None)
    if not cured or first is None:
        return ()
    try:
        before = diagnose(knowledge, fold(case.number, case.history[:first]))
    except DiagnoseError:
        return sorted(cured)
    return [cause.id for cause in before.causes if cause.id in cured][:LEADING]


def leading(diagnosis: Diagnosis | None) -> tuple[str, ...]:
    """The causes that are offered by number: those that can be behind what was found, and not far behind the
    first."""
    if diagnosis is None or not diagnosis.causes[0].relevant:
        return ()
    return tuple(cause.id for cause in worth_a_look(diagnosis, LEADING))


def _missing(knowledge: Knowledge, case: Case, said: Ending) -> Iterable[str]:
    """What the record lacks to be worth most to the next one."""
    if not (repaired_since(case) or said.repaired) and said.causes:
        yield "No repair is recorded: --repaired REPAIR says what was done."
    there = [finding.name for finding in complaints(knowledge, case) if finding.id not in said.gone]
    if said.proven and there and not complaint_to_note(knowledge, case) and not said.repaired:
        yield f"Still recorded as there: {listed(there)}. If it is gone: diagnose reopen --too-early, note, close."
    elif there and (said.repaired or complaint_to_note(knowledge, case)):
        yield f"Not recorded since the repair: whether it is gone ({listed(there)})."


def _causes(knowledge: Knowledge, ranked: Sequence[str], talk: Talker) -> tuple[str, ...]:
    talk.say("What was it really? Numbers or words, with commas between several; Enter: not found.")
    talk.say(*(item(str(i), knowledge.causes[id].name) for i, id in enumerate(ranked, 1)))
    return tuple(_cause(knowledge, ranked, word) for word in talk.ask("Found:").split(",") if word.strip())


def _without_a_cause(talk: Talker) -> str:
    """Why it is closed though nobody knows what it was. Raises CallError where nobody says: it stays open."""
    if words := talk.ask("Why is it closed without a cause (Enter: it stays open)?"):
        return words
    raise CallError("Nothing was closed: no cause was named, and no reason why.")


def _cause(knowledge: Knowledge, ranked: Sequence[str], word: str) -> str:
    if not word.strip().isdecimal():
        return CAUSE.meant(knowledge, word.strip())
    return _numbered(ranked, word.strip())


def no_number(number: str, done: str) -> CallError:
    """The error of a number that was not offered; `done`: what was not done therefore."""
    return CallError(f"There is no number {number} here; nothing was {done}.")


def _numbered(offered: Sequence[str], number: str) -> str:
    if not 1 <= int(number) <= len(offered):
        raise no_number(number, "closed")
    return offered[int(number) - 1]


def _how(knowledge: Knowledge, cause: str, talk: Talker) -> Confirmed:
    labels = (
        "by sight: the fault itself was seen",
        "by repair: it was put right and the complaint went",
        "assumed",
    )
    chosen = talk.choose(f"How was it confirmed: {knowledge.causes[cause].name}?", labels)
    return "assumed" if chosen is None else CONFIRMED[chosen]


def _repairs(knowledge: Knowledge, causes: Iterable[str], talk: Talker) -> tuple[str, ...]:
    """What was done, where no repair of this visit is recorded."""
    wanted = set(causes)
    fitting = [r for r in knowledge.repairs.values() if any(cure.cause in wanted for cure in r.cures)]
    talk.say("No repair is recorded. What was done? Numbers or words with commas; Enter: nothing.")
    talk.say(*(item(str(i), one.name) for i, one in enumerate(fitting, 1)))
    said = [word.strip() for word in talk.ask("Done:").split(",") if word.strip()]
    offered = [one.id for one in fitting]
    return tuple(
        _numbered(offered, word) if word.isdecimal() else REPAIR.meant(knowledge, word) for word in said
    )


def _gone(there: Iterable[Finding], talk: Talker) -> dict[str, bool]:
    """Whether each complaint is gone now; left out where it was not tried."""
    answers = {
        finding.id: talk.ask(
            f"Since the repair, is it still so: {finding.name} (y/n, Enter: not tried)?"
        ).lower()
        for finding in there
    }
    return {id: answer in ("n", "no") for id, answer in answers.items() if answer in ("y", "yes", "n", "no")}


def _proven(knowledge: Knowledge, case: Case, done: Iterable[str], talk: Talker) -> bool:
    """Whether the repair was proven, told with what proves it; not asked where each was ticked or put off."""
    left = proofs(knowledge, case)
    if not done and not [one for one in left if not one.later]:
        return not left
    ids = dict.fromkeys([*done, *repaired_since(case)])
    steps = dict.fromkeys(
        line for id in ids if id in knowledge.repairs for line in knowledge.repairs[id].verify
    )
    talk.say(*(item("prove it:", step) for step in steps))
    return talk.ask("Was the repair proven by its own test (y/n)?").lower() in ("y", "yes")
