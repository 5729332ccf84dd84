"""A simulated workshop: sampled machines, each worked to a proven repair by several policies.

    python -m tests.benchmarks.workshop [--cases N] [--seed N] [--jobs N] [--minutes M] [--noise SIGMA]
        [--policy NAME[:CASES] ...]

Machines are sampled from the shipped knowledge: family, hours, facts, causes, and the noise of every mechanism,
which stays the same before and after a repair. New parts fail at once as often as the knowledge says, and what is
left in can wreck them again, as in the network. A policy sees what a technician would: family, hours and one
complaint, then the results of what it chooses; the machine's other facts only where it asks for them.
It ends with the complaint gone or with handing over. What a policy says of a repair, that the complaint will stay
with such a probability, is held against what happens. `--noise` works with a knowledge whose link strengths and
leaks are disturbed in log-odds, while the machines follow the true one (Pradhan et al. 1996, from memory).
Everything is seeded, but for how far the planner gets in its time.
"""

from __future__ import annotations

import argparse
import os
from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field, replace
from functools import cache
from statistics import mean
from time import monotonic, process_time

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
from numpy.typing import NDArray

from diagnose.cases.case import Case, Epoch, Observation
from diagnose.diagnosis import Diagnosis, diagnose
from diagnose.evidence.renewals import history
from diagnose.knowledge.loader import load
from diagnose.knowledge.number import Number
from diagnose.knowledge.observable import FACT, fact_name
from diagnose.knowledge.paths import links_of
from diagnose.knowledge.records import Access, Knowledge, Link, Repair
from diagnose.moves.advice import LOOKS, advised
from diagnose.moves.move import REPAIR
from diagnose.network.build import build
from diagnose.network.built import Built
from diagnose.network.facts import Facts
from diagnose.network.history import Renewal
from diagnose.network.machine import Machine
from diagnose.network.network import Array, Table
from diagnose.planning.checks import CheckValue, most_telling, predicted_bits
from diagnose.planning.options import LOOK_MINUTES, access_path, open_states
from diagnose.planning.planner import Glance, Plan, Planner
from diagnose.planning.rollout import Rollout
from diagnose.planning.shop import Shop
from diagnose.planning.since import ASK_LAST_RIGHT
from diagnose.planning.situation import Situation, situation
from diagnose.practice.world import World
from tests.benchmarks.promises import Promise, told

SHOP = Shop()
SYSTEMS = frozenset({"hydraulic_injection", "injection_common", "fluid_mixing", "starting", "module_supply"})
"""With all systems one step after one vague complaint takes half a minute of computing."""
HOURS = (4000.0, 8000.0, 12000.0)
MANY_COMPLAINTS = 12
"""Machines with more are as rare as they are odd: they come in as often as those with so many."""
LOT = 60
"""Machines of each family and age that are drawn at once."""
MOST_STEPS = 25
MOST_COMEBACKS = 4
"""After so many repairs in vain even a stubborn policy hands the machine over."""


def drawn(built: Built, rng: np.random.Generator) -> World:
    """A machine as the knowledge expects them, its causes held: see `held_as_drawn`."""
    return held_as_drawn(built, noise_of(built, rng, 1), 0)


def noise_of(built: Built, rng: np.random.Generator, many: int) -> list[Array]:
    """The noise of every mechanism of so many machines, shape (machines, draws) of each variable."""
    families = built.network.families
    return [
        rng.random((many, 1 if isinstance(family, Table) else 1 + len(family.parents))) for family in families
    ]


def held_as_drawn(built: Built, noise: Sequence[Array], machine: int) -> World:
    """One of the machines. Its causes are held once drawn: what a cause has wrecked stays wrecked when the cause
    itself is repaired."""
    draws = [mine[machine] for mine in noise]
    world = World(built.network, {}, draws)
    held = {v: world.states[v] for v in map(built.variable, built.causes)}
    return World(built.network, held, draws)


