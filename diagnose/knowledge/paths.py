"""How strongly a cause shows in what lies below it, by the best path of links."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from diagnose.knowledge.records import Knowledge, Link


def strengths_below(
    links: Callable[[str], Iterable[Link]], start: str, floor: float = 0.0
) -> dict[str, float]:
    """Strength of the best path from one id to every id below it: the product of its links' strengths. Paths weaker
    than `floor` are not followed."""
    best: dict[str, float] = {start: 1.0}
    stack = [start]
    while stack:
        id = stack.pop()
        for link in links(id):
            strength = best[id] * link_strength(link)
            if strength >= floor and strength > best.get(link.effect, -1.0):
                best[link.effect] = strength
                stack.append(link.effect)
    return best


def link_strength(link: Link) -> float:
    """Probability that the parent in its worst state moves the effect out of its first; 1 if not known."""
    return max((sum(number.value for number in row) for row in link.strengths), default=1.0)


def links_of(knowledge: Knowledge, id: str) -> tuple[Link, ...]:
    """The links of a cause or condition; none for a finding."""
    parent = knowledge.causes.get(id) or knowledge.conditions.get(id)
    return parent.leads_to if parent else ()
