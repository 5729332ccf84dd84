"""The trade's way of writing, made plain: abbreviations, common misspellings, endings, negations."""

from __future__ import annotations

import re
from functools import lru_cache

# One typed word -> the words it stands for; applied to the phrases of the knowledge too, so both sides meet.
_ABBREVIATIONS = {
    "icp": "actuation pressure", "hp": "high pressure", "hpop": "high pressure oil pump",
    "lp": "low pressure", "into": "in", "inside": "in", "ipr": "pressure regulator",
    "press": "pressure", "psi": "pressure", "temp": "temperature", "batt": "battery", "bat": "battery",
    "batteries": "battery", "volts": "voltage", "volt": "voltage", "amps": "current",
    "reg": "regulator", "inj": "injector", "injs": "injector", "cyl": "cylinder", "comp": "compression",
    "rad": "radiator", "antifreeze": "coolant", "coolent": "coolant", "diesel": "fuel", "ecm": "module",
    "pcm": "module", "ecu": "module", "trans": "transmission", "tranny": "transmission",
    "xmsn": "transmission", "atf": "transmission oil", "res": "reservoir", "resevoir": "reservoir",
    "rpm": "speed", "wif": "water fuel", "koeo": "key on engine off", "lube": "oil", "sump": "pan",
    "expansion": "surge", "overflow": "surge", "bottle": "tank", "exh": "exhaust", "stack": "exhaust",
    "rpms": "speed", "revs": "speed", "tach": "speed", "comms": "communication", "sig": "signal",
    "cps": "crank position sensor", "cmp": "cam position sensor", "ckp": "crank position sensor",
    "dpf": "particulate filter", "orings": "o ring", "oring": "o ring", "seperator": "separator",
    "loosing": "losing", "dtc": "code", "dtcs": "code", "new": "replace", "renew": "replace",
    "swap": "replace", "swapped": "replace", "presure": "pressure", "pressue": "pressure",
    "preasure": "pressure", "presher": "pressure",
}  # fmt: skip
# Several typed words with one meaning.
_EXPRESSIONS = (
    (re.compile(r"\b((ran|run) )?out of\b"), "no"),
    (re.compile(r"\b(hydro|hydraulic(ally)?) lock(ed)?\b"), "hydrolock"),
    (
        re.compile(r"\b(injection control|injector actuation|oil rail|actuation oil) pressure\b"),
        "actuation pressure",
    ),
    (re.compile(r"\b(turns|turn|turning|turned|rolls|spins) over\b|\b(spins|spin|spinning)\b"), "cranks"),
    (re.compile(r"\b(light|lights|fire|fires) (off|up)\b|\b(fires|fire|catch|catches)\b"), "start"),
    (re.compile(r"\b(smells|smell|smelling|stinks) (like|of)\b"), "smell"),
)
LACK = frozenset({"no", "low", "weak", "empt", "lost", "dead", "down"})  # no pressure is very low pressure
_NEGATION = re.compile(
    r"(no|not|without|never|none|nothing|wont|cant|cannot|doesnt|dont|isnt|arent|didnt|wouldnt|aint)"
)
_EMPTY = re.compile(  # words that carry no meaning here; "in" does (oil in coolant)
    r"(an?|the|is|are|was|be|been|there|has|have|had|does|do|of|on|at|to|it|its|and|or|with|from|but|when"
    r"|while|as|by|for|just|out|my|this|that|you|will|than|then)"
)
_ENDINGS = ("ings", "ing", "ly", "ed", "es", "s", "y")
_LEADING_NEGATION = re.compile(
    r"^\s*(?:there (?:is|was|are)\s+)?"
    r"(?:no sign of|no|not|without|never|none of|isn'?t|doesn'?t|didn'?t)\s+(?:any\s+)?",
    re.IGNORECASE,
)


def normalise(text: str) -> tuple[str, ...]:
    """The words of a text that carry meaning, in their order.

    Lower case, abbreviations written out, endings cut, every kind of negation as "no".
    """
    plain = re.sub(r"['’`]", "", text.lower())
    plain = re.sub(r"[^a-z0-9%]+", " ", plain.replace("_", " "))
    plain = " ".join(_ABBREVIATIONS.get(word, word) for word in plain.split())
    for pattern, meaning in _EXPRESSIONS:
        plain = pattern.sub(meaning, plain)
    return tuple(_stem(word) for word in plain.split() if not _EMPTY.fullmatch(word))


@lru_cache(maxsize=8192)
def _stem(word: str) -> str:
    if _NEGATION.fullmatch(word):
        return "no"
    for ending in _ENDINGS:
        if word.endswith(ending) and len(word) - len(ending) >= 4:
            return word[: -len(ending)]
    return word


def without_negation(text: str) -> str | None:
    """The text without the "no", "not" or the like that it starts with; None when it starts with none."""
    rest = _LEADING_NEGATION.sub("", text, count=1)
    return rest if rest != text and rest.strip() else None
