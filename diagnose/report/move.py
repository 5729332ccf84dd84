"""The next move and what stands before it, as every screen tells it first. Pure."""

from __future__ import annotations

from collections.abc import Sequence

from diagnose.moves.advice import Advice
from diagnose.moves.move import ASK, CHECK, CLOSE, HAND_OVER, MAKE_SAFE, PROVE, REPAIR, Move
from diagnose.moves.stops import DO_NOT_CRANK, Stop
from diagnose.plain import small
from diagnose.planning.keep_running import MOVE, STOP, WATCH
from diagnose.planning.shop import Shop
from diagnose.report.data import Json
from diagnose.report.screen_words import listed, percent
from diagnose.report.text import QUIET, STRONG, WARN, Pieces, item, line

VERBS = {
    ASK: "ASK",
    MAKE_SAFE: "MAKE SAFE",
    CHECK: "CHECK",
    REPAIR: "REPAIR",
    PROVE: "PROVE",
    CLOSE: "CLOSE",
    HAND_OVER: "HAND OVER",
}
SERIOUS = (STOP, DO_NOT_CRANK, MOVE)
MOST = 3
"""Stops named on a screen, the worst first."""


def move_lines(advice: Advice, everything: bool = False) -> Pieces:
    """What must not be done, then the one thing to do now, with why."""
    yield from stop_lines(advice.stops, advice.shop, everything)
    move = advice.move
    yield item(VERBS[move.kind], move.name, style=STRONG, mark_style=STRONG)
    yield line(reason_words(move), 2)
    if move.along:
        yield line(f"In the same go: {'; '.join(advice.names(move.along))}.", 2)


def reason_words(move: Move) -> str:
    """Why, and what would change it."""
    return " ".join(words for words in (move.reason, move.unless) if words)


def stop_lines(stops: Sequence[Stop], shop: Shop, everything: bool = False) -> Pieces:
    """What must not be done now, in one paragraph with the reasons by name, after the suspected hazards with their
    cautions. Where all is asked for, a paragraph each, and what only needs an eye on it."""
    told = [stop for stop in stops if stop.word in SERIOUS]
    if not everything:
        yield from _in_short(told, shop)
        return
    for stop in told:
        yield item(f"{stop.word.upper()}:", stop_words(stop, shop), mark_style=WARN)
    watched = [stop.name for stop in stops if stop.word == WATCH]
    if watched:
        yield item("WATCH:", "; ".join(watched), mark_style=QUIET)


def _in_short(told: Sequence[Stop], shop: Shop) -> Pieces:
    """The hazards, the worst first; of causes only those of the strictest word: who stops it does not move it."""
    hazards = [stop for stop in told if stop.hazard]
    for stop in hazards[:MOST]:
        yield item(f"{stop.word.upper()}:", stop_words(stop, shop), mark_style=WARN)
    of_causes = [stop for stop in told if not stop.hazard]
    if not of_causes:
        return
    first, *others = [stop for stop in of_causes if stop.word == of_causes[0].word]
    named = [f"{small(stop.name)} ({percent(stop.probability)})" for stop in others]
    rest = [f"{len(named) - MOST + 1} more"] if len(named) >= MOST else []
    also = f" Also: {listed([*named[: MOST - 1], *rest])}." if named else ""
    yield item(f"{first.word.upper()}:", f"{stop_words(first, shop)}.{also}", mark_style=WARN)


def stop_words(stop: Stop, shop: Shop) -> str:
    """What it is and what it would wreck."""
    if stop.hazard:
        return f"{stop.name}. {stop.words}"
    where = "; move it out of the way at most" if stop.word == MOVE else ""
    risk = shop.money(stop.running)
    return f"{stop.name} ({percent(stop.probability)}): {stop.words}; about {risk} at risk{where}"


def move_data(advice: Advice) -> Json:
    """The next move as plain values."""
    move = advice.move
    told = {"kind": move.kind, "id": move.id or None, "name": move.name, "reason": move.reason}
    return {**told, "unless": move.unless or None, "saves": move.saves, "along": list(move.along)}


def stops_data(advice: Advice) -> list[Json]:
    """Every standing stop, the worst first."""
    return [
        {
            "word": stop.word,
            "name": stop.name,
            "what": stop.words,
            "hazard": stop.hazard.id if stop.hazard else None,
            "cause": stop.cause or None,
            "probability": stop.probability,
            "forbids": sorted(stop.forbids),
            "cleared_by": [check.id for check in stop.clearing],
        }
        for stop in advice.stops
    ]
