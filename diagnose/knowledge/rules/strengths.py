"""Rules on the size of numbers: leaks beside what listed causes bring about, and links too weak to carry."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from math import prod

from diagnose.knowledge.machine_facts import Fact
from diagnose.knowledge.paths import link_strength, strengths_below
from diagnose.knowledge.records import Cause, Finding, Modifier
from diagnose.knowledge.rules.base import Survey, Violation, rule

PER_500_HOURS: Mapping[str, float] = {"rate": 0.5, "per_start": 200.0, "per_night": 50.0, "share": 1.0}
"""How often each way of counting a cause comes up in 500 running hours (0.4 starts, 0.1 nights an hour)."""
PASSED = 0.1
"""Leak from which a finding is rather a test passed than a fault (judgement)."""
MISLEADING = 0.9
"""Where so much of the leak is the observation itself, a sound machine shows it too: nothing need be behind it."""
MOST_LEAK = 0.5
"""Leak over what listed causes bring about; above it more than a third of the showings would be nobody's."""
WEAKEST_HIDDEN, WEAKEST_CAUSE = 0.1, 0.2  # weaker links are left to the leak (judgement)


@rule("K057", "leak above what causes bring about")
def leak_above_causes(survey: Survey) -> Iterator[Violation]:
    """What is measured, read or seen has something behind it: the leak of a finding is at most half of what listed
    causes bring about in 500 running hours, the sum of how often each arises times its strongest path. Complaints,
    questions, tests passed (a leak of 0.1 or more), and what a sound machine shows too (`misleads` of 0.9 or more)
    are not held to it.
    """
    brought = _brought_about(survey)
    for finding in survey.knowledge.findings.values():
        leak = sum(number.value for number in finding.leak)
        if _sure(finding, leak) and finding.id in survey.caused and finding.id not in survey.doubtful:
            listed = brought.get(finding.id, 0.0)
            if leak > MOST_LEAK * listed:
                place = next(number.place for number in finding.leak if number.value > 0)
                message = (
                    f"the leak of `{finding.id}` is {leak:.2g}; listed causes bring it about {listed:.2g}"
                )
                yield Violation(place, message, "lower it, link what is missing, or say misleads")


def _sure(finding: Finding, leak: float) -> bool:
    told = finding.kind == "question" or finding.other is not None
    return 0 < leak < PASSED and not told and finding.misleads < MISLEADING


def _brought_about(survey: Survey) -> Mapping[str, float]:
    """How often the causes bring each id about, each by its strongest path."""
    facts, found = survey.knowledge.facts, dict[str, float]()
    for cause in survey.knowledge.causes.values():
        often = _often(cause, facts)
        for id, strength in strengths_below(survey.links, cause.id).items():
            found[id] = found.get(id, 0.0) + often * strength
    return found


def _often(cause: Cause, facts: Mapping[str, Fact]) -> float:
    """How often the cause arises in 500 hours, the facts of the machine averaged over its shares."""
    times = (_times([one for one in cause.modifiers if one.fact == id], facts.get(id)) for id in _of(cause))
    return cause.frequency.value * PER_500_HOURS[cause.per] * prod(times)


def _of(cause: Cause) -> dict[str, None]:
    return dict.fromkeys(one.fact for one in cause.modifiers)


def _times(modifiers: list[Modifier], fact: Fact | None) -> float:
    if fact is None or not fact.shares:
        return 1.0
    shares = dict(zip(fact.values, (number.value for number in fact.shares), strict=False))
    return 1 + sum(shares.get(one.value, 0.0) * (one.odds.value - 1) for one in modifiers)


@rule("K059", "link too weak between hidden states")
def weak_hidden_link(survey: Survey) -> Iterator[Violation]:
    """A link between hidden states carries something: at least 0.1 where a condition stands at one end, 0.2 between
    causes. A weaker one ties everything below it together and says next to nothing; lead it to the sign itself,
    with the product of the strengths, or leave it out. 0 takes a link away.
    """
    knowledge = survey.knowledge
    for parent in survey.parents.values():
        for link in parent.leads_to:
            if link.effect in knowledge.findings or link.effect not in survey.kinds:
                continue
            causes = parent.id in knowledge.causes and link.effect in knowledge.causes
            least, strength = (WEAKEST_CAUSE if causes else WEAKEST_HIDDEN), link_strength(link)
            if 0 < strength < least - 1e-9:
                message = f"`{parent.id}` leads to `{link.effect}` by {strength:g} only, less than {least:g}"
                yield Violation(link.place, message, "lead to the sign itself, or leave it out")
