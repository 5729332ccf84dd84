"""How likely each meaning is: the learnt ranking of candidates, with "none of these" beside them.

The weights stand in `weights.json`, learnt by `python -m tests.words.train --write`.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from functools import lru_cache
from math import exp
from operator import mul
from pathlib import Path

from diagnose.understanding.index import NameIndex
from diagnose.understanding.parts import Alternative
from diagnose.understanding.signed_likeness import FEATURES, PRESENT, UNCLEAR, Candidate

WEIGHTS_FILE = Path(__file__).parent / "weights.json"


@lru_cache(maxsize=1)
def weights() -> tuple[tuple[float, ...], float]:
    """The weight of each feature, and the strength of "none of these"."""
    kept = json.loads(WEIGHTS_FILE.read_text(encoding="utf-8"))
    return tuple(kept["features"][name] for name in FEATURES), kept["none"]


def meaning(candidates: Sequence[Candidate]) -> tuple[float, float]:
    """How likely it is that a run of words means any of its candidates, and the likeliest of them."""
    values, none = weights()
    strengths = [sum(map(mul, values, one.features)) - one.doubt for one in candidates[:4]]
    top = max([*strengths, none])
    shares = [exp(strength - top) for strength in strengths]
    total = sum(shares) + exp(none - top)
    return sum(shares) / total, max(shares) / total


def ranked(index: NameIndex, candidates: Sequence[Candidate]) -> list[Alternative]:
    """The candidates with their likelihoods (softmax, conditional logit), the likeliest first."""
    values, none = weights()
    strengths = [sum(map(mul, values, one.features)) - one.doubt for one in candidates]
    top = max([*strengths, none])
    shares = [exp(strength - top) for strength in strengths]
    total = sum(shares) + exp(none - top)
    found = [
        Alternative(index.ids[one.finding], PRESENT if one.state == UNCLEAR else one.state, share / total)
        for one, share in zip(candidates, shares, strict=True)
    ]
    return sorted(found, key=lambda one: -one.likelihood)
