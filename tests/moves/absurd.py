"""What a technician would call absurd in what is asked, repaired and stopped (common practice of the trade)."""

from __future__ import annotations

from collections.abc import Iterable
from functools import partial

from diagnose.knowledge.away import is_away
from diagnose.knowledge.paths import links_of, strengths_below
from diagnose.knowledge.records import Repair
from diagnose.moves.advice import Advice
from diagnose.moves.move import REPAIR
from diagnose.moves.standing import SURE
from diagnose.planning.keep_running import STOP, tells_of


def stop_now_where_no_harm_is_near(now: Advice) -> bool:
    """For a slack belt, or dust that wears an engine over months: moving it costs less than an hour to look."""
    stops = (stop for stop in now.stops if stop.word == STOP and not stop.hazard)
    return any(stop.moving <= now.shop.time(60) for stop in stops)


def part_of_something_else_beside_a_repair(now: Advice) -> bool:
    """A pressure cap beside a sensor of the exhaust; two kinds of one turbocharger."""
    if now.move.kind != REPAIR or len(now.move.ids) == 1:
        return False
    done = [now.knowledge.repairs[id] for id in now.move.ids]
    return any(_for_little(now, one, [other for other in done if other is not one]) for one in done)


def _for_little(now: Advice, one: Repair, others: list[Repair]) -> bool:
    """A part of another system that cures nothing likely which the others do not, is named with none of them and
    shares no dismantling."""
    cured = {cure.cause for other in others for cure in other.cures}
    alone = [now.diagnosis.cause(cure.cause) for cure in one.cures if cure.cause not in cured]
    near = {id for other in others for id in other.together} | {o.id for o in others if o.id in one.together}
    near |= {id for other in others for id in other.access} & set(one.access)
    near |= {other.system for other in others} & {one.system}
    instead = sum(c.probability for c in alone if c) < 0.1
    return instead and bool(one.parts) and one.id not in near and not near


def repair_before_a_quick_look(now: Advice) -> bool:
    """Bearings renewed on a guess, with the filter not cut: ten minutes would show whether the cause is there."""
    if now.move.kind != REPAIR or now.move.reason.startswith("The complaint is gone"):
        return False
    cured = {cure.cause for id in now.move.ids for cure in now.knowledge.repairs[id].cures}
    cause = next((one for one in now.diagnosis.causes if one.relevant and one.id in cured), None)
    if cause is None or cause.probability >= SURE:
        return False
    shows = tells_of(now.knowledge, cause.id)
    quick = (one for one in now.situation.checks if now.check_price(one).minutes <= 10)
    return now.diagnosis.known.isdisjoint(shows) and any(set(one.findings) & set(shows) for one in quick)


def question_for_side_signs_of_a_rare_cause(now: Advice) -> bool:
    """In one go: the charge lamp of an engine that overheats, for a belt at nine per cent."""
    made = ("ask:", "where:")  # a fact of the machine, a place: no cause brings them about
    options = [now.check_option(id) for id in now.move.along if not id.startswith(made)]
    return any(_hardly_bears(now, option.findings) for option in options if option is not None)


def _hardly_bears(now: Advice, findings: Iterable[str]) -> bool:
    """Whether less than 15 % of what is in question can well bring one of these about."""
    relevant = [cause for cause in now.diagnosis.causes if cause.relevant and cause.probability >= 0.01]
    links, found = partial(links_of, now.knowledge), set(findings)
    shown = (one for one in relevant if found & strengths_below(links, one.id, 0.05).keys())
    return sum(one.probability for one in shown) < 0.15 * sum(one.probability for one in relevant)


def sign_of_hours_asked_right_after_a_repair(now: Advice) -> bool:
    """Whether it uses less oil, with the spanners still warm."""
    if len(now.case.epochs) == 1:
        return False
    waits = {id: check.wait for id, check in now.knowledge.checks.items()}
    asked = ((id, waits.get(check.id, 0.0)) for check in now.next_checks() for id in check.findings)
    found = now.knowledge.findings
    return any(id in found and found[id].after_hours > wait for id, wait in asked)


def codes_counted_by_hand_after_they_were_read(now: Advice) -> bool:
    """Whether several circuit codes are stored, of one who has just told the codes."""
    found, seen = now.knowledge.findings, now.case.epochs[-1].observations
    read = any(found[one.finding].kind == "code" for one in seen)
    asked = (id for check in now.next_checks() for id in check.findings if id in found)
    return read and any(found[id].circuit_codes for id in asked)


def move_that_its_own_list_calls_not_worth_its_minutes(now: Advice) -> bool:
    """Ask how fast it gets hot: saves 520; and under it in the list: costs more than it tells, 0.00 bit."""
    saving = {now.situation.checks[n].id for n in (*now.order.ahead, *now.order.saving)}
    together = {now.move.id, *now.move.along} & saving
    return any(one.id in together and (one.value <= 0 or one.bits <= 0) for one in now.next_checks())


def question_told_as_a_question_within_a_list(now: Advice) -> bool:
    """In the same go: look: battery flat?"""
    return any(": " in name or name.endswith("?") for name in now.names(now.move.along))


def small_thing_beside_the_point_before_what_saves_the_most(now: Advice) -> bool:
    """The mixture of the coolant, before the sump of an engine whose bearings knock comes off."""
    order, first = now.order, now.order.first
    if first is None or order.ahead or order.asks_since or now.move.id != now.situation.checks[first].id:
        return False
    option = now.situation.checks[first]
    made = option.check is None or any(map(is_away, option.findings))
    most = max(order.saved[n].money for n in order.saving)
    return not made and order.saved[first].money < most and _hardly_bears(now, option.findings)


def check_whose_results_do_not_add_up(now: Advice) -> bool:
    """What is predicted of a check is a distribution, or its saving is made of nothing."""
    return any(bool(abs(one.results.sum(axis=1) - 1).max() > 1e-6) for one in now.situation.problem.tests)


ABSURD = (
    check_whose_results_do_not_add_up,
    small_thing_beside_the_point_before_what_saves_the_most,
    move_that_its_own_list_calls_not_worth_its_minutes,
    stop_now_where_no_harm_is_near,
    part_of_something_else_beside_a_repair,
    repair_before_a_quick_look,
    question_for_side_signs_of_a_rare_cause,
    sign_of_hours_asked_right_after_a_repair,
    codes_counted_by_hand_after_they_were_read,
    question_told_as_a_question_within_a_list,
)
