"""Where exercises come from: a scenario, a closed case made anonymous, or a machine drawn from the knowledge."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from diagnose.cases.case import Case
from diagnose.cases.events import (
    Checked,
    Coded,
    Event,
    Learnt,
    Measured,
    Noted,
    Opened,
    OpenedUp,
    Repaired,
    Waits,
)
from diagnose.cases.scenario import Scenario
from diagnose.errors import CallError
from diagnose.knowledge.machine_facts import Family
from diagnose.knowledge.records import Knowledge
from diagnose.network.build import build
from diagnose.network.built import Built
from diagnose.network.machine import Machine
from diagnose.planning.options import LOOK_MINUTES
from diagnose.practice.exercise import Exercise, HiddenTruth, SettledFinding
from diagnose.practice.world import World, sample

TRIES = 60  # draws until a machine comes in with a complaint; most do at once
TOLD = 2
"""How many signs beside the complaint the driver of a drawn machine tells at most."""
HOURS = (3000.0, 6000.0, 9000.0, 12000.0)
"""Running hours of drawn machines: from fairly new to due for an overhaul."""


def of_scenario(scenario: Scenario, knowledge: Knowledge, seed: int) -> Exercise:
    """A worked scenario, its `expect: causes` hidden; results that it tells are kept for those who look.

    Given at first: all up to its last repair, and from there what is seen, heard, asked or coded before the first
    check. Raises CallError where it expects no cause.
    """
    expect = scenario.expect
    if expect is None or not (expect.causes or expect.unexplained):
        raise CallError(f"The scenario {scenario.id} names no cause (expect: causes): nothing is hidden.")
    causes = (*expect.causes, *expect.consequence)
    given, kept = _parted(scenario.events, knowledge)
    truth = HiddenTruth(tuple(dict.fromkeys(causes)), kept, seed, scenario.title, scenario.about)
    return Exercise(given, truth)


def of_case(case: Case, knowledge: Knowledge, seed: int) -> Exercise:
    """A closed case made anonymous: no machine number, no remarks, no times, hours rounded, the complaint in the
    knowledge's words. Raises CallError where it is not closed with a cause."""
    causes = [] if case.closed is None else [id for id in case.closed.causes if id in knowledge.causes]
    if not causes or case.opened is None:
        raise CallError(f"Case {case.number} is not closed with a cause that the knowledge has.")
    counted = [e for e in case.history if e.sequence not in case.withdrawn and not isinstance(e, Waits)]
    first = next((i for i, e in enumerate(counted) if isinstance(e, Repaired)), len(counted))
    given, kept = _parted([_bare(e) for e in counted[:first]], knowledge)
    opened = next(e for e in given if isinstance(e, Opened))
    named = replace(opened, complaint=_in_words(knowledge, given))
    return Exercise(
        tuple(named if e is opened else e for e in given),
        HiddenTruth(tuple(causes), kept, seed, "A case from this shop", ""),
    )


def _bare(event: Event) -> Event:
    """The event without what could tell whose machine it was."""
    event = replace(event, time="", by="")
    if isinstance(event, Opened):
        hours = None if event.hours is None else round(event.hours / 500) * 500.0
        return replace(event, machine="a machine", hours=hours, complaint="")
    if isinstance(event, Noted | Measured | Coded | Checked | OpenedUp | Learnt):
        return replace(event, text="")
    return event


def _in_words(knowledge: Knowledge, events: Iterable[Event]) -> str:
    seen = [e for e in events if isinstance(e, Noted) and e.finding in knowledge.findings]
    wrong = [(knowledge.findings[e.finding], e.state) for e in seen]
    named = [f.in_words(state) for f, state in wrong if f.other and state != f.normal]
    return "; ".join(dict.fromkeys(named)).lower()


def _parted(
    events: Sequence[Event], knowledge: Knowledge
) -> tuple[tuple[Event, ...], tuple[SettledFinding, ...]]:
    """What is given at first, and the results kept back."""
    start = max((i for i, e in enumerate(events) if isinstance(e, Repaired)), default=-1) + 1
    given, kept, looking = list(events[:start]), list[Noted](), True
    for event in events[start:]:
        looking = looking and not isinstance(event, Checked | OpenedUp)
        if isinstance(event, Opened | Learnt | Measured | Coded):
            given.append(event)
        elif isinstance(event, Noted) and event.finding in knowledge.findings:
            (given if looking and _plain(knowledge, event) else kept).append(event)
    if not any(isinstance(e, Noted) for e in given) and kept:
        given.append(kept.pop(0))
    told = {e.finding for e in given if isinstance(e, Noted)}
    return tuple(given), tuple(_known(e) for e in kept if e.finding not in told)


