"""A simulated workshop: sampled machines, each worked to a proven repair by several policies.

    python -m tests.benchmarks.workshop [--cases N] [--seed N] [--jobs N] [--noise SIGMA]

Machines are sampled from the shipped knowledge: hours, causes, and the noise of every mechanism, which stays the
same before and after a repair. A policy sees what a technician would: the complaint, then the results of what it
chooses. It ends with the complaint gone or with handing over. `--noise` works with a knowledge whose link
strengths and leaks are disturbed in log-odds, while the machines follow the true one (Pradhan et al. 1996, from
memory). Everything is seeded.
"""

from __future__ import annotations

import argparse
import os
from collections.abc import Callable, Iterable, Mapping
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field, replace
from functools import cache
from statistics import mean

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import itertools

import numpy as np

from diagnose.cases.case import Case, Epoch, Observation
from diagnose.diagnosis import Diagnosis, diagnose
from diagnose.knowledge.loader import load
from diagnose.knowledge.paths import links_of
from diagnose.knowledge.records import Access, Knowledge, Link, Number, Repair
from diagnose.network.build import Built, build
from diagnose.network.machine import Machine
from diagnose.planning.checks import CheckValue, most_telling, predicted_bits
from diagnose.planning.options import LOOK_MINUTES, access_path, open_states
from diagnose.planning.planner import Planner
from diagnose.planning.rollout import Rollout
from diagnose.planning.shop import Shop
from diagnose.planning.situation import situation
from diagnose.practice.world import World

SHOP = Shop()
FAMILY = "hydraulic_inline_six"
SYSTEMS = frozenset({"hydraulic_injection", "injection_common", "fluid_mixing", "starting", "module_supply"})
"""All systems would take days: a look-ahead plan for each of many thousand steps."""
MOST_STEPS = 25
MOST_COMEBACKS = 4
"""After so many repairs in vain even a stubborn policy hands the machine over."""


def drawn(built: Built, rng: np.random.Generator) -> World:
    """A machine as the knowledge expects them: nothing is settled beforehand."""
    families = built.network.families
    leaks = rng.random(len(families))
    links = [rng.random(len(family.parents)) for family in families]
    return World(built.network, {}, [np.array([leak, *own]) for leak, own in zip(leaks, links, strict=True)])


def present(world: World, causes: Iterable[str]) -> list[str]:
    """Those of the causes that are on the machine and there now."""
    return [cause for cause in causes if cause in world.network.index and not world.normal(cause)]


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
        return self.machine.hours, self.complaint, seen, frozenset(self.opened)

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
        self.see(check.findings, check.id)

    def do_repairs(self, knowledge: Knowledge, repairs: tuple[Repair, ...]) -> None:
        path = access_path(
            knowledge, [a for r in repairs for a in r.access], open_states(knowledge, self.opened)
        )
        work = sum(r.minutes.value for r in repairs) + sum(a.minutes + a.restore_minutes for a in path)
        self.spend(work, sum(SHOP.parts(r.parts) for r in repairs))
        for repair in repairs:
            at_fault = present(self.world, (c.cause for c in repair.cures))
            there = [c for c in repair.cures if c.cause in at_fault]
            self.wrong_parts += not there
            self.world.remove([c.cause for c in there if self.rng.random() < c.effectiveness.value])
        self.opened = ()
        causes = tuple(dict.fromkeys(c.cause for r in repairs for c in r.cures))
        self.epochs.append(Epoch(tuple(r.id for r in repairs), causes))
        self.see((self.complaint,))
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


Action = tuple[str, object]
Policy = Callable[[Knowledge, Diagnosis, Job], Action]


def ours(knowledge: Knowledge, diagnosis: Diagnosis, job: Job) -> Action:
    """The planner: best first action of the quick look-ahead, improved for a fraction of a second."""
    now = situation(diagnosis, SHOP)
    rollout = Rollout(Planner(now.problem), width=4)
    plan = rollout.improved(rollout.planner.start(now.open_now), 0.06)
    if plan.kind == "test":
        return "check", now.checks[plan.number].id
    return ("repair", now.repairs[plan.number]) if plan.kind == "fix" else ("hand over", None)


def myopic(knowledge: Knowledge, diagnosis: Diagnosis, job: Job) -> Action:
    """One step of look-ahead: the action with the best expected money, repairs alone after it."""
    now = situation(diagnosis, SHOP)
    planner = Planner(now.problem)
    start = planner.start(now.open_now)
    best = next(iter(planner.glances(start)), None)
    if best is None or best.estimate >= planner.hand_over(start) - 1:
        return "hand over", None
    if best.kind == "test":
        return "check", now.checks[best.number].id
    return "repair", now.repairs[best.number]


def probability_per_cost(knowledge: Knowledge, diagnosis: Diagnosis, job: Job) -> Action:
    """p/c: no checks; the repair with the most probability of curing for its money, updated after each failure,
    until handing over is cheaper."""
    now = situation(diagnosis, SHOP)
    planner = Planner(now.problem)
    plan = planner.repair_only(planner.start(now.open_now))
    return ("repair", now.repairs[plan.number]) if plan.kind == "fix" else ("hand over", None)


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
                return "check", now.checks[number].id
    return _likeliest(knowledge, diagnosis, job)


