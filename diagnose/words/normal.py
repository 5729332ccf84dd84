"""The trade's way of writing, made plain: abbreviations, common misspellings, endings, negations."""

from __future__ import annotations

import re
from collections.abc import Mapping
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
    "preasure": "pressure", "presher": "pressure", "siezed": "seized", "seised": "seized",
    "guage": "gauge", "gage": "gauge", "leek": "leak", "thru": "through", "lo": "low", "hi": "high",
    "temps": "temperature", "egt": "exhaust temperature", "egts": "exhaust temperature",
    "iat": "intake air temperature", "ect": "coolant temperature", "cac": "charge air cooler",
    "intercooler": "charge air cooler",
    "aftercooler": "charge air cooler", "turbo": "turbocharger",
    "vgt": "variable turbocharger", "doc": "oxidation catalyst", "scr": "reduction catalyst",
    "computer": "module", "controller": "module", "conk": "stall", "conks": "stall", "conked": "stall",
    "def": "urea", "reagent": "urea", "egr": "recirculation", "maf": "air mass", "frp": "rail pressure",
    "spanner": "wrench", "bonnet": "hood", "petcock": "drain tap", "regenerating": "regeneration",
    "regen": "regeneration", "regens": "regeneration", "regening": "regeneration",
    "stat": "thermostat", "tstat": "thermostat", "alt": "alternator", "eng": "engine",
    "mains": "main bearing", "hg": "head gasket", "headgasket": "head gasket", "blowby": "blow by",
    "backpressure": "back pressure", "leakoff": "return", "mpg": "fuel consumption", "mani": "manifold",
    "bellhousing": "flywheel housing", "balancer": "damper",
    "mil": "engine lamp", "earth": "ground", "petrol": "gasoline", "ref": "reference", "5v": "5 v",
    "bus": "network", "j1939": "network", "datalink": "network", "scanner": "reader",
    "cal": "calibration", "antifreze": "coolant",
    "using": "use", "dying": "die", "five": "5", "twelve": "12", "sixteen": "16", "forty": "40",
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
    (re.compile(r"\b(wont|doesnt|not) (hold|stay|run) steady\b"), "hunt"),
    (re.compile(r"\blights?\b"), "lamp"),
    (re.compile(r"\bcan (network|(?=(resistance|high|low|line|wire|plug|fault|code|down)))"), "network "),
    (re.compile(r"\b(smells|smell|smelling|stinks|stinky) (like|of)\b"), "smell"),
    (re.compile(r"\b(\w+) smell (?:from|at|in|out of|inside) (?:the )?(\w+)"), r"\2 smell \1"),
    (re.compile(r"\b(?:number|num|cylinder|hole) ?[1-8]\b|\bone hole\b"), "one cylinder"),
    (re.compile(r"\bleak (off|back)\b|\bback leakage\b"), "return"),
)
_ANY_EXPRESSION = re.compile("|".join(pattern.pattern for pattern, _ in _EXPRESSIONS))
LACK = frozenset({"no", "low", "weak", "empt", "lost", "dead", "down"})  # no pressure is very low pressure
OPPOSITES: Mapping[str, tuple[str, ...]] = {  # plain words
    "hot": ("cold",), "warm": ("cold",), "cold": ("hot", "warm"), "high": ("low",), "low": ("high",),
    "open": ("clos", "shut"), "clos": ("open",), "shut": ("open",),
}  # fmt: skip
_APOSTROPHE, _OTHER = re.compile(r"['’`]"), re.compile(r"[^a-z0-9%]+")
_NEGATION = re.compile(
    r"(no|not|without|never|none|nothing|wont|cant|cannot|doesnt|dont|isnt|arent|didnt|wouldnt|aint)"
)
_EMPTY = frozenset({  # words that carry no meaning here; "in" does (oil in coolant)
    "a", "an", "the", "is", "are", "was", "be", "been", "there", "has", "have", "had", "does", "do", "of", "on",
    "at", "to", "it", "its", "and", "or", "with", "from", "but", "when", "while", "as", "by", "for", "just", "out",
    "my", "this", "that", "you", "will", "than", "then",
})  # fmt: skip
# Trade words that mean much the same: one may stand for another, at a discount. A word may be in several.
_KIN = (
    "stuck seized jammed frozen sticking hanging stiff",
    "plugged clogged blocked restricted choked packed caked",
    "bad faulty failed dead shot gone toast fried worn",
    "worn wiped chewed flat eaten",
    "broken cracked busted snapped sheared split burst blown",
    "loose play wobble sloppy",
    "leaking dripping weeping seeping wet pouring slobbering",
    "knock bang hammer rap thump clunk pound",
    "tick tap clatter chatter clack rattle",
    "click clack clunk",
    "whine howl scream whistle siren screech growl whirr noise",
    "squeal chirp squeak screech",
    "noise sound noisy loud",
    "grind scrape rub scrub touches",
    "stall die quit shut cut",
    "surge hunt lope",
    "shake vibrate vibration rock shudder",
    "slow sluggish lazy drag",
    "fluctuate bounce waver swing unsteady erratic jump",
    "spike overshoot",
    "high excessive much",
    "corroded corrosion green crud rusty",
    "chafed rubbed rubbing bare frayed",
    "scratched scored scuffed grooved",
    "sooted caked carbon coked soot",
    "sludge gunk goo slime tar",
    "metal shavings flakes glitter chunks brass",
    "crystal crust",
    "contaminated dirty",
    "wrong off incorrect",
    "use burn drink eat consume",
    "spray mist",
    "terminal clamp post lug",
    "line hose pipe tube boot",
    "intake inlet",
    "engine motor",
    "supply reference feed",
    "derate limp",
    "binding dragging",
    "logged stored set",
    "fault code trouble",
    "liner sleeve",
    "can jug bucket bottle",
    "use usage consumption",
    "computer module brain",
    "silencer muffler",
    "gutless weak lazy sluggish",
    "soaked wet damp",
    "sniff smell stink reek",
    "bent bowed kinked twisted",
    "swollen bulged",
    "unplugged disconnected undone",
    "shop garage workshop",
    "pedal accelerator throttle",
)
_ENDINGS = ("ings", "ing", "ly", "ed", "es", "s", "y", "e")
_DOUBLED = re.compile(r"([bdgmnprt])\1$")
_LEADING_NEGATION = re.compile(
    r"^\s*(?:there (?:is|was|are)\s+)?"
    r"(?:no sign of|no|not|without|never|none of|isn'?t|doesn'?t|didn'?t)\s+(?:any\s+)?",
    re.IGNORECASE,
)


