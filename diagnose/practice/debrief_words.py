"""The debrief in words, as JSON values and as a drawing."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict

from rich.console import Group, RenderableType
from rich.text import Text

from diagnose.knowledge.records import Knowledge
from diagnose.planning.shop import Shop
from diagnose.practice.debrief import Best, Debrief, Point, Turning, TurningEffect
from diagnose.practice.exercise_survey import ExerciseSurvey
from diagnose.practice.judging import MISTAKES, TEACHES
from diagnose.practice.sheet import SKILLS, ExerciseRow, progress
from diagnose.report.data import Json
from diagnose.report.screen_words import count, minutes, percent, weight
from diagnose.report.text import QUIET, STRONG, cause_name, item, line, titled

WORTH_TELLING = 1.0
"""Regret in money below which a move counts as good as the best."""
REPAIRED = "repaired"
COLOURS = ("#0b6e4f", "#b5541c", "#30588c", "#7a4fa3")


def debrief_screen(debrief: Debrief) -> Iterator[RenderableType]:
    """The whole debrief, piece by piece: the best path, which can take seconds, when all the rest was told."""
    run, hidden = debrief.run, debrief.run.beginning.truth
    truth = [cause_name(run.knowledge, id) for id in debrief.truth] or ["something that is not listed here"]
    yield Text(f"Exercise {run.number}: {run.ended or 'not ended'}", STRONG)
    yield line(f"Hidden: {', '.join(truth)}")
    if hidden.title:
        yield line(f"{hidden.title}. {hidden.about}".strip(), style=QUIET)
    yield titled("Your path", *_own(debrief))
    if debrief.story:
        yield titled("How the probabilities went (your own figures in brackets)", *_story(debrief))
    if mistakes := list(_mistakes(debrief)):
        yield titled("Your figures", *mistakes)
    yield titled("Points", *_points(debrief))
    if not debrief.quick:
        yield line("Working out the best path ...", style=QUIET)
    if debrief.best is None:
        yield line(
            "The knowledge has changed since, so the best path can no longer be worked out.", style=QUIET
        )
        return
    yield titled("What should have turned it", *_turning(run.knowledge, debrief.best))
    yield titled("The best path on the same machine", *_best(debrief, debrief.best))


def _own(debrief: Debrief) -> Iterator[RenderableType]:
    shop = debrief.run.shop
    for number, step in enumerate(debrief.steps, 1):
        yield item(f"{number}.", f"{step.name} ({minutes(step.minutes)}, {shop.money(step.money)})")
        if step.comeback:
            back = shop.money(step.comeback)
            yield line(f"of it {back} for the comeback: it came back with the complaint", 3, QUIET)
        if step.regret >= WORTH_TELLING:
            worth = f"{shop.money(step.regret)}, or {minutes(step.regret_minutes)} of the shop's time"
            yield line(f"detour: {worth}. Better then: {step.best}", 3, QUIET)
    yield line(_sum(debrief.run.minutes, debrief.run.money, debrief), style=STRONG)
    yield line(f"Detours by what could be known then: {shop.money(debrief.regret)}")


def _best(debrief: Debrief, best: Best) -> Iterator[RenderableType]:
    yield from (item(f"{number}.", name) for number, name in enumerate(best.path, 1))
    yield line(_sum(best.minutes, best.money, debrief), style=STRONG)
    hard = best.difficulty
    yield line(f"Difficulty: {hard.level} ({count(hard.checks, 'check')})", style=QUIET)
    if debrief.regret >= WORTH_TELLING and debrief.run.money < best.money and debrief.run.ended == REPAIRED:
        yield line(
            "This time luck made your path cheaper than the best one; it does not always.", style=QUIET
        )


def _sum(work: float, money: float, debrief: Debrief) -> str:
    return f"In all {minutes(work)} of work, {debrief.run.shop.money(money)}"


def _turning(knowledge: Knowledge, best: Best) -> Iterator[RenderableType]:
    turning = best.turning
    if turning is None:
        yield line("No finding speaks for the hidden cause by itself.")
        return
    yield line(f"{turning.name}: {weight(turning.decibans, figures=False)} the hidden cause")
    if turning.readings:
        yield line("How it is to be read, by the exact probabilities:", style=QUIET)
        yield from (item("-", words) for words in reading_words(knowledge, turning))
    if turning.readings and not turning.asked:
        yield line("You did not say beforehand what it would move.", style=QUIET)


def reading_words(knowledge: Knowledge, turning: Turning) -> Iterator[str]:
    """What the turning point makes of each cause, and how the apprentice's own reading compares."""
    for one in turning.readings:
        way = "rises" if one.after > one.before else "falls"
        there = " (hidden here)" if one.hidden else ""
        moves = f"{way} from {percent(one.before)} to {percent(one.after)}"
        yield f"{cause_name(knowledge, one.cause)}{there} {moves}{_own_reading(one, turning)}"


def _own_reading(one: TurningEffect, turning: Turning) -> str:
    if not turning.asked:
        return ""
    if one.said == 0:
        return "; you did not name it"
    right = (one.said > 0) == (one.after > one.before)
    return "; so you said" if right else f"; you said that it {'rises' if one.said > 0 else 'falls'}"


def _mistakes(debrief: Debrief) -> Iterator[RenderableType]:
    for name in dict.fromkeys(e.values["mistake"] for e in debrief.run.entries if e.kind == "guessed"):
        if name:
            yield line(MISTAKES[name])


def _story(debrief: Debrief) -> Iterator[RenderableType]:
    for point in debrief.story:
        yield line(f"after {point.after}:", style=QUIET)
        for id, p in point.probabilities.items():
            own = f" ({percent(point.said[id])})" if id in point.said else ""
            yield item(f"  {percent(p):>6}{own}", cause_name(debrief.run.knowledge, id))