def states_of(built: Built, noise: Sequence[Array]) -> list[NDArray[np.intp]]:
    """The state of every variable on all the machines at once, as a World has it on one."""
    states: list[NDArray[np.intp]] = []
    for family, mine in zip(built.network.families, noise, strict=True):
        if isinstance(family, Table):
            rows = [family.values[tuple(states[p] for p in family.parents)]]
        else:
            links = zip(family.parents, family.links, strict=True)
            rows = [family.leak, *(link[states[p]] for p, link in links)]
        reached = [_reached(row, u) for row, u in zip(rows, mine.T, strict=True)]
        states.append(np.max(reached, axis=0))
    return states


def _reached(rows: Array, draws: Array) -> NDArray[np.intp]:
    below = np.cumsum(rows, axis=-1) <= draws[:, None]
    states: NDArray[np.intp] = np.minimum(below.sum(axis=1), rows.shape[-1] - 1)
    return states


def present(world: World, causes: Iterable[str]) -> list[str]:
    """Those of the causes that are on the machine and there now."""
    return [cause for cause in causes if cause in world.network.index and not world.normal(cause)]


def renew(world: World, renewals: Mapping[str, Renewal], rng: np.random.Generator) -> None:
    """Repair causes, as the network takes it: each stays where the repair fails, comes at once with the new part,
    or is brought about again by what is still there, by new chances."""
    index = world.network.index
    for cause in sorted(renewals.keys() & index.keys(), key=lambda id: index[id]):
        stays = not world.normal(cause) and rng.random() >= renewals[cause].effectiveness
        there = stays or (
            _possible(world, cause)
            and (rng.random() < renewals[cause].infant or rng.random() < brought_about(world, cause))
        )
        world.held = {**world.held, index[cause]: int(there)}
        world.states = world.states_without(())


def brought_about(world: World, cause: str) -> float:
    """P(something that is there brings the cause about), its arising of itself left out."""
    index = world.network.index
    family = world.network.families[index[f"{gate}@open"] if (gate := _gate(world, cause)) else index[cause]]
    if isinstance(family, Table):
        return 0.0
    apart = index.get(f"{cause}@arises")
    links = zip(family.parents, family.links, strict=True)
    return 1 - float(np.prod([link[world.states[p], 0] for p, link in links if p != apart]))


def _possible(world: World, cause: str) -> bool:
    """Whether the machine's facts let it have the cause."""
    gate = _gate(world, cause)
    if not gate:
        return True
    gated = world.network.families[world.network.index[gate]]
    assert isinstance(gated, Table)
    gates = tuple(world.states[gate] for gate in gated.parents[:-1])
    return bool(gated.values[(*gates, 1, 1)] > 0)


def _gate(world: World, cause: str) -> str:
    """The variable behind whose gates stands what brings the cause about; empty where none does."""
    names = (f"{cause}@brought", cause)
    return next((name for name in names if f"{name}@open" in world.network.index), "")


def culprits(world: World, causes: Iterable[str], complaint: str) -> list[str]:
    """The causes that are there and have to go for the complaint to go: one after another is put back, and left in
    where the complaint stays away."""
    index = world.network.index
    needed = there = present(world, causes)
    for cause in there:
        rest = [one for one in needed if one != cause]
        if world.states_without(index[one] for one in rest)[index[complaint]] == 0:
            needed = rest
    return needed


