"""The knowledge's priors beside published distributions of failures, and the page docs/provenance.md:
`python -m diagnose.study.reconcile` writes it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from diagnose.knowledge.provenance import KINDS, tally
from diagnose.knowledge.records import JUDGEMENT, Knowledge
from diagnose.network.build import build
from diagnose.network.machine import Machine
from diagnose.study.published import (
    CORE,
    CORE_SHARE,
    CORE_WORDS,
    OTHERS,
    STOPPAGE_WORDS,
    STOPPAGES,
    Share,
)

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
    blocks = (HEAD, _bases(knowledge), _priors(knowledge), *_published(knowledge))
    return "\n\n".join(blocks) + "\n"


HEAD = """# Where the numbers come from

Made from the knowledge by `python -m diagnose.study.reconcile`; do not edit.

Every number has a basis (a published source, `common practice`, `judgement`; in a shop's overlay also `shop`) and
an equivalent sample size, the number of cases that it is worth. `diagnose knowledge show ID` lists both for each
number of a record; `diagnose knowledge stress` tells which of them an answer rests on."""
BASES = """## How much is which

Numbers of causes, conditions, findings, checks and repairs by basis. `known`: from a source or common practice, in
100."""
PRIORS = """## Faults by system

How many faults happen to a machine of the family, on average, in the 500 running hours since it was last right:
presence by the causes' rates, with the facts that the family does not tell summed over. States that build up
unnoticed (`share`) are not counted. [rates.md](rates.md) sets machines as they arrive beside published figures."""


def _bases(knowledge: Knowledge) -> str:
    counts = tally(knowledge)
    rows = [(knowledge.systems[id].name, [counts[id][kind] for kind in KINDS]) for id in counts]
    total = [sum(row[i] for _, row in rows) for i in range(len(KINDS))]
    cells = [[name, *map(str, row), _in_100(sum(row[:2]), sum(row))] for name, row in [*rows, ("all", total)]]
    judged = _in_100(total[KINDS.index(JUDGEMENT)], sum(total))
    words = (
        f"So {judged} of 100 numbers are judgement. What leads to what, and which check shows it, is common\n"
        "knowledge of the trade; how often is mostly estimated."
    )
    return "\n\n".join((BASES, table(("system", *KINDS, "known"), cells), words))


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
    yield _core(knowledge)
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


def _core(knowledge: Knowledge) -> str:
    cells = [["published", f"{CORE_SHARE:.0f}"]]
    for family in knowledge.families:
        sums = sums_for(knowledge, family)
        core = sum(sums.get(system, 0.0) for system in CORE)
        cells.append([knowledge.families[family].name, _in_100(core, sum(sums.values()))])
    return "\n\n".join((CORE_WORDS, table(("family", "core, in 100"), cells)))


def _in_100(part: float, whole: float) -> str:
    return f"{100 * part / whole:.0f}" if whole else "-"


def table(head: Iterable[str], rows: Iterable[Sequence[str]]) -> str:
    """A table as it is written in Markdown."""
    columns = list(head)
    lines = [columns, ["---"] * len(columns), *rows]
    return "\n".join(f"| {' | '.join(line)} |" for line in lines)


def main() -> None:
    """Write the page from the shipped knowledge."""
    from diagnose.knowledge.loader import load, shipped_folder

    PAGE.write_text(page(load(shipped_folder())), encoding="utf-8")


if __name__ == "__main__":
    main()
