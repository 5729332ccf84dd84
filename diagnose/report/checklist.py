"""The screen of the next checks: cautions first, then what to do, then what each result would say."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from rich.console import Group, RenderableType
from rich.text import Text

from diagnose.diagnosis import Diagnosis
from diagnose.knowledge.away import is_away
from diagnose.knowledge.observable import LAST_RIGHT, is_look, observable
from diagnose.knowledge.records import Hazard, Knowledge
from diagnose.moves.advice import Advice
from diagnose.moves.move import ASK, CLOSE, HAND_OVER, PROVE, REPAIR
from diagnose.planning.checks import CheckValue, Result
from diagnose.planning.shop import Shop
from diagnose.report.move import move_lines
from diagnose.report.screen_words import listed, minutes, percent
from diagnose.report.text import (
    QUIET,
    STRONG,
    WARN,
    Pieces,
    care,
    cause_name,
    cautions,
    foot,
    grid,
    head,
    item,
    line,
)

HELD_NAMED = 6
"""So many checks that are held back are named; of more only the number is told."""


def checks_screen(
    advice: Advice, checks: Sequence[CheckValue], limit: int, everything: bool = False
) -> RenderableType:
    """The next move; where it is a check, in full, those after it and the best for its minutes in short, those held
    back by name. `everything`: cautions and stops in full."""
    diagnosis, shop = advice.diagnosis, advice.shop
    first = (*head(diagnosis.knowledge, diagnosis.case), *move_lines(advice, everything))
    free = [check for check in checks if check.held_back is None]
    if not free or advice.move.kind in (PROVE, CLOSE):
        return Group(*first, *_held(checks), *foot(what_to_type(advice, None)))
    best = best_per_minute(free)
    leads = advice.move.id == free[0].id
    shown = [one for rank, one in enumerate(free) if rank < limit or one is best]
    blocks = [
        _block(diagnosis, rank, one, shop, one is best, leads and rank == 1, everything)
        for rank, one in enumerate(shown, 1)
    ]
    others = any(one not in shown for one in free)
    return Group(
        *first,
        *(() if leads else (Text(""), line("Checks, if one is wanted all the same:", style=QUIET))),
        *blocks,
        *((Text(""), line("Others: diagnose next --all", style=QUIET)) if others or not everything else ()),
        *_held(checks),
        *foot(what_to_type(advice, free[0] if leads else None)),
    )


def what_to_type(advice: Advice, check: CheckValue | None) -> str:
    """How to record that the next move was made. `check`: the check that it is."""
    move = advice.move
    if check is not None:
        return next_step(check)
    return {
        ASK: "diagnose note WORDS",
        REPAIR: "diagnose repair (parts, cautions and proof of the repair)",
        PROVE: "diagnose note WORDS, with --not for what is gone",
        CLOSE: "diagnose close",
        HAND_OVER: "hand over, with diagnose report as the record",
    }.get(move.kind, how_to_record(move.id))


def best_per_minute(checks: Sequence[CheckValue]) -> CheckValue | None:
    """The check that saves the most for its minutes; where none saves money, that tells the most for them."""
    saving = [check for check in checks if check.value > 0]
    if saving:
        return max(saving, key=lambda check: check.value_per_minute)
    return max(checks, key=lambda check: check.bits_per_minute, default=None)


def next_step(check: CheckValue) -> str:
    """How to record what a check shows."""
    return next_step_of(check.id, check.findings)


def next_step_of(id: str, findings: Sequence[str]) -> str:
    """How to record what the check of this id shows."""
    if is_look(id):
        return f"diagnose note {findings[0]}, or with --not if it is not so"
    if findings[:1] == (LAST_RIGHT,):
        return "diagnose note --last-right HOURS (running hours since then)"
    return how_to_record(id)


def how_to_record(check: str) -> str:
    """The command for what a check has shown."""
    return f'diagnose note "WHAT IT SHOWED" --check {check}'


def _block(
    diagnosis: Diagnosis, rank: int, check: CheckValue, shop: Shop, best: bool, full: bool, everything: bool
) -> RenderableType:
    mark = " [while it is still together]" if check.before else ""
    mark += " [best per minute]" if best else ""
    results = _results if full else _results_line
    return Group(
        Text(""),
        item(f"{rank}", f"{check.name}{mark}", style=STRONG, mark_style=STRONG),
        line(f"{worth(check, shop)}; {takes(check)}", 2),
        *(_in_full(check, everything) if full else ()),
        *results(diagnosis.knowledge, check),
        *(() if is_look(check.id) else (line(f"id: {check.id}", 2, QUIET),)),
    )


def _held(checks: Sequence[CheckValue]) -> Pieces:
    """The checks that are not to be done now, by name, each under the hazard to rule out first."""
    held = [(check.held_back, check.name) for check in checks if check.held_back]
    for hazard in dict.fromkeys(hazard for hazard, _ in held):
        names = [name for before, name in held if before == hazard]
        yield from (Text(""), *held_words(hazard))
        if len(names) > HELD_NAMED:
            yield line(f"{len(names)} checks that crank or run the engine or carry its danger wait for it", 2)
        else:
            yield from (item("-", name, 2) for name in names)


def held_words(hazard: Hazard) -> Pieces:
    """That a check or repair is not to be done before something is ruled out."""
    yield item("NOT NOW", f"first rule out: {hazard.name}", 2, mark_style=WARN)


def worth(check: CheckValue, shop: Shop) -> str:
    """What the check saves in money, its own cost taken off."""
    return f"saves {shop.money(check.value)}" if check.value > 0 else "costs more than it tells"


def takes(check: CheckValue) -> str:
    """Minutes, dismantling and bits."""
    return f"{time_words(check)}; tells {check.bits:.2f} bit"


def time_words(check: CheckValue) -> str:
    """Minutes and dismantling."""
    access = f", {minutes(check.access_minutes)} to open and close" if check.access_minutes else ""
    opening = f" ({listed(access.name for access in check.access)})" if check.access else ""
    return f"{minutes(check.minutes)}{access}{opening}"


def _in_full(check: CheckValue, everything: bool) -> Pieces:
    """Cautions, then tools, then steps."""
    yield from cautions(check.hazards) if everything else care(check.hazards)
    if check.tools:
        yield line(f"Tools: {', '.join(check.tools)}", 2)
    yield from (item(f"{i}.", step, 2) for i, step in enumerate(check.steps, 1) if step)


def _results(knowledge: Knowledge, check: CheckValue, most: int = 4) -> Pieces:
    """What the likeliest results would lead to, a row each."""
    table = grid("left", "left")
    for result in check.results[:most]:
        words = f"{result_words(knowledge, result.states)} -> {_after(knowledge, result)}"
        table.add_row(Text(f"  {percent(result.probability):>6}", QUIET), words)
    if check.results:
        yield line("May show -> then first:", 2, QUIET)
        yield table


def _results_line(knowledge: Knowledge, check: CheckValue, most: int = 2) -> Pieces:
    """The same in one paragraph."""
    told = [
        f"{result_words(knowledge, result.states)} -> {_after(knowledge, result)}"
        for result in check.results[:most]
    ]
    if told:
        yield line("; ".join(told), 2, QUIET)


def _after(knowledge: Knowledge, result: Result) -> str:
    return f"{cause_name(knowledge, result.leading)} {percent(result.leading_probability)}"


def result_words(knowledge: Knowledge, states: Mapping[str, str]) -> str:
    """A joint result by what is not normal in it, and by what each test by taking away came to."""
    findings = [(observable(knowledge, id), state) for id, state in states.items()]
    shown = [one.in_words(state) for one, state in findings if state != one.normal or is_away(one.id)]
    if shown:
        return listed(shown)
    return findings[0][0].in_words(findings[0][1]) if len(findings) == 1 else "nothing unusual"
