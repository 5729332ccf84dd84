"""Measured values within a text: number, unit, what was measured and in which state the engine was.

A value goes to the quantity whose name is said; the operating state (hot, idle, cranking, key on, at load) decides
among several of that name. Where it is not said, or no name is, the value is asked about, never guessed.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from math import log

from diagnose.errors import CallError
from diagnose.knowledge.limits import as_wanted
from diagnose.knowledge.readings import quantity_names
from diagnose.knowledge.records import Knowledge
from diagnose.knowledge.units import Unit, parse_unit
from diagnose.understanding.grammar import CIRCUMSTANCES
from diagnose.understanding.parts import Alternative, Span
from diagnose.understanding.stems import stem, words
from diagnose.understanding.tokens import chunks
from diagnose.understanding.vocabulary import NARROWING

_NUMBER = re.compile(
    r"(?<![\w.,/#-])([-+]?(?:\d{1,3}(?:,\d{3})+|\d+(?:[.,]\d+)?|\.\d+))(?:\s?(?:-|to|–)\s?\d+(?"
    r":\.\d+)?(?=\s?[a-z%]))?",
    re.IGNORECASE,
)
_UNIT = re.compile(
    r"\s*([a-zA-Z°µΩ%\"][\w°%/.Ω]*(?:\s?(?:h2o|hg|abs|gauge|vacuum|water|mercury)\b)?)", re.IGNORECASE
)
_OTHER_UNITS = re.compile(
    r"\s*(mpg|kw|hp|bhp|kva|km/h|kph|mph|km|miles?|mi|tons?|tonnes?|t|metres?|meters?|m|feet|ft|"
    r"sg|litres? an hour|l/h|"
    r"gph|mv ac|degrees?|deg|btdc|kg|lbs?|pounds?|pct|revs|ish|x|times|nm)\b",
    re.IGNORECASE,
)
_NO_UNITS = frozenset(
    words("""in a c f t m k g h min s mins minute minutes sec secs second seconds hr hrs hour hours x""")
)
_NAMED_BY_VALUE = re.compile(r"\b5[ -]?v(?:olts?)?[ -]?(?=ref)", re.IGNORECASE)
_WHICH_ONE = re.compile(
    r"(?:#|\bno\.?|\bnumber|\bnum|\bcyl(?:inder)?s?\.?|\bhole|\bpot|\bkilling|\bof|\bunit|\btruck|"
    r"\btrk|\bbus|\bset|\bsite|\bphase|"
    r"\bdriver (?:on|of)|\bx|\bmile|\b[a-z]+ \d+(?: and| or|,)?|\b\d+ of)\s*$",
    re.IGNORECASE,
)
_STATE_BEFORE = re.compile(
    r"(?:@|\bat|\bover|\babove|\baround|\bround|\bbelow|\bunder|\babout)\s*$", re.IGNORECASE
)
_BOUND = re.compile(
    r"\b(?:spec|should be|shd be|want|wants|needs?|expected|used to be|was|limit|commanded|command|target|"
    r"desired|asked|set ?point|instead of|"
    r"against|vs|from)\s*(?:is |of |about |bout )?$",
    re.IGNORECASE,
)
_STOPS = re.compile(r"[.;:!?\n](?=\s|$)|\bbut\b|\bexcept\b", re.IGNORECASE)
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
_SAME_UNIT = {"mv ac": "mV", "pct": "%", "pounds": "psi", "pound": "psi", "lb": "psi", "lbs": "psi"}
_SAME_AGAIN = frozenset(
    map(
        stem,
        words(
            """new filter run running then now old other psi climb rise rose bar degree low drop fall go hit"""
        ),
    )
)
WORTH = 0.45  # a quantity less like what was said is not worth asking about
UNSAID = "unsaid"
"""Of a quantity: nobody said that the engine was in the state in which it is measured."""
CLEAR, ENOUGH = 0.62, 0.55  # likelihood to be taken as meant, and fit to be looked at (judgement)


@dataclass(frozen=True, slots=True)
class Value:
    """A value in the text: `words`: the stretch that says what it is of; `unit` empty where none is known here;
    `written` is the unit as typed; `bound`: it is said what it should be or once was, not what was read; `named`:
    the words name a quantity, though without a unit nothing may come of it."""

    span: Span
    words: Span
    value: float
    unit: str
    written: str
    quantities: tuple[Alternative, ...] = ()
    sure: bool = False
    bound: bool = False
    core: frozenset[str] = frozenset()
    named: bool = False


@dataclass(frozen=True, slots=True)
class _Quantity:
    name: str
    core: frozenset[str]
    states: frozenset[str]
    unit: Unit
    plain: str


def values_in(knowledge: Knowledge, text: str) -> list[Value]:
    """The values of a text, in their order."""
    found: list[Value] = []
    before: frozenset[str] = frozenset()
    states_before: frozenset[str] = frozenset()
    unit_before = ""
    text = _NAMED_BY_VALUE.sub(lambda name: "v".rjust(len(name[0])), text)
    for span, number, unit, written in _numbers(text):
        words = _words_span(text, span, min(found[-1].words.end, span.start) if found else 0)
        near, states = _context(text, words, span)
        bare = not unit and not written
        if bare and not _closed(text, span.end):
            continue
        states = states or (states_before if found else states)
        known_unit = unit or (unit_before if bare else "")
        around = f"{text[words.start : span.start]} {text[span.end : words.end]}".lower()
        core = near if near - _SAME_AGAIN else before
        matches = _matches(knowledge, core, states, known_unit, around) if known_unit or bare else []
        if bare and not (matches and matches[0].likelihood >= (0.4 if known_unit else 0.6)):
            continue
        unitless, named = not known_unit, bool(matches)
        if unitless:
            known_unit, matches = _customary(knowledge, matches)
        inherited = bool(before) and core is before and bool(known_unit and unit_before)
        other = inherited and parse_unit(known_unit).dimension != parse_unit(unit_before).dimension
        sure = (
            not other
            and (not unitless or _plain_enough(known_unit, number, matches))
            and bool(matches)
            and matches[0].state != UNSAID
            and bool(known_unit)
            and matches[0].likelihood >= CLEAR
            and (len(matches) == 1 or matches[0].likelihood - matches[1].likelihood >= 0.12)
        )
        bound = bool(_BOUND.search(text[: span.start]))
        value = Value(
            span,
            words,
            number,
            known_unit,
            written,
            tuple(matches[:3]),
            sure,
            bound,
            _core_of(knowledge, matches) if sure else frozenset(),
            named,
        )
        found.append(value)
        before, states_before, unit_before = core, states, unit or unit_before
    return found


def _numbers(text: str) -> Iterator[tuple[Span, float, str, str]]:
    """Each number that may be a value, with its unit's one name (empty where it has none that is known)."""
    for found in _NUMBER.finditer(text):
        start, end = found.span()
        number = _value(found[1])
        name, written, stop = _unit_after(text, end)
        if not written:
            name, written = _unit_before(text, start)
        if not written and _WHICH_ONE.search(text[:start]):
            continue
        if written.lower() in ("x", "times") or (not written and re.match(r"\s*(?:of|out of)\b", text[end:])):
            continue
        dimension = parse_unit(name).dimension if name else ""
        if dimension == "time" or (dimension == "speed of rotation" and _STATE_BEFORE.search(text[:start])):
            continue
        if not written and _STATE_BEFORE.search(text[:start]):
            continue
        yield Span(start, stop), number, name, written