@dataclass
class Job:
    """One machine in the workshop: the case so far and the bill."""

    knowledge: Knowledge
    world: World
    machine: Machine
    complaint: str
    rng: np.random.Generator
    epochs: list[Epoch] = field(default_factory=lambda: [Epoch()])
    opened: tuple[str, ...] = ()
    money: float = 0.0
    minutes: float = 0.0
    wrong_parts: int = 0
    comebacks: int = 0
    handed_over: bool = False
    promises: list[Promise] = field(default_factory=list)

    def case(self) -> Case:
        return Case(
            1, self.machine, came_in_for=(self.complaint,), epochs=tuple(self.epochs), access_open=self.opened
        )

    def key(self) -> tuple[object, ...]:
        """Equal for jobs in which the same is known."""
        seen = tuple(
            (frozenset((o.finding, o.state) for o in e.observations), e.repairs, frozenset(e.checks))
            for e in self.epochs
        )
        machine = self.machine.family, self.machine.hours, frozenset(self.machine.facts.items())
        return *machine, self.complaint, seen, frozenset(self.opened)

    def spend(self, minutes: float, parts: float = 0.0) -> None:
        self.minutes += minutes
        self.money += SHOP.time(minutes) + parts

    def see(self, findings: tuple[str, ...], check: str = "") -> None:
        """Note what the findings show. A code that is not stored is no evidence: its monitor may not have run."""
        last = self.epochs[-1]
        codes = self.knowledge.findings
        findings = tuple(
            f for f in findings if codes[f].kind != "code" or self.world.shows(f) != codes[f].states[0]
        )
        kept = tuple(o for o in last.observations if o.finding not in findings)
        new = tuple(Observation(f, self.world.shows(f), epoch=len(self.epochs) - 1) for f in findings)
        self.epochs[-1] = replace(
            last, observations=kept + new, checks=(*last.checks, check) if check else last.checks
        )

    def do_check(self, knowledge: Knowledge, check: CheckValue) -> None:
        self.spend(check.total_minutes)
        self.opened = tuple(dict.fromkeys([*self.opened, *(a.id for a in check.access)]))
        asked = check.id.startswith("ask:")
        self.see(() if asked else check.findings, check.id)
        if asked and check.id != ASK_LAST_RIGHT:  # nobody in the yard knows that
            self.ask(check.id.removeprefix("ask:"))

    def ask(self, fact: str) -> None:
        """Learn a fact of the machine; where several values hold, one. A fact on which nothing hung when the
        machine was drawn (another told more of the same cause, until that was asked) is drawn now."""
        values = self.knowledge.facts[fact].values
        facts = Facts(self.knowledge.facts, self.machine.facts)
        if any(one.name not in self.world.network.index for one in facts.variables(fact)):
            shares = [facts.joint((one,)) for one in facts.variables(fact)]
            if self.knowledge.facts[fact].several:
                holding = [v for v, p in zip(values[1:], shares, strict=True) if self.rng.random() < p[1]]
                value = str(self.rng.choice(holding)) if holding else values[0]
            else:
                value = str(self.rng.choice(values, p=shares[0] / shares[0].sum()))
        elif self.knowledge.facts[fact].several:
            holding = [v for v in values[1:] if not self.world.normal(fact_name(fact, v))]
            value = str(self.rng.choice(holding)) if holding else values[0]
        else:
            value = self.world.shows(fact_name(fact, ""))
        self.machine = replace(self.machine, facts={**self.machine.facts, fact: value})

    def do_repairs(
        self, knowledge: Knowledge, repairs: tuple[Repair, ...], still_broken: float | None
    ) -> None:
        path = access_path(
            knowledge, [a for r in repairs for a in r.access], open_states(knowledge, self.opened)
        )
        work = sum(r.minutes.value for r in repairs) + sum(a.minutes + a.restore_minutes for a in path)
        self.spend(work, sum(SHOP.parts(r.parts) for r in repairs))
        for repair in repairs:
            at_fault = present(self.world, (c.cause for c in repair.cures))
            self.wrong_parts += not at_fault
        self.opened = ()
        causes = tuple(dict.fromkeys(c.cause for r in repairs for c in r.cures))
        self.epochs.append(Epoch(tuple(r.id for r in repairs), causes))
        renew(self.world, history(self.knowledge, self.case(), ()).repairs[-1], self.rng)
        self.see((self.complaint,))
        if still_broken is not None:
            self.promises.append(Promise(still_broken, not self.cured))
        if not self.cured:
            self.comebacks += 1
            self.money += SHOP.comeback

    @property
    def cured(self) -> bool:
        return self.world.normal(self.complaint)

    def hand_over(self) -> None:
        self.handed_over = True
        self.money += SHOP.hand_over + sum(
            map(self.cheapest_cure, culprits(self.world, self.knowledge.causes, self.complaint))
        )

    def cheapest_cure(self, cause: str) -> float:
        """What the cheapest repair of a cause costs with its own dismantling."""
        return min(_cost(self.knowledge, r, ()) for r in cures_of(self.knowledge, cause))


