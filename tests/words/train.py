"""The weights of the ranking of meanings, learnt from the project's own words.

python -m tests.words.train            measure on the phrases held out, beside plain rapidfuzz
python -m tests.words.train --write    learn anew and write diagnose/understanding/weights.json

Learnt from names and aliases, each with itself left out of the index, from single words of them (which mean nothing
by themselves), and from the phrase lists that are not held out. A softmax over the candidates and "none of these"
(conditional logit, McFadden 1974), fitted by Adam with a small ridge.
"""

from __future__ import annotations

import json
import random
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import yaml

from diagnose.knowledge.lookup import find
from diagnose.understanding import candidate_ranking
from diagnose.understanding.index import NameIndex, index_of
from diagnose.understanding.signed_likeness import ABSENT, FEATURES, PRESENT, UNCLEAR, Candidate, best_of
from diagnose.words.grammar import FAULTS
from diagnose.words.polarity import DENIED, SOUND, Token
from tests.shipped import shipped_knowledge

HERE = Path(__file__).parent
LEARNT, HELD_OUT = ("phrases.yaml", "phrases_engine.yaml"), ("phrases_held_out.yaml", "phrases_blind.yaml")
CANDIDATES, STEPS, RIDGE = 8, 600, 1e-3
SHORT, KEPT = 3, 0.3
"""Names of so few words are learnt as they stand in the index, too, with this weight: people say them so."""
MOST = 6000
"""Phrases learnt from, drawn at random: for two dozen weights more of them change nothing but the time it takes."""
Array = np.ndarray[Any, np.dtype[np.float64]]


def tokens_of(index: NameIndex, text: str) -> list[Token]:
    """All signed words of a text."""
    return [token for clause in index.clauses(text) for token in clause.tokens]


def phrases(files: tuple[str, ...]) -> Iterator[tuple[str, frozenset[str]]]:
    """The phrases of some lists with the ids that they mean."""
    for file in files:
        for group in yaml.safe_load((HERE / file).read_text(encoding="utf-8")):
            yield from ((str(phrase), frozenset(group["findings"])) for phrase in group["phrases"])


Example = tuple[list[Candidate], int, float]
"""Candidates, the place of the right one (after the last: none), and the example's weight."""


def examples(index: NameIndex, seed: int = 0) -> Iterator[Example]:
    """What is learnt from."""
    chance = random.Random(seed)
    every = [index.phrase(number) for number in range(len(index.rows))]
    alike: dict[frozenset[tuple[str, str]], list[int]] = {}
    for number, phrase in enumerate(every):
        alike.setdefault(frozenset(phrase.words.items()), []).append(number)
    for number in sorted(chance.sample(range(len(every)), min(MOST, len(every)))):
        phrase = every[number]
        tokens = tokens_of(index, phrase.text)
        yield _example(index, best_of(index, tokens, CANDIDATES, number), {index.ids[phrase.finding]}, 1.0)
        if len(phrase.words) <= SHORT:
            same = {index.ids[every[i].finding] for i in alike[frozenset(phrase.words.items())]}
            yield _example(index, best_of(index, tokens, CANDIDATES), same, KEPT)
        if DENIED not in phrase.words.values() and SOUND not in phrase.words.values():
            denied = tokens_of(index, f"no {phrase.text}")
            yield _example(
                index, best_of(index, denied, CANDIDATES, number), {index.ids[phrase.finding]}, 0.5, ABSENT
            )
            sound = [t._replace(sign=SOUND) for t in tokens if t.word not in FAULTS]
            if sound and len(sound) < len(tokens):
                found = best_of(index, sound, CANDIDATES, number)
                yield _example(index, found, {index.ids[phrase.finding]}, 0.5, ABSENT)
        if len(phrase.words) >= 3:
            word = chance.choice(tokens)
            alone = best_of(index, [word], CANDIDATES, number)
            known = {index.ids[p.finding] for p in every if tuple(p.words) == (word.word,)}
            yield _example(index, alone, known, 0.5)
    for text, ids in phrases(LEARNT):
        yield _example(index, best_of(index, tokens_of(index, text), CANDIDATES), set(ids), 2.0)


