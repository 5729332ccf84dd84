"""After a repair, and when the case is done."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from diagnose.cases.events import Checked
from diagnose.cases.waiting import LATER
from diagnose.cli.bay.results import ask_results
from diagnose.cli.bay.session import BaySession
from diagnose.cli.closing import Ending, ask_ending, ending_events, leading, no_number, offered
from diagnose.cli.types import REPAIR
from diagnose.diagnosis import Diagnosis
from diagnose.intake.done import repaired
from diagnose.moves.ending import ProofStep, complaint_to_note, gone, proofs, to_try_now, waits_for_work
from diagnose.report.record import event_words
from diagnose.report.text import numbered

DEAR = 1000.0
"""From this much in parts and labour a repair is recorded only with its name said once more (judgement)."""
LATER_KEY, ALL = "l", ("a", "all")


def repair(session: BaySession, diagnosis: Diagnosis | None, proposed: Sequence[str] = ()) -> None:
    """Which repairs were done, those proposed first; then whether the complaint is still there, and the proof."""
    done = _repairs_done(session, diagnosis, proposed)
    if not done:
        return
    session.keep(repaired(session.knowledge, done))
    if not waits_for_work(session.knowledge, session.case):
        prove(session)


def _repairs_done(
    session: BaySession, diagnosis: Diagnosis | None, proposed: Sequence[str]
) -> tuple[str, ...]:
    """The repairs chosen by number among those proposed and those of the leading causes, or told in words. Raises
    CallError where an answer is none, with nothing recorded."""
    ranked = leading(diagnosis)
    known = session.knowledge.repairs
    fitting = [r.id for r in known.values() if any(c.cause in ranked for c in r.cures)]
    offered = list(dict.fromkeys([*proposed, *fitting]))
    session.talk.say("Which repairs were done?", numbered(known[id].name for id in offered))
    answer = session.talk.ask("Numbers or words, commas between (Enter: none):")
    told = [word.strip() for word in re.split(r",|;|\band\b", answer) if word.strip()]
    chosen = tuple(dict.fromkeys(_one_repair(session, offered, word) for word in told))
    return tuple(id for id in chosen if id in proposed or _sure(session, id))


def _one_repair(session: BaySession, offered: Sequence[str], word: str) -> str:
    if not word.isdecimal():
        return REPAIR.meant(session.knowledge, word)
    if not 1 <= int(word) <= len(offered):
        raise no_number(word, "recorded")
    return offered[int(word) - 1]


def _sure(session: BaySession, id: str) -> bool:
    """Whether it was this one, asked where it is dear and nobody proposed it."""
    record, shop = session.knowledge.repairs.get(id), session.context.shop
    if record is None or shop.parts(record.parts) + shop.time(record.minutes.value) < DEAR:
        return True
    return session.talk.ask(f"Really done: {record.name} (y/n)?").lower() in ("y", "yes")


def prove(session: BaySession) -> None:
    """Whether the complaint is gone, where nobody said; then what proves the repair, as a list to tick."""
    knowledge, later = session.knowledge, waits_for_work(session.knowledge, session.case)
    if later or complaint_to_note(knowledge, session.case):
        asked = to_try_now(knowledge, session.case)
        tried = "After work with it" if later else "Now tried again, with everything together"
        session.talk.say("", f"{tried}. Is it still so?")
        ask_results(session, asked)
    if not gone(session.knowledge, session.case):
        return
    found = proofs(session.knowledge, session.case)
    left = [one for one in found if not one.later] or found
    if not left:
        return
    session.talk.say("", "Gone. What proves it; which of these were done?", numbered(map(_label, left)))
    answer = session.talk.ask("Numbers, a all, 2l number 2 is due later (Enter: none yet):")
    ticked = list(_ticked(left, answer))
    if ticked:
        session.record(ticked)
        session.talk.say(*(f"Noted: {event_words(session.knowledge, one)}" for one in ticked))
        if any(one.text == LATER for one in ticked):
            session.talk.say("The case stays open until then.")


def _label(one: ProofStep) -> str:
    return f"{one.words} (due later)" if one.later or one.takes_hours else one.words


def _ticked(left: Sequence[ProofStep], answer: str) -> Iterator[Checked]:
    """The proofs of this answer. All: done, but put off for the first time what takes hours."""
    if answer.lower() in ALL:
        yield from (Checked(one.id, LATER if one.takes_hours and not one.later else "") for one in left)
        return
    for word in filter(None, map(str.strip, answer.lower().split(","))):
        number = word.removesuffix(LATER_KEY).strip()
        if not number.isdecimal() or not 1 <= int(number) <= len(left):
            raise no_number(word, "recorded")
        yield Checked(left[int(number) - 1].id, LATER if word.endswith(LATER_KEY) else "")


def hand_over(session: BaySession) -> bool:
    """Close the case as handed over, if it was; whether it was."""
    session.talk.say("Take the record along: diagnose report prints it.")
    if session.talk.ask("Handed over now (y; Enter: not yet)?").lower() not in ("y", "yes"):
        return False
    said = Ending(causes=(), proven=False, text="handed over to a specialist")
    session.record(ending_events(session.knowledge, session.case, said)[0])
    return True


def close(session: BaySession, diagnosis: Diagnosis | None) -> None:
    """Ask what was found and done, and close the case."""
    said = ask_ending(
        session.knowledge,
        session.case,
        Ending(),
        session.talk,
        offered(session.knowledge, session.case, diagnosis),
    )
    events, words = ending_events(session.knowledge, session.case, said)
    session.record(events)
    session.talk.say(f"Case {session.number}: kept", *words)
