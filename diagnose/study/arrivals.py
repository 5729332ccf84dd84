"""Machines as they arrive: drawn from the knowledge and kept where they show a complaint. What is behind it?

A root is a cause that arose of itself and is behind a complaint through what it brought about. A cause that
is there and behind no complaint is not counted; nobody came in for it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from diagnose.errors import CallError
from diagnose.knowledge.records import Knowledge
from diagnose.network.build import build
from diagnose.network.built import Built
from diagnose.network.forward import Flags, behind, herd
from diagnose.network.machine import Machine
from diagnose.network.network import Array
from diagnose.study.leading import Told, silent

MACHINES = 2000
"""Machines with a complaint, as a rule: a share of a half is then known to 1.1 in 100."""
BATCH = 4096  # machines drawn at a time
MOST = 200
"""So many times the machines wanted are drawn at most."""


@dataclass(frozen=True, slots=True)
class Estimate:
    """A mean over machines drawn independently, with its standard error."""

    value: float
    error: float


@dataclass(frozen=True, slots=True)
class Often:
    """A cause, and on what share of arrivals it is a root."""

    cause: str
    share: Estimate


@dataclass(frozen=True, slots=True)
class Arrivals:
    """What machines of one family come in with.

    `machines`: how many with a complaint, among `drawn`. `roots_per_arrival`: causes that arose of themselves
    and are behind a complaint; `consequences_per_arrival`: causes behind one that others brought about.
    `none_listed`: share of arrivals where no listed cause is behind a complaint. `systems`: share of arrivals
    by system of the root (one with several counts in equal parts), with `none_listed` 1 in all. `first`: the
    causes most often root. `per_1000_hours`: roots behind a complaint by system, per 1,000 running hours of a
    machine in service, reckoned from those of `window` hours since it was last right.
    """

    family: str
    machines: int
    drawn: int
    roots_per_arrival: Estimate
    consequences_per_arrival: Estimate
    none_listed: Estimate
    complaints_per_arrival: Estimate
    systems: Mapping[str, Estimate]
    first: tuple[Often, ...]
    per_1000_hours: Mapping[str, Estimate]
    window: float

    @property
    def came_in(self) -> Estimate:
        """Share of the machines in service that came in within the window."""
        p = self.machines / self.drawn
        return Estimate(p, (p * (1 - p) / self.drawn) ** 0.5)

    @property
    def events_per_1000_hours(self) -> Estimate:
        """Roots behind a complaint, of all systems. The error takes systems for independent, as nearly all
        roots are."""
        every = self.per_1000_hours.values()
        return Estimate(sum(one.value for one in every), sum(one.error**2 for one in every) ** 0.5)


@dataclass(frozen=True, eq=False)
class ArrivalSample:
    """Arrivals one by one: `roots` and `consequences`, shape (arrivals, causes); `complaints`, shape
    (arrivals,); `drawn`: machines drawn until the last of them."""

    roots: Flags
    consequences: Flags
    complaints: Array
    drawn: int


def machine_of(knowledge: Knowledge, family: str, hours: float | None = None) -> Machine:
    """A machine of which only the family is known, and the running hours if given."""
    return Machine(family=family, facts=knowledge.families[family].facts if family else {}, hours=hours)


def arrivals(
    knowledge: Knowledge,
    family: str = "",
    hours: float | None = None,
    machines: int = MACHINES,
    seed: int = 0,
) -> Arrivals:
    """What machines of the family come in with. The same seed, the same machines.

    Raises CallError where the knowledge has no complaint that such a machine shows.
    """
    machine = machine_of(knowledge, family, hours)
    built = build(knowledge, machine)
    complaints = [built.variable(id) for id, one in knowledge.findings.items() if one.other]
    rng = np.random.default_rng(seed)
    counted = tally(built, complaints, events(knowledge, built), machines, rng)
    systems = {id: cause.system for id, cause in knowledge.causes.items()}
    return replace(summary(built.causes, systems, counted, machine.window), family=family)


def all_arrivals(
    knowledge: Knowledge,
    families: Sequence[str] = (),
    hours: float | None = None,
    machines: int = MACHINES,
    seed: int = 0,
    told: Told = silent,
) -> tuple[Arrivals, ...]:
    """The same for these families (default: all; without any, a machine of which nothing is known); `told`
    hears how far it is, by families."""
    wanted = list(families) or list(knowledge.families) or [""]
    found = []
    for number, family in enumerate(wanted):
        told(number, len(wanted))
        found.append(arrivals(knowledge, family, hours, machines, seed))
    return tuple(found)


def tally(
    built: Built,
    complaints: Sequence[int],
    happening: Collection[int],
    machines: int,
    rng: np.random.Generator,
) -> ArrivalSample:
    """Draw until so many have come in with one of the complaints. Raises CallError where none do."""
    found, kept = list[ArrivalSample](), 0
    while kept < machines and len(found) * BATCH < MOST * max(machines, BATCH) and complaints:
        found.append(_batch(built, complaints, happening, rng, machines - kept))
        kept += len(found[-1].complaints)
    if not kept:
        raise CallError("No complaint of the knowledge shows on such a machine: nothing arrives.")
    return _joined(found)


def events(knowledge: Knowledge, built: Built) -> frozenset[int]:
    """Causes, listed or not, conditions and findings: what happens, unlike facts of the machine."""
    ids = (*built.causes, *knowledge.conditions, *knowledge.findings)
    return frozenset({*built.others.values(), *(built.variable(id) for id in ids if id in built.versions)})


def _batch(
    built: Built, complaints: Sequence[int], happening: Collection[int], rng: np.random.Generator, wanted: int
) -> ArrivalSample:
    """The first so many of a batch that come in."""
    drawn = herd(built.network, BATCH, rng, happening)
    shown = drawn.states[list(complaints)] > 0
    came = np.flatnonzero(shown.any(axis=0))
    kept, causes = came[:wanted], np.array([built.variable(id) for id in built.causes], dtype=np.intp)
    blamed = behind(drawn, complaints)[np.ix_(causes, kept)].T
    own = drawn.own[np.ix_(causes, kept)].T
    many = shown[:, kept].sum(axis=0).astype(np.float64)
    return ArrivalSample(
        blamed & own, blamed & ~own, many, BATCH if len(came) < wanted else int(kept[-1]) + 1
    )


def _joined(found: Sequence[ArrivalSample]) -> ArrivalSample:
    return ArrivalSample(
        np.concatenate([one.roots for one in found]),
        np.concatenate([one.consequences for one in found]),
        np.concatenate([one.complaints for one in found]),
        sum(one.drawn for one in found),
    )


def summary(
    causes: Sequence[str], systems: Mapping[str, str], counted: ArrivalSample, window: float
) -> Arrivals:
    """The arrivals in figures. `systems`: cause id -> its system; `window`: hours in which the faults arose."""
    roots = counted.roots.sum(axis=1)
    by_system = dict(_by_system(causes, systems, counted.roots))
    parts = {id: one / np.maximum(roots, 1) for id, one in by_system.items()}
    return Arrivals(
        family="",
        machines=len(roots),
        drawn=counted.drawn,
        roots_per_arrival=mean(roots),
        consequences_per_arrival=mean(counted.consequences.sum(axis=1)),
        none_listed=mean(roots == 0),
        complaints_per_arrival=mean(counted.complaints),
        systems={id: mean(part) for id, part in parts.items()},
        first=_first(causes, counted.roots),
        per_1000_hours={id: _per_1000_hours(one, counted.drawn, window) for id, one in by_system.items()},
        window=window,
    )


def mean(values: Array | Flags) -> Estimate:
    """Mean and standard error of independent values."""
    many = len(values)
    spread = float(np.std(values, ddof=1)) if many > 1 else float("inf")
    return Estimate(float(np.mean(values)), spread / many**0.5)


def _by_system(
    causes: Sequence[str], systems: Mapping[str, str], roots: Flags
) -> Iterator[tuple[str, Array]]:
    """How many roots of each system each arrival has, shape (arrivals,)."""
    mine = np.array([systems[id] for id in causes], dtype=np.str_)
    for system in dict.fromkeys(systems[id] for id in causes):
        yield system, roots[:, mine == system].sum(axis=1).astype(np.float64)


def _first(causes: Sequence[str], roots: Flags) -> tuple[Often, ...]:
    found = [Often(id, mean(roots[:, i])) for i, id in enumerate(causes) if roots[:, i].any()]
    return tuple(sorted(found, key=lambda one: (-one.share.value, one.cause)))


def _per_1000_hours(many: Array, drawn: int, window: float) -> Estimate:
    """Machines that did not come in have none of these roots: they count as zeros."""
    per_machine = float(many.sum()) / drawn
    spread = max(float((many**2).sum()) / drawn - per_machine**2, 0.0) ** 0.5
    return Estimate(1000 * per_machine / window, 1000 * spread / drawn**0.5 / window)
