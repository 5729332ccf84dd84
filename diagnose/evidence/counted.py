"""Which observations of a case count, and as what evidence."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from diagnose.cases.case import Case, Observation
from diagnose.knowledge.away import GONE, split
from diagnose.knowledge.located import apart, with_place
from diagnose.knowledge.observable import noted, observable
from diagnose.knowledge.records import Knowledge
from diagnose.network.away import told
from diagnose.network.built import Built
from diagnose.network.network import Array
from diagnose.network.observed import LIKELIHOOD_RATIOS, Evidence, likelihood
from diagnose.network.whereabouts import in_the_tree


@dataclass(frozen=True, slots=True)
class CountedObservation:
    """One observation that counts: the variable that it speaks of, and in the knowledge's words."""

    observation: Observation
    variable: int
    name: str


def as_evidence(knowledge: Knowledge, built: Built, seen: Iterable[CountedObservation]) -> Evidence:
    """What was seen as likelihoods of the network's variables."""
    found = {item.variable: _likelihood(knowledge, item.observation) for item in seen}
    return {**in_the_tree(built, found), **found}


def usable(knowledge: Knowledge, case: Case) -> tuple[list[Observation], list[str]]:
    """The observations that the knowledge still understands, and words on the others."""
    counted, unused = [], [f"code {code} is not in the knowledge" for code in case.codes_not_used]
    for seen in case.observations:
        finding = noted(knowledge, seen.finding)
        if finding is None:
            unused.append(f"finding {seen.finding} is no longer in the knowledge")
        elif seen.state not in finding.states:
            unused.append(f"{finding.name}: state {seen.state} is no longer in the knowledge")
        else:
            counted.append(seen)
    return counted, unused


def latest_of_each(
    knowledge: Knowledge, built: Built, counted: Iterable[Observation]
) -> tuple[tuple[CountedObservation, ...], list[str]]:
    """One observation a variable, the latest. A finding that no repair in between touched is one variable."""
    latest: dict[int, CountedObservation] = {}
    overtaken = []
    for observation in counted:
        finding = observable(knowledge, observation.finding)
        variable = built.variable(observation.id, observation.epoch)
        before = latest.pop(variable, None)
        if before and before.observation.state != observation.state:
            overtaken.append(
                f"{finding.name}: {before.observation.state} before, {observation.state} later, "
                "though no repair in between acts on it; the later one counts"
            )
        latest[variable] = CountedObservation(
            observation, variable, with_place(finding.name, observation.place)
        )
    return tuple(latest.values()), overtaken


def _likelihood(knowledge: Knowledge, observation: Observation) -> Array:
    ratio = LIKELIHOOD_RATIOS[observation.confidence]
    if away := split(knowledge, observation.finding):
        finding, part = away
        return told(len(finding.states), part, observation.state == GONE, ratio)
    states = knowledge.findings[observation.finding].states
    return likelihood(len(states), states.index(observation.state), ratio)


def in_words(knowledge: Knowledge, built: Built, variable: int) -> str:
    """A variable of the network in the knowledge's words."""
    id, place = apart(built.variables[variable].id)
    finding = knowledge.findings.get(id)
    return with_place(finding.name, place) if finding else built.network.names[variable]