def _plain_enough(unit: str, number: float, matches: Sequence[Alternative]) -> bool:
    """Batteries 12.1 at rest, which can only be volts."""
    usual = PLAUSIBLE.get(parse_unit(unit).dimension) if unit else None
    return bool(usual and matches and matches[0].likelihood >= SURELY and usual[0] <= number <= usual[1])


PLAUSIBLE = {"voltage": (0.5, 60.0), "ratio": (0.0, 100.0)}  # volts of a machine, and per cent
SURELY = 0.95  # likelihood of the quantity where a bare number is taken (judgement)
CUSTOMARY = frozenset(("voltage", "current", "resistance", "ratio", "speed of rotation"))
"""Of these a bare number is in one customary unit, and a question with that unit makes sense."""


def _customary(knowledge: Knowledge, matches: Sequence[Alternative]) -> tuple[str, list[Alternative]]:
    """The unit in which a bare number would be, where there is one, and the quantities that are measured in it."""
    units = {one.name: one.unit for one in _known(knowledge)[0]}
    usual = [one for one in matches if units[one.id].dimension in CUSTOMARY]
    if not usual:
        return "", []
    unit = units[usual[0].id].name
    return unit, [one for one in usual if units[one.id].name == unit]


_CLOSES = re.compile(
    r"\s*(?:$|[.,;:)?!&]|@|(?:at|and|hot|cold|rest|resting|crank\w*|run|running|idle|idling|"
    r"steady|flat|on the|with|when|after|"
    r"used|should|want|vs|key|ki|now|normal|ok|but|rated|loaded|in|out|to|from|left|right)\b)",
    re.IGNORECASE,
)


