"""Rules on the links as a whole: cycles, ends that hang in the air, causes out of every check's reach."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from graphlib import CycleError, TopologicalSorter

from diagnose.forms.fields import place_of
from diagnose.knowledge.dismantling import lost, shutting_out, with_all_after, with_all_before
from diagnose.knowledge.paths import strengths_below
from diagnose.knowledge.records import Cause
from diagnose.knowledge.rules.base import Survey, Violation, rule

MIN_STRENGTH = 0.4  # a link from here on tells of its cause (judgement)
MIN_LIFT = 5.0  # times the leak: seven decibans for the cause where it shows (judgement)


@rule("K035", "cycle of links")
def link_cycle(survey: Survey) -> Iterator[Violation]:
    """Links must not lead back to where they start: the network is acyclic. Split the record at which the
    effect feeds back, or drop the weaker link. What a finding clears counts as leading to it.
    """
    edges = {id: [link.effect for link in parent.leads_to] for id, parent in survey.parents.items()}
    for finding in survey.knowledge.findings.values():
        for id in finding.clears:
            edges.setdefault(id, []).append(finding.id)
    for cycle in cycles(edges):
        link = next((one for one in survey.links(cycle[0]) if one.effect == cycle[1]), None)
        place = link.place if link else survey.knowledge.findings[cycle[1]].place
        yield Violation(place, f"these links form a cycle: {' -> '.join(cycle)}", "drop the weakest")


@rule("K036", "cycle of access")
def access_cycle(survey: Survey) -> Iterator[Violation]:
    """An access state must not need itself, directly or through others."""
    access = survey.knowledge.access
    for cycle in cycles({id: list(one.needs) for id, one in access.items()}):
        yield Violation(access[cycle[0]].place, f"these access states need each other: {' -> '.join(cycle)}")


@rule("K047", "check that its dismantling prevents")
def check_prevented(survey: Survey) -> Iterator[Violation]:
    """What a check wants of the machine (`wants`: cranking, running, load, coolant, oil, head, compression) is not
    taken away by a state that it has to open first (`without` of the access state, and of those before it).
    """
    access = survey.knowledge.access
    for check in survey.knowledge.checks.values():
        shut = shutting_out(access, check.wants)
        for state in sorted(with_all_before(access, check.access) & shut):
            wanted = " and ".join(one for one in check.wants if one in lost(access[state]))
            message = f"the check `{check.id}` wants {wanted}, which `{state}` takes away"
            yield Violation(check.place, message, "correct wants, access, or without of the state")


@rule("K048", "clearing check that is forbidden")
def clearing_forbidden(survey: Survey) -> Iterator[Violation]:
    """A check that rules a hazard out (`cleared_by`) does not want what the hazard forbids: nobody cranks an
    engine to see whether it may be cranked.
    """
    for hazard in survey.knowledge.hazards.values():
        forbidden = with_all_after(hazard.forbids)
        for id in hazard.cleared_by:
            check = survey.knowledge.checks.get(id)
            if check and forbidden.intersection(check.wants):
                wanted = " and ".join(one for one in check.wants if one in forbidden)
                message = f"the hazard `{hazard.id}` forbids {wanted}, which its check `{id}` wants"
                yield Violation(hazard.place, message, "correct forbids, cleared_by, or wants of the check")


def cycles(edges: Mapping[str, Iterable[str]]) -> Iterator[list[str]]:
    """Cycles, each as ids from one back to itself, until the graph without their last edges has none."""
    graph = {id: set(nexts) for id, nexts in edges.items()}
    while cycle := _cycle(graph):
        yield cycle
        graph[cycle[-2]].discard(cycle[-1])


def _cycle(graph: Mapping[str, set[str]]) -> list[str]:
    try:
        TopologicalSorter(graph).prepare()
    except CycleError as error:
        backward: list[str] = error.args[1]  # each a predecessor of the next; ours are successors
        return backward[::-1]
    return []


@rule("K040", "finding without a cause")
def finding_without_cause(survey: Survey) -> Iterator[Violation]:
    """Some link leads to every finding, so that a cause can bring it about."""
    for id, finding in survey.knowledge.findings.items():
        if id not in survey.caused:
            hint = "add it to leads_to of a cause or condition"
            yield Violation(finding.place, f"no cause leads to the finding `{id}`", hint)


@rule("K041", "condition without an end")
def condition_without_end(survey: Survey) -> Iterator[Violation]:
    """A condition has a cause above it and something below it; else it says nothing."""
    for id, condition in survey.knowledge.conditions.items():
        if id not in survey.caused:
            yield Violation(condition.place, f"no cause leads to the condition `{id}`")
        if not condition.leads_to and id not in survey.doubtful:
            yield Violation(condition.place, f"the condition `{id}` leads to nothing")


@rule("K042", "finding without a check")
def finding_without_check(survey: Survey) -> Iterator[Violation]:
    """Some check reveals every inspection and every reading: they are not had by looking or asking."""
    for id, finding in survey.knowledge.findings.items():
        if finding.kind in ("inspection", "reading") and id not in survey.revealed:
            yield Violation(
                finding.place, f"no check reveals the {finding.kind} `{id}`", "add it to reveals of a check"
            )


@rule("K043", "cause without a check")
def cause_without_check(survey: Survey) -> Iterator[Violation]:
    """Some check can confirm every cause: it reveals a finding that the cause brings about along some path
    with strength 0.4 or more, and at least five times as often as the finding shows with none of its
    parents. The strength of a path is the product of its links' strengths.
    """
    for id, cause in survey.knowledge.causes.items():
        reach = strengths_below(survey.links, id)
        if survey.doubtful.isdisjoint(reach) and not _confirmed(survey, reach):
            yield Violation(cause.place, f"no check can confirm the cause `{id}`", _strongest(survey, reach))


def _confirmed(survey: Survey, reach: Mapping[str, float]) -> bool:
    return any(
        strength >= MIN_STRENGTH and strength >= MIN_LIFT * sum(leak.value for leak in finding.leak)
        for id, strength in reach.items()
        if id in survey.revealed and (finding := survey.knowledge.findings.get(id))
    )


def _strongest(survey: Survey, reach: Mapping[str, float]) -> str:
    revealed = {id: strength for id, strength in reach.items() if id in survey.revealed}
    if not revealed:
        return "no check reveals anything that it leads to"
    best = max(revealed, key=revealed.__getitem__)
    return f"the best is `{best}` with strength {revealed[best]:.2g}; it takes 0.4, and 5 times its leak"


@rule("K044", "cause without a repair")
def cause_without_repair(survey: Survey) -> Iterator[Violation]:
    """Some repair cures every cause."""
    cured = {
        one.cause for repair in survey.knowledge.repairs.values() for one in repair.cures
    } | survey.doubtful
    causes: Iterable[Cause] = survey.knowledge.causes.values()
    for cause in causes:
        if cause.id not in cured:
            yield Violation(
                cause.place, f"no repair cures the cause `{cause.id}`", "add it to cures of a repair"
            )


@rule("K058", "complaint without its general one")
def complaint_without_general(survey: Survey) -> Iterator[Violation]:
    """A complaint names the general one of which it is a kind (`kind_of`: black smoke is smoke), or is `general`
    itself: so what was said in general is never lost, and the particular is asked for. A knowledge in which no
    finding is general is not asked.
    """
    findings = survey.knowledge.findings
    if any(one.general for one in findings.values()):
        for id, one in findings.items():
            if one.other is not None and not one.general and not one.kind_of:
                yield Violation(
                    one.place, f"the complaint `{id}` names no general one", "write kind_of, or general: true"
                )


@rule("K066", "kinds in a circle")
def kinds_in_circle(survey: Survey) -> Iterator[Violation]:
    """No finding is a kind of itself, directly or through others (`kind_of`)."""
    findings = survey.knowledge.findings
    for cycle in cycles({id: list(one.kind_of) for id, one in findings.items()}):
        first = findings[cycle[0]]
        place = next(place_of(id, first.place) for id in first.kind_of if id == cycle[1])
        yield Violation(place, f"these findings are kinds of each other: {' -> '.join(cycle)}")


@rule("K070", "past that is not told")
def past_not_told(survey: Survey) -> Iterator[Violation]:
    """What is told of the past is a question and no complaint: what is seen, read or complained of now can be gone
    after a repair."""
    for one in survey.knowledge.findings.values():
        if one.past and (one.kind != "question" or one.other is not None):
            yield Violation(
                one.place, f"`{one.id}` is no question on the past", "take past out, or kind: question"
            )
