"""What can be done in a case: checks and repairs with their time, dismantling, cautions and money."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from diagnose.cases.waiting import done_in_part
from diagnose.diagnosis import Diagnosis
from diagnose.knowledge.away import GONE, finding_of, is_away
from diagnose.knowledge.dismantling import (
    lost,
    shutting_out,
    with_all_after,
    with_all_before,
    with_what_they_need,
)
from diagnose.knowledge.kinds import timely
from diagnose.knowledge.located import apart
from diagnose.knowledge.observable import ASKED, FACT, LOOKED, TRIED, WHERE, looked_for, observable
from diagnose.knowledge.records import Access, Check, Finding, Hazard, Knowledge, Repair
from diagnose.knowledge.removable import Removable
from diagnose.network.predict import rough_marginals
from diagnose.plain import small
from diagnose.planning import placing
from diagnose.planning.away import offered
from diagnose.planning.unasked import asked_before, may_come_back, not_asked, not_yet

NEARLY = 0.05  # of a probability: repairs that differ by less are told to do the same (judgement)
LOOK_MINUTES: Mapping[str, float] = {"question": 1.0, FACT: 1.0, "symptom": 2.0, "code": 3.0}
"""Minutes for a finding that needs no procedure: ask the driver, look and listen, read codes (judgement)."""


@dataclass(frozen=True, slots=True)
class CheckOption:
    """A check that can still tell something. `check` is None where it takes only looking or asking. `wants`: what
    the machine must be able to do or hold; `shut`: access states that must not be open for it; `asked`: of a
    question or a look, its name without the verb."""

    id: str
    name: str
    minutes: float
    check: Check | None
    findings: tuple[str, ...]
    access: tuple[str, ...] = ()
    hazards: tuple[str, ...] = ()
    wants: tuple[str, ...] = ()
    shut: frozenset[str] = frozenset()
    asked: str = ""

    @property
    def own_hazards(self) -> tuple[str, ...]:
        """Those of the work itself, without what is opened for it."""
        return self.check.hazards if self.check else self.hazards

    @property
    def wait(self) -> float:
        """Working hours that the machine stands until the result is there."""
        return self.check.wait if self.check else 0.0


def empty_handed(check: Check) -> bool:
    """Whether it takes no tool, opens nothing and asks nothing of the machine."""
    return not (check.tools or check.wants or check.access)


@lru_cache(maxsize=4)
def check_options(diagnosis: Diagnosis) -> tuple[CheckOption, ...]:
    """The checks not done since the last repair that can be done as the machine stands, and each finding that
    anyone can look or ask for; of their findings those not known that something on this machine can bring about."""
    knowledge, known = diagnosis.knowledge, diagnosis.known | not_now(diagnosis) | not_asked(diagnosis)
    early, partly = not_yet(diagnosis), done_in_part(diagnosis.case)
    in_vain = set(map(looked_for, diagnosis.case.epochs[-1].checks))
    done, gone = (*diagnosis.case.epochs[-1].checks, *asked_before(diagnosis)), lost_now(diagnosis)
    away = offered(diagnosis)
    taken_out = _by_check(diagnosis, away, done)
    asked = {check.wants for check in knowledge.checks.values()}
    asked |= {finding.wants for finding in knowledge.findings.values()}
    shutting = {wants: shutting_out(knowledge.access, wants) for wants in asked}
    seen = {item.observation.finding for item in diagnosis.shown}
    found = []
    for check in knowledge.checks.values():
        left = tuple(id for id in check.reveals if id not in known and early.get(id, 0.0) <= check.wait)
        left += taken_out.get(check.id, ())
        if gone.intersection(check.wants) or (check.id in done and check.id not in partly):
            continue
        if check.id in partly:
            left = tuple(id for id in left if id not in in_vain and may_come_back(knowledge, id))
        if left and diagnosis.case.machine.fits(check.only_if) and timely(knowledge, check, seen):
            minutes, hazards = check.minutes.value, all_hazards(knowledge, check.hazards, check.access)
            found.append(
                CheckOption(
                    check.id,
                    check.name,
                    minutes,
                    check,
                    left,
                    check.access,
                    hazards,
                    check.wants,
                    shutting[check.wants],
                )
            )
    revealed = {id for check in knowledge.checks.values() for id in check.reveals}
    for finding in knowledge.findings.values():
        if finding.kind in LOOK_MINUTES and finding.id not in {*known, *early, *revealed}:
            found.append(_look(finding, shutting[finding.wants]))
    found += _taken_out_alone(diagnosis, away, done)
    found += _questions(diagnosis)
    found += _placings(diagnosis)
    return tuple(o for o in found if (o.id not in done or o.id in partly) and not gone.intersection(o.wants))


def _by_check(
    diagnosis: Diagnosis, away: Mapping[str, tuple[str, ...]], done: Collection[str]
) -> dict[str, tuple[str, ...]]:
    """By check not done yet, the tests by taking away that are done in it."""
    found: dict[str, tuple[str, ...]] = {}
    for part, tests in away.items():
        for check in diagnosis.knowledge.removable[part].by:
            if check not in done:
                found[check] = (*found.get(check, ()), *tests)
    return found


def _taken_out_alone(
    diagnosis: Diagnosis, away: Mapping[str, tuple[str, ...]], done: Collection[str]
) -> Iterator[CheckOption]:
    """The tests by taking away that are no part of a check, or of one that was done before there was anything to
    look at."""
    knowledge = diagnosis.knowledge
    for id, tests in away.items():
        part = knowledge.removable[id]
        fitting = [knowledge.checks[check] for check in part.by]
        fitting = [check for check in fitting if diagnosis.case.machine.fits(check.only_if)]
        if part.by and not any(check.id in done for check in fitting):
            continue
        jobs: list[Check | Removable] = [*fitting[:1]] or [part]
        for job in jobs:
            minutes = job.minutes.value if job.minutes else 0.0
            hazards, shut = (
                all_hazards(knowledge, job.hazards, job.access),
                shutting_out(knowledge.access, job.wants),
            )
            name = f"Try with {part.out}"
            yield CheckOption(
                f"{TRIED}{id}", name, minutes, None, tests, job.access, hazards, job.wants, shut
            )


def _questions(diagnosis: Diagnosis) -> Iterator[CheckOption]:
    """The facts of the machine that nobody has told and that bear on what can be behind the findings."""
    built, knowledge = diagnosis.built, diagnosis.knowledge
    for fact, variables in built.facts.items():
        region = diagnosis.engine.region
        bearing = tuple(built.variables[v].asked for v in variables if built.ties(v) and v in region)
        if bearing:
            yield _asking(f"{ASKED}{fact}", knowledge.facts[fact].question, bearing)


def _placings(diagnosis: Diagnosis) -> Iterator[CheckOption]:
    """The questions for the cylinder or bank of what was told without."""
    for id in placing.offered(diagnosis):
        yield _asking(f"{WHERE}{apart(id)[0]}", observable(diagnosis.knowledge, id).observe, (id,))


def _asking(id: str, question: str, findings: tuple[str, ...]) -> CheckOption:
    asked = small(question)
    return CheckOption(id, f"Ask: {asked}", LOOK_MINUTES[FACT], None, findings, asked=asked)


def _look(finding: Finding, shut: frozenset[str]) -> CheckOption:
    """Something to look, listen or ask for without any procedure."""
    verb = {"question": "Ask", "symptom": "Look", "code": "Read the codes"}[finding.kind]
    asked, minutes = f"{small(finding.name)}?", LOOK_MINUTES[finding.kind]
    look = CheckOption(f"{LOOKED}{finding.id}", f"{verb}: {asked}", minutes, None, (finding.id,), asked=asked)
    return replace(look, wants=finding.wants, shut=shut) if finding.kind == "symptom" else look


def lost_now(diagnosis: Diagnosis) -> frozenset[str]:
    """What the machine cannot do, or does not hold, as it stands: by what is open, and by what was found (an engine
    that does not start is not run to listen to it)."""
    knowledge = diagnosis.knowledge
    opened = open_states(knowledge, diagnosis.case.access_open)
    found = set[str]().union(*(lost(knowledge.access[id]) for id in opened))
    for item in diagnosis.shown:
        found |= with_all_after(observable(knowledge, item.observation.finding).without)
    return frozenset(found)


def seen_doing(diagnosis: Diagnosis) -> frozenset[str]:
    """What the machine was seen to do as it stands: something was found that shows only then, or a check was done
    that wants it. What it was found unable to do outweighs that."""
    knowledge = diagnosis.knowledge
    shown = (observable(knowledge, item.observation.finding).wants for item in diagnosis.shown)
    checks = (knowledge.checks[id].wants for id in diagnosis.case.epochs[-1].checks if id in knowledge.checks)
    return with_what_they_need(set[str]().union(*shown, *checks)) - lost_now(diagnosis)


def not_now(diagnosis: Diagnosis) -> set[str]:
    """Findings that the machine cannot show as it stands: they want what it cannot do, or would say that it cannot
    do what it was seen to do."""
    gone, seen = lost_now(diagnosis), seen_doing(diagnosis)
    return {
        one.id
        for one in diagnosis.knowledge.findings.values()
        if gone.intersection(one.wants) or seen & with_all_after(one.without)
    }


def repair_options(diagnosis: Diagnosis) -> list[Repair]:
    """The repairs that fit the machine and cure something that can be behind what was found."""
    relevant = {cause.id for cause in diagnosis.causes if cause.relevant}
    machine = diagnosis.case.machine
    return [
        repair
        for repair in diagnosis.knowledge.repairs.values()
        if machine.fits(repair.only_if) and any(cure.cause in relevant for cure in repair.cures)
    ]


def access_path(knowledge: Knowledge, wanted: Iterable[str], open_now: Iterable[str]) -> tuple[Access, ...]:
    """The states of dismantling still to reach, those that come first before those that need them."""
    path: dict[str, Access] = {}
    done = set(open_now)

    def reach(id: str) -> None:
        if id in done or id in path:
            return
        for needed in knowledge.access[id].needs:
            reach(needed)
        path[id] = knowledge.access[id]

    for id in wanted:
        reach(id)
    return tuple(path.values())


def open_states(knowledge: Knowledge, reached: Iterable[str]) -> set[str]:
    """What is open now: the states reached and all that had to be reached before them."""
    return set(with_all_before(knowledge.access, reached))


def all_hazards(knowledge: Knowledge, hazards: Iterable[str], access: Iterable[str]) -> tuple[str, ...]:
    """The hazards of the work itself and of the dismantling before it, each once."""
    path = access_path(knowledge, access, ())
    return tuple(dict.fromkeys([*hazards, *(id for state in path for id in state.hazards)]))


@lru_cache(maxsize=4)
def suspected(diagnosis: Diagnosis) -> tuple[Hazard, ...]:
    """The stop hazards not ruled out: something that makes them likely is in its last, worst state with more than
    the hazard's probability, none of the checks that rule them out was done since the last repair, and the machine
    can still do what they forbid."""
    done, versions = set(diagnosis.case.epochs[-1].checks), diagnosis.built.versions
    lost, elsewhere = lost_now(diagnosis), _gone_without(diagnosis)
    asked = {
        hazard: [
            diagnosis.built.variable(id) for id in hazard.suspect if id in versions and id not in elsewhere
        ]
        for hazard in diagnosis.knowledge.hazards.values()
        if not done & set(hazard.cleared_by) and not (hazard.forbids and lost.issuperset(hazard.forbids))
    }
    worst = rough_marginals(diagnosis.engine, {v for variables in asked.values() for v in variables})
    return tuple(h for h, variables in asked.items() if any(worst[v][-1] > h.above for v in variables))


def _gone_without(diagnosis: Diagnosis) -> set[str]:
    """The findings that were gone with a part taken away: what brings them about sits there, not in the engine."""
    seen = [item.observation for item in diagnosis.evidence]
    return {finding_of(one.finding) for one in seen if is_away(one.finding) and one.state == GONE}


def held_back(
    hazards: Iterable[str], id: str, live: Iterable[Hazard], wants: Iterable[str] = ()
) -> Hazard | None:
    """The suspected hazard that forbids this check or repair for now, if any; `wants`: what it asks of the
    machine."""
    named, wanted = set(hazards), set(wants)
    for hazard in live:
        forbidden = named & {hazard.id, *hazard.blocks} or wanted & with_all_after(hazard.forbids)
        if forbidden and id not in hazard.cleared_by:
            return hazard
    return None


def redundant(repairs: Sequence[Repair]) -> bool:
    """Whether one of the repairs adds nothing: another of them cures all that it cures, as surely or nearly so, and
    the knowledge does not ask for both together."""
    return any(_covered(one, other) for one in repairs for other in repairs if one is not other)


def _covered(one: Repair, by: Repair) -> bool:
    if one.id in by.together:
        return False
    surely = {cure.cause: cure.effectiveness.value for cure in by.cures}
    return all(surely.get(cure.cause, 0.0) >= cure.effectiveness.value - NEARLY for cure in one.cures)
