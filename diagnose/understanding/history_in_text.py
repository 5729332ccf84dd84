"""What a text tells of the machine and its past: hours, work done, since when, the weather and the fuel."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from diagnose.knowledge.records import Knowledge
from diagnose.understanding.inspection_results import seen_from
from diagnose.words.spans import Span

_CUT = re.compile(
    r"[.;:!?\n]+(?=\s|$)|,(?!\d)|\s[-–—]+\s|\b(?:but|and then|then|now|so|except)\b", re.IGNORECASE
)
_WORK = (
    r"replaced|renewed|changed|swapped(?! over)|fitted|installed|rebuilt|overhauled|reconditioned|serviced|"
    r"cleaned|flushed|bled|"
    r"drained|refilled|topped up|topping up|topped|adjusted|reset|retorqued|torqued|blown out|"
    r"tightened|disconnected|"
    r"rewired|welded|reflashed|reprogrammed|updated|tested last|done last|was done|were done|put in|putting in|did|"
    r"r ?& ?r|r and r|re-?sealed|recommissioned|winteri[sz]ed|filled up|refuel+ed|cleared|entered|calibrated|"
    r"messed with|worked on|looked at|looked over|turned the|taken off|pulled apart|machined|skimmed|reground|"
    r"stripped (?:down|it|the|out|and|to|back)|(?:was|been|we|i|they) stripped|"
    r"deleted|tuned|remapped|swapped out|blew the|had new|had the|had it in|bought|rewound|"
    r"repaired|fixed|put a|put the|"
    r"put \w+ in|put in|put another|stuck a new|whacked a|threw a|threw in|chucked in|lubed|"
    r"greased|overhead set|head off|"
    r"pulled (?:the|both|all|out|off|apart|down)|unhooked|took (?:the|out|off)|sent (?:the|out|off|away)|"
    r"(?:had|got) \w+(?: \w+){0,3} done|done (?:last|in|at|by|this|over)|"
    r"planned|tomorrow|next week|next wk"
)
_PARTS = (
    r"pan|sump|cables?|rack|governor|manifold|cover|flywheel|plugs?|nozzles?|"
    r"burn|regen\w*|wires?|wheels?|tyres?|filters?|injectors?|inj|pump|turbo|sensors?|belt|batter(?:y|ies)|alternator|alt|starter|"
    r"thermostat|therm|stat|radiator|rad|clamps?|hoses?|connectors?|"
    r"cooler|gasket|head|oil|coolant|hose|valves?|relay|engine|motor|regulator|impeller|cleaner|"
    r"element|tank|fuel|urea|def|"
    r"switch|harness|cable|module|ecm|ecu|dpf|egr|clutch|compressor|bearings?|liners?|pistons?|"
    r"rings?|overhead|tappets?|"
    r"o ?-?rings?|seals?|solenoid|actuator|screw|wiring|joystick|dial|doser|lines?|tune up|service"
)
_DONE = re.compile(
    rf"\b(?:{_WORK})\b(?=.*\b(?:{_PARTS})\b)|\b(?:{_PARTS})\b[^.;]*?\b(?:{_WORK})\b|\b(?:new|"
    rf"another|fresh|second|third)\s+(?:\w+\s+){{0,3}}?"
    rf"(?:{_PARTS})\b",
    re.IGNORECASE,
)
_DONE_ALONE = re.compile(
    r"\b(?:(?:ever since|since|after|following) (?:the |a |an |its |my |our |that )?(?:\w+ ){0,3}?"
    r"(?:change|service|rebuild|repair|"
    r"overhaul|swap|replacement|job|install|refit|work|tune ?up|clean)\b|had (?:the|my|it|that)"
    r"\b[^,;]*\b(?:looked at|fixed|sorted|seen to|checked)|winteri[sz]ed|recommissioned|serviced|"
    r"tune ?up|overhead set|rebuilt|overhauled|bled(?: it| the system)?|refill(?:ed)?|"
    r"cleared (?:that|it|them|the codes?|codes?)|reflashed|reprogrammed|remapped|retorqued|"
    r"repowered|drained (?:and|&) refilled|"
    r"after clearing|filled (?:it )?up|swapped (?:to|with)|head off|planned|no one touched|"
    r"had to (?!be\b)\w+|topping up|topped (?:it )?up)\b",
    re.IGNORECASE,
)
_WORK_AND_MORE = re.compile(
    r"^\s*(?:and )?(?:replaced|cleared|fixed|repaired|bled|drained|refitted|reset|tightened|cleaned|freed|greased|"
    r"topped|blew|swapped|changed|adjusted|flushed|filled|renewed|put new)\b|\bput (?:\w+ ){1,3}in\b|"
    r"\bwent (?:through|over) the\b|"
    r"\bnever had (?:an?|the|any)\b|\btomorrow\b|\bnext wk\b|\bnot (?:looked at|been touched|opened)\b",
    re.IGNORECASE,
)
_NOT_WORK = re.compile(
    r"\b(?:hasn'?t|haven'?t|not|never|no) changed?\b|\bunchanged\b|\bchanged? (?:to|colou?r|pitch)"
    r"\b|\bno change\b(?! after)",
    re.IGNORECASE,
)
_MORE_PARTS = re.compile(
    rf"(?:and\s+)?(?:a|an|the|both|new|two|three|all|another|then a)\b[\w\s-]*\b(?:{_PARTS})\b[\w\s-]*",
    re.IGNORECASE,
)
_LONG = 14  # words: in a longer clause the work is only a part of what is said
_DENIED = re.compile(
    r"\b(?:never|not|hasn'?t|haven'?t|wasn'?t|weren'?t|didn'?t|nobody|nothing)\b", re.IGNORECASE
)
_NEVER = re.compile(
    r"\b(?:never|not|hasn'?t|haven'?t|wasn'?t|isn'?t|didn'?t|no)\s+(?:\w+\s+){0,2}$", re.IGNORECASE
)
"""Before a fact of the machine: it never overheated before."""
_SINCE = re.compile(
    r"\b(?:(?:ever )?since|started (?:on )?(?:after|about|last|mon|tue|wed|thu|fri|sat|sun|this|"
    r"yesterday)|began|used to|"
    r"wasn'?t there (?:last|before)|(?:was|ran|been) (?:fine|ok|perfect|good|great) (?:before|"
    r"until|til|till|up to)|"
    r"never (?:\w+ ){1,3}before|always (?:has|did|done|been)|came home|years? old|"
    r"(?:a )?(?:month|week|year|day)s? (?:ago|back)|was perfect before|ran great|from \d[\d.]*$)",
    re.IGNORECASE,
)
_WHEN = re.compile(
    r"\b(?:last|this|next)\s+(?:week|month|year|night|time|mon|tues?|wednes|thurs?|fri|satur|sun|"
    r"spring|summer|autumn|fall|"
    r"winter|january|february|march|april|may|june|july|august|september|october|november|december|wk|harvest)\w*|"
    r"\b(?:yesterday|in (?:january|february|march|april|may|june|july|august|september|october|"
    r"november|december|\d{4})|"
    r"\d+\s*(?:weeks?|wks?|months?|mths?|days?|years?|yrs?|hours?|hrs?|miles|km)\s+(?:ago|back|"
    r"since)|at (?:easter|christmas)|"
    r"on (?:mon|tues|wednes|thurs|fri|satur|sun)day)\b",
    re.IGNORECASE,
)
_HOURS = re.compile(
    r"(?<![\w.,])(\d{1,3}(?:[, ]\d{3})+|\d{3,6}|\d{1,3}(?:\.\d)?k)\s*(?:engine |running |meter |"
    r"service )?(?:hours|hrs|hr|h)\b",
    re.IGNORECASE,
)
_NOT_RUN = re.compile(
    r"^\s*(?:ago|since|after|on it|on the oil|old|later|between|interval|service)|^\s*on (?:the )?(?:oil|filter)",
    re.IGNORECASE,
)
_BEFORE_HOURS = re.compile(
    r"\b(?:oil|filter|every|after|since|only|last|another|for|in|at most|within)\s*(?:with|has|is|about|only)?\s*$",
    re.IGNORECASE,
)

FACTS: tuple[tuple[str, str, str], ...] = (
    (
        "weather",
        "below freezing",
        r"\bminus \d{1,2}(?![\d.])|\bbelow (?:zero|freezing|\d{1,2} ?(?:c|f|deg\w*|out\w*)\b)|"
        r"(?<![\w.])-\s?\d{1,2}\s*(?:c|deg|degrees|outside|"
        r"out)\b(?=.*\b(?:last night|outside|out there|overnight|ambient|this morning)\b)|"
        r"\bcold snap\b|\bbelow freezing\b|\bhard frost\b|\bfrosty\b|\bin (?:the )?snow\b|"
        r"\bbelow zero\b",
    ),
    ("fuel_in_tank", "winter diesel", r"\bwinter (?:fuel|diesel|blend)\b"),
    ("fuel_in_tank", "summer diesel", r"\bsummer (?:fuel|diesel)\b"),
    ("fuel_in_tank", "biodiesel blend", r"\bbio ?-?(?:diesel|fuel)\b|\bb[1-9]0\b|\bfame\b"),
    ("fuel_in_tank", "heating oil or unknown", r"\b(?:heating|furnace) oil\b(?! in)"),
    (
        "system_voltage",
        "24 V",
        r"\b24 ?-?v(?:olts?)? (?:system|machine|truck|set|electrics|electrical)\b|\b(?:it is|its|it's|"
        r"is a) 24 ?v\b",
    ),
    (
        "system_voltage",
        "12 V",
        r"\b12 ?-?v(?:olts?)? (?:system|machine|truck|set|electrics|electrical)\b|\b(?:it is|its|it's|"
        r"is a) 12 ?v\b",
    ),
    (
        "standing",
        "stood a month or more",
        r"\b(?:stood|sat|parked|laid up|been standing|been sitting|standing|not run|unused|stored|"
        r"winteri[sz]ed)\b[^.;,]{0,30}\b(?:months?|winter|years?|season|last harvest|(?:[4-9]|1\d)"
        r" weeks)\b",
    ),
    (
        "jump_or_weld",
        "jumped or boosted",
        r"\b(?:was|were|got|been|had (?:it|to be)|we|they|i|somebody|someone) (?:jumped|jump[- ]started|boosted)\b",
    ),
    (
        "jump_or_weld",
        "welded on",
        r"\b(?:was|been|got|were|they|somebody|someone|after|since) weld(?:ed|ing)\b|\bwelding (?:on|done)\b",
    ),
    (
        "overheated_before",
        "once or more",
        r"\b(?:after|since) (?:it|she|he|we|the engine) (?:got|ran|was|had) (?:very |too |so |real )?"
        r"(?:hot|overheat\w*)\b|\b(?:over ?heated|boiled|cooked it)\b[^.;,]{0,20}\b(?:last|before|ago|"
        r"once|in)\b|\bafter (?:it|she) overheated\b",
    ),
    ("aftertreatment", "none", r"\bno (?:dpf|aftertreatment|after ?treatment)\b(?: fitted)?"),
    ("idling", "much", r"\bidles (?:all day|for hours|a lot|most of the day)\b"),
    ("duty", "stop and go", r"\b(?:short (?:school )?runs?|school runs?|stop and go|city work|town work)\b"),
    ("oil_change", "overdue", r"\boil (?:change )?(?:is |was )?(?:long |way |well )?overdue\b"),
    (
        "air_filter_change",
        "overdue",
        r"\bair (?:filter|cleaner) (?:change )?(?:is |was )?(?:long |way |well )?overdue\b",
    ),
    (
        "fuel_filter_change",
        "overdue",
        r"\bfuel filters? (?:change )?(?:is |was |are |were )?(?:long |way |well )?overdue\b",
    ),
    (
        "valve_adjustment",
        "overdue",
        r"\b(?:valves?|lash|overhead) (?:never|not) (?:been )?(?:set|adjusted)\b",
    ),
)
"""What is said -> the fact of the machine and its value, where the knowledge asks for it."""
_FACTS = tuple((fact, value, re.compile(pattern, re.IGNORECASE)) for fact, value, pattern in FACTS)

WORK: tuple[tuple[str, str], ...] = (
    ("injectors", r"injectors?|inj\b"), ("high-pressure oil pump", r"hpop|high[- ]pressure oil pump"),
    ("cylinder head", r"head gasket|cylinder head|head\b"), ("pistons and liners", r"pistons?|liners?|rings"),
    ("oil cooler", r"oil cooler"), ("valve adjustment", r"overhead|valves? (?:set|adjust)|tappets|lash"),
    ("timing gears", r"timing gears?"), ("crankshaft and bearings", r"bearings|crankshaft"),
    ("cooling system", r"coolant|radiator|water pump|thermostat|stat\b"),
    ("starter or alternator", r"starter|alternator"),
    ("module or software", r"ecm|ecu|module|software|reflash|update"),
    ("exhaust or aftertreatment", r"dpf|exhaust|def\b|urea|doser|nox"),
    ("clutch or transmission", r"clutch|transmission|gearbox"), ("wiring", r"wiring|harness|loom"),
    ("air intake or turbocharger", r"turbo|intake|intercooler|air filter"),
    ("filters and oil service", r"service|filter change|fuel filters?|oil change|filters?|oil (?:was )?changed"),
    ("fuel system", r"lift pump|fuel pump|fuel system|injection pump"), ("fluids filled", r"filled|topped"),
)  # fmt: skip
_WORK_FACT = tuple((value, re.compile(pattern, re.IGNORECASE)) for value, pattern in WORK)
_SINCE_WORK = re.compile(
    r"\b(?:since|after|ever since|right after|straight after)\b[^.;]{0,60}?\b(?:change|changed|"
    r"replaced|service|serviced|job|repair|fitted|replacement|"
    r"new|swap|swapped|rebuild|rebuilt|work|worked|done|did|put|overhaul|adjusted|set|clean)",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class HistoryItem:
    """Something told of the machine: `kind` history, hours or fact. `whole`: the clause says nothing else."""

    kind: str
    span: Span
    fact: str = ""
    value: str = ""
    hours: float | None = None
    whole: bool = True


def clauses(text: str) -> list[Span]:
    """The stretches between marks and conjunctions."""
    found, start = [], 0
    for cut in _CUT.finditer(text):
        if text[start : cut.start()].strip():
            found.append(_trimmed(text, start, cut.start()))
        start = cut.end()
    if text[start:].strip():
        found.append(_trimmed(text, start, len(text)))
    return found


def _trimmed(text: str, start: int, end: int) -> Span:
    stripped = text[start:end]
    lead = len(stripped) - len(stripped.lstrip())
    return Span(start + lead, start + len(stripped.rstrip()))


def told_in(knowledge: Knowledge, text: str) -> list[HistoryItem]:
    """What the text tells of the machine and its past."""
    found = [*_hours(text), *_facts(knowledge, text)]
    listed = False
    for clause in clauses(text):
        past = list(_past(knowledge, text, clause))
        if not past and listed and _MORE_PARTS.fullmatch(text[clause.start : clause.end]):
            past = [HistoryItem("history", clause)]
        listed = any(one.kind == "history" and one.whole for one in past)
        found += past
    return sorted(found, key=lambda one: (one.span.start, one.span.end))


def _hours(text: str) -> Iterator[HistoryItem]:
    for found in _HOURS.finditer(text):
        if _NOT_RUN.match(text[found.end() :]) or _BEFORE_HOURS.search(text[: found.start()]):
            continue
        number = found[1].lower().replace(",", "").replace(" ", "")
        value = float(number.removesuffix("k")) * (1000 if number.endswith("k") else 1)
        if 50 <= value < 200_000:
            yield HistoryItem("hours", Span(*found.span()), hours=value)


def _facts(knowledge: Knowledge, text: str) -> Iterator[HistoryItem]:
    seen: set[str] = set()
    for fact, value, pattern in _FACTS:
        found = next((one for one in pattern.finditer(text) if not _NEVER.search(text[: one.start()])), None)
        if found and fact not in seen and fact in knowledge.facts and value in knowledge.facts[fact].values:
            seen.add(fact)
            yield HistoryItem("fact", Span(*found.span()), fact, value, whole=False)


def _past(knowledge: Knowledge, text: str, clause: Span) -> Iterator[HistoryItem]:
    words = text[clause.start : clause.end]
    done = (
        None
        if _NOT_WORK.search(words)
        else _DONE.search(words) or _DONE_ALONE.search(words) or _WORK_AND_MORE.search(words)
    )
    since = _SINCE.search(words)
    when = _WHEN.search(words)
    if done:
        work = next((value for value, pattern in _WORK_FACT if pattern.search(words)), "")
        linked = bool(_SINCE_WORK.search(words)) and not _DENIED.search(words)
        known = "recent_work" in knowledge.facts and work in knowledge.facts["recent_work"].values
        if seen := seen_from(words):
            yield HistoryItem("history", _trimmed(text, clause.start, clause.start + seen))
            return
        span = _work_span(text, clause, done)
        if linked and known:
            yield HistoryItem("fact", span, "recent_work", work, whole=True)
        else:
            yield HistoryItem("history", span)
    elif since:
        yield HistoryItem("history", Span(clause.start + since.start(), clause.end))
    elif when:
        span = Span(clause.start + when.start(), clause.start + when.end())
        yield HistoryItem("history", span, whole=False)


def _work_span(text: str, clause: Span, done: re.Match[str]) -> Span:
    """The words of the work: from the clause's beginning, or from "since", "after" where the clause says more."""
    words = text[clause.start : clause.end]
    lead = re.search(r"\b(?:ever since|since|after|when|now that|following)\b", words, re.IGNORECASE)
    if lead and lead.start() > 0 and lead.start() <= done.start() + 40:
        return Span(clause.start + lead.start(), clause.end)
    goes_on = _GOES_ON.search(words, done.end())
    if goes_on:
        words = words[: goes_on.start()]
        clause = Span(clause.start, clause.start + len(words.rstrip()))
    if len(words.split()) <= _LONG:
        return _side(clause, words, done)
    joints = [joint.end() for joint in _JOINT.finditer(words[: done.start()])]
    after = _JOINT.search(words, done.end())
    return Span(
        clause.start + (joints[-1] if joints else done.start()),
        clause.start + (after.start() if after else len(words)),
    )


def _side(clause: Span, words: str, done: re.Match[str]) -> Span:
    """Of two things joined by "and" the one that holds the work."""
    start, end = 0, len(words)
    for joint in re.finditer(r"\s(?:and|&)\s", words):
        if joint.end() <= done.start():
            start = joint.end()
        elif joint.start() >= done.end() and not re.match(
            rf"(?:\w+\s){{0,3}}(?:{_PARTS}|{_WORK})\b", words[joint.end() :], re.IGNORECASE
        ):
            end = joint.start()
            break
    return Span(clause.start + start, clause.start + end)


_GOES_ON = re.compile(
    r"\b(?:and )?(?:still|again|yet|it (?:still|now|has|is|was)|its|it's|she|he) (?!not touched|ago|in|since)\w+",
    re.IGNORECASE,
)
"""What the machine does behind the work that was done: "thermostat changed, still runs hot"."""
_JOINT = re.compile(
    r"\band (?=it|she|he|we|i\b|the|they|now|a guy|someone|somebody|there)|\bthen\b|\bwhich\b", re.IGNORECASE
)
