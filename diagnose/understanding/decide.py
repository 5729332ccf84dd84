"""Whether a run of words means one finding clearly, or which few it may mean."""

from __future__ import annotations

from collections.abc import Mapping

from diagnose.understanding import parts as kinds
from diagnose.understanding.index import Index
from diagnose.understanding.likeness import ABSENT, UNCLEAR
from diagnose.understanding.parts import Alternative, Part
from diagnose.understanding.ranking import ranked
from diagnose.understanding.segment import Run
from diagnose.understanding.tokens import CIRCUMSTANCES, DENIED, stem

CLEAR = 0.85  # a likelihood from which nothing is asked
ASK = 0.4  # what the choices of a question must reach together
CLOSE = 0.08  # a choice is worth showing if it has this share of the best one's likelihood
MOST = 3

GENERAL: Mapping[frozenset[str], tuple[str, ...]] = {
    frozenset(map(stem, words.split())): tuple(ids.split())
    for words, ids in {
        "smoke": "black_smoke white_smoke_warm blue_smoke grey_smoke",
        "leak": "fuel_leak_outside oil_leak_outside outside_coolant_leak_seen",
        "smell": "exhaust_smell_in_cab oil_smell_burnt burning_smell_electrical",
        "noise": "knock_hard_metallic knock_deep_load ticking_top_end",
        "warning lamp": "warning_lamp_amber warning_lamp_red",
        "lamp": "warning_lamp_amber warning_lamp_red",
        "vibration": "vibration_all_speeds vibration_at_one_speed",
    }.items()
}
"""What is denied at large is denied of each kind of it."""


def decided(index: Index, run: Run, start: int, end: int, text: str) -> Part | None:
    """The part that a run comes to; None where nothing is near enough."""
    words = frozenset(token.word for token in run.tokens)
    if all(token.sign == DENIED for token in run.tokens) and words in GENERAL:
        known = [id for id in GENERAL[words] if id in index.ids]
        if known:
            return Part(kinds.FINDING, start, end, text, known[0], ABSENT, also=tuple(known[1:]))
    if words <= CIRCUMSTANCES | {"OK", "in", "SAME"}:
        return None
    found = ranked(index, run.candidates)
    best = found[0]
    unclear = {index.ids[one.finding] for one in run.candidates if one.state == UNCLEAR}
    if best.likelihood >= CLEAR and best.id not in unclear:
        return Part(kinds.FINDING, start, end, text, best.id, best.state)
    close = tuple(one for one in found[:MOST] if one.likelihood >= best.likelihood * CLOSE)
    if sum(one.likelihood for one in close) < ASK:
        return None
    return Part(kinds.FINDING, start, end, text, sure=False, alternatives=tuple(map(_rounded, close)))


def _rounded(one: Alternative) -> Alternative:
    return Alternative(one.id, one.state, round(one.likelihood, 3))
