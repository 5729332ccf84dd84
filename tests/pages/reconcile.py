"""Where the knowledge comes from, its faults beside published distributions, and the page docs/provenance.md:
`python -m tests.pages` writes it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from diagnose.knowledge.number import JUDGEMENT
from diagnose.knowledge.provenance import (
    FACTS,
    KINDS,
    SPEAK_OF,
    SourcedLinks,
    structure,
    tally,
    tally_by_subject,
    tally_of_texts,
)
from diagnose.knowledge.records import Knowledge
from diagnose.knowledge.sections.general import CONFIDENCES
from diagnose.network.build import build
from diagnose.network.machine import Machine
from tests.pages.published import OTHERS, STOPPAGE_WORDS, STOPPAGES, Share

PAGE = Path(__file__).resolve().parents[2] / "docs" / "provenance.md"


@dataclass(frozen=True, slots=True)
class Compared:
    """One class: published and own share in 100 of the classes compared."""

    share: Share
    published: float
    own: float


def compared(sums: Mapping[str, float], shares: Sequence[Share] = STOPPAGES) -> list[Compared]:
    """Both distributions over the same classes, each made to add up to 100."""
    own = [sum(sums.get(system, 0.0) for system in share.systems) for share in shares]
    whole, published = sum(own) or 1.0, sum(share.percent for share in shares)
    return [
        Compared(share, 100 * share.percent / published, 100 * mine / whole)
        for share, mine in zip(shares, own, strict=True)
    ]


def sums_for(knowledge: Knowledge, family: str) -> dict[str, float]:
    """How many faults of each system arise on a machine of the family in the usual window: sums of what the causes
    have of themselves. Those that build up unnoticed are left out."""
    facts = knowledge.families[family].facts if family else {}
    priors = build(knowledge, Machine(family=family, facts=facts)).priors
    sums = dict.fromkeys(knowledge.systems, 0.0)
    for id, p in priors.items():
        if knowledge.causes[id].per != "share":
            sums[knowledge.causes[id].system] += p
    return sums


def page(knowledge: Knowledge) -> str:
    """The whole page."""
    blocks = (HEAD, _bases(knowledge), _structure(knowledge), _priors(knowledge), *_published(knowledge))
    return "\n\n".join(blocks) + "\n"


HEAD = """# Where the knowledge comes from

Made from the knowledge by `python -m tests.pages`; do not edit.

