"""The screens of one case: the leading causes, the next check, and what was seen."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import cached_property

from rich.text import Text

from diagnose.cases.events import Reopened
from diagnose.cli.bay.complaint import ask_complaint
from diagnose.cli.bay.ending import close, hand_over, prove, repair
from diagnose.cli.bay.results import do_check
from diagnose.cli.bay.session import BaySession
from diagnose.cli.bay.since import ask_last_right
from diagnose.diagnosis import Diagnosis
from diagnose.errors import DiagnoseError
from diagnose.moves.advice import LOOKS, Advice
from diagnose.moves.move import CLOSE, COMPLAINT, HAND_OVER, PROVE, REPAIR
from diagnose.planning.checks import CheckValue
from diagnose.report.brief import brief, brief_in
from diagnose.report.checklist import held_words, worth
from diagnose.report.move import move_lines
from diagnose.report.ranking import leading_causes, listed_causes
from diagnose.report.record import event_words, history
from diagnose.report.screen_words import minutes
from diagnose.report.text import QUIET, cautions, head, line

LEADING, OTHERS, WHY_LINES = 3, 8, 18
"""Causes beside each move, as many as can be asked about by number; checks of the list (a screen); lines of why."""
KEYS = "d do it, o others, 1-3 why, l list, u undo, q quit, ? more"
HELP = """Type what you saw, one or several with commas between:
  cranks no start, white smoke     words
  no white smoke                   looked for, not there
  P2291   or   SPN 164 FMI 18      a fault code
  battery at rest 12.4 V           a reading with its unit
