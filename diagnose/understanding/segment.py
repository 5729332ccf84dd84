"""A text cut into runs of words that each mean one thing: the cut that explains most (dynamic programming)."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from diagnose.understanding.grammar import SIGNS
from diagnose.understanding.index import Index
from diagnose.understanding.likeness import FAULTS, Candidate, Reach, weight_of
from diagnose.understanding.polarity import DENIED, SOUND, Token
from diagnose.understanding.ranking import meaning
from diagnose.understanding.stems import stem
from diagnose.understanding.tokens import Chunk

LONGEST = 9  # words in one run
EACH = 1.2  # what a run costs, so that one thing is not cut in two ...
SOFT = 1.3  # ... and what a comma or an "and" within a run costs
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
        "hunt": "hunting_idle hunts_at_all_speeds",
        "white smoke": "white_smoke_warm white_smoke_cold",
        "knock": "knock_hard_metallic knock_deep_load",
        "misfire": "rough_running misfire_one_cylinder",
        "start hard": "hard_start_cold hard_start_hot",
    }.items()
}
"""What is denied at large is denied of each kind of it."""


SOUND_AT_LARGE: Mapping[frozenset[str], tuple[str, ...]] = {
    frozenset(map(stem, words.split())): tuple(ids.split())
    for words, ids in {
        "temperature": "overheats",
        "coolant temperature": "overheats",
        "engine temperature": "overheats",
        "oil pressure": "oil_gauge_low",
        "oil level": "oil_below_mark",
        "power": "low_power",
        "start": "cranks_no_start hard_start_cold hard_start_hot",
        "crank": "no_crank slow_crank",
        "idle": "hunting_idle",
        "charge": "charge_lamp_on",
        "lamp": "lights_dim",
        "dipstick": "milky_on_dipstick",
        "heater": "no_cab_heat",
        "cab heat": "no_cab_heat",
        "throttle": "no_throttle_response",
        "speed": "hunts_at_all_speeds hunting_idle",
    }.items()
}
"""What is said to be sound at large, and the faults that it so has not."""


def sound_at_large(tokens: Sequence[Token]) -> bool:
    """Something common is said to be in order: temperature normal, oil pressure good."""
    words = frozenset(t.word for t in tokens if t.word != "OK")
    return all(token.sign == SOUND for token in tokens) and words in SOUND_AT_LARGE


def at_large(tokens: Sequence[Token]) -> bool:
    """Something is denied of every kind: no smoke, no leaks."""
    return all(token.sign == DENIED for token in tokens) and frozenset(t.word for t in tokens) in GENERAL


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
            if _cuts_expression(tokens, start, end) or not _agree(tokens, owner, start, end):
                continue
            if (at_large(tokens[start:end]) or sound_at_large(tokens[start:end])) and owner.count(
                owner[start]
            ) == end - start:
                runs[end].append((start, weight, Run(tuple(tokens[start:end]), candidates)))
                continue
            if candidates and candidates[0].score >= LOWEST:
                top = candidates[0]
                soft = owner[end - 1] - owner[start] + _denied_twice(tokens, owner, start, end)
                sense = 0.4 * top.score + 0.6 * meaning(candidates)
                value = weight * top.explained * sense - EACH - SOFT * soft
                runs[end].append((start, value, Run(tuple(tokens[start:end]), candidates)))
    for end in range(1, len(tokens) + 1):
        choice: tuple[float, int, Run | None] = (best[end - 1][0], end - 1, None)
        for start, value, run in runs[end]:
            total = best[start][0] + value
            if total > choice[0]:
                choice = (total, start, run)
        best.append(choice)
    return _traced(tokens, best)


def _cuts_expression(tokens: Sequence[Token], start: int, end: int) -> bool:
    """The run would hold only some of the words that one expression stands for."""
    return any(
        0 < at < len(tokens)
        and tokens[at - 1].end > tokens[at - 1].start
        and (tokens[at - 1].start, tokens[at - 1].end) == (tokens[at].start, tokens[at].end)
        for at in (start, end)
    )


def _denied_twice(tokens: Sequence[Token], owner: Sequence[int], start: int, end: int) -> bool:
    """Two clauses that each deny something, or each tell a sign or a fault, are hardly one thing."""
    denied = {owner[i] for i in range(start, end) if tokens[i].sign == DENIED}
    telling = {owner[i] for i in range(start, end) if tokens[i].word in _TELLING}
    return len(denied) > 1 or len(telling) > 1


_TELLING = SIGNS | FAULTS


def _agree(tokens: Sequence[Token], owner: Sequence[int], start: int, end: int) -> bool:
    """Clauses of one run are all sound or none."""
    sound = {owner[i] for i in range(start, end) if tokens[i].sign == SOUND}
    return not sound or all(owner[i] in sound for i in range(start, end))


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