def _cost(knowledge: Knowledge, repair: Repair, opened: tuple[str, ...]) -> float:
    path = access_path(knowledge, repair.access, open_states(knowledge, opened))
    minutes = repair.minutes.value + sum(a.minutes + a.restore_minutes for a in path)
    return SHOP.time(minutes) + SHOP.parts(repair.parts)


def cures_of(knowledge: Knowledge, cause: str) -> list[Repair]:
    """The repairs that cure a cause."""
    return [r for r in knowledge.repairs.values() if any(c.cause == cause for c in r.cures)]


@dataclass(frozen=True, slots=True)
class Action:
    """A check, repairs with the promised probability that the complaint stays (None: nothing promised), or
    handing over."""

    check: str = ""
    repairs: tuple[Repair, ...] = ()
    still_broken: float | None = None


HAND_OVER = Action()
Policy = Callable[[Knowledge, Diagnosis, Job], Action]


def ours(knowledge: Knowledge, diagnosis: Diagnosis, job: Job) -> Action:
    """The planner: best first action of the quick look-ahead, improved for a fraction of a second."""
    now = situation(diagnosis, SHOP)
    rollout = Rollout(Planner(now.problem), width=4)
    plan = rollout.improved(rollout.planner.start(now.open_now), 0.06)
    if plan.kind == "test":
        return Action(now.checks[plan.number].id)
    return _repair(now, plan) if plan.kind == "fix" else HAND_OVER


def _repair(now: Situation, chosen: Plan | Glance) -> Action:
    """The repairs chosen, with P(still broken) as it is told to the technician."""
    after = chosen.branches if isinstance(chosen, Plan) else chosen.after
    return Action("", now.repairs[chosen.number], after[0][1] if after else 0.0)


def moves(knowledge: Knowledge, diagnosis: Diagnosis, job: Job) -> Action:
    """The one next move, as every screen tells it."""
    advice = advised(diagnosis, SHOP)
    move = advice.move
    if move.kind in LOOKS:
        return Action(move.id)
    if move.kind == REPAIR:
        chosen = next(one for one in advice.choices if {r.id for r in one.repairs} == set(move.ids))
        return Action("", chosen.repairs, chosen.still_broken)
    return HAND_OVER


def myopic(knowledge: Knowledge, diagnosis: Diagnosis, job: Job) -> Action:
    """One step of look-ahead: the action with the best expected money, repairs alone after it."""
    now = situation(diagnosis, SHOP)
    planner = Planner(now.problem)
    start = planner.start(now.open_now)
    best = next(iter(planner.glances(start)), None)
    if best is None or best.estimate >= planner.hand_over(start) - 1:
        return HAND_OVER
    return Action(now.checks[best.number].id) if best.kind == "test" else _repair(now, best)


def probability_per_cost(knowledge: Knowledge, diagnosis: Diagnosis, job: Job) -> Action:
    """p/c: no checks; the repair with the most probability of curing for its money, updated after each failure,
    until handing over is cheaper."""
    now = situation(diagnosis, SHOP)
    planner = Planner(now.problem)
    plan = planner.repair_only(planner.start(now.open_now))
    return _repair(now, plan) if plan.kind == "fix" else HAND_OVER


def most_likely_part(knowledge: Knowledge, diagnosis: Diagnosis, job: Job) -> Action:
    """Replace the most likely part until it is cured."""
    return _likeliest(knowledge, diagnosis, job)


def information_per_minute(knowledge: Knowledge, diagnosis: Diagnosis, job: Job) -> Action:
    """Check by bits per minute (about the likely sets of faults) until one cause is likelier than 70 %, or nothing
    tells much; then repair it."""
    leading = next((c for c in diagnosis.causes if c.relevant), None)
    if leading is not None and max(leading.probability, diagnosis.other_cause) < 0.7:
        now = situation(diagnosis, SHOP)
        for number, _ in most_telling(now)[:1]:
            if predicted_bits(now, number) > 0.02:
                return Action(now.checks[number].id)
    return _likeliest(knowledge, diagnosis, job)