def _example(
    index: NameIndex, found: list[Candidate], right: set[str], weight: float, state: str = PRESENT
) -> Example:
    place = next(
        (
            i
            for i, one in enumerate(found)
            if index.ids[one.finding] in right and one.state in (state, UNCLEAR)
        ),
        len(found),
    )
    return found, place, weight


def learnt(rows: list[Example]) -> tuple[Array, float]:
    """The weights and the strength of "none of these"."""
    wide = len(FEATURES)
    data = np.zeros((len(rows), CANDIDATES + 1, wide + 1))
    mask = np.full((len(rows), CANDIDATES + 1), -1e9)
    target = np.zeros(len(rows), dtype=int)
    for i, (found, place, _) in enumerate(rows):
        for j, one in enumerate(found):
            data[i, j, :wide] = one.features
            mask[i, j] = 0.0
        data[i, CANDIDATES, wide] = 1.0
        mask[i, CANDIDATES] = 0.0
        target[i] = CANDIDATES if place == len(found) else place
    share = np.array([weight for _, _, weight in rows])
    weights, first, second = np.zeros(wide + 1), np.zeros(wide + 1), np.zeros(wide + 1)
    for step in range(1, STEPS + 1):
        scores = data @ weights + mask
        scores -= scores.max(axis=1, keepdims=True)
        odds = np.exp(scores)
        odds /= odds.sum(axis=1, keepdims=True)
        odds[np.arange(len(rows)), target] -= 1.0
        slope = np.einsum("ij,ijk->k", odds * share[:, None], data) / share.sum() + RIDGE * weights
        first, second = 0.9 * first + 0.1 * slope, 0.999 * second + 0.001 * slope**2
        weights -= 0.1 * (first / (1 - 0.9**step)) / (np.sqrt(second / (1 - 0.999**step)) + 1e-8)
    return weights[:wide], float(weights[wide])


def measure(index: NameIndex) -> None:
    """Right first and among the first three on the phrases held out, here and by plain likeness of words."""
    knowledge = shipped_knowledge()
    rows = [(text, ids) for text, ids in phrases(HELD_OUT) if ids]
    here = [
        [
            one.id
            for one in candidate_ranking.ranked(index, best_of(index, tokens_of(index, text), CANDIDATES))
        ]
        for text, _ in rows
    ]
    plain = [[match.id for match in find(knowledge, text)] for text, _ in rows]
    for name, found in (("ranking", here), ("plain", plain)):
        first = sum(bool(ids & set(one[:1])) for (_, ids), one in zip(rows, found, strict=True))
        three = sum(bool(ids & set(one[:3])) for (_, ids), one in zip(rows, found, strict=True))
        print(
            f"{name}: right first {first / len(rows):.1%}, among three {three / len(rows):.1%} of {len(rows)}"
        )
    for level in (0.5, 0.6, 0.7, 0.8, 0.9):
        sure = wrong = 0
        for text, ids in rows:
            best = candidate_ranking.ranked(index, best_of(index, tokens_of(index, text), CANDIDATES))[:1]
            if best and best[0].likelihood >= level:
                sure += 1
                wrong += best[0].id not in ids
        print(f"likelihood from {level}: {sure} taken, {wrong} of them wrong")


if __name__ == "__main__":
    shipped = index_of(shipped_knowledge())
    if "--write" in sys.argv:
        values, none = learnt(list(examples(shipped)))
        candidate_ranking.WEIGHTS_FILE.write_text(
            json.dumps(
                {
                    "features": dict(zip(FEATURES, [round(float(v), 4) for v in values], strict=True)),
                    "none": round(none, 4),
                },
                indent=1,
            )
            + "\n",
            encoding="utf-8",
        )
        candidate_ranking.weights.cache_clear()
    measure(shipped)
