"""The one thing to do now, of seven kinds, with its reason: the action of least expected cost that is safe.

Money as the planner counts it (planning/planner.py): what each action is expected to cost from here to a proven
repair, repairing now among them, with and without one more check. Three things come before money: a complaint that
nobody told, a stop that can be cleared, a repair that nobody tried.
"""

from __future__ import annotations

from dataclasses import dataclass

from diagnose.diagnosis import RankedCause
from diagnose.knowledge.observable import is_question, is_where
from diagnose.moves.ending import (
    complaint_to_note,
    gone,
    proofs,
    repaired,
    to_see_later,
    waits_for_work,
)
from diagnose.moves.standing import NOTHING, SURE, Standing
from diagnose.moves.stops import DO_NOT_CRANK, STAYS, Stop
from diagnose.plain import percent, small
from diagnose.planning.decide import TO_A_SPECIALIST
from diagnose.planning.keep_running import FORBIDS, STOP
from diagnose.planning.options import CheckOption
from diagnose.planning.repairs import RepairChoice
from diagnose.planning.since import ASK_LAST_RIGHT

KINDS = ASK, MAKE_SAFE, CHECK, REPAIR, PROVE, CLOSE, HAND_OVER = (
    "ask",
    "make_safe",
    "check",
    "repair",
    "prove",
    "close",
    "hand_over",
)
COMPLAINT = "complaint"
"""The id of asking what the machine came in for."""
LONG = 3.0
"""A check that clears a stop comes first unless one that is worth doing takes this many times less (judgement)."""


@dataclass(frozen=True, slots=True)
class Move:
    """What to do now. `ids`: of the repairs done together, or the one of the check or the proof; `name`: in words;
    `reason`: one plain sentence; `unless`: what would change it; `saves`: expected money against repairing
    at once without a check; `along`: ids of what else is asked in the same go."""

    kind: str
    ids: tuple[str, ...]
    name: str
    reason: str
    saves: float = 0.0
    unless: str = ""
    along: tuple[str, ...] = ()

    @property
    def id(self) -> str:
        """The ids as one word, with `+` between."""
        return "+".join(self.ids)


def move_of(now: Standing) -> Move:
    """The next move of a case."""
    return _ended(now) or _told_nothing(now) or making_safe(now) or _cheapest(now)


def _ended(now: Standing) -> Move | None:
    """What is left to do once something was repaired, or the case is closed."""
    knowledge, case = now.knowledge, now.case
    if case.closed:
        return Move(
            CLOSE, (), "Nothing", "This case is closed.", unless="The complaint comes back: reopen it."
        )
    if waits_for_work(knowledge, case):
        return _put_to_work(now)
    if complaint_to_note(knowledge, case):
        name = "Try the machine: is the complaint gone?"
        reason = "Nobody has noted since the repair whether the complaint is gone."
        return Move(PROVE, repaired(case), name, reason)
    if not gone(knowledge, case):
        return None
    return _left_in(now) or _proved(now)


def _put_to_work(now: Standing) -> Move:
    """What can only be seen after hours of work: the machine goes out, the case stays open."""
    later = to_see_later(now.knowledge, now.case)
    hours = max(one.after_hours for one in later)
    name = f"After about {hours:g} h: {'; '.join(small(one.name) for one in later)}?"
    reason = "This cannot be seen in the shop. It falls due later; the case stays open until then."
    return Move(PROVE, repaired(now.case), name, reason)


def _left_in(now: Standing) -> Move | None:
    """The repair of what is still there and wrecks more, though nobody complains any more."""
    for one in now.running:
        if one.cause.probability >= STAYS and one.advice in FORBIDS:
            choice = now.curing(one.cause.id)
            if choice:
                reason = f"The complaint is gone, but {small(one.cause.name)} is still there: {one.what}."
                return _repair(choice, reason)
    return None


def _proved(now: Standing) -> Move:
    left = proofs(now.knowledge, now.case)
    due = [one for one in left if not one.later]
    if due:
        reason = "The complaint is gone; the repair is not proven yet."
        return Move(PROVE, (due[0].id,), due[0].words, reason)
    if left:
        reason = "The complaint is gone. This proof falls due later; the case stays open until then."
        return Move(PROVE, (left[0].id,), left[0].words, reason)
    return Move(CLOSE, (), "Close the case", "The complaint is gone and the repair is proven.")


def _told_nothing(now: Standing) -> Move | None:
    if now.diagnosis.shown or now.case.inspection or repaired(now.case):
        return None
    reason = "Nothing wrong is noted yet; all that follows hangs on it."
    return Move(ASK, (COMPLAINT,), "Ask what it came in for", reason)


