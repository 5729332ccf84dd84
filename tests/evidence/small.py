"""A small machine for tests of evidence: two causes, one finding each and one of both, a part that can be tried."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from diagnose.cases.case import Case, Epoch, Observation
from diagnose.evidence.renewals import history
from diagnose.knowledge.records import Cure, Knowledge, Repair
from diagnose.knowledge.removable import Carried, Removable
from diagnose.network.built import Built
from diagnose.network.machine import Machine
from diagnose.network.places import build_at
from tests.knowledge_by_hand import HERE, cause, finding, knowledge, number


def repair(id: str, *cures: tuple[str, float], infant: float | None = None) -> Repair:
    made = tuple(Cure(one, number(p), HERE) for one, p in cures)
    fails = None if infant is None else number(infant)
    return Repair(id, id, "test", number(30), (), (), (), made, fails, (), ("Try it.",), (), HERE)


def whole() -> Knowledge:
    """A worn pump whines, a loose belt squeals; either lets the pressure fall. The belt can be taken off."""
    plain = knowledge(
        cause("pump", 0.05, {"whine": 0.8, "pressure": [[0.3, 0.5]]}),
        cause("belt", 0.03, {"squeal": 0.9, "pressure": [[0.4, 0.1]]}),
        finding("whine", 0.01),
        finding("squeal", 0.02),
        finding("pressure", [0.02, 0.01], "normal", "low", "none"),
    )
    rest: dict[str, Any] = dict.fromkeys(
        ("aliases", "brings", "watched", "told", "by", "access", "tools"), ()
    )
    off = Removable(
        id="belt_off", name="the belt", system="test", ways=("off",), mistaken=number(0.1), minutes=number(5),
        carries=(Carried("belt", number(1.0), HERE),), hazards=(), steps=(), only_if=(), place=HERE, **rest,
    )  # fmt: skip
    repairs = (
        repair("new_pump", ("pump", 0.9), infant=0.02),
        repair("flush", ("pump", 0.5), infant=0.05),
        repair("tighten", ("belt", 0.8)),
        repair("ghost", ("gone_by_now", 0.8)),
    )
    return replace(plain, removable={"belt_off": off}, repairs={one.id: one for one in repairs})


def saw(finding: str, state: str = "present", epoch: int = 0, **rest: Any) -> Observation:
    return Observation(finding, state, epoch=epoch, **rest)


def case(*observations: Observation, repairs: tuple[tuple[str, ...], ...] = (), **rest: Any) -> Case:
    """Each repair begins an epoch; an observation stands in the one that it names."""
    epochs = [
        Epoch(repairs=done, observations=tuple(one for one in observations if one.epoch == number))
        for number, done in enumerate(((), *repairs))
    ]
    return Case(1, Machine(), epochs=tuple(epochs), **rest)


def built(own: Knowledge, of: Case) -> Built:
    return build_at(own, of.machine, history(own, of, of.observations))