def _plain(knowledge: Knowledge, event: Noted) -> bool:
    """Seen, heard, asked or displayed, without a procedure."""
    finding = knowledge.findings[event.finding]
    return finding.other is not None or finding.kind in LOOK_MINUTES


def _known(event: Noted) -> SettledFinding:
    return SettledFinding(event.finding, event.state, event.confidence, event.value, event.unit)


# ---- drawn from the knowledge ----


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a drawn exercise is about. `system`: "" for any; `faults`: one or two; `old_code`: a code that has
    nothing to do with it is stored."""

    system: str = ""
    faults: int = 1
    old_code: bool = False


def drawn(knowledge: Knowledge, wanted: Wanted, seed: int) -> Exercise:
    """A machine with faults drawn by their odds of being there, that came in with a complaint of theirs.

    Raises CallError where no cause of the system brings a complaint about.
    """
    rng = np.random.default_rng(seed)
    families = list(knowledge.families.values())
    for _ in range(TRIES):
        machine = _machine(families, rng)
        built = build(knowledge, machine)
        causes = _causes(knowledge, built, wanted, rng)
        world = sample(built, map(built.variable, causes), {}, rng) if causes else None
        shown = _complaints_shown(knowledge, world) if world else []
        if world and shown:
            return _exercise(knowledge, machine, world, causes, str(rng.choice(shown)), wanted, seed, rng)
    raise CallError("No machine with a complaint could be drawn for this; try another system.")


def _machine(families: Sequence[Family], rng: np.random.Generator) -> Machine:
    hours = float(rng.choice(HOURS))
    if not families:
        return Machine("P-01", hours=hours)
    family = families[int(rng.integers(len(families)))]
    return Machine("P-01", family.id, dict(family.facts), hours)


def _causes(knowledge: Knowledge, built: Built, wanted: Wanted, rng: np.random.Generator) -> tuple[str, ...]:
    """The faults: the first of the system asked for, a second one from anywhere."""
    inside = [id for id in built.causes if wanted.system in ("", knowledge.causes[id].system)]
    chosen: list[str] = []
    for pool in ([inside, list(built.causes)])[: wanted.faults]:
        left = [id for id in pool if id not in chosen]
        odds = np.array([built.priors[id] for id in left])
        if len(left):
            chosen.append(str(rng.choice(left, p=odds / odds.sum())))
    return tuple(chosen) if len(chosen) == wanted.faults else ()


def _complaints_shown(knowledge: Knowledge, world: World) -> list[str]:
    return [f.id for f in knowledge.findings.values() if f.other and not world.normal(f.id)]


def _exercise(
    knowledge: Knowledge,
    machine: Machine,
    world: World,
    causes: tuple[str, ...],
    complaint: str,
    wanted: Wanted,
    seed: int,
    rng: np.random.Generator,
) -> Exercise:
    told = [complaint, *_signs(knowledge, world, complaint, rng)]
    noted = [Noted(id, world.shows(id)) for id in told]
    if wanted.old_code and (code := _old_code(knowledge, world, rng)):
        finding = knowledge.findings[code]
        label = finding.codes[0] if finding.codes else ""
        noted.append(Noted(code, finding.states[1], text=label, code=label))
    words = knowledge.findings[complaint].in_words(world.shows(complaint)).lower()
    opened = Opened(machine.number, machine.family, dict(machine.facts), machine.hours, {}, words)
    return Exercise((opened, *noted), HiddenTruth(causes, (), seed, "A drawn machine", ""))


def _signs(knowledge: Knowledge, world: World, complaint: str, rng: np.random.Generator) -> list[str]:
    """A few of the other signs that anyone sees."""
    revealed = {id for check in knowledge.checks.values() for id in check.reveals}
    seen = [
        f.id
        for f in knowledge.findings.values()
        if f.in_passing and f.id != complaint and f.id not in revealed and not world.normal(f.id)
    ]
    many = min(len(seen), int(rng.integers(TOLD + 1)))
    return [str(id) for id in rng.choice(seen, many, replace=False)] if many else []


def _old_code(knowledge: Knowledge, world: World, rng: np.random.Generator) -> str:
    """A code that is not set by anything that is there, and could be left from before."""
    spare = [
        f.id
        for f in knowledge.findings.values()
        if f.kind == "code" and f.codes and world.normal(f.id) and sum(n.value for n in f.leak) > 0
    ]
    return str(rng.choice(spare)) if spare else ""
