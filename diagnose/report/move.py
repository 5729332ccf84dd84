"""The next move and what stands before it, as every screen tells it first. Pure."""

from __future__ import annotations

from collections.abc import Sequence

from diagnose.moves.advice import Advice
from diagnose.moves.move import ASK, CHECK, CLOSE, HAND_OVER, MAKE_SAFE, PROVE, REPAIR, Move
from diagnose.moves.stops import DO_NOT_CRANK, Stop
from diagnose.planning.keep_running import MOVE, STOP, WATCH
from diagnose.planning.shop import Shop
from diagnose.report.data import Json
from diagnose.report.text import QUIET, STRONG, WARN, Pieces, item, line
from diagnose.report.words import percent

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
"""Stops told on a screen, the worst first."""


def move_lines(advice: Advice, everything: bool = False) -> Pieces:
    """What must not be done, then the one thing to do now, with why."""
    yield from stop_lines(advice.stops, advice.shop, everything)
    move = advice.move
    yield item(VERBS[move.kind], move.name, style=STRONG, mark_style=STRONG)
    yield line(reason_words(move), 2)
    if move.along:
        yield line(f"Ask in the same go: {'; '.join(advice.names(move.along))}.", 2)


def reason_words(move: Move) -> str:
    """Why, and what would change it."""
    return " ".join(words for words in (move.reason, move.unless) if words)


def stop_lines(stops: Sequence[Stop], shop: Shop, everything: bool = False) -> Pieces:
    """The worst stops, one paragraph each; what only needs an eye on it is told where all is asked for."""
    told = [stop for stop in stops if stop.word in SERIOUS]
    for stop in told if everything else told[:MOST]:
        yield item(f"{stop.word.upper()}:", stop_words(stop, shop), mark_style=WARN)
    if not everything and len(told) > MOST:
        yield line(f"and {len(told) - MOST} more of the kind", 2, QUIET)
    watched = [stop.name for stop in stops if stop.word == WATCH]
    if everything and watched:
        yield item("WATCH:", "; ".join(watched), mark_style=QUIET)


def stop_words(stop: Stop, shop: Shop) -> str:
    """What it is and what it would wreck."""
    if stop.hazard:
        return f"{stop.name}. {stop.words}"
    where = " Move it out of the way at most." if stop.word == MOVE else ""
    risk = shop.money(stop.running)
    return f"{stop.name} ({percent(stop.probability)}): {stop.words}; about {risk} at risk.{where}"


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