def _points(debrief: Debrief) -> Iterator[RenderableType]:
    found = debrief.skills
    values = (found.choosing, found.updating, found.safety, found.stopping)
    for name, value in zip(SKILLS, values, strict=True):
        yield item(f"{'-' if value is None else f'{value:.0f}':>4}", name)
    run = debrief.run
    yield line(
        f"{count(run.count('hinted'), 'hint')}, {count(run.count('stopped'), 'dangerous move')} stopped, "
        f"{count(run.count('missed'), 'danger')} not known",
        style=QUIET,
    )


def debrief_data(debrief: Debrief) -> Json:
    """The debrief as plain JSON values; null is what can no longer be worked out, the knowledge being another."""
    run, best = debrief.run, debrief.best
    return {
        "exercise": run.number,
        "apprentice": run.beginning.apprentice,
        "ended": run.ended,
        "truth": list(debrief.truth),
        "path": [asdict(step) for step in debrief.steps],
        "money": run.money,
        "minutes": run.minutes,
        "regret": debrief.regret,
        "best": best and {"path": list(best.path), "money": best.money, "minutes": best.minutes},
        "difficulty": best and asdict(best.difficulty),
        "turning": asdict(best.turning) if best and best.turning else None,
        "story": [asdict(point) for point in debrief.story],
        "skills": asdict(debrief.skills),
        "hints": run.count("hinted"),
        "stopped": run.count("stopped"),
        "missed": run.count("missed"),
    }


def story_picture(debrief: Debrief) -> str:
    """The probability story as SVG: a line for each cause followed, a dot for each own figure."""
    from diagnose.report.svg import drawing, line, text

    story, knowledge = debrief.story, debrief.run.knowledge
    width, height, left, top = 640.0, 300.0, 44.0, 34.0
    across = (width - left - 20) / max(len(story) - 1, 1)
    shapes = [text(left, 16, "Probability after each step; dots are your own figures", bold=True)]
    for tenth in (0, 25, 50, 75, 100):
        y = top + height * (1 - tenth / 100)
        shapes += [line(left, y, width - 20, y), text(left - 6, y + 4, f"{tenth} %", "end")]
    for number, point in enumerate(story):
        shapes.append(text(left + across * number, top + height + 16, f"{number}", "middle"))
        shapes.append(text(left, top + height + 38 + 15 * number, f"{number}  after {point.after}"))
    legend = top + height + 48 + 15 * len(story)
    for place, id in enumerate(story[0].probabilities if story else ()):
        label = f"{cause_name(knowledge, id)}{' (hidden cause)' if id in debrief.truth else ''}"
        shapes += _curve(story, id, COLOURS[place % len(COLOURS)], left, top, height, across)
        shapes += _key(left, legend + 16 * place, label, COLOURS[place % len(COLOURS)])
    words = "; ".join(f"after {p.after}: {_spoken(p)}" for p in story)
    return drawing(width, legend + 16 * 4, "How the probabilities went", words, shapes)


def _curve(
    story: tuple[Point, ...], id: str, colour: str, left: float, top: float, height: float, across: float
) -> Iterator[str]:
    from diagnose.report.svg import dot, path

    def at(number: int, p: float) -> tuple[float, float]:
        return left + across * number, top + height * (1 - p)

    points = [at(number, point.probabilities[id]) for number, point in enumerate(story)]
    yield path(points, colour)
    yield from (dot(*at(n, point.said[id]), colour) for n, point in enumerate(story) if id in point.said)


def _key(x: float, y: float, label: str, colour: str) -> list[str]:
    from diagnose.report.svg import box, text

    return [box(x, y - 8, 14, 8, colour), text(x + 20, y, label)]


def _spoken(point: Point) -> str:
    return ", ".join(f"{id} {percent(p)}" for id, p in point.probabilities.items())


def sheet_screen(rows: Sequence[ExerciseRow]) -> RenderableType:
    """The sheet on the screen: a few lines an apprentice."""
    if not rows:
        return Text("No exercise yet.")
    pieces: list[RenderableType] = [
        line("Points from 0 to 100; in brackets the last exercises against the first")
    ]
    for one in progress(rows):
        points = zip(SKILLS, one.points, one.change, strict=True)
        words = ", ".join(f"{name} {_pointed(p, change)}" for name, p, change in points)
        pieces.append(item(f"{one.apprentice}:", f"{count(one.exercises, 'exercise')}; {words}"))
    return Group(*pieces)


def _pointed(points: float | None, change: float | None) -> str:
    if points is None:
        return "-"
    return f"{points:.0f}" if change is None else f"{points:.0f} ({change:+.0f})"


def survey_screen(found: ExerciseSurvey, shop: Shop) -> RenderableType:
    """What the trainer wants to know of an exercise."""
    hard = found.difficulty
    place = f"place {found.rank} of the ranking" if found.rank else "not in the ranking"
    return Group(
        line(f"Solvable: {found.solved} of {found.tried} machines repaired by the best moves", style=STRONG),
        line(
            f"Difficulty: {hard.level}; {count(hard.checks, 'check')}, {hard.misleading:.1f} bit misleading"
        ),
        line(f"By the first findings the hidden cause stands at {place}."),
        *(item("rule out first:", name) for name in found.hazards),
        titled("It teaches not to", *(line(f"- {TEACHES[name]}") for name in found.traps)),
        titled("The best path", *(item(f"{i}.", name) for i, name in enumerate(found.path, 1))),
        line(f"In all {minutes(found.minutes)} of work, {shop.money(found.money)}"),
    )
