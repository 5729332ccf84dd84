"""The thresholds of a decision, weighed by what a wrong record, a question and a gap cost: cross-validated.

python -m tests.words.thresholds

Each threshold is tried below and above where it stands, on both sets of sentences and on the phrases held out. What
would have been chosen without a tenth of them is charged on that tenth; a threshold is worth moving only where this
costs less than leaving it. Nothing is written: what is moved is moved by hand in `decide`, with the figures.
"""

from __future__ import annotations

from collections.abc import Iterator
from unittest.mock import patch

import numpy as np

from diagnose.understanding import disambiguation
from tests.shipped import shipped_knowledge
from tests.words.measure import Outcome, outcome, sentences
from tests.words.train import HELD_OUT, HERE, phrases

WRONG, MISSING, QUESTION = 20.0, 3.0, 1.0
"""What each costs, in questions: a wrong record misleads the whole case, a gap must be told again (judgement)."""
FOLDS = 10
TRIED = {
    "CLEAR": (0.8, 0.9), "PLAIN": (0.6, 0.7), "LEAST": (0.22, 0.4), "ASK": (0.4, 0.6),
    "DENIED_LEAST": (0.35, 0.55), "SOUND_LEAST": (0.45, 0.65),
}  # fmt: skip
Said = list[tuple[str, list[list[str]]]]


def said() -> Said:
    """Everything that is weighed: sentences with what they mean, and phrases with the findings that will do."""
    rows = [row for file in ("sentences.yaml", "sentences_first.yaml") for row in sentences(HERE / file)]
    return rows + [(text, [sorted(ids)]) for text, ids in phrases(HELD_OUT) if ids]


def cost(one: Outcome) -> float:
    """What came of one text, in questions."""
    return WRONG * len(one.wrong) + MISSING * len(one.missing) + QUESTION * one.questions


def costs(rows: Said) -> np.ndarray:
    """The cost of each text as the thresholds stand."""
    knowledge = shipped_knowledge()
    return np.array([cost(outcome(knowledge, say, meant)) for say, meant in rows])


def held_out(tried: np.ndarray) -> float:
    """The cost on each fold of what is best on the others; `tried`: values by texts, first the one that stands."""
    fold = np.random.default_rng(0).integers(0, FOLDS, tried.shape[1])
    return float(
        sum(
            tried[tried[:, fold != number].sum(axis=1).argmin()][fold == number].sum()
            for number in range(FOLDS)
        )
    )


def lines(rows: Said) -> Iterator[str]:
    """One line for each threshold: its cost as it stands, at each value tried, and chosen by the other folds."""
    stands = costs(rows)
    for name, values in TRIED.items():
        tried = [stands]
        for value in values:
            with patch.object(disambiguation, name, value):
                tried.append(costs(rows))
        totals = ", ".join(
            f"{value:g}: {one.sum():.0f}"
            for value, one in zip((getattr(disambiguation, name), *values), tried, strict=True)
        )
        yield f"{name}: {totals}; chosen on the other folds: {held_out(np.array(tried)):.0f}"


if __name__ == "__main__":
    for line in lines(said()):
        print(line, flush=True)