def _likeliest(knowledge: Knowledge, diagnosis: Diagnosis, job: Job) -> Action:
    """The cheapest repair of the likeliest cause that was not repaired yet."""
    done = {id for epoch in job.epochs for id in epoch.repairs}
    if diagnosis.other_cause > 0.5 or job.comebacks >= MOST_COMEBACKS:
        return HAND_OVER
    for cause in diagnosis.causes:
        cures = [r for r in cures_of(knowledge, cause.id) if r.id not in done]
        if cause.relevant and cures:
            return Action("", (min(cures, key=lambda r: _cost(knowledge, r, job.opened)),))
    return HAND_OVER


POLICIES: Mapping[str, Policy] = {
    "planner": ours,
    "moves": moves,
    "one step ahead": myopic,
    "p/c": probability_per_cost,
    "information per minute": information_per_minute,
    "most likely part": most_likely_part,
}


@cache
def knowledge_and_mistaken(noise: float) -> tuple[Knowledge, Knowledge]:
    """The true knowledge and the one worked with."""
    true = replace(within(load(), SYSTEMS), removable={})  # nothing is taken out for a try here
    return true, disturbed(true, noise, np.random.default_rng(1)) if noise else true


def within(knowledge: Knowledge, systems: frozenset[str]) -> Knowledge:
    """The knowledge with the causes of these systems only, and the complaints that they can bring about."""
    causes = {id: cause for id, cause in knowledge.causes.items() if cause.system in systems}
    reached, waiting = set[str](), list(causes)
    while waiting:
        below = {link.effect for link in links_of(knowledge, waiting.pop())} - reached
        reached |= below
        waiting.extend(below)
    return replace(
        knowledge,
        causes=causes,
        conditions={id: one for id, one in knowledge.conditions.items() if id in reached},
        findings={id: one for id, one in knowledge.findings.items() if id in reached},
        checks={
            id: replace(check, reveals=shown)
            for id, check in knowledge.checks.items()
            if (shown := tuple(finding for finding in check.reveals if finding in reached))
        },
        repairs={
            id: replace(repair, cures=cures)
            for id, repair in knowledge.repairs.items()
            if (cures := tuple(cure for cure in repair.cures if cure.cause in causes))
        },
    )


def disturbed(knowledge: Knowledge, sigma: float, rng: np.random.Generator) -> Knowledge:
    """Every link strength and leak moved in log-odds by a normal draw."""

    def move(number: Number) -> Number:
        if not 0 < number.value < 1:
            return number
        odds = np.log(number.value / (1 - number.value)) + rng.normal(0, sigma)
        return replace(number, value=float(1 / (1 + np.exp(-odds))))

    def rows(link: Link) -> Link:
        moved = tuple(tuple(map(move, row)) for row in link.strengths)
        safe = tuple(
            tuple(replace(n, value=n.value / max(1.0, sum(m.value for m in row))) for n in row)
            for row in moved
        )
        return replace(link, strengths=safe)

    def leak(numbers: tuple[Number, ...]) -> tuple[Number, ...]:
        moved = tuple(map(move, numbers))
        return tuple(replace(n, value=n.value / max(1.0, sum(m.value for m in moved))) for n in moved)

    return replace(
        knowledge,
        causes={k: replace(c, leads_to=tuple(map(rows, c.leads_to))) for k, c in knowledge.causes.items()},
        conditions={
            k: replace(c, leads_to=tuple(map(rows, c.leads_to)), leak=leak(c.leak))
            for k, c in knowledge.conditions.items()
        },
        findings={k: replace(f, leak=leak(f.leak)) for k, f in knowledge.findings.items()},
    )


_DECISIONS: dict[tuple[object, ...], Action] = {}


