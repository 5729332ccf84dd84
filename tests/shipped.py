"""What the program comes with, read and diagnosed once for all tests of a process: records are frozen."""

from __future__ import annotations

from functools import cache, lru_cache

from diagnose.cases.scenario import Scenario, folder, load
from diagnose.diagnosis import Diagnosis, diagnose
from diagnose.knowledge.loader import load as load_knowledge
from diagnose.knowledge.loader import shipped_folder
from diagnose.knowledge.records import Knowledge


@cache
def shipped_knowledge() -> Knowledge:
    """The shipped knowledge, whatever the environment names."""
    return load_knowledge(shipped_folder())


@cache
def scenario(id: str) -> Scenario:
    """A worked case."""
    return load(folder() / f"{id}.yaml", shipped_knowledge())


@lru_cache(8)  # a diagnosis holds its whole network
def diagnosed(id: str) -> Diagnosis:
    """What the program makes of a worked case."""
    return diagnose(shipped_knowledge(), scenario(id).case())
