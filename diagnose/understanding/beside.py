"""What stands beside a run of words and may make it mean something else: a word before it, a name behind it, a
comma within it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from diagnose.understanding.candidate_ranking import ranked
from diagnose.understanding.content_words import telling
from diagnose.understanding.index import LIGHT, NameIndex
from diagnose.understanding.parts import Alternative, TextPart
from diagnose.understanding.readings_in_text import Value
from diagnose.understanding.segment import WordRun
from diagnose.understanding.signed_likeness import best_of
from diagnose.words.grammar import CIRCUMSTANCES, SMELL
from diagnose.words.polarity import DENIED, Token
from diagnose.words.stems import stem, words


def with_neighbours(
    index: NameIndex, text: str, runs: Sequence[WordRun], number: int, part: TextPart
) -> TextPart | None:
    """What is clear by itself stays so only if the words beside it, of which nothing came, point nowhere else."""
    beside: list[Token] = []
    for other in (number - 1, number + 1):
        if (
            0 <= other < len(runs)
            and adjacent(text, runs[other], runs[number])
            and not telling(index, runs[other])
        ):
            known = [
                token
                for token in runs[other].tokens
                if token.word in index.rarity and token.word not in CIRCUMSTANCES and token.word not in LIGHT
            ]
            beside = [*known, *beside] if other < number else [*beside, *known]
    if _only_names(text, runs, number) or (_general(index, part) and _told_of(text, part, runs, number)):
        return replace(
            part, id="", state="", sure=False, alternatives=(Alternative(part.id, part.state, 0.5),)
        )
    if not beside or part.also:
        return part
    candidates = tuple(best_of(index, (*runs[number].tokens, *beside), 8))
    found = ranked(index, candidates)
    if not found:
        return part
    if _compound(text, runs, number):
        explained = max(one.explained for one in candidates if index.ids[one.finding] == found[0].id)
        if found[0].id == part.id and explained >= ALL:
            return part
    elif found[0].id == part.id or found[0].likelihood < ELSEWHERE:
        return part
    ids = [one for one in found if one.likelihood >= 0.1 and one.id != part.id][:2]
    own = Alternative(part.id, part.state, 0.5)
    return replace(part, id="", state="", sure=False, alternatives=(own, *ids))


_OF = re.compile(r".*\b(?:of|like|off)\s+(?:an? |the )?$", re.IGNORECASE)
_INSTRUMENTS = frozenset(
    map(stem, words("alarm code light lamp warning sensor switch gauge fault sender test"))
)


def _general(index: NameIndex, part: TextPart) -> bool:
    """The finding has kinds, so that it matters of what it is."""
    return any(part.id in generals for generals in index.generals.values())


def _only_names(text: str, runs: Sequence[WordRun], number: int) -> bool:
    """The words only name an alarm or a sensor: low coolant alarm, high temperature switch."""
    following = runs[number + 1 : number + 2]
    if not following or following[0].tokens[0].word not in _INSTRUMENTS:
        return False
    own = runs[number].tokens
    return not text[max(token.end for token in own) : following[0].tokens[0].start].strip()


def _told_of(text: str, part: TextPart, runs: Sequence[WordRun], number: int) -> bool:
    """It is said of what, in a word that nobody knows: smells of kerosene."""
    following = runs[number + 1 : number + 2]
    smells = any(token.word == SMELL for token in runs[number].tokens)
    return (
        smells
        and bool(following)
        and bool(_OF.fullmatch(text[part.start : min(token.start for token in following[0].tokens)]))
    )


def _compound(text: str, runs: Sequence[WordRun], number: int) -> bool:
    """The word right before the run belongs to the thing's name: the turbo speed signal is no speed signal."""
    if not number or not runs[number - 1].tokens:
        return False
    before = text[
        max(token.end for token in runs[number - 1].tokens) : min(t.start for t in runs[number].tokens)
    ]
    return not before.strip()


ALL = 0.75  # how much of the words with the one before a name must explain
ELSEWHERE = 0.5  # how likely the words together must mean something else


def adjacent(text: str, one: WordRun, other: WordRun) -> bool:
    """Nothing but a few letters between two runs: they are of one clause."""
    first, second = sorted((one, other), key=lambda run: min(token.start for token in run.tokens))
    between = text[max(token.end for token in first.tokens) : min(token.start for token in second.tokens)]
    return not re.search(r"[.,;:!?\n]|\band\b|\bbut\b", between)


_JOINT = re.compile(r"[,;]|\b(?:and|but|so|then)\b", re.IGNORECASE)
_BUT = re.compile(r"\bbut\b", re.IGNORECASE)
CERTAIN = 0.98  # likelihood from which nothing else can be meant (judgement)


def over_a_joint(text: str, run: WordRun) -> bool:
    """The words stand on both sides of a comma or an "and", which may part two things."""
    inner = text[min(token.end for token in run.tokens) : max(token.start for token in run.tokens)]
    return bool(_JOINT.search(inner))


def at_the_joint(text: str, run: WordRun) -> tuple[tuple[Token, ...], tuple[Token, ...]] | None:
    """The words before and behind the first joint within a run."""
    start = min(token.end for token in run.tokens)
    joint = _JOINT.search(text, start, max(token.start for token in run.tokens))
    if joint is None:
        return None
    before = tuple(token for token in run.tokens if token.end <= joint.start())
    behind = tuple(token for token in run.tokens if token.start >= joint.end())
    both = len(before) + len(behind) == len(run.tokens) and before and behind
    return (before, behind) if both else None


def certain(index: NameIndex, text: str, run: WordRun, part: TextPart) -> bool:
    """The name itself has such a joint ("cranks but does not start"), or nothing else can be meant."""
    own = [one for one in run.candidates if index.ids[one.finding] == part.id]
    likely = next((one.likelihood for one in ranked(index, run.candidates) if one.id == part.id), 0.0)
    but = any(_BUT.search(name) for one in own for name in index.texts(one.finding))
    joints = _joints(text[min(token.end for token in run.tokens) : max(token.start for token in run.tokens)])
    joined = any(not joints.isdisjoint(_joints(one.phrase)) for one in own)
    return likely >= CERTAIN or but or joined or bool(part.also)


def _joints(text: str) -> set[str]:
    return {found[0].lower() for found in _JOINT.finditer(text)}


def by_its_value(values: Sequence[Value], part: TextPart, told: bool) -> TextPart:
    """A question where only a value that no quantity takes would tell: how deep a valve stands; `told`: the words
    tell a sign or a fault themselves."""
    if told or not any(
        value.words.start < part.end and part.start < value.words.end
        for value in values
        if not value.quantities
    ):
        return part
    return replace(part, id="", state="", sure=False, alternatives=(Alternative(part.id, part.state, 0.5),))


_DENIAL = re.compile(
    r"\b(?:no|not|never|without|isn'?t|wasn'?t|won'?t|doesn'?t|didn'?t|can'?t)\s+(?:any |a )?$", re.I
)


def with_denial(text: str, run: WordRun) -> int:
    """Where a run begins, with the word that denies it."""
    start = min(token.start for token in run.tokens)
    first = min(run.tokens, key=lambda token: token.start)
    denial = _DENIAL.search(text[:start]) if first.sign == DENIED or run.tokens[-1].sign == DENIED else None
    return denial.start() if denial else start
