"""The screens of the knowledge itself: one record, what was found, what is wrong."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any

from rich.console import Group, RenderableType
from rich.text import Text

from diagnose.errors import Problem
from diagnose.knowledge.away import named, part_of, watched
from diagnose.knowledge.limits import limit_words
from diagnose.knowledge.observable import noted
from diagnose.knowledge.provenance import FREQUENCY, numbers
from diagnose.knowledge.records import Knowledge, Link
from diagnose.report.screen_words import CAUTION, count, listed, minutes, percent
from diagnose.report.text import QUIET, STRONG, cautions, grid, line, titled
from diagnose.words.likeness import Match

SECTIONS: Mapping[str, str] = {
    "causes": "cause",
    "conditions": "condition",
    "findings": "finding",
    "checks": "check",
    "repairs": "repair",
    "removable": "removable part",
    "access": "access state",
    "hazards": "hazard",
    "facts": "machine fact",
    "families": "family",
    "systems": "system",
    "sources": "source",
}
Rows = Iterator[tuple[str, str]]


def section_of(knowledge: Knowledge, id: str) -> str | None:
    """The section that holds an id."""
    return next((section for section in SECTIONS if id in getattr(knowledge, section)), None)


def holder(knowledge: Knowledge, id: str) -> str:
    """The record that says what the id means: of a test by taking away its part, else the record of this id."""
    own = named(knowledge).get(id)
    return own[0].id if own else part_of(id) or id


def record_screen(knowledge: Knowledge, section: str, id: str) -> RenderableType:
    """One record of the knowledge; cautions before everything else."""
    record = getattr(knowledge, section)[id]
    name = getattr(record, "name", "") or getattr(record, "title", "")
    table = grid("left", "left")
    for label, words in _ROWS[section](knowledge, record):
        if words:
            table.add_row(Text(label, QUIET), words)
    hazards = [knowledge.hazards[hazard] for hazard in getattr(record, "hazards", ())]
    return Group(
        Text(name, STRONG),
        line(f"{SECTIONS[section]} {id}, {record.place}", style=QUIET),
        *cautions(hazards),
        table,
        *_numbers(knowledge, record),
        *((line(CAUTION, style=QUIET),) if hazards or section in ("checks", "repairs") else ()),
    )


def _numbers(knowledge: Knowledge, record: Any) -> Iterator[RenderableType]:
    """Every number of the record with its basis and the number of cases that it is worth, and the source that names
    the link that it is of."""
    if found := numbers(knowledge, record):
        table = grid("right", "right", "left", "left")
        table.add_row(*(Text(words, QUIET) for words in ("number", "worth", "basis", "of what")))
        for one in found:
            number = one.number
            named = f" (named by {one.source})" if one.source else ""
            table.add_row(f"{number.value:g}", f"{number.ess:g}", number.basis, one.label + named)
        yield titled("Numbers (worth: how many cases the number counts for)", table)


def matches_screen(knowledge: Knowledge, found: Iterable[Match]) -> RenderableType:
    """What words may mean, best first."""
    table = grid("left", "left")
    for match in found:
        section = section_of(knowledge, match.id) or ""
        kind = SECTIONS.get(section, "finding" if noted(knowledge, match.id) else "")
        table.add_row(f"{kind:12}", f"{_name(knowledge, match.id)}: {match.id}")
    return Group(table, line("Next: diagnose knowledge show ID", style=STRONG))


def check_screen(
    counts: Mapping[str, int], problems: Iterable[Problem], notices: Iterable[Problem] = ()
) -> RenderableType | str:
    """All problems, one a line and never wrapped; or how much there is, and what of it was read in the words of an
    earlier version."""
    if lines := [str(problem) for problem in problems]:
        return "\n".join(lines)
    things = [
        count(
            counts[section],
            one,
            {"access": "access states", "removable": "removable parts"}.get(section, section),
        )
        for section, one in SECTIONS.items()
    ]
    return Group(line(f"The knowledge is sound: {listed(things)}."), *(line(str(one)) for one in notices))


def _name(knowledge: Knowledge, id: str) -> str:
    section = section_of(knowledge, id)
    record: Any = getattr(knowledge, section)[id] if section else noted(knowledge, id)
    return getattr(record, "name", "") or getattr(record, "title", id)


def _names(knowledge: Knowledge, ids: Iterable[str]) -> str:
    return "; ".join(f"{_name(knowledge, id)} ({id})" for id in ids)


def _links(knowledge: Knowledge, links: Iterable[Link]) -> str:
    return "; ".join(
        f"{_name(knowledge, link.effect)} {percent(max(sum(n.value for n in row) for row in link.strengths))}"
        for link in links
    )


def _often(record: Any) -> str:
    if record.per == "share":
        return f"{percent(record.frequency.value)} of machines in service have it"
    return f"{record.frequency.value:g} {FREQUENCY[record.per]}"


def _cause(knowledge: Knowledge, record: Any) -> Rows:
    yield "part", record.part
    yield "what", record.about
    yield "how often", f"{_often(record)} ({record.frequency.basis})"
    yield "only if", "; ".join(f"{r.fact} is {listed(r.values, 'or')}" for r in record.only_if)
    yield "more with", "; ".join(f"{m.fact} {m.value} (x {m.odds.value:g})" for m in record.modifiers)
    yield "leads to", _links(knowledge, record.leads_to)
    curing = [r.id for r in knowledge.repairs.values() if any(c.cause == record.id for c in r.cures)]
    yield "cured by", _names(knowledge, curing)


def _condition(knowledge: Knowledge, record: Any) -> Rows:
    yield "what", record.about
    yield "states", listed(record.states, "or")
    yield "leads to", _links(knowledge, record.leads_to)


def _finding(knowledge: Knowledge, record: Any) -> Rows:
    yield "kind", record.kind
    yield "states", listed(record.states, "or")
    yield "how", record.observe
    yield "also", ", ".join(record.aliases)
    yield "codes", ", ".join(record.codes)
    if record.reading:
        yield "reading", f"{record.reading.quantity}, {record.reading.unit} ({record.reading.basis})"
        yield "limits", "\n".join(limit_words(record.reading, {}))
    revealing = [check.id for check in knowledge.checks.values() if record.id in check.reveals]
    yield "shown by", _names(knowledge, revealing)


def _check(knowledge: Knowledge, record: Any) -> Rows:
    yield "takes", minutes(record.minutes.value)
    yield "open", _names(knowledge, record.access)
    yield "tools", ", ".join(record.tools)
    yield "steps", "\n".join(f"{i}. {step}" for i, step in enumerate(record.steps, 1))
    yield "reveals", _names(knowledge, record.reveals)
    out = [part.id for part in knowledge.removable.values() if record.id in part.by]
    yield "takes out", _names(knowledge, out)


def _repair(knowledge: Knowledge, record: Any) -> Rows:
    yield "takes", minutes(record.minutes.value)
    yield "open", _names(knowledge, record.access)
    yield "parts", "; ".join(f"{p.quantity:g} x {p.name}" for p in record.parts)
    yield (
        "cures",
        "; ".join(f"{_name(knowledge, c.cause)} {percent(c.effectiveness.value)}" for c in record.cures),
    )
    yield "together", _names(knowledge, record.together)
    yield "prove it", "\n".join(record.verify)


def _removable(knowledge: Knowledge, record: Any) -> Rows:
    yield "out", listed(record.ways, "or")
    yield "also", ", ".join(record.aliases)
    yield (
        "takes away",
        "; ".join(f"{_name(knowledge, c.id)} {percent(c.effectiveness.value)}" for c in record.carries),
    )
    yield "brings", _names(knowledge, (one.effect for one in record.brings))
    yield "look at", _names(knowledge, watched(knowledge, record))
    yield "takes", minutes(record.minutes.value) if record.minutes else ""
    yield "in", _names(knowledge, record.by)
    yield "open", _names(knowledge, record.access)
    yield "tools", ", ".join(record.tools)
    yield "steps", "\n".join(f"{i}. {step}" for i, step in enumerate(record.steps, 1))
    for own in record.told:
        yield own.id, own.name


def _access(knowledge: Knowledge, record: Any) -> Rows:
    yield "takes", f"{minutes(record.minutes)} to reach, {minutes(record.restore_minutes)} to restore"
    yield "first", _names(knowledge, record.needs)


def _hazard(knowledge: Knowledge, record: Any) -> Rows:
    yield "caution", record.caution
    yield "basis", record.basis


def _fact(knowledge: Knowledge, record: Any) -> Rows:
    yield "ask", record.question
    yield "values", "; ".join(record.values)


def _family(knowledge: Knowledge, record: Any) -> Rows:
    yield "facts", "; ".join(f"{fact} = {value}" for fact, value in record.facts.items())


def _system(knowledge: Knowledge, record: Any) -> Rows:
    yield "what", record.about
    yield "causes", _names(knowledge, (c.id for c in knowledge.causes.values() if c.system == record.id))


def _source(knowledge: Knowledge, record: Any) -> Rows:
    yield "known", record.confidence
    yield "names", "; ".join(_named_by(knowledge, record.id))


def _named_by(knowledge: Knowledge, source: str) -> Iterator[str]:
    """Every link that a source names, in words."""
    for parent in knowledge.parents:
        effects = [link.effect for link in parent.leads_to if link.source == source]
        if effects:
            yield f"{parent.name} leads to {_names(knowledge, effects)}"


_ROWS: Mapping[str, Callable[[Knowledge, Any], Rows]] = {
    "causes": _cause,
    "conditions": _condition,
    "findings": _finding,
    "checks": _check,
    "repairs": _repair,
    "removable": _removable,
    "access": _access,
    "hazards": _hazard,
    "facts": _fact,
    "families": _family,
    "systems": _system,
    "sources": _source,
}