@cache
def lot(seed: int) -> tuple[Job, ...]:
    """The machines with a complaint of one lot, whatever is behind it: of each family and age as many machines are
    drawn, and they come in as often as they have complaints, for any one of these. So a machine with the complaint
    is as likely as the diagnosis takes it to be: P(machine | it)."""
    knowledge, rng = knowledge_and_mistaken(0.0)[0], np.random.default_rng(seed)
    complaints = [f.id for f in knowledge.findings.values() if f.other]
    found = []
    for family in sorted(knowledge.families):
        for hours in HOURS:
            built = _built(family, hours)
            noise = noise_of(built, rng, LOT)
            states = states_of(built, noise)
            there = np.array([states[built.variable(id)] > 0 for id in complaints])
            comes = rng.random(LOT) < there.sum(axis=0) / MANY_COMPLAINTS
            for number in np.flatnonzero(comes):
                world = held_as_drawn(built, noise, int(number))
                machine = Machine("x", family, dict(knowledge.families[family].facts), hours)
                complaint = str(rng.choice([id for id in complaints if not world.normal(id)]))
                found.append(Job(knowledge, world, machine, complaint, rng))
    return tuple(found[i] for i in rng.permutation(len(found)))


def sample_job(seed: int, number: int) -> Job:
    """The machine of this number, of lots that begin with this seed."""
    jobs = lot(seed)
    return jobs[number] if number < len(jobs) else sample_job(seed + 1, number - len(jobs))


@cache
def _built(family: str, hours: float) -> Built:
    knowledge = knowledge_and_mistaken(0.0)[0]
    return build(knowledge, Machine("x", family, dict(knowledge.families[family].facts), hours))


def work(policy: str, arrived: Job, seed: int, noise: float) -> Job:
    """One machine worked to its end; the one that arrived stays as it was."""
    true, believed = knowledge_and_mistaken(noise)
    rng = np.random.default_rng([seed, 1])
    job = Job(true, arrived.world.as_it_came(), arrived.machine, arrived.complaint, rng)
    job.see((job.complaint,))
    for _ in range(MOST_STEPS):
        if job.cured or job.handed_over:
            return job
        act(job, believed, decided(policy, believed, job, noise))
    if not job.cured and not job.handed_over:
        job.hand_over()
    return job


def decided(policy: str, believed: Knowledge, job: Job, noise: float) -> Action:
    """What the policy does now, thought out once for all jobs in which the same is known."""
    key = (policy, noise, *job.key())
    if key not in _DECISIONS:
        _DECISIONS[key] = POLICIES[policy](believed, diagnose(believed, job.case()), job)
    return _DECISIONS[key]


def act(job: Job, believed: Knowledge, action: Action) -> None:
    """Carry it out on the machine as it is."""
    if action.check:
        job.do_check(job.knowledge, _check(believed, job, action.check))
    elif action.repairs:
        job.do_repairs(job.knowledge, action.repairs, action.still_broken)
    else:
        job.hand_over()


def _check(knowledge: Knowledge, job: Job, id: str) -> CheckValue:
    """The check with its times as it stands in this job; only what it reveals and takes is used."""
    opened = open_states(knowledge, job.opened)
    path: tuple[Access, ...] = ()
    findings: tuple[str, ...]
    if id.startswith("look:"):
        finding = knowledge.findings[id.removeprefix("look:")]
        minutes, findings = LOOK_MINUTES[finding.kind], (finding.id,)
    elif id.startswith("ask:"):
        minutes, findings = LOOK_MINUTES[FACT], ()
    else:
        check = knowledge.checks[id]
        minutes, findings = check.minutes.value, tuple(check.reveals)
        path = access_path(knowledge, check.access, opened)
    reach = sum(a.minutes + a.restore_minutes for a in path)
    return CheckValue(id, id, minutes, reach, path, (), (), (), findings, 0.0, ())


@dataclass(frozen=True)
class Bill:
    """What one machine cost. `beyond`: nothing that the knowledge lists is behind its complaint. `seconds`: of
    processor time."""

    money: float
    hours: float
    wrong_parts: int
    comebacks: int
    handed_over: bool
    beyond: bool
    promises: tuple[Promise, ...]
    seconds: float