That something leads to something else, and how often it does, are two things, and each has a basis of its own.
A manual that names a cause of a complaint speaks for the first alone: it is the `source` of the link. The number
has a basis (a published source only where that gives the number itself, `common practice`, `judgement`; in a
shop's overlay also `shop`) and an equivalent sample size, the number of cases that it is worth. Nothing here came
out of a simulation. `diagnose knowledge show ID` lists all of it for each number of a record; `diagnose knowledge
stress` tells which of them an answer rests on."""
BASES = """## Numbers by basis

Every number of causes, conditions, findings, checks, repairs and machine facts. `known`: from a source or common
practice, in 100."""
SUBJECTS = "By what the numbers speak of:"
TEXTS = "Limits of readings (each set of them once) and cautions have a basis too:"
STRUCTURE = """## Links by source

How many links a published source names, by how that was consulted; by the system of what they start from.
`diagnose knowledge show` with the id of a source tells which. A link that none names is common knowledge of the
trade, or judgement."""
PRIORS = """## Faults by system

How many faults happen to a machine of the family, on average, in the 500 running hours since it was last right:
presence by the causes' rates, with the facts that the family does not tell summed over. States that build up
unnoticed (`share`) are not counted. [rates.md](rates.md) sets machines as they arrive beside published figures."""


def _bases(knowledge: Knowledge) -> str:
    names = {id: one.name for id, one in knowledge.systems.items()} | {FACTS: "Machine facts"}
    by_system = _named(tally(knowledge), names)
    total = sum(by_system.values(), Counter[str]())
    judged = f"So {_in_100(total[JUDGEMENT], total.total())} of 100 numbers are judgement."
    by_subject = _counted("of what", _named(tally_by_subject(knowledge), SPEAK_OF))
    texts = _counted("", tally_of_texts(knowledge))
    return "\n\n".join((BASES, _counted("system", by_system), judged, SUBJECTS, by_subject, TEXTS, texts))


def _named(counts: Mapping[str, Counter[str]], names: Mapping[str, str]) -> dict[str, Counter[str]]:
    return {names[id]: count for id, count in counts.items()}


def _counted(head: str, counts: Mapping[str, Counter[str]]) -> str:
    """A table of counts by basis, with their sum."""
    rows = {**counts, "all": sum(counts.values(), Counter[str]())}
    cells = [[name, *(str(row[kind]) for kind in KINDS), _known(row)] for name, row in rows.items()]
    return table((head, *KINDS, "known"), cells)


def _known(row: Counter[str]) -> str:
    return _in_100(sum(row[kind] for kind in KINDS[:2]), row.total())


def _structure(knowledge: Knowledge) -> str:
    found = {knowledge.systems[id].name: one for id, one in structure(knowledge).items()}
    links = sum(one.links for one in found.values())
    by_confidence = sum((one.by_confidence for one in found.values()), Counter[str]())
    rows = [*found.items(), ("all", SourcedLinks(links, by_confidence))]
    cells = [[name, *_links(one)] for name, one in rows]
    return "\n\n".join((STRUCTURE, table(("system", "links", *CONFIDENCES, "named, in 100"), cells)))


def _links(one: SourcedLinks) -> tuple[str, ...]:
    by_confidence = (str(one.by_confidence[confidence]) for confidence in CONFIDENCES)
    return str(one.links), *by_confidence, _in_100(one.named, one.links)


def _priors(knowledge: Knowledge) -> str:
    families = list(knowledge.families)
    sums = {family: sums_for(knowledge, family) for family in families}
    systems = [id for id in knowledge.systems if any(sums[family][id] for family in families)]
    cells = [[knowledge.systems[id].name, *(f"{sums[f][id]:.2f}" for f in families)] for id in systems]
    cells.append(["all", *(f"{sum(sums[f].values()):.2f}" for f in families)])
    heads = [knowledge.families[family].name for family in families]
    return "\n\n".join((PRIORS, table(("system", *heads), cells)))


def _published(knowledge: Knowledge) -> Iterator[str]:
    yield "## Beside published distributions"
    yield _stoppages(knowledge, nearest(knowledge))
    yield OTHERS


def nearest(knowledge: Knowledge) -> str:
    """The family nearest to an engine of the survey: the first without aftertreatment, if any."""
    plain = (id for id, one in knowledge.families.items() if one.facts.get("aftertreatment") == "none")
    return next(plain, next(iter(knowledge.families), ""))


def _stoppages(knowledge: Knowledge, family: str) -> str:
    rows = compared(sums_for(knowledge, family))
    cells = [
        [one.share.name, f"{one.published:.0f}", f"{one.own:.0f}", _ratio(one), one.share.words]
        for one in rows
    ]
    ours = f"Ours: {knowledge.families[family].name}." if family else ""
    return "\n\n".join(
        (STOPPAGE_WORDS, ours, table(("class", "published", "ours", "", "why they may differ"), cells))
    )


def _ratio(one: Compared) -> str:
    if one.own >= 1.5 * one.published:
        return "ours more"
    return "ours less" if one.own <= one.published / 1.5 else "alike"


def _in_100(part: float, whole: float) -> str:
    return f"{100 * part / whole:.0f}" if whole else "-"


def table(head: Iterable[str], rows: Iterable[Sequence[str]]) -> str:
    """A table as it is written in Markdown."""
    columns = list(head)
    lines = [columns, ["---"] * len(columns), *rows]
    return "\n".join(f"| {' | '.join(line)} |" for line in lines)
