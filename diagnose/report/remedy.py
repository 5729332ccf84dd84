"""The screen of the repair choices: what to do together, what it costs now and later, how to prove it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rich.console import Group, RenderableType
from rich.text import Text

from diagnose.diagnosis import Diagnosis
from diagnose.knowledge.records import Part, Repair
from diagnose.moves.advice import Advice
from diagnose.moves.ending import proofs
from diagnose.moves.move import CLOSE, PROVE, REPAIR
from diagnose.plain import small
from diagnose.planning.repairs import RepairChoice
from diagnose.planning.shop import Shop
from diagnose.report.checklist import held_words, what_to_type
from diagnose.report.move import move_lines
from diagnose.report.repair_words import why
from diagnose.report.screen_words import listed, minutes, percent
from diagnose.report.text import QUIET, STRONG, Pieces, care, cautions, foot, grid, head, item, line, titled

ALL_THE_SAME = "If it is repaired now all the same:"


def repair_screen(
    advice: Advice, choices: Sequence[RepairChoice], limit: int, everything: bool = False
) -> RenderableType:
    """The next move, then the best choice in full, others in short. `choices`: all that were weighed, the next move
    or the cheapest first."""
    diagnosis, shop = advice.diagnosis, advice.shop
    first = (*head(diagnosis.knowledge, diagnosis.case), *move_lines(advice, everything))
    if not choices:
        none = line("No repair of the knowledge cures anything that can be behind what was noted.")
        return Group(*first, none, *foot("diagnose next (what to check), or diagnose note WORDS"))
    if advice.move.kind in (PROVE, CLOSE) and not everything:
        return Group(*first, *_proof_left(advice), *foot(what_to_type(advice, None)))
    best = choices[0]
    return Group(
        *first,
        *(() if advice.move.kind == REPAIR else (Text(""), line(ALL_THE_SAME, style=QUIET))),
        *(held_words(best.held_back) if best.held_back else ()),
        *(cautions(best.hazards) if everything else care(best.hazards)),
        Text(""),
        *_best(best, shop),
        *_together(choices, shop),
        *_while_open(diagnosis, choices, shop),
        *_others(shown(choices, limit)[1:], shop),
        *_proof(best),
        *foot(_next_step(best) if advice.move.kind == REPAIR else what_to_type(advice, None)),
    )


def _proof_left(advice: Advice) -> Pieces:
    """What still proves the repair."""
    left = proofs(advice.knowledge, advice.case)
    if left:
        marks = (f"{one.words}{' (later)' if one.later else ''}" for one in left)
        yield titled("Proof of the repair", *(item("-", words, 1) for words in marks))


def shown(choices: Sequence[RepairChoice], limit: int) -> tuple[RepairChoice, ...]:
    """The first choices; the best single repair is always among them."""
    first = tuple(choices[:limit])
    single = best_single(choices)
    return first if single is None or single in first else (*first, single)


def best_single(choices: Iterable[RepairChoice]) -> RepairChoice | None:
    """The best choice of one repair alone."""
    return next((choice for choice in choices if len(choice.repairs) == 1), None)


def names(choice: RepairChoice) -> str:
    """The repairs of a choice in words."""
    return " + ".join(repair.name for repair in choice.repairs)


def _best(best: RepairChoice, shop: Shop) -> Pieces:
    yield item("1", names(best), style=STRONG, mark_style=STRONG)
    yield line(_now(best, shop), 2)
    yield line(_later(best, shop), 2)
    if best.access:
        opened = listed(access.name for access in best.access)
        yield item("open", f"{opened} (paid once for all)", 2, mark_style=QUIET)
    yield from _parts(best.parts, shop)
    yield line("Why:", 2, QUIET)
    yield from (item("-", reason, 2) for reason in why(best, shop))


def _now(choice: RepairChoice, shop: Shop) -> str:
    labour = shop.money(choice.cash - choice.parts_cost)
    return (
        f"Now {shop.money(choice.cash)}: parts {shop.money(choice.parts_cost)}, "
        f"labour and standing still {labour} ({minutes(choice.labour_minutes)})"
    )


def _later(choice: RepairChoice, shop: Shop) -> str:
    """What is to be expected after it; sums that do not count are left out."""
    later = [
        (choice.after, f"still broken in {percent(choice.still_broken)}, with a comeback and what follows"),
        (choice.wear, "wear of the parts left in"),
        (choice.damage, "damage by what may be left in"),
    ]
    told = [f"{what} {shop.money(sum)}" for sum, what in later if sum >= 1]
    total = f"In all {shop.money(choice.expected_cost)} over the next {shop.horizon:,.0f} h"
    return f"Later: {'; '.join(told)}. {total}" if told else total


def _parts(parts: Iterable[Part], shop: Shop) -> Pieces:
    table = grid("right", "left")
    for part in parts:
        price = shop.prices.get(part.name, part.price) * part.quantity
        table.add_row(f"  {part.quantity:g} x", f"{part.name}{part_marks(part)}, {shop.money(price)}")
    if table.row_count:
        yield line("Parts:", 2, QUIET)
        yield table


def part_marks(part: Part) -> str:
    """What to know of a part: renewed each time it is off, renewed as a set."""
    marks = ["as a set"] if part.quantity > 1 else []
    marks += ["single use, never put back"] if part.single_use else []
    return f" ({'; '.join(marks)})" if marks else ""


def _together(choices: Sequence[RepairChoice], shop: Shop) -> Pieces:
    """The best set against the best single repair, in one sentence of money."""
    best, single = choices[0], best_single(choices)
    if single is not None:
        words = set_against_single(best, single, shop)
        yield from (Text(""), line(words or _single_wins(choices, shop), style=STRONG))


def set_against_single(best: RepairChoice, single: RepairChoice, shop: Shop) -> str:
    """What doing them together saves; empty where the single repair is the best."""
    if single is best:
        return ""
    more, saved = best.cash - single.cash, single.expected_cost - best.expected_cost
    pay = (
        f"{shop.money(more)} more now, but {shop.money(saved)} less"
        if more > 0
        else f"{shop.money(saved)} less"
    )
    return f"Done together they cost {pay} in all than {small(single.repairs[0].name)} alone."


def _single_wins(choices: Sequence[RepairChoice], shop: Shop) -> str:
    several = next((choice for choice in choices if len(choice.repairs) > 1), None)
    if several is None:
        return "There is nothing to be done together with it."
    more = several.expected_cost - choices[0].expected_cost
    return (
        f"It is best done alone: the best set ({small(names(several))}) costs {shop.money(more)} more in all."
    )


def _while_open(diagnosis: Diagnosis, choices: Sequence[RepairChoice], shop: Shop) -> Pieces:
    """What belongs together with the best choice but did not pay."""
    blocks = [item("-", words, 1) for words in while_open(diagnosis, choices, shop)]
    if blocks:
        yield titled("While it is open, thought of and left", *blocks)


def while_open(diagnosis: Diagnosis, choices: Sequence[RepairChoice], shop: Shop) -> tuple[str, ...]:
    """Each repair that belongs together with one of the best choice and is not in it, with why."""
    best = choices[0]
    inside = {repair.id for repair in best.repairs}
    beside = dict.fromkeys(id for repair in best.repairs for id in repair.together if id not in inside)
    by_ids = {frozenset(repair.id for repair in choice.repairs): choice for choice in choices}
    return tuple(
        _left_out(diagnosis.knowledge.repairs[id], best, by_ids.get(frozenset({*inside, id})), shop)
        for id in beside
    )


def _left_out(repair: Repair, best: RepairChoice, with_it: RepairChoice | None, shop: Shop) -> str:
    if with_it is None:
        return f"{repair.name}: nothing that was noted asks for it; look at it while it is open"
    more = with_it.expected_cost - best.expected_cost
    return f"{repair.name}: would cost {shop.money(more)} more than it saves"


def _others(choices: Sequence[RepairChoice], shop: Shop) -> Pieces:
    for rank, choice in enumerate(choices, 2):
        now, total = shop.money(choice.cash), shop.money(choice.expected_cost)
        yield Text("")
        yield item(f"{rank}", names(choice), style=STRONG, mark_style=STRONG)
        yield line(f"now {now}, in all {total}; still broken {percent(choice.still_broken)}", 2)


def _proof(best: RepairChoice) -> Pieces:
    lines = dict.fromkeys(words for repair in best.repairs for words in repair.verify)
    if lines:
        yield titled("Proof of the repair", *(item("-", words, 1) for words in lines))


def _next_step(best: RepairChoice) -> str:
    repaired = " ".join(f"--repaired {repair.id}" for repair in best.repairs)
    return f"diagnose note {repaired}; then try it and note the complaint again, or with --not if it is gone"
