"""A text cut into runs of words that each mean one thing: the cut that explains most (dynamic programming)."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from diagnose.understanding.candidate_ranking import meaning
from diagnose.understanding.index import NameIndex
from diagnose.understanding.large import said_at_large
from diagnose.understanding.signed_likeness import EVERYDAY, FEATURES, Candidate, Reach, best_of, weight_of
from diagnose.words.grammar import CIRCUMSTANCES, FAULTS, FLUIDS, SIGNS
from diagnose.words.opposites import opposed_within
from diagnose.words.polarity import DENIED, SOUND, Token
from diagnose.words.stems import stem
from diagnose.words.tokens import Clause

LONGEST = 9  # words in one run
EACH = 1.2  # what a run costs, so that one thing is not cut in two ...
SOFT = 1.3  # ... and what a comma or an "and" within a run costs
LIKE, ANY, BEST = 0.2, 0.3, 0.5  # likeness; that it means anything; how likely the best of it is
CANDIDATES = 8  # looked at for each run
SAME_WORDS, DENIED_TWICE = FEATURES.index("same words"), 2  # the number is that of words of denial
CONTENTS = FLUIDS | {stem("water"), stem("air"), stem("metal")}
LOWEST = 0.38  # a run that is less like anything says nothing


@dataclass(frozen=True, slots=True)
class WordRun:
    """A run of words with the findings that it may mean, best first. `whole`: it is all that its clause says, and
    says it at large."""

    tokens: tuple[Token, ...]
    candidates: tuple[Candidate, ...]
    whole: bool = False


def segmented(index: NameIndex, clauses: Sequence[Clause]) -> list[WordRun]:
    """The runs that mean something, and those that do not (without candidates), in their order."""
    found: list[WordRun] = []
    block: list[Clause] = []
    for clause in [*clauses, Clause((), True)]:
        if clause.hard and block:
            found += _block(index, block)
            block = []
        block.append(clause)
    return found


def _block(index: NameIndex, clauses: Sequence[Clause]) -> list[WordRun]:
    """The best cut of clauses that may belong together."""
    tokens = [token for clause in clauses for token in clause.tokens]
    owner = [number for number, clause in enumerate(clauses) for _ in clause.tokens]
    runs: list[list[_Weighed]] = [[] for _ in range(len(tokens) + 1)]
    for start in range(len(tokens)):
        for end, weighed in _from(index, tokens, owner, start):
            runs[end].append(weighed)
    best: list[tuple[float, int, WordRun | None]] = [(0.0, 0, None)]
    for end in range(1, len(tokens) + 1):
        skipped: tuple[float, int, WordRun | None] = (best[end - 1][0], end - 1, None)
        ways = [(best[start][0] + value, start, run) for start, value, run in runs[end]]
        best.append(max([skipped, *ways], key=lambda way: way[0]))
    return _with_circumstances(index, owner, _traced(tokens, best))


_Weighed = tuple[int, float, WordRun]
"""Where a run begins, what it is worth, and the run."""


def _from(
    index: NameIndex, tokens: Sequence[Token], owner: Sequence[int], start: int
) -> Iterator[tuple[int, _Weighed]]:
    """All runs that begin here and are like anything, with where they end."""
    reach, weight = Reach(index), 0.0
    for end in range(start + 1, min(start + LONGEST, len(tokens)) + 1):
        reach.add(tokens[end - 1])
        weight += weight_of(index, tokens[end - 1].word)
        if _cuts_expression(tokens, start, end) or not _agree(tokens, owner, start, end):
            continue
        run = WordRun(tuple(tokens[start:end]), tuple(reach.best(CANDIDATES)))
        if said_at_large(index, run.tokens) and _whole(index, tokens, owner, start, end):
            yield end, (start, weight, replace(run, whole=True))
        elif run.candidates and run.candidates[0].score >= LOWEST:
            twice = _denied_twice(tokens, owner, start, end)
            if twice == DENIED_TWICE and not run.candidates[0].features[SAME_WORDS]:
                continue
            soft = owner[end - 1] - owner[start] + twice
            yield end, (start, weight * _worth(run) - EACH - SOFT * soft, run)


def _worth(run: WordRun) -> float:
    """How much of its words a run explains, and how likely it means anything, and what."""
    top = run.candidates[0]
    anything, likeliest = meaning(run.candidates)
    return top.explained * (LIKE * top.score + ANY * anything + BEST * likeliest)


def _whole(index: NameIndex, tokens: Sequence[Token], owner: Sequence[int], start: int, end: int) -> bool:
    """The run is all that its clause says, but for everyday words."""
    clause = owner[start]
    others = [i for i in range(len(tokens)) if owner[i] == clause and not start <= i < end]
    return owner[end - 1] == clause and all(weight_of(index, tokens[i].word) <= EVERYDAY for i in others)


def _cuts_expression(tokens: Sequence[Token], start: int, end: int) -> bool:
    """The run would hold only some of the words that one expression stands for, or begin or end with "in"."""
    if end < len(tokens) and tokens[end].word == "in" and tokens[end - 1].word in CONTENTS:
        return True  # no oil in the intercooler says nothing of the oil
    return "in" in (tokens[start].word, tokens[end - 1].word) or any(
        0 < at < len(tokens)
        and tokens[at - 1].end > tokens[at - 1].start
        and (tokens[at - 1].start, tokens[at - 1].end) == (tokens[at].start, tokens[at].end)
        for at in (start, end)
    )


def _denied_twice(tokens: Sequence[Token], owner: Sequence[int], start: int, end: int) -> int:
    """Two clauses that each deny something, or each tell a sign or a fault, are hardly one thing."""
    denied = {owner[i] for i in range(start, end) if tokens[i].sign == DENIED}
    telling = {owner[i] for i in range(start, end) if tokens[i].word in _TELLING}
    return DENIED_TWICE if len(denied) > 1 else int(len(telling) > 1)


_TELLING = SIGNS | FAULTS


def _agree(tokens: Sequence[Token], owner: Sequence[int], start: int, end: int) -> bool:
    """Clauses of one run are all sound or none, and none denies what another says."""
    signs = {(tokens[i].word, tokens[i].sign) for i in range(start, end)}
    if len(signs) > len({word for word, _ in signs}):
        return False
    if owner[start] != owner[end - 1] and opposed_within({word for word, _ in signs}):
        return False
    sound = {owner[i] for i in range(start, end) if tokens[i].sign == SOUND}
    return not sound or all(owner[i] in sound for i in range(start, end))


def _with_circumstances(index: NameIndex, owner: Sequence[int], runs: Sequence[WordRun]) -> list[WordRun]:
    """When and where it shows goes with what shows, if they are of one clause: it may be another finding so."""
    places = [(at, at + len(run.tokens)) for at, run in zip(_starts(runs), runs, strict=True)]
    found = list(runs)
    for number, run in enumerate(runs):
        if any(token.word not in CIRCUMSTANCES for token in run.tokens):
            continue
        own = owner[places[number][0]]
        for other in (number - 1, number + 1):
            if not 0 <= other < len(runs) or not runs[other].candidates or runs[other].whole:
                continue
            edge = places[other][1] - 1 if other < number else places[other][0]
            beside = own == owner[edge] + 1 and other < number  # "when cold" behind it
            if not (owner[edge] == own or beside) or owner[places[number][1] - 1] != own:
                continue
            tokens = (
                (*found[other].tokens, *run.tokens) if other < number else (*run.tokens, *found[other].tokens)
            )
            found[other] = WordRun(tokens, tuple(best_of(index, tokens, CANDIDATES)))
            found[number] = WordRun(run.tokens, ())
            break
    return found


def _starts(runs: Sequence[WordRun]) -> Iterator[int]:
    at = 0
    for run in runs:
        yield at
        at += len(run.tokens)


def _traced(tokens: Sequence[Token], best: Sequence[tuple[float, int, WordRun | None]]) -> list[WordRun]:
    found: list[WordRun] = []
    end = len(tokens)
    left: list[Token] = []
    while end:
        _, start, run = best[end]
        if run is None:
            left.insert(0, tokens[end - 1])
        else:
            if left:
                found.append(WordRun(tuple(left), ()))
                left = []
            found.append(run)
        end = start
    if left:
        found.append(WordRun(tuple(left), ()))
    return found[::-1]