def _likeliest(knowledge: Knowledge, diagnosis: Diagnosis, job: Job) -> Action:
    """The cheapest repair of the likeliest cause that was not repaired yet."""
    done = {id for epoch in job.epochs for id in epoch.repairs}
    if diagnosis.other_cause > 0.5 or job.comebacks >= MOST_COMEBACKS:
        return "hand over", None
    for cause in diagnosis.causes:
        cures = [r for r in cures_of(knowledge, cause.id) if r.id not in done]
        if cause.relevant and cures:
            return "repair", (min(cures, key=lambda r: _cost(knowledge, r, job.opened)),)
    return "hand over", None


POLICIES: Mapping[str, Policy] = {
    "planner": ours,
    "one step ahead": myopic,
    "p/c": probability_per_cost,
    "information per minute": information_per_minute,
    "most likely part": most_likely_part,
}


@cache
def knowledge_and_mistaken(noise: float) -> tuple[Knowledge, Knowledge]:
    """The true knowledge and the one worked with."""
    true = within(load(), SYSTEMS)
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


def sample_job(knowledge: Knowledge, seed: int) -> Job:
    """A machine with a complaint and at least one listed cause or a cause that is not listed."""
    rng = np.random.default_rng(seed)
    complaints = [f.id for f in knowledge.findings.values() if f.other]
    while True:
        hours = float(rng.choice([4000, 8000, 12000]))
        machine = Machine("x", FAMILY, dict(knowledge.families[FAMILY].facts), hours)
        world = drawn(_built(hours), rng)
        shown = [c for c in complaints if c in world.network.index and not world.normal(c)]
        if shown:
            job = Job(knowledge, world, machine, str(rng.choice(shown)), rng)
            job.see((job.complaint,))
            return job


@cache
def _built(hours: float) -> Built:
    knowledge = knowledge_and_mistaken(0.0)[0]
    return build(knowledge, Machine("x", FAMILY, dict(knowledge.families[FAMILY].facts), hours))


def work(policy: str, seed: int, noise: float) -> Job:
    """One machine worked to its end."""
    true, believed = knowledge_and_mistaken(noise)
    job = sample_job(true, seed)
    for _ in range(MOST_STEPS):
        if job.cured or job.handed_over:
            return job
        key = (policy, noise, *job.key())
        if key not in _DECISIONS:
            _DECISIONS[key] = POLICIES[policy](believed, diagnose(believed, job.case()), job)
        kind, what = _DECISIONS[key]
        if kind == "check":
            job.do_check(true, _check(believed, job, str(what)))
        elif kind == "repair":
            job.do_repairs(true, what)  # type: ignore[arg-type]
        else:
            job.hand_over()
    if not job.cured and not job.handed_over:
        job.hand_over()
    return job


def _check(knowledge: Knowledge, job: Job, id: str) -> CheckValue:
    """The check with its times as it stands in this job; only what it reveals and takes is used."""
    opened = open_states(knowledge, job.opened)
    path: tuple[Access, ...] = ()
    findings: tuple[str, ...]
    if id.startswith("look:"):
        finding = knowledge.findings[id.removeprefix("look:")]
        minutes, findings = LOOK_MINUTES[finding.kind], (finding.id,)
    else:
        check = knowledge.checks[id]
        minutes, findings = check.minutes.value, tuple(check.reveals)
        path = access_path(knowledge, check.access, opened)
    reach = sum(a.minutes + a.restore_minutes for a in path)
    return CheckValue(id, id, minutes, reach, path, (), (), (), findings, 0.0, ())


@dataclass(frozen=True)
class Bill:
    """What one machine cost."""

    money: float
    hours: float
    wrong_parts: int
    comebacks: int
    handed_over: bool


def bills(args: tuple[str, int, int, float]) -> list[Bill]:
    """A stretch of machines for one policy."""
    policy, start, stop, noise = args
    jobs = [work(policy, seed, noise) for seed in range(start, stop)]
    return [Bill(j.money, j.minutes / 60, j.wrong_parts, j.comebacks, j.handed_over) for j in jobs]


def table(cases: int, seed: int, jobs: int, noise: float, policies: list[str]) -> str:
    """All policies on the same machines, with 95 % intervals of the mean, and how much dearer each is than the
    first, machine by machine."""
    cuts = np.linspace(seed, seed + cases, jobs * 4 + 1).astype(int)
    lines = [
        f"{'policy':<24}{'money':>16}{'hours':>14}{'wrong parts':>13}{'comebacks':>11}{'handed over':>13}"
    ]
    first: list[float] = []
    with ProcessPoolExecutor(jobs) as pool:
        for policy in policies:
            parts = [(policy, int(a), int(b), noise) for a, b in itertools.pairwise(cuts)]
            found = [bill for part in pool.map(bills, parts) for bill in part]
            money, hours = [b.money for b in found], [b.hours for b in found]
            lines.append(
                f"{policy:<24}{_interval(money):>16}{_interval(hours, 2):>14}"
                f"{mean(b.wrong_parts for b in found):>13.2f}{mean(b.comebacks for b in found):>11.2f}"
                f"{mean(b.handed_over for b in found):>13.1%}"
            )
            first = first or money
            more = [mine - best for mine, best in zip(money, first, strict=True)]
            lines[-1] += f"  {_interval(more)} dearer" if money is not first else ""
            print(lines[-1], flush=True)
    return "\n".join(lines)


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
    parser.add_argument("--noise", type=float, default=0.0)
    parser.add_argument("--policy", action="append", choices=list(POLICIES))
    given = parser.parse_args()
    print(table(given.cases, given.seed, given.jobs, given.noise, given.policy or list(POLICIES)))