def making_safe(now: Standing) -> Move | None:
    """Clear the worst stop that can be cleared; a cause that is sure is repaired, not cleared."""
    for stop in now.stops:
        if stop.word not in (STOP, DO_NOT_CRANK) or not stop.clearing or stop.probability >= SURE:
            continue
        check = stop.clearing[0]
        if stop.hazard is None and _much_quicker(now, check):
            return None
        return Move(MAKE_SAFE, (check.id,), check.name, _why_safe(stop), unless=_until(stop))
    return None


def _much_quicker(now: Standing, clearing: CheckOption) -> bool:
    first = now.order.first
    if first is None:
        return False
    return LONG * now.situation.minutes(first) <= now.check_price(clearing).minutes


def _why_safe(stop: Stop) -> str:
    if stop.hazard:
        return f"{stop.name}: rule it out before anything else."
    return f"{stop.name} ({percent(stop.probability)}) could wreck more: this settles it with the engine stopped."


def _until(stop: Stop) -> str:
    return "" if stop.hazard else f"If it shows nothing, {small(stop.name)} stops nobody."


def _cheapest(now: Standing) -> Move:
    """The action of least expected cost: one more check, repairing now, or handing over."""
    check, leading = _check(now), now.leading
    sure = leading is not None and leading.probability >= SURE
    enough = now.best_saving <= now.slack if sure else now.none_worth_its_price
    if check is not None and not enough:
        return check
    choice = now.best_repair
    if choice is None or (now.hands_over and not sure):
        return check or _hand_over(now)
    if (number := now.proof_first(choice)) is not None:
        return _proof_first(now, number, choice)
    return _repair(choice, _why_repair(now, check, leading), _unless(check))


def _check(now: Standing) -> Move | None:
    """The check that saves the most, or the question."""
    order = now.order
    number = order.first
    along = order.go[1:]
    if order.question and order.asks_since:
        reason = "What is likely hangs on it."
        return Move(ASK, (ASK_LAST_RIGHT,), order.question.name, reason, order.question.value, along=along)
    if number is None:
        return None
    option, value = now.situation.checks[number], order.saved[number].money
    kind = ASK if is_question(option.id) or is_where(option.id) else CHECK
    reason = _why_check(now, value, number in order.ahead)
    return Move(kind, (option.id,), option.name, reason, value, along=along)


def _proof_first(now: Standing, number: int, choice: RepairChoice) -> Move:
    """The look that shows whether the cause is there, before its repair."""
    option, saved = now.situation.checks[number], now.order.saved.get(number)
    cost = now.shop.money(choice.cash)
    reason = f"Look first: the cause is not sure, and this takes little beside a repair of {cost}."
    return Move(CHECK, (option.id,), option.name, reason, saved.money if saved else 0.0)


def _why_check(now: Standing, value: float, ahead: bool) -> str:
    saves = now.shop.money(value)
    if ahead:
        return f"It must be done while the engine is still together; repairing now would cost {saves} more."
    return f"Expected to save {saves} against repairing now{_how_sure(now.leading)}."


def _how_sure(leading: RankedCause | None) -> str:
    if leading is None:
        return ""
    likely = percent(leading.probability)
    return (
        f", though {likely} is near sure"
        if leading.probability >= SURE
        else f": no cause is above {likely} yet"
    )


def _why_repair(now: Standing, check: Move | None, leading: RankedCause | None) -> str:
    stands = f"{small(leading.name)} is as good as sure ({percent(leading.probability)})" if leading else ""
    if leading and leading.probability >= SURE:
        saves, whole = now.shop.money(now.best_saving), now.shop.money(now.repairs_alone)
        rest = (
            f"no check left saves more than {saves} of {whole}"
            if now.best_saving > NOTHING
            else "no further check saves anything"
        )
        return f"{stands[0].upper()}{stands[1:]}; {rest}."
    return "No check tells enough to be worth its time: trying this is the cheapest way on."


def _unless(check: Move | None) -> str:
    return f"In doubt still: {check.name}." if check else ""


def _repair(choice: RepairChoice, reason: str, unless: str = "") -> Move:
    ids = tuple(repair.id for repair in choice.repairs)
    return Move(REPAIR, ids, " + ".join(repair.name for repair in choice.repairs), reason, 0.0, unless)


def _hand_over(now: Standing) -> Move:
    reason = "Neither a check nor a repair of the knowledge is expected to cost less."
    return Move(HAND_OVER, (), TO_A_SPECIALIST, reason)
