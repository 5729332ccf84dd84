"""The everyday commands from start to end, as a person waits for them:

    python -m tests.benchmarks.bench_everyday [EVERY]
    python -m tests.benchmarks.bench_everyday hardest [DRAWN]

Each shipped scenario (each `EVERY`-th, 1 without) and one hard case are recorded in stores of their own, then the
installed program is called on each, twice, the better processor time counting: start of Python, knowledge from its
cache, diagnosis and screen. Told as multiples of `python -c "import numpy, click, yaml"` in the same run, below one
of which none of them can come. `hardest`: instead of the scenarios, of so many cases of 3 to 12 findings drawn of
each family the ten whose posteriors cost most.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory

from diagnose.cases.events import Event, Noted, Opened
from diagnose.cases.scenario import folder, load_folder, loads
from diagnose.cases.store import Store
from diagnose.knowledge.loader import load
from diagnose.knowledge.records import Knowledge
from tests.benchmarks.bench_cost import seconds as diagnosing
from tests.benchmarks.drawn_cases import HOURS, Drawn, drawn_cases

COMMANDS = (
    ("causes",),
    ("next",),
    ("why", "1"),
    ("repair",),
    ("note", "air temperature low"),
    ("cases",),
    ("knowledge", "find", "blows white smoke cold"),
)
HARD = """
scenario: hard
title: Five vague signs
about: Variable turbocharger, filter and urea dosing; what is told fits a hundred causes.
machine: {number: H-1, family: common_rail_inline_six_urea, hours: 12000}
complaint: low power
events:
  - note: low_power
  - note: black_smoke
  - code: SPN 157 FMI 18
  - note: fuel_consumption_high
  - note: regeneration_too_often
"""
TEN = 10
PROGRAM = Path(sys.executable).with_name("diagnose")


def seconds(call: Sequence[str], environment: dict[str, str], times: int = 2) -> float:
    """The least processor time of several calls."""
    found = []
    for _ in range(times):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run(call, capture_output=True, env=environment, stdin=subprocess.DEVNULL, check=False)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        found.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return min(found)


def shipped(knowledge: Knowledge, every: int) -> dict[str, Sequence[Event]]:
    """Name -> events of each `every`-th scenario and of the hard case."""
    scenarios = [*load_folder(folder(), knowledge)[::every], loads(HARD, "hard.yaml", knowledge)]
    return {scenario.id: scenario.events for scenario in scenarios}


def hardest(knowledge: Knowledge, drawn: int) -> dict[str, Sequence[Event]]:
    """Name -> events of the ten costliest of so many drawn cases of each family, and of the hard case."""
    families = ["", *knowledge.families]
    costs: dict[str, list[tuple[float, int, Drawn]]] = {family: [] for family in families}
    for number, case in enumerate(drawn_cases(knowledge, drawn * len(families), 3, 12)):
        costs[case.family].append((diagnosing(case), number, case))
    chosen = {
        f"{family or 'unknown'}-{number}": told(knowledge, case)
        for family, found in costs.items()
        for _, number, case in sorted(found, key=lambda one: -one[0])[:TEN]
    }
    return {**chosen, "hard": loads(HARD, "hard.yaml", knowledge).events}


def told(knowledge: Knowledge, case: Drawn) -> list[Event]:
    """A drawn case as its events: the machine, and each finding noted as it was found."""
    facts = dict(knowledge.families[case.family].facts) if case.family else {}
    names, states = case.built.network.names, case.built.network.states
    return [
        Opened("H-1", case.family, facts, HOURS),
        *(Noted(names[v], states[v][int(seen.argmax())]) for v, seen in case.evidence.items()),
    ]


def recorded(place: Path, cases: dict[str, Sequence[Event]]) -> dict[str, str]:
    """Name of a case -> store with it alone."""
    stores = {name: str(place / f"{name}.sqlite") for name in cases}
    for name, (opened, *more) in cases.items():
        assert isinstance(opened, Opened)
        with Store(Path(stores[name])) as store:
            store.new_case(opened, *more)
    return stores


def main(cases: Callable[[Knowledge, int], dict[str, Sequence[Event]]], number: int) -> None:
    """Print median, 90 % and largest of each command over the cases, and the hard case, as multiples."""
    environment = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    bare = seconds([sys.executable, "-c", "import numpy, click, yaml"], environment, 5)
    print(f"import numpy, click, yaml: {bare:.2f} s of processor time")
    with TemporaryDirectory() as place:
        stores = recorded(Path(place), cases(load(), number))
        for command in COMMANDS:
            call = [str(PROGRAM), *command]
            costs = {
                name: seconds(call, environment | {"DIAGNOSE_CASES": store}) / bare
                for name, store in stores.items()
            }
            found = sorted(costs.values())
            worst = max(costs, key=costs.__getitem__)
            print(
                f"{' '.join(command):42} median {median(found):.1f}, 9 of 10 below "
                f"{found[int(0.9 * len(found))]:.1f}, largest {found[-1]:.1f} ({worst}), hard {costs['hard']:.1f}"
            )


if __name__ == "__main__":
    arguments = sys.argv[1:]
    if arguments[:1] == ["hardest"]:
        main(hardest, int(arguments[1]) if arguments[1:] else 20)
    else:
        main(shipped, int(arguments[0]) if arguments else 1)
