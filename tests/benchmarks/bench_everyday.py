"""The everyday commands from start to end, as a person waits for them: `python -m tests.benchmarks.bench_everyday
[every]`.

Each shipped scenario (each `every`-th, 1 without) and one hard case are recorded in stores of their own, then the
installed program is called on each, twice, the better processor time counting: start of Python, knowledge from its
cache, diagnosis and screen. Told as multiples of `python -c "import numpy, click, yaml"` in the same run, below one
of which none of them can come.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory

from diagnose.cases.events import Opened
from diagnose.cases.scenario import folder, load_folder, loads
from diagnose.cases.store import Store
from diagnose.knowledge.loader import load

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


def recorded(place: Path, every: int) -> dict[str, str]:
    """Name of a case -> store with it alone."""
    knowledge = load()
    scenarios = [*load_folder(folder(), knowledge)[::every], loads(HARD, "hard.yaml", knowledge)]
    stores = {}
    for scenario in scenarios:
        stores[scenario.id] = str(place / f"{scenario.id}.sqlite")
        opened, *more = scenario.events
        assert isinstance(opened, Opened)
        with Store(Path(stores[scenario.id])) as store:
            store.new_case(opened, *more)
    return stores


def main(every: int = 1) -> None:
    """Print median, 90 % and largest of each command over the cases, and the hard case, as multiples."""
    environment = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    bare = seconds([sys.executable, "-c", "import numpy, click, yaml"], environment, 5)
    print(f"import numpy, click, yaml: {bare:.2f} s of processor time")
    with TemporaryDirectory() as place:
        stores = recorded(Path(place), every)
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
    main(*map(int, sys.argv[1:]))
