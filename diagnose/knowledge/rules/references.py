"""Rules on ids that one record uses of another, and on the basis of numbers."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from diagnose.errors import Place
from diagnose.forms.fields import meant, place_of
from diagnose.knowledge.away import named
from diagnose.knowledge.formerly import records
from diagnose.knowledge.limits import facts_of
from diagnose.knowledge.machine_facts import Requirement
from diagnose.knowledge.number import COMMON_PRACTICE, JUDGEMENT, SHOP, Number
from diagnose.knowledge.records import Access, Knowledge
from diagnose.knowledge.rules.base import KINDS, Survey, Violation, jobs, leaks, links, rule


@dataclass(frozen=True, slots=True)
class Reference:
    """An id that is used: where, as what, and the sections that may define it."""

    id: str
    place: Place
    use: str
    sections: tuple[str, ...]


USES = (
    ("hazards", "suspect", ("conditions", "causes", "findings")),
    ("hazards", "blocks", ("hazards",)),
    ("hazards", "cleared_by", ("checks",)),
    ("checks", "reveals", ("findings",)),
    ("repairs", "together", ("repairs",)),
    ("removable", "watched", ("findings",)),
    ("removable", "by", ("checks",)),
    ("families", "facts", ("facts",)),
    ("findings", "clears", ("causes", "conditions", "findings")),
    ("findings", "kind_of", ("findings",)),
    *((section, "access", ("access",)) for section in ("checks", "repairs", "removable")),
    ("access", "needs", ("access",)),
    *((section, "hazards", ("hazards",)) for section in ("access", "checks", "repairs", "removable")),
)
"""Lists of ids: the section that has them, their field, and the sections that may define them."""


def references(knowledge: Knowledge) -> Iterator[Reference]:
    """Every use of an id by another record."""
    for section, use, sections in USES:
        for one in getattr(knowledge, section).values():
            yield from (Reference(id, place_of(id, one.place), use, sections) for id in getattr(one, use))
    yield from _of_links(knowledge)
    yield from _of_facts(knowledge)
    for repair in knowledge.repairs.values():
        yield from (Reference(one.cause, one.place, "cures", ("causes",)) for one in repair.cures)
    for part in knowledge.removable.values():
        yield from (Reference(one.id, one.place, "carries", ("causes", "conditions")) for one in part.carries)
        yield from (
            Reference(one.effect, one.place, "brings", ("conditions", "findings")) for one in part.brings
        )
        for own in part.told:
            yield from _list(own.of, own.place, "of", "findings")


def _of_links(knowledge: Knowledge) -> Iterator[Reference]:
    for _, link in links(knowledge):
        yield Reference(link.effect, link.place, "leads_to", ("causes", "conditions", "findings"))
        yield from _list((link.source,) if link.source else (), link.place, "source", "sources")


def _of_facts(knowledge: Knowledge) -> Iterator[Reference]:
    for cause in knowledge.causes.values():
        yield from _list((one.fact for one in cause.modifiers), cause.place, "facts", "facts")
    for fact in knowledge.facts.values():
        yield from _list((fact.given,) if fact.given else (), fact.place, "shares_by", "facts")
    for finding in knowledge.findings.values():
        read = facts_of([finding.reading]) if finding.reading else ()
        yield from _list(read, finding.place, "facts of a reading", "facts")
    for requirement in requirements(knowledge):
        yield Reference(requirement.fact, requirement.place, "only_if", ("facts",))


def _list(ids: Iterable[str], place: Place, use: str, section: str) -> Iterator[Reference]:
    return (Reference(id, place_of(id, place), use, (section,)) for id in ids)


def requirements(knowledge: Knowledge) -> Iterator[Requirement]:
    """Every only_if."""
    for cause in knowledge.causes.values():
        yield from cause.only_if
    for condition in knowledge.conditions.values():
        yield from condition.only_if
    for finding in knowledge.findings.values():
        yield from finding.only_if
    for job in jobs(knowledge):
        yield from () if isinstance(job, Access) else job.only_if


@rule("K030", "unknown id")
def unknown_id(survey: Survey) -> Iterator[Violation]:
    """An id that is used must be defined in one of the files."""
    for one in references(survey.knowledge):
        if one.id not in survey.kinds and one.id not in survey.doubtful:
            known = [id for section in one.sections for id in getattr(survey.knowledge, section)]
            hint = meant(one.id, known)
            if own := named(survey.knowledge).get(one.id):
                hint = f"it is a test by taking away: say it in carries or told of `{own[0].id}`"
            yield Violation(one.place, f"{one.use}: there is no `{one.id}`", hint)


@rule("K031", "wrong kind")
def wrong_kind(survey: Survey) -> Iterator[Violation]:
    """An id that is used must be of the right kind: links lead to conditions, findings or causes, checks
    reveal findings, repairs cure causes, a link is named by a source.
    """
    for one in references(survey.knowledge):
        kind = survey.kinds.get(one.id)
        if kind is not None and kind not in one.sections and one.id not in survey.doubtful:
            wanted = " or ".join(KINDS[section] for section in one.sections)
            yield Violation(one.place, f"{one.use}: `{one.id}` is {KINDS[kind]}, not {wanted}")


@rule("K032", "unknown value of a fact")
def unknown_value(survey: Survey) -> Iterator[Violation]:
    """`only_if`, `facts` of causes, of families and of readings, `scale` and `fits` use values that the fact
    lists.
    """
    for fact, value, place in _fact_values(survey.knowledge):
        known = survey.knowledge.facts.get(fact)
        if known and value not in known.values:
            yield Violation(
                place_of(value, place), f"`{fact}` has no value `{value}`", meant(value, known.values)
            )


def _fact_values(knowledge: Knowledge) -> Iterator[tuple[str, str, Place]]:
    for requirement in requirements(knowledge):
        yield from ((requirement.fact, value, requirement.place) for value in requirement.values)
    for cause in knowledge.causes.values():
        yield from ((one.fact, one.value, cause.place) for one in cause.modifiers)
    for family in knowledge.families.values():
        yield from ((fact, value, family.place) for fact, value in family.facts.items())
    for finding in knowledge.findings.values():
        if reading := finding.reading:
            yield from ((one.fact, one.value, one.place) for one in reading.scale)
            yield from ((one.fact, one.value, one.place) for one in reading.fits)
            facts = (fact for one in reading.where for fact in one.facts)
            yield from ((fact.fact, value, fact.place) for fact in facts for value in fact.values)


@rule("K065", "earlier id in use")
def earlier_id_used(survey: Survey) -> Iterator[Violation]:
    """An earlier id (`formerly`) is the id of nothing now, and of one record only: old cases are read by it. It has
    the states that it had.
    """
    first: dict[str, str] = {}
    for record in records(survey.knowledge):
        for old in record.formerly:
            kind = survey.kinds.get(old)
            other = KINDS[kind] if kind else f"an earlier id of `{first[old]}`" if old in first else ""
            if other:
                yield Violation(place_of(old, record.place), f"the earlier id `{old}` is {other} too")
            first.setdefault(old, record.id)


@rule("K022", "unknown basis")
def unknown_basis(survey: Survey) -> Iterator[Violation]:
    """The basis of a number is `common practice`, `judgement`, or the id of a source."""
    known = (COMMON_PRACTICE, JUDGEMENT, *survey.knowledge.sources)
    for basis, place in _bases(survey.knowledge):
        if basis not in (*known, SHOP) and basis not in survey.doubtful:
            message = f"the basis `{basis}` is neither common practice, judgement nor a source"
            yield Violation(place_of(basis, place), message, meant(basis, known))


def _bases(knowledge: Knowledge) -> Iterator[tuple[str, Place]]:
    for number in numbers(knowledge):
        yield number.basis, number.place
    for hazard in knowledge.hazards.values():
        yield hazard.basis, hazard.place
    for finding in knowledge.findings.values():
        if finding.reading:
            yield finding.reading.basis, finding.reading.place
            yield from ((one.basis, one.place) for one in finding.reading.where)


def numbers(knowledge: Knowledge) -> Iterator[Number]:
    """Every number of the knowledge."""
    for fact in knowledge.facts.values():
        yield from (number for row in (fact.shares, *fact.shares_by.values()) for number in row)
        yield from (*fact.starts.values(), *fact.nights.values())
    for cause in knowledge.causes.values():
        yield cause.frequency
        yield from (one.odds for one in cause.modifiers)
        if cause.age:
            yield cause.age.shape
        if cause.damage:
            yield from (cause.damage.cost, cause.damage.running, cause.damage.moving)
    for _, link in links(knowledge):
        yield from (number for row in link.strengths for number in row)
    yield from (number for leak in leaks(knowledge) for number in leak)
    yield from (one.other for one in knowledge.findings.values() if one.other)
    yield from (check.minutes for check in knowledge.checks.values())
    for repair in knowledge.repairs.values():
        yield repair.minutes
        yield from (one.effectiveness for one in repair.cures)
        if repair.infant:
            yield repair.infant
        if repair.life:
            yield repair.life.hours
    for part in knowledge.removable.values():
        yield from (one.effectiveness for one in part.carries)
        yield from (number for one in part.brings for number in one.strengths)
        yield from (number for number in (part.mistaken, part.minutes) if number)
