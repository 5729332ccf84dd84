"""What was done to a machine or learnt of it -> events of its case, with words on them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from diagnose.cases.case import Case
from diagnose.cases.events import Checked, Event, Learnt, OpenedUp, Repaired
from diagnose.intake.outcome import Intake
from diagnose.knowledge.records import Knowledge


def learnt(knowledge: Knowledge, facts: Mapping[str, str], text: str = "", now: str = "") -> Intake:
    """Facts of the machine, learnt."""
    told = "; ".join(f"{knowledge.facts[fact].name}: {value}" for fact, value in facts.items())
    event = Learnt(dict(facts), text=text, knowledge=knowledge.version, time=now)
    return Intake((event,), (f"Machine: {told}{f' ({text})' if text else ''}",))


def remarked(knowledge: Knowledge, text: str) -> Intake:
    """Words that are kept as they are."""
    event = Learnt(text=text, knowledge=knowledge.version)
    return Intake((event,), (f"Remark: {event.text}",))


def checked(knowledge: Knowledge, case: Case, check: str, text: str = "") -> Intake:
    """A check was done; what it had to open is open now."""
    needed = [id for id in knowledge.checks[check].access if id not in case.access_open]
    events: list[Event] = [Checked(check, text, knowledge=knowledge.version)]
    events += [OpenedUp(id, knowledge=knowledge.version) for id in needed]
    words = [f"Done: {knowledge.checks[check].name}"]
    return Intake(tuple(events), (*words, *(f"Open now: {knowledge.access[id].name}" for id in needed)))


def opened(knowledge: Knowledge, access: str) -> Intake:
    """The machine was dismantled as far as this."""
    event = OpenedUp(access, knowledge=knowledge.version)
    return Intake((event,), (f"Open now: {knowledge.access[access].name}",))


def repaired(knowledge: Knowledge, done: Iterable[str], text: str = "") -> Intake:
    """Repairs, or causes dealt with, were done and the machine was tried: a new epoch begins."""
    done = tuple(dict.fromkeys(done))
    repairs = tuple(id for id in done if id in knowledge.repairs)
    cured = [cure.cause for id in repairs for cure in knowledge.repairs[id].cures]
    causes = tuple(dict.fromkeys([*cured, *(id for id in done if id in knowledge.causes)]))
    names = [(knowledge.repairs.get(id) or knowledge.causes[id]).name for id in done]
    event = Repaired(repairs, causes, text=text, knowledge=knowledge.version)
    return Intake((event,), tuple(f"Repaired: {name}" for name in names))