def _closed(text: str, end: int) -> bool:
    """Nothing that was counted stands behind the number: three trucks, two cups."""
    return bool(_CLOSES.match(text, end))


def _value(number: str) -> float:
    if re.fullmatch(r"[-+]?\d{1,3}(,\d{3})+", number):
        return float(number.replace(",", ""))
    return float(number.replace(",", "."))


def _unit_after(text: str, end: int) -> tuple[str, str, int]:
    """The unit's one name, as written, and where it ends."""
    other = _OTHER_UNITS.match(text, end)
    found = _UNIT.match(text, end)
    if found and not (other and len(other[1]) >= len(found[1].split()[0])):
        first = found[1].split()[0]
        for written in dict.fromkeys((found[1], found[1].rstrip("."), first, first.rstrip("."))):
            glued = not text[end : end + 1].isspace()
            if (
                written.lower() in _NO_UNITS
                and not glued
                and not (
                    written in ("A", "C", "F", "a", "c", "f") and _ends(text, found.start(1) + len(written))
                )
            ):
                continue
            try:
                unit = parse_unit(written)
            except CallError:
                continue
            return unit.name, written, found.start(1) + len(written)
    if other:
        return _SAME_UNIT.get(other[1].lower(), ""), other[1], other.end()
    return "", "", end


_BEFORE = re.compile(r"\b(psi|kpa|bar|volts?|amps?|ohms?|ppm)\s*[:=]?\s*$", re.IGNORECASE)


def _unit_before(text: str, at: int) -> tuple[str, str]:
    """The unit that stands before its number: oil psi 45."""
    found = _BEFORE.search(text[:at])
    number_before = found and re.search(r"\d\s*$", text[: found.start()])
    return (parse_unit(found[1]).name, found[1]) if found and not number_before else ("", "")


def _ends(text: str, at: int) -> bool:
    """A lone letter is a unit only where the clause goes on with a mark, an operating state or not at all."""
    return bool(
        re.match(
            r"\s*(?:$|[.,;:)]|at\b|hot\b|cold\b|idle\b|crank|return\b|load|with\b|on\b|and\b|in\b|out)",
            text[at:],
            re.IGNORECASE,
        )
    )


def _words_span(text: str, value: Span, after: int) -> Span:
    """From the last mark, or the last value, to the end of this one's clause."""
    start = after
    for stop in _STOPS.finditer(text, after, value.start):
        if stop[0] != ":":
            start = stop.end()
    comma = text.rfind(",", start, value.start)
    if comma >= 0 and re.search(r"[a-z]{2}", text[comma : value.start], re.IGNORECASE):
        start = comma + 1
    following = re.search(r"[.,;:!?\n](?=\s|$)|\d|\b(?:but|and|except|then)\b", text[value.end :])
    end = value.end + (following.start() if following else len(text) - value.end)
    between = text[value.end : end].lower()
    if (
        following
        and following[0].isdigit()
        and not any(pattern.search(between) for _, pattern in _STATE_PATTERNS)
    ):
        end = value.end  # the words before the next number are that one's
    return Span(start, end)


def _context(text: str, words: Span, value: Span) -> tuple[frozenset[str], frozenset[str]]:
    """The plain words around a value: what it is of, and the operating states."""
    around = f"{text[words.start : value.start]} {text[value.end : words.end]}"
    behind = text[value.end : words.end]
    said = {
        token.word
        for chunk in chunks(f"{text[words.start : value.start]} , {behind}")
        for token in chunk.tokens
    }
    states = {_STATES[word] for word in said if word in _STATES}
    lowered = around.lower()
    states |= {name for name, pattern in _STATE_PATTERNS if pattern.search(lowered)}
    core = {
        word for word in said if word not in _STATES and word not in _DROPPED and word not in CIRCUMSTANCES
    }
    return frozenset(core), frozenset(states)


