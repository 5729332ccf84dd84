"""Whether a run of words means one finding clearly, or which few it may mean."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from diagnose.understanding import parts as kinds
from diagnose.understanding.index import Index
from diagnose.understanding.likeness import ABSENT, PRESENT, UNCLEAR, Candidate
from diagnose.understanding.parts import Alternative, Part
from diagnose.understanding.segment import Run
from diagnose.understanding.tokens import CIRCUMSTANCES, DENIED, stem

CLEAR, MARGIN = 0.8, 0.1
ASK, CLOSE = 0.5, 0.25
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
    candidates = list(run.candidates)
    best = candidates[0]
    if best.score < ASK:
        return None
    close = [one for one in candidates if one.score >= best.score - CLOSE][:MOST]
    second = close[1].score if len(close) > 1 else 0.0
    if best.state != UNCLEAR and best.score >= CLEAR and best.score - second >= MARGIN and best.explained >= 0.7:
        return Part(kinds.FINDING, start, end, text, index.ids[best.finding], best.state, sure=True)
    return Part(
        kinds.FINDING, start, end, text, sure=False, alternatives=tuple(_alternative(index, one) for one in close)
    )


def _alternative(index: Index, one: Candidate) -> Alternative:
    return Alternative(index.ids[one.finding], PRESENT if one.state == UNCLEAR else one.state, round(one.score, 3))


def scores(candidates: Sequence[Candidate]) -> list[float]:
    """The scores, best first."""
    return [one.score for one in candidates]
