"""The everyday commands from start to end, as a person waits for them: `python -m tests.benchmarks.bench_everyday
[every]`.

Each shipped scenario (each `every`-th, 1 without) is recorded in a store of its own, then the installed program is
called on it, twice, the better time counting: start of Python, knowledge from its cache, diagnosis and screen. Set
beside them in the same run: `python -c "import numpy, click"`, below which none of them can come.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from time import perf_counter

from diagnose.cases.events import Opened
from diagnose.cases.scenario import folder, load_folder
from diagnose.cases.store import Store
from diagnose.knowledge.loader import load

COMMANDS = (
    ("causes",),
    ("next",),
    ("why",),
    ("repair",),
    ("note", "air temperature low"),
    ("cases",),
    ("knowledge", "find", "blows white smoke cold"),
)
PROGRAM = Path(sys.executable).with_name("diagnose")


def seconds(call: Sequence[str], environment: dict[str, str], times: int = 2) -> float:
    """The shortest of several calls."""
    found = []
    for _ in range(times):
        start = perf_counter()
        subprocess.run(call, capture_output=True, env=environment, stdin=subprocess.DEVNULL, check=False)
        found.append(perf_counter() - start)
    return min(found)


def main(every: int = 1) -> None:
    """Print median, 90 % and largest of each command over the scenarios."""
    environment = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    bare = seconds([sys.executable, "-c", "import numpy, click"], environment, 5)
    print(f"import numpy, click: {bare:.2f} s")
    with TemporaryDirectory() as place:
        scenarios = load_folder(folder(), load())[::every]
        stores = []
        for number, scenario in enumerate(scenarios):
            stores.append(str(Path(place) / f"{number}.sqlite"))
            opened, *more = scenario.events
            assert isinstance(opened, Opened)
            with Store(Path(stores[-1])) as store:
                store.new_case(opened, *more)
        for command in COMMANDS:
            call = [str(PROGRAM), *command]
            found = sorted(
                (seconds(call, environment | {"DIAGNOSE_CASES": store}), scenario.id)
                for store, scenario in zip(stores, scenarios, strict=True)
            )
            times = [time for time, _ in found]
            print(
                f"{' '.join(command):42} median {median(times):.2f}, 9 of 10 below "
                f"{times[int(0.9 * len(times))]:.2f}, largest {times[-1]:.2f} s ({found[-1][1]})"
            )


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
