"""What was measured: the quantities of the knowledge by their words, and which of them a value is of."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import log

from diagnose.caching import kept
from diagnose.knowledge.limits import as_wanted
from diagnose.knowledge.readings import quantity_names
from diagnose.knowledge.records import Knowledge
from diagnose.understanding.parts import Alternative
from diagnose.understanding.slang import of_shop, reader
from diagnose.words.expression import Slang
from diagnose.words.grammar import CIRCUMSTANCES
from diagnose.words.spans import Span
from diagnose.words.stems import stem, words
from diagnose.words.tokens import clauses_of
from diagnose.words.units import Unit, parse_unit
from diagnose.words.vocabulary import NARROWING

_DROPPED = frozenset(
    map(
        stem,
        words(
            """shown value specified command engine of each mean largest lowest difference gauge at by reads
        read psi bar ohm ohms volt volts amp amps sits steady max maximum"""
        ),
    )
)
_DIMENSION_WORD = {
    "temperature": stem("temperature"), "pressure": stem("pressure"), "voltage": stem("voltage"),
    "current": stem("current"), "resistance": stem("resistance"),
}  # fmt: skip
_STATES: Mapping[str, str] = {
    stem(word): meaning
    for word, meaning in {
        "hot": "hot", "cold": "cold", "idle": "idle", "crank": "crank", "load": "load", "hill": "load",
        "rest": "rest",
        "rated": "rated", "key": "key", "stand": "rest", "regeneration": "regen",
    }.items()
}  # fmt: skip
WORTH = 0.45  # a quantity less like what was said is not worth asking about
UNSAID = "unsaid"
"""Of a quantity: nobody said that the engine was in the state in which it is measured."""
ENOUGH = 0.55  # how well the words must fit a quantity


@dataclass(frozen=True, slots=True)
class QuantityPhrase:
    """A quantity by one of its texts: `core` the words that name it, `states` the engine is in, `plain` it."""

    name: str
    core: frozenset[str]
    states: frozenset[str]
    unit: Unit
    plain: str


def context(text: str, words: Span, value: Span, slang: Slang = ()) -> tuple[frozenset[str], frozenset[str]]:
    """The plain words around a value: what it is of, and the operating states."""
    around = f"{text[words.start : value.start]} {text[value.end : words.end]}"
    behind = text[value.end : words.end]
    said = {
        token.word
        for clause in clauses_of(f"{text[words.start : value.start]} , {behind}", slang=slang)
        for token in clause.tokens
    }
    states = {_STATES[word] for word in said if word in _STATES}
    lowered = around.lower()
    states |= {name for name, pattern in STATE_PATTERNS if pattern.search(lowered)}
    core = {
        word for word in said if word not in _STATES and word not in _DROPPED and word not in CIRCUMSTANCES
    }
    return frozenset(core), frozenset(states)


STATE_PATTERNS = tuple(
    (name, re.compile(pattern))
    for name, pattern in (
        ("rest", r"\b(?:at )?rest\b|\bstanding\b|\bengine off\b|\bstatic\b|\bresting\b"),
        ("key", r"\bkey on\b|\bkoeo\b|\bki\b|\bignition on\b"),
        ("crank", r"\bcrank"),
        ("idle", r"\bidle\b|\bli\b|\btickover\b|\bidling\b"),
        ("rated", r"\brated\b|\bfull speed\b|\bgoverned\b|\bhigh idle\b"),
        ("hot", r"\bhot\b|\bwarm\b"),
        ("load", r"\bload(?:ed)?\b|\bwot\b|\bfull throttle\b|\bgrade\b|\bhill\b|\brunning\b|\bpulling\b"),
        ("off", r"\bengine off\b|\bkey on\b|\bkoeo\b"),
        ("2000", r"\b2000\b"),
        ("regen", r"\bregen|\bdosing\b"),
        ("half", r"\bhalf an hour\b|\b30 min"),
        ("blank", r"\bblank|\bcapped\b|\bblocked off\b|\bdeadhead"),
    )
)


_cache: tuple[Knowledge, tuple[QuantityPhrase, ...], Mapping[str, float]] | None = None


def known(knowledge: Knowledge) -> tuple[tuple[QuantityPhrase, ...], Mapping[str, float]]:
    """The quantities with their words, and how rare each word is among them; kept for the knowledge last used."""
    global _cache
    if _cache is None or _cache[0] is not knowledge:
        texts = tuple(quantity_names(knowledge))
        slang = of_shop(knowledge)
        key = hashlib.sha256(f"{texts} {slang} {reader()}".encode()).hexdigest()[:32]
        rows = kept("quantities", key, lambda: [list(_read(text, name, slang)) for name, _, text in texts])
        every = tuple(_quantities(texts, rows))
        names = {one.name for one in every}
        count: dict[str, set[str]] = {}
        for one in every:
            for word in one.core:
                count.setdefault(word, set()).add(one.name)
        _cache = knowledge, every, {word: log(1 + len(names) / len(have)) for word, have in count.items()}
    return _cache[1], _cache[2]


def core_of(knowledge: Knowledge, matches: Sequence[Alternative]) -> frozenset[str]:
    """All words that the best quantity goes by."""
    every, _ = known(knowledge)
    return frozenset(word for one in every if one.name == matches[0].id for word in one.core)


def _read(text: str, name: str, slang: Slang) -> tuple[list[str], list[str]]:
    """The words of one text of a quantity, and the states in which it is measured, as plain data."""
    core, states = context(text, Span(0, len(text)), Span(len(text), len(text)), slang)
    own = context(name, Span(0, len(name)), Span(len(name), len(name)), slang)[1]
    return sorted(core), sorted(own if text == name else own | states)


def _quantities(
    texts: Sequence[tuple[str, str, str]], rows: Sequence[Sequence[Sequence[str]]]
) -> Iterator[QuantityPhrase]:
    for (name, unit, text), (core, states) in zip(texts, rows, strict=True):
        if core:
            yield QuantityPhrase(name, frozenset(core), frozenset(states), parse_unit(unit), text)


def matches_of(
    knowledge: Knowledge, core: frozenset[str], states: frozenset[str], unit: str, around: str
) -> list[Alternative]:
    """The quantities that the words may mean, in a unit that fits, best first."""
    if not unit:
        given = None
    else:
        given = parse_unit(unit)
        word = _DIMENSION_WORD.get(given.dimension)
        core = core | {word} if word and core else core
        if given.dimension == "temperature" and stem("water") in core:
            core = core - {stem("water")} | {stem("coolant")}
    around = _DIRECTIONS.sub(" ", around)
    every, rarity = known(knowledge)
    named = {word for word in core if word in rarity} - set(_DIMENSION_WORD.values()) - _VAGUE
    if _OUTSIDE.search(around):
        core = frozenset((stem("ambient"), stem("temperature")))
    best: dict[str, tuple[float, float, str]] = {}
    for one in every:
        if (given is not None and not _fits(given, one.unit)) or _of_another(core, one.core):
            continue
        said_state = 0.7 ** len(one.states - states)
        if named:
            fit = _fit(one, core, states, rarity) * (1.1 if one.plain == one.name else 1.0)
            kind = bool(DIFFERENCE.search(one.name)) != bool(DIFFERENCE.search(around))
            fit = min(fit, 1.0) * (0.45 if kind else 1.0) * (0.5 if _sampled(one, core, around) else 1.0)
            fit *= 0.7 if _narrower(one.name, around) else 1.0
            fit = fit if one.core & named else 0.0
        elif given is None or given.dimension not in _DIMENSION_WORD:
            fit = 0.0
        else:
            fit = 0.6 if one.states and one.states <= states and not DIFFERENCE.search(one.name) else 0.0
        if fit >= ENOUGH and fit * said_state > best.get(one.name, (0.0, 0.0, ""))[0]:
            best[one.name] = fit * said_state, fit, UNSAID if one.states - states else ""
    ranked = sorted(best.items(), key=lambda item: -item[1][0])
    return [
        Alternative(name, open_state, round(full, 3))
        for name, (full, _, open_state) in ranked
        if full >= max(ranked[0][1][0] - 0.3, WORTH)
    ]


DIFFERENCE = re.compile(
    r"drop|fall|swing|excess|shortfall|differ|spread|error|rise|across|above|below|ripple|"
    r"standing current|play|gauge|blank|capp|blocked off|commanded|\bdp\b|diff"
)
"""A drop, a fall or a difference of a quantity is another one, and must be named."""
_DIRECTIONS = re.compile(
    r"\b(?:drops?|drop(?:ped|ping)|falls?|fell|falling|rises?|rose|rising) (?:to|back|off|down|below|under)\b|"
    r"\b(?:drops?|dropped|falls?|fell) *$"
)
"""What drops to a value is no drop."""
_OUTSIDE = re.compile(r"\bday\b|\boutside\b|\bambient\b|\bweather\b|\blast night\b")
_SAMPLE = re.compile(r"\b(?:oil|lab|sample|report|analysis|ppm)\b")
_VAGUE = frozenset(map(stem, words("differential diff gauge test mechanical mech reading sensor filter")))


_OF_WHAT = frozenset(
    map(stem, words("boost oil fuel rail coolant urea exhaust crankcase hydraulic actuation battery"))
)


def _of_another(core: frozenset[str], own: frozenset[str]) -> bool:
    """What the words name is not what the quantity is of: boost is no pressure of the fuel."""
    return bool(core & _OF_WHAT) and bool(own & _OF_WHAT) and not core & own & _OF_WHAT


def _narrower(name: str, around: str) -> bool:
    """The quantity is measured in a way that nobody spoke of: after an hour of work."""
    said = set(around.split())
    return any(word in NARROWING and word not in said for word in name.split())


def _sampled(one: QuantityPhrase, core: frozenset[str], around: str) -> bool:
    """What is found in an oil sample, where neither oil nor a sample is spoken of."""
    return one.name.endswith("in oil") and one.unit.name != "ppm" and not _SAMPLE.search(around)


@lru_cache(maxsize=1024)
def _fits(given: Unit, wanted: Unit) -> bool:
    return as_wanted(given, wanted).dimension == wanted.dimension


def _fit(
    one: QuantityPhrase, core: frozenset[str], states: frozenset[str], rarity: Mapping[str, float]
) -> float:
    shared = sum(rarity[word] for word in core & one.core)
    if not shared:
        return 0.0
    covered = shared / sum(rarity[word] for word in one.core)
    explained = shared / sum(rarity.get(word, 0.6) for word in core)
    fit = covered**0.7 * explained**0.5
    wrong = len(states - one.states - {"load", "hot"} if one.states else ())
    return float(fit * 0.8**wrong * (NOT_CRANKING if "crank" in states and not one.states else 1.0))


NOT_CRANKING = 0.9  # a factor of what is measured in no state of its own, where it was cranking (judgement)
