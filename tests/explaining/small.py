"""Cases on small knowledge: by default the command line's (ageing, facts, ordered states, a cause that wrecks
another)."""

from __future__ import annotations

from pathlib import Path

from diagnose.cases.case import Case, Epoch, Observation
from diagnose.diagnosis import Diagnosis, diagnose
from diagnose.knowledge.loader import load
from diagnose.knowledge.records import Knowledge
from diagnose.network.machine import Machine

SMALL = load(Path(__file__).parents[1] / "cli" / "knowledge")
AGED = Machine("P-1", "old_six", {"start_aid": "none", "duty": "long haul"}, hours=5000)
SEEN = (("no_start", "present"), ("rail_pressure", "low"), ("pressure_code", "present"))


def case(*seen: tuple[str, str], machine: Machine = AGED) -> Case:
    observations = tuple(Observation(finding, state, event=i) for i, (finding, state) in enumerate(seen, 1))
    return Case(1, machine, epochs=(Epoch(observations=observations),))


def diagnosed(*seen: tuple[str, str], knowledge: Knowledge = SMALL, machine: Machine = AGED) -> Diagnosis:
    return diagnose(knowledge, case(*(seen or SEEN), machine=machine))
