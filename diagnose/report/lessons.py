"""The screens of learning: what changes, which cases to look at again, whether the program was right."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path

from rich.console import Group, RenderableType
from rich.text import Text

from diagnose.errors import Problem
from diagnose.knowledge.records import Knowledge
from diagnose.learning.case_survey import useful
from diagnose.learning.changes import Change, in_words
from diagnose.learning.learn import LearntNumbers
from diagnose.learning.many_cases import Ranked
from diagnose.learning.prepared import Suspect
from diagnose.learning.review import UNLIKELY
from diagnose.report.data import Json
from diagnose.report.screen_words import count, listed, percent
from diagnose.report.text import QUIET, STRONG, Pieces, foot, grid, item, line, titled

HOW_TO_CLOSE = "close cases with what they were: diagnose close CAUSE --confirmed by-sight --proven"
CHANGES_SHOWN, CASES_SHOWN = 15, 5  # rows of a screen; the rest is counted


# --- learning -----------------------------------------------------------------------------------------------


def learn_data(
    learnt: LearntNumbers,
    changes: Sequence[Change],
    path: Path | None,
    written: bool,
    notices: Sequence[Problem] = (),
) -> Json:
    """What was learnt, as plain values. `notices`: how overlays of an earlier version were read."""
    survey = learnt.survey
    return {
        "cases": survey.cases,
        "counted": learnt.counted,
        "weight": learnt.weight,
        "fleet_hours": learnt.fleet_hours,
        "hours_at_risk": learnt.hours,
        "left_out": dict(survey.left_out),
        "repeated": [{"case": case, "first": first} for case, first in learnt.repeated],
        "set_aside": [asdict(one) for one in learnt.suspects if one.aside],
        "doubtful": [asdict(one) for one in learnt.suspects if not one.aside],
        "passes": learnt.passes,
        "findings_that_teach": len(useful(survey)),
        "findings_noted": len(survey.noted),
        "changes": [asdict(one) | {"decibans": one.decibans} for one in changes],
        "overlay": str(path) if path else None,
        "written": written,
        "notices": [one.to_dict() for one in notices],
    }


def learn_screen(
    learnt: LearntNumbers,
    changes: Sequence[Change],
    limit: int | None,
    path: Path | None,
    written: bool,
    notices: Sequence[Problem] = (),
) -> RenderableType:
    """What was learnt from which cases. `notices`: how overlays of an earlier version were read."""
    return Group(
        *_counted(learnt),
        *_again(learnt),
        *_changes(learnt.knowledge, changes, limit),
        *_hours(learnt),
        *_teaching(learnt),
        *(line(str(one), style=QUIET) for one in notices),
        *foot(_next(changes, path, written)),
    )


def _counted(learnt: LearntNumbers) -> Pieces:
    survey = learnt.survey
    days = f", closed {survey.first} to {survey.last}" if survey.first else ""
    yield line(f"{count(survey.cases, 'case')}; {learnt.counted} taught something{days}", style=STRONG)
    table = grid("right", "left")
    for reason, number in survey.left_out.most_common(6):
        table.add_row(str(number), reason)
    if learnt.repeated:
        table.add_row(str(len(learnt.repeated)), "stand there twice: counted once")
    if aside := survey.cases - sum(survey.left_out.values()) - len(learnt.repeated) - learnt.counted:
        table.add_row(str(aside), "set aside: see below (--all-cases counts them)")
    yield table


def _again(learnt: LearntNumbers) -> Pieces:
    """Cases that stand there twice, and those that hardly fit."""
    if learnt.repeated:
        pairs = [f"{case} (= {first})" for case, first in learnt.repeated[:CASES_SHOWN]]
        yield titled("The same case twice", line(listed([*pairs, *_more(learnt.repeated)]), 2))
    if learnt.suspects:
        worst = sorted(learnt.suspects, key=lambda one: (not one.aside, one.probability))
        pieces = [_suspect(learnt.knowledge, one) for one in worst[:CASES_SHOWN]]
        yield titled(
            "Cases to look at again: what was seen hardly goes with what it is said to have been",
            *pieces,
            *(line(text, 2, QUIET) for text in _more(learnt.suspects)),
            line(f"{_by_chance(learnt)} Several of one cause? Then the knowledge may be wrong.", 2, QUIET),
        )


def _by_chance(learnt: LearntNumbers) -> str:
    """How many right cases look like these."""
    right = round(UNLIKELY * (learnt.survey.cases - sum(learnt.survey.left_out.values())))
    return f"Were every case right, about {right or 'none'} would look like this."


def _more(items: Sequence[object]) -> list[str]:
    return [f"{len(items) - CASES_SHOWN} more"] if len(items) > CASES_SHOWN else []


def _suspect(knowledge: Knowledge, suspect: Suspect) -> RenderableType:
    causes = listed(name_of(knowledge, id) for id in suspect.causes)
    seen = [
        f"{knowledge.findings[id].in_words(state)} ({percent(share)} of such machines)"
        for id, state, share in suspect.findings
    ]
    aside = " (set aside)" if suspect.aside else ""
    return item(f"case {suspect.case}{aside}", f"{causes}. Yet seen: {listed(seen)}", 2)


def _changes(knowledge: Knowledge, changes: Sequence[Change], limit: int | None) -> Pieces:
    shown = changes if limit is None else changes[:limit]
    if not shown:
        return
    pieces = []
    for change in shown:
        table = grid("left", "left")
        before, after = (_number(change, value) for value in (change.before, change.after))
        table.add_row(
            Text(f"{before:>8} -> {after:<8}"),
            Text.assemble(in_words(knowledge, change), (_cases(change), QUIET)),
        )
        pieces.append(table)
    left = len(changes) - len(shown)
    rest = [line(f"and {left} more (--all shows them)", 2, QUIET)] if left else []
    yield titled(
        f"What changes: {count(len(changes), 'number')}, those first that moved most", *pieces, *rest
    )


def _cases(change: Change) -> str:
    if change.kind == "prior":
        worth = f", worth {change.cases:.0f}" if change.cases < 0.9 * change.counted else ""
        return f", found in {change.found} of {change.counted} cases{worth}"
    return f", {max(round(change.cases), 1)} {'case' if round(change.cases) <= 1 else 'cases'}"


def _number(change: Change, value: float) -> str:
    return f"{value:.2g}" if change.happens else fine_percent(value)


def _hours(learnt: LearntNumbers) -> Pieces:
    """Where the level of the rates comes from."""
    if not learnt.hours:
        return
    hours = f"{learnt.hours:,.0f} running hours"
    if learnt.fleet_hours is None:
        yield line(
            "Which causes are common against others is learnt, how common all are together is not: nobody "
            f"told how many hours the fleet ran (--fleet-hours). Taken are {hours}, so many as the rates of the "
            "knowledge need for these cases.",
            style=QUIET,
        )
    else:
        yield line(
            f"Rates are events over time at risk: {hours}, the share of the fleet's "
            f"{learnt.fleet_hours:,.0f} that the cases which count stand for.",
            style=QUIET,
        )


def _teaching(learnt: LearntNumbers) -> Pieces:
    noted, teaching = len(learnt.survey.noted), len(useful(learnt.survey))
    if noted > teaching:
        yield line(
            f"Of {count(noted, 'finding')} (complaints aside) {noted - teaching} taught nothing: they are hardly "
            "ever written down where they are not there. Note with --not what was looked for and was not there.",
            style=QUIET,
        )


def _next(changes: Sequence[Change], path: Path | None, written: bool) -> str:
    if written:
        return f"in force from now on ({path}); diagnose learn --undo takes it back"
    if not changes:
        return HOW_TO_CLOSE
    return "diagnose learn --write puts it in force; diagnose learn calibration shows whether the program was right"


def fine_percent(p: float) -> str:
    """With two figures where it is small or large: `0.0092 %`, `0.25 %`, `4.0 %`, `83 %`, `99.6 %`."""
    value = 100 * p
    if value in (0, 100) or 9.95 <= value <= 90:
        return f"{value:.0f} %"
    return f"{value:.1f} %" if value > 0.995 else f"{value:.2g} %"


def name_of(knowledge: Knowledge, id: str) -> str:
    """A cause by its name."""
    cause = knowledge.causes.get(id)
    return cause.name if cause else id


# --- many cases ranked --------------------------------------------------------------------------------------


def ranked_data(knowledge: Knowledge, ranked: Ranked) -> Json:
    """One case of many, ranked; its causes as `diagnose causes --json` has them."""
    head = {"case": ranked.case, "machine": ranked.machine, "knowledge": knowledge.version}
    if ranked.error:
        return head | {"error": ranked.error}
    causes = [
        {
            "id": one.id,
            "name": one.name,
            "system": one.system,
            "probability": one.probability,
            "role": one.role,
            "wrecked_by": one.wrecked_by or None,
            "prior": one.prior,
            "relevant": one.relevant,
        }
        for one in ranked.causes
    ]
    return head | {"causes": causes, "other_cause": ranked.other_cause, "unused": list(ranked.unused)}