def normalise(text: str) -> tuple[str, ...]:
    """The words of a text that carry meaning, in their order.

    Lower case, abbreviations written out, endings cut, every kind of negation as "no".
    """
    plain = _OTHER.sub(" ", _APOSTROPHE.sub("", text.lower()))
    plain = " ".join(_ABBREVIATIONS.get(word, word) for word in plain.split())
    if _ANY_EXPRESSION.search(plain):
        for pattern, meaning in _EXPRESSIONS:
            plain = pattern.sub(meaning, plain)
    return tuple(_stem(word) for word in plain.split() if word not in _EMPTY)


@lru_cache(maxsize=8192)
def _stem(word: str) -> str:
    if _NEGATION.fullmatch(word):
        return "no"
    if len(word) == 4 and word[3] == "s" and word[2] not in "isu":  # runs, revs, pins; not less, this
        return word[:3]
    for ending in _ENDINGS:
        if word.endswith(ending) and len(word) - len(ending) >= 4:
            return _DOUBLED.sub(r"\1", word[: -len(ending)])
    return word


def _kin() -> dict[str, frozenset[str]]:
    groups = [frozenset(_stem(word) for word in group.split()) for group in _KIN]
    words = frozenset[str]().union(*groups)
    return {word: frozenset[str]().union(*(group for group in groups if word in group)) for word in words}


KIN: Mapping[str, frozenset[str]] = _kin()
"""Plain word -> the plain words that may stand for it."""


def without_negation(text: str) -> str | None:
    """The text without the "no", "not" or the like that it starts with; None when it starts with none."""
    rest = _LEADING_NEGATION.sub("", text, count=1)
    return rest if rest != text and rest.strip() else None
