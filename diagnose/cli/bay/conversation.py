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
from diagnose.cli.bay.since import ask_last_right
from diagnose.cli.bay.visit import Visit
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
from diagnose.report.text import QUIET, cautions, head, line
from diagnose.report.words import minutes

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


class Moment:
    """What can be said of the case as it stands; worked out once, when asked for."""

    def __init__(self, visit: Visit):
        self.visit = visit
        self.case = visit.case
        self.shop = visit.desk.shop

    @property
    def diagnosis(self) -> Diagnosis:
        """The ranking. Raises ImpossibleEvidence."""
        return self.advice.diagnosis

    @cached_property
    def advice(self) -> Advice:
        """All that is said of the case, the next move first."""
        return Advice(self.visit.knowledge, self.case, self.shop)

    @cached_property
    def checks(self) -> Sequence[CheckValue]:
        """The next checks, best first."""
        return self.advice.next_checks(OTHERS)


def converse(visit: Visit) -> None:
    """Show, ask, store, again; until the person goes back or leaves."""
    staying, moment = True, Moment(visit)
    while staying:
        moment = moment if moment.case is visit.case else Moment(visit)
        if _hangs_on_last_right(moment):
            ask_last_right(visit)
            moment = Moment(visit)
        stand(moment)
        answer = visit.talk.typed_ahead() or visit.talk.ask("What did you see?")
        try:
            staying = turn(moment, answer)
        except DiagnoseError as error:
            visit.talk.say(line(str(error), style="bold"))
            visit.talk.pause()


def _hangs_on_last_right(moment: Moment) -> bool:
    """Whether what leads, or what it costs, depends on when the machine was last right, and nobody was asked."""
    if moment.case.closed or not moment.case.observations:
        return False
    try:
        return moment.advice.order.question is not None
    except DiagnoseError:
        return False


def stand(moment: Moment) -> None:
    """Where the case stands: leading causes, then the next check with its cautions."""
    visit = moment.visit
    visit.talk.say(Text("-" * 40, QUIET), *head(visit.knowledge, visit.case, kind=False))
    try:
        visit.talk.say(*move_lines(moment.advice))
        if moment.advice.move.kind not in (PROVE, CLOSE):
            visit.talk.say(leading_causes(moment.diagnosis, LEADING))
        visit.desk.keep_told(moment.advice)
    except DiagnoseError as error:
        visit.talk.say(line(str(error), style="bold"), "u takes back the last entry, l lists all.")
    visit.talk.say(line(KEYS, style=QUIET))


def turn(moment: Moment, answer: str) -> bool:
    """One answer; False where the person goes back to the list of cases."""
    key = answer.lower()
    if key in ("b", "back"):
        return False
    if key.isdecimal():
        _why(moment, int(key))
    elif action := _ACTIONS.get(key):
        return action(moment) is not False
    elif answer:
        moment.visit.note(answer)
    return True


def _do(moment: Moment) -> bool | None:
    """Make the next move."""
    move = moment.advice.move
    if move.kind == REPAIR:
        repair(moment.visit, _if_possible(moment), move.ids)
    elif move.kind == PROVE:
        prove(moment.visit)
    elif move.kind == CLOSE and not moment.case.closed:
        return _close(moment)
    elif move.kind == HAND_OVER:
        return not hand_over(moment.visit)
    elif move.id == COMPLAINT:
        ask_complaint(moment.visit)
    elif move.kind in LOOKS:
        _look(moment, (move.id, *move.along))
    else:
        moment.visit.talk.say(f"{move.name}. {move.reason}")
    return None


def _look(moment: Moment, go: Sequence[str]) -> None:
    """Do the checks of one go; what one of them has asked, the next does not ask again."""
    asked = set[str]()
    for check in moment.checks if len(go) > 1 else moment.advice.next_checks(1):
        left = tuple(id for id in check.findings if id not in asked)
        if check.id in go and (left or not check.findings):
            _start(moment, replace(check, findings=left))
            asked |= set(left)


def _others(moment: Moment) -> None:
    """A short list of checks, one of which can be done instead."""
    talk, shown = moment.visit.talk, [one for one in moment.checks if not one.held_back][:OTHERS]
    for hazard in dict.fromkeys(one.held_back for one in moment.checks if one.held_back):
        waiting = sum(one.held_back is hazard for one in moment.checks)
        talk.say(line(f"{waiting} more wait until it is ruled out: {hazard.name}", style=QUIET))
    labels = [
        f"{check.name} ({worth(check, moment.shop)}, {minutes(check.total_minutes)})" for check in shown
    ]
    chosen = talk.choose("Which check?", labels)
    if chosen is not None:
        _start(moment, shown[chosen])


def _start(moment: Moment, check: CheckValue) -> None:
    """Do a check, unless something must be ruled out before."""
    if check.held_back:
        moment.visit.talk.say(*held_words(check.held_back), *cautions((check.held_back,)))
        moment.visit.talk.pause()
    else:
        do_check(moment.visit, check, moment.advice.expected(check.findings))


def _why(moment: Moment, rank: int) -> None:
    talk, ranked = moment.visit.talk, listed_causes(moment.diagnosis)
    if 1 <= rank <= len(ranked):
        talk.say(brief_in(moment.diagnosis, brief(moment.diagnosis, ranked[rank - 1]), WHY_LINES))
    else:
        talk.say(f"The ranking has no number {rank}.")
    talk.pause()


def _list(moment: Moment) -> None:
    moment.visit.talk.say(history(moment.visit.knowledge, moment.visit.case))
    moment.visit.talk.pause()


def _undo(moment: Moment) -> None:
    visit = moment.visit
    gone = visit.undo()
    visit.talk.say(*(line(f"Taken back: {event_words(visit.knowledge, event)}") for event in gone))
    if not gone:
        visit.talk.say("There is nothing to undo.")


def _fixed(moment: Moment) -> None:
    repair(moment.visit, _if_possible(moment))


def _close(moment: Moment) -> bool:
    """Close it, and go back to the list of cases."""
    close(moment.visit, _if_possible(moment))
    return False


def _reopen(moment: Moment) -> None:
    if moment.visit.case.closed:
        answer = moment.visit.talk.ask("Did it come back (Enter), or was it closed too early (t)?").lower()
        moment.visit.record((Reopened(comeback=not answer.startswith("t")),))


def _help(moment: Moment) -> None:
    moment.visit.talk.say(HELP)
    moment.visit.talk.pause()


def _if_possible(moment: Moment) -> Diagnosis | None:
    """The ranking, unless the evidence cannot be."""
    try:
        return moment.diagnosis
    except DiagnoseError:
        return None


_BY_KEY: Mapping[tuple[str, str], Callable[[Moment], bool | None]] = {
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