_STATE_PATTERNS = tuple(
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


_cache: tuple[Knowledge, tuple[_Quantity, ...], Mapping[str, float]] | None = None


def _known(knowledge: Knowledge) -> tuple[tuple[_Quantity, ...], Mapping[str, float]]:
    """The quantities with their words, and how rare each word is among them; kept for the knowledge last used."""
    global _cache
    if _cache is None or _cache[0] is not knowledge:
        every = tuple(_quantities(knowledge))
        names = {one.name for one in every}
        count: dict[str, set[str]] = {}
        for one in every:
            for word in one.core:
                count.setdefault(word, set()).add(one.name)
        _cache = knowledge, every, {word: log(1 + len(names) / len(have)) for word, have in count.items()}
    return _cache[1], _cache[2]


def _core_of(knowledge: Knowledge, matches: Sequence[Alternative]) -> frozenset[str]:
    """All words that the best quantity goes by."""
    every, _ = _known(knowledge)
    return frozenset(word for one in every if one.name == matches[0].id for word in one.core)


def _quantities(knowledge: Knowledge) -> Iterator[_Quantity]:
    for name, unit, text in quantity_names(knowledge):
        core, states = _context(text, Span(0, len(text)), Span(len(text), len(text)))
        own_states = _context(name, Span(0, len(name)), Span(len(name), len(name)))[1]
        if core:
            yield _Quantity(
                name, core, own_states if text == name else own_states | states, parse_unit(unit), text
            )


def _matches(
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
    every, rarity = _known(knowledge)
    named = {word for word in core if word in rarity} - set(_DIMENSION_WORD.values()) - _VAGUE
    if _OUTSIDE.search(around):
        core = frozenset((stem("ambient"), stem("temperature")))
    best: dict[str, tuple[float, float, str]] = {}
    for one in every:
        if given is not None and not _fits(given, one.unit):
            continue
        said_state = 0.7 ** len(one.states - states)
        if named:
            fit = _fit(one, core, states, rarity) * (1.1 if one.plain == one.name else 1.0)
            kind = bool(_KIND.search(one.name)) != bool(_KIND.search(around))
            fit = min(fit, 1.0) * (0.45 if kind else 1.0) * (0.5 if _sampled(one, core, around) else 1.0)
            fit *= 0.7 if _narrower(one.name, around) else 1.0
            fit = fit if one.core & named else 0.0
        elif given is None or given.dimension not in _DIMENSION_WORD:
            fit = 0.0
        else:
            fit = 0.6 if one.states and one.states <= states and not _KIND.search(one.name) else 0.0
        if fit >= ENOUGH and fit * said_state > best.get(one.name, (0.0, 0.0, ""))[0]:
            best[one.name] = fit * said_state, fit, UNSAID if one.states - states else ""
    ranked = sorted(best.items(), key=lambda item: -item[1][0])
    return [
        Alternative(name, open_state, round(full, 3))
        for name, (full, _, open_state) in ranked
        if full >= max(ranked[0][1][0] - 0.3, WORTH)
    ]


_KIND = re.compile(
    r"drop|fall|swing|excess|shortfall|differ|spread|error|rise|across|above|below|ripple|"
    r"standing current|play|gauge|blank|capp|blocked off|commanded|\bdp\b|diff"
)
"""A drop, a fall or a difference of a quantity is another one, and must be named."""
_OUTSIDE = re.compile(r"\bday\b|\boutside\b|\bambient\b|\bweather\b|\blast night\b")
_SAMPLE = re.compile(r"\b(?:oil|lab|sample|report|analysis|ppm)\b")
_VAGUE = frozenset(map(stem, words("differential diff gauge test mechanical mech reading sensor filter")))


def _narrower(name: str, around: str) -> bool:
    """The quantity is measured in a way that nobody spoke of: after an hour of work."""
    said = set(around.split())
    return any(word in NARROWING and word not in said for word in name.split())


def _sampled(one: _Quantity, core: frozenset[str], around: str) -> bool:
    """What is found in an oil sample, where neither oil nor a sample is spoken of."""
    return one.name.endswith("in oil") and one.unit.name != "ppm" and not _SAMPLE.search(around)


@lru_cache(maxsize=1024)
def _fits(given: Unit, wanted: Unit) -> bool:
    return as_wanted(given, wanted).dimension == wanted.dimension


def _fit(one: _Quantity, core: frozenset[str], states: frozenset[str], rarity: Mapping[str, float]) -> float:
    shared = sum(rarity[word] for word in core & one.core)
    if not shared:
        return 0.0
    covered = shared / sum(rarity[word] for word in one.core)
    explained = shared / sum(rarity.get(word, 0.6) for word in core)
    fit = covered**0.7 * explained**0.5
    wrong = len(states - one.states - {"load", "hot"} if one.states else ())
    return float(fit * 0.8**wrong)


def asked(value: Value) -> Value:
    """The value with its question limited to three choices."""
    return replace(value, quantities=value.quantities[:3])


def near(values: Sequence[Value], at: int) -> Value | None:
    """The value that stands at this place."""
    return next((one for one in values if one.span.start <= at < one.span.end), None)
