"""What can be told apart when nobody finds the part bad: `python -m tests.benchmarks.identifiable [--drawn N]`.

Nearly every cause owns an inspection of its own, "X found bad", that settles it. Judged with these, anything can be
told from anything. Here they are taken out: a finding to which one cause only leads, and by 0.8 or more. What is
left is what a technician has before the part is in his hands.
"""

from __future__ import annotations

import argparse
from collections.abc import Mapping
from dataclasses import replace
from typing import TypeVar

import numpy as np

from diagnose.knowledge.loader import load
from diagnose.knowledge.paths import link_strength
from diagnose.knowledge.records import Cause, Condition, Knowledge
from diagnose.study.deep import NOTHING, comparable, pairs
from diagnose.study.leading import lead_in_own_cases
from diagnose.study.signatures import Signatures, signatures

PRIVATE = 0.8
"""Strength from which the one cause of a finding owns it (judgement)."""
WELL = 0.7
"""Total variation from which a pair is well told apart: 85 right in 100 at even odds."""

Parent = TypeVar("Parent", Cause, Condition)


def private(knowledge: Knowledge) -> frozenset[str]:
    """The findings to which one cause only leads, strongly."""
    above: dict[str, list[tuple[str, float]]] = {}
    for parent in knowledge.parents:
        for link in parent.leads_to:
            above.setdefault(link.effect, []).append((parent.id, link_strength(link)))
    return frozenset(
        id
        for id, parents in above.items()
        if id in knowledge.findings
        and len(parents) == 1
        and parents[0][0] in knowledge.causes
        and parents[0][1] >= PRIVATE
    )


def without(knowledge: Knowledge, findings: frozenset[str]) -> Knowledge:
    """The knowledge as if these findings could not be had."""

    def bare(parents: Mapping[str, Parent]) -> dict[str, Parent]:
        return {id: replace(one, leads_to=_kept(one, findings)) for id, one in parents.items()}

    checks = {
        id: replace(one, reveals=tuple(f for f in one.reveals if f not in findings))
        for id, one in knowledge.checks.items()
    }
    left = {id: one for id, one in knowledge.findings.items() if id not in findings}
    clear = {
        id: replace(one, clears=tuple(f for f in one.clears if f not in findings)) for id, one in left.items()
    }
    return replace(
        knowledge,
        causes=bare(knowledge.causes),
        conditions=bare(knowledge.conditions),
        findings=clear,
        checks={id: one for id, one in checks.items() if one.reveals},
        removable={},
    )


def _kept(parent: Cause | Condition, findings: frozenset[str]) -> tuple:  # type: ignore[type-arg]
    return tuple(link for link in parent.leads_to if link.effect not in findings)


def told_apart(known: Signatures) -> tuple[int, int, int]:
    """Pairs of comparable causes: all, well told apart by some finding, by none."""
    found = [pair.apart for pair in pairs(known)]
    return len(found), sum(apart >= WELL for apart in found), sum(apart < NOTHING for apart in found)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument(
        "--drawn", type=int, default=0, help="cases drawn for each cause, to see whether it leads"
    )
    drawn: int = parser.parse_args().drawn
    whole = load()
    own = private(whole)
    print(
        f"{len(whole.causes)} causes, {len(whole.findings)} findings, {len(own)} of them owned by one cause"
    )
    for name, knowledge in (("with them", whole), ("without", without(whole, own))):
        known = signatures(knowledge)
        every, well, none = told_apart(known)
        print(
            f"{name}: {every} pairs that can be confused; {well} well told apart, {none} by nothing",
            flush=True,
        )
        if drawn:
            never = list(lead_in_own_cases(known, comparable(known), drawn, 0))
            print(
                f"{name}: {len(known.causes) - len(never)} lead in one of {drawn} cases of their own",
                flush=True,
            )
            print("  never:", ", ".join(one.cause for one in never), flush=True)
    spread = np.array([len(one.leads_to) for one in whole.causes.values()])
    print(f"links of a cause: median {np.median(spread):.0f}, least {spread.min()}, most {spread.max()}")


if __name__ == "__main__":
    main()