or one letter:
  d  do the next move: check, repair, prove, close
  o  other checks
  1  why number 1 is suspected (or 2, 3)
  l  list of what is noted
  u  undo the last entry
  f  fixed: another repair was done
  c  close: the case is done (r takes it up again)
  b  back to the list of cases
  q  quit; everything is kept"""


class CaseView:
    """What can be said of the case as it stands; worked out once, when asked for."""

    def __init__(self, session: BaySession):
        self.session = session
        self.case = session.case
        self.shop = session.context.shop

    @property
    def diagnosis(self) -> Diagnosis:
        """The ranking. Raises ImpossibleEvidence."""
        return self.advice.diagnosis

    @cached_property
    def advice(self) -> Advice:
        """All that is said of the case, the next move first."""
        return Advice(self.session.knowledge, self.case, self.shop)

    @cached_property
    def checks(self) -> Sequence[CheckValue]:
        """The next checks, best first."""
        return self.advice.next_checks(OTHERS)


def converse(session: BaySession) -> None:
    """Show, ask, store, again; until the person goes back or leaves."""
    staying, moment = True, CaseView(session)
    while staying:
        moment = moment if moment.case is session.case else CaseView(session)
        if _hangs_on_last_right(moment):
            ask_last_right(session)
            moment = CaseView(session)
        stand(moment)
        answer = session.talk.typed_ahead() or session.talk.ask("What did you see?")
        try:
            staying = turn(moment, answer)
        except DiagnoseError as error:
            session.talk.say(line(str(error), style="bold"))
            session.talk.pause()


def _hangs_on_last_right(moment: CaseView) -> bool:
    """Whether what leads, or what it costs, depends on when the machine was last right, and nobody was asked."""
    if moment.case.closed or not moment.case.observations:
        return False
    try:
        return moment.advice.order.question is not None
    except DiagnoseError:
        return False


def stand(moment: CaseView) -> None:
    """Where the case stands: leading causes, then the next check with its cautions."""
    session = moment.session
    session.talk.say(Text("-" * 40, QUIET), *head(session.knowledge, session.case, kind=False))
    try:
        session.talk.say(*move_lines(moment.advice))
        if moment.advice.move.kind not in (PROVE, CLOSE):
            session.talk.say(leading_causes(moment.diagnosis, LEADING))
        session.context.keep_told(moment.advice)
    except DiagnoseError as error:
        session.talk.say(line(str(error), style="bold"), "u takes back the last entry, l lists all.")
    session.talk.say(line(KEYS, style=QUIET))


def turn(moment: CaseView, answer: str) -> bool:
    """One answer; False where the person goes back to the list of cases."""
    key = answer.lower()
    if key in ("b", "back"):
        return False
    if key.isdecimal():
        _why(moment, int(key))
    elif action := _ACTIONS.get(key):
        return action(moment) is not False
    elif answer:
        moment.session.note(answer)
    return True


def _do(moment: CaseView) -> bool | None:
    """Make the next move."""
    move = moment.advice.move
    if move.kind == REPAIR:
        repair(moment.session, _if_possible(moment), move.ids)
    elif move.kind == PROVE:
        prove(moment.session)
    elif move.kind == CLOSE and not moment.case.closed:
        return _close(moment)
    elif move.kind == HAND_OVER:
        return not hand_over(moment.session)
    elif move.id == COMPLAINT:
        ask_complaint(moment.session)
    elif move.kind in LOOKS:
        _look(moment, (move.id, *move.along))
    else:
        moment.session.talk.say(f"{move.name}. {move.reason}")
    return None


def _look(moment: CaseView, go: Sequence[str]) -> None:
    """Do the checks of one go; what one of them has asked, the next does not ask again."""
    asked = set[str]()
    for check in moment.checks if len(go) > 1 else moment.advice.next_checks(1):
        left = tuple(id for id in check.findings if id not in asked)
        if check.id in go and (left or not check.findings):
            _start(moment, replace(check, findings=left))
            asked |= set(left)


def _others(moment: CaseView) -> None:
    """A short list of checks, one of which can be done instead."""
    talk, shown = moment.session.talk, [one for one in moment.checks if not one.held_back][:OTHERS]
    for hazard in dict.fromkeys(one.held_back for one in moment.checks if one.held_back):
        waiting = sum(one.held_back is hazard for one in moment.checks)
        talk.say(line(f"{waiting} more wait until it is ruled out: {hazard.name}", style=QUIET))
    labels = [
        f"{check.name} ({worth(check, moment.shop)}, {minutes(check.total_minutes)})" for check in shown
    ]
    chosen = talk.choose("Which check?", labels)
    if chosen is not None:
        _start(moment, shown[chosen])


def _start(moment: CaseView, check: CheckValue) -> None:
    """Do a check, unless something must be ruled out before."""
    if check.held_back:
        moment.session.talk.say(*held_words(check.held_back), *cautions((check.held_back,)))
        moment.session.talk.pause()
    else:
        do_check(moment.session, check, moment.advice.expected(check.findings))


def _why(moment: CaseView, rank: int) -> None:
    talk, ranked = moment.session.talk, listed_causes(moment.diagnosis)
    if 1 <= rank <= len(ranked):
        talk.say(brief_in(moment.diagnosis, brief(moment.diagnosis, ranked[rank - 1]), WHY_LINES))
    else:
        talk.say(f"The ranking has no number {rank}.")
    talk.pause()


def _list(moment: CaseView) -> None:
    moment.session.talk.say(history(moment.session.knowledge, moment.session.case))
    moment.session.talk.pause()


def _undo(moment: CaseView) -> None:
    session = moment.session
    gone = session.undo()
    session.talk.say(*(line(f"Taken back: {event_words(session.knowledge, event)}") for event in gone))
    if not gone:
        session.talk.say("There is nothing to undo.")


def _fixed(moment: CaseView) -> None:
    repair(moment.session, _if_possible(moment))


def _close(moment: CaseView) -> bool:
    """Close it, and go back to the list of cases."""
    close(moment.session, _if_possible(moment))
    return False


def _reopen(moment: CaseView) -> None:
    if moment.session.case.closed:
        answer = moment.session.talk.ask("Did it come back (Enter), or was it closed too early (t)?").lower()
        moment.session.record((Reopened(comeback=not answer.startswith("t")),))


def _help(moment: CaseView) -> None:
    moment.session.talk.say(HELP)
    moment.session.talk.pause()


def _if_possible(moment: CaseView) -> Diagnosis | None:
    """The ranking, unless the evidence cannot be."""
    try:
        return moment.diagnosis
    except DiagnoseError:
        return None


_BY_KEY: Mapping[tuple[str, str], Callable[[CaseView], bool | None]] = {
    ("d", "do"): _do,
    ("o", "other"): _others,
    ("l", "list"): _list,
    ("u", "undo"): _undo,
    ("f", "fixed"): _fixed,
    ("c", "close"): _close,
    ("r", "reopen"): _reopen,
    ("?", "help"): _help,
}
_ACTIONS = {key: action for keys, action in _BY_KEY.items() for key in keys}