def bills(args: tuple[int, int, list[str], float]) -> dict[str, Bill]:
    """One machine, worked by each of these policies."""
    first, number, policies, noise = args
    true, seed = knowledge_and_mistaken(noise)[0], first + number
    arrived = sample_job(first, number)
    index = arrived.world.network.index
    sound = arrived.world.states_without(index[id] for id in true.causes if id in index)
    beyond = sound[index[arrived.complaint]] > 0
    return {policy: bill(policy, arrived, seed, noise, beyond) for policy in policies}


def bill(policy: str, arrived: Job, seed: int, noise: float, beyond: bool) -> Bill:
    """What the machine cost with this policy."""
    start = process_time()
    job = work(policy, arrived, seed, noise)
    costs = job.money, job.minutes / 60, job.wrong_parts, job.comebacks, job.handed_over
    return Bill(*costs, beyond, tuple(job.promises), process_time() - start)


def worked(
    cases: int, seed: int, jobs: int, noise: float, policies: Mapping[str, int], minutes: float
) -> dict[str, list[Bill]]:
    """The bills of each policy, which works the first so many of the machines, as far as the minutes reach."""
    end, found = monotonic() + 60 * minutes, list[dict[str, Bill]]()
    parts = [(seed, n, [p for p, most in policies.items() if n < most], noise) for n in range(cases)]
    with ProcessPoolExecutor(jobs) as pool:
        for one in pool.map(bills, parts):
            found.append(one)
            if monotonic() > end:
                pool.shutdown(cancel_futures=True)
                break
    return {policy: [one[policy] for one in found if policy in one] for policy in policies}


def table(found: Mapping[str, list[Bill]]) -> str:
    """All policies, with 95 % intervals of the mean, and how much dearer each is than the first, machine by
    machine."""
    first = next(iter(found.values()))
    lines = [
        f"{mean(b.beyond for b in first):.1%} of {len(first)} complaints with nothing listed behind them",
        f"{'policy':<24}{'machines':>9}{'money':>16}{'hours':>14}{'wrong parts':>13}{'comebacks':>11}"
        f"{'handed over':>13}{'seconds':>9}  dearer than the first, on the same machines",
    ]
    return "\n".join([*lines, *(_line(policy, mine, first) for policy, mine in found.items())])


def _line(policy: str, mine: list[Bill], first: list[Bill]) -> str:
    both = list(zip(mine, first, strict=False))
    more, of = _interval([b.money - a.money for b, a in both]), mean(a.money for _, a in both)
    return (
        f"{policy:<24}{len(mine):>9}{_interval([b.money for b in mine]):>16}"
        f"{_interval([b.hours for b in mine], 2):>14}{mean(b.wrong_parts for b in mine):>13.2f}"
        f"{mean(b.comebacks for b in mine):>11.2f}{mean(b.handed_over for b in mine):>13.1%}"
        f"{mean(b.seconds for b in mine):>9.1f}" + (f"  {more} on {of:,.0f}" if mine is not first else "")
    )


def promised(found: Mapping[str, list[Bill]]) -> str:
    """Of each policy that says how often a complaint stays after a repair: how often it did; and of all."""
    of_each = {policy: [p for one in mine for p in one.promises] for policy, mine in found.items()}
    of_each["all of these"] = [p for promises in of_each.values() for p in promises]
    tables = [f"still broken, {policy}\n{told(promises)}" for policy, promises in of_each.items() if promises]
    return "\n".join(tables)


def _interval(values: list[float], digits: int = 0) -> str:
    half = 1.96 * float(np.std(values)) / len(values) ** 0.5
    return f"{mean(values):,.{digits}f} +- {half:,.{digits}f}"


if __name__ == "__main__":
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--cases", type=int, default=200)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--minutes", type=float, default=float("inf"), help="stop after so many")
    parser.add_argument("--noise", type=float, default=0.0)
    parser.add_argument(
        "--policy", action="append", help=f"{', '.join(POLICIES)}; with :CASES the first ones"
    )
    given = parser.parse_args()
    chosen = [one.partition(":") for one in given.policy or list(POLICIES)]
    wanted = {policy: int(most or given.cases) for policy, _, most in chosen}
    result = worked(given.cases, given.seed, given.jobs, given.noise, wanted, given.minutes)
    print(table(result))
    print(promised(result))
