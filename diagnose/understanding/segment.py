"""A text cut into runs of words, each of which means one thing: the cut that explains most (dynamic programming)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from diagnose.understanding.index import Index
from diagnose.understanding.likeness import Candidate, Reach, weight_of
from diagnose.understanding.tokens import Chunk, Token

LONGEST = 9  # words in one run
EACH = 1.2  # what a run costs, so that one thing is not cut in two ...
SOFT = 0.9  # ... and what a comma or an "and" within a run costs
LOWEST = 0.38  # a run that is less like anything says nothing


@dataclass(frozen=True, slots=True)
class Run:
    """A run of words with the findings that it may mean, best first."""

    tokens: tuple[Token, ...]
    candidates: tuple[Candidate, ...]


def segmented(index: Index, clauses: Sequence[Chunk]) -> list[Run]:
    """The runs that mean something, and those that do not (without candidates), in their order."""
    found: list[Run] = []
    block: list[Chunk] = []
    for chunk in [*clauses, Chunk((), True)]:
        if chunk.hard and block:
            found += _block(index, block)
            block = []
        block.append(chunk)
    return found


def _block(index: Index, clauses: Sequence[Chunk]) -> list[Run]:
    tokens = [token for chunk in clauses for token in chunk.tokens]
    owner = [number for number, chunk in enumerate(clauses) for _ in chunk.tokens]
    best: list[tuple[float, int, Run | None]] = [(0.0, 0, None)]
    runs: list[list[tuple[int, float, Run]]] = [[] for _ in range(len(tokens) + 1)]
    for start in range(len(tokens)):
        reach = Reach(index)
        weight = 0.0
        for end in range(start + 1, min(start + LONGEST, len(tokens)) + 1):
            reach.add(tokens[end - 1])
            weight += weight_of(index, tokens[end - 1].word)
            candidates = tuple(reach.best(8))
            if candidates and candidates[0].score >= LOWEST:
                top = candidates[0]
                soft = owner[end - 1] - owner[start]
                value = weight * top.explained * top.score - EACH - SOFT * soft
                runs[end].append((start, value, Run(tuple(tokens[start:end]), candidates)))
    for end in range(1, len(tokens) + 1):
        choice: tuple[float, int, Run | None] = (best[end - 1][0], end - 1, None)
        for start, value, run in runs[end]:
            total = best[start][0] + value
            if total > choice[0]:
                choice = (total, start, run)
        best.append(choice)
    return _traced(tokens, best)


def _traced(tokens: Sequence[Token], best: Sequence[tuple[float, int, Run | None]]) -> list[Run]:
    found: list[Run] = []
    end = len(tokens)
    left: list[Token] = []
    while end:
        _, start, run = best[end]
        if run is None:
            left.insert(0, tokens[end - 1])
        else:
            if left:
                found.append(Run(tuple(left), ()))
                left = []
            found.append(run)
        end = start
    if left:
        found.append(Run(tuple(left), ()))
    return found[::-1]
