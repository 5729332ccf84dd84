"""A program that records events and prints the number of each one that was acknowledged.

Run as `python -m tests.cases.writer FILE HOW_MANY WORD`; the word goes into every event it writes.
"""

import sys
from pathlib import Path

from diagnose.cases.events import Noted, Opened
from diagnose.cases.store import Store


def write(path: Path, count: int, word: str) -> None:
    with Store(path, wait=30) as store:
        case = store.last_case() or store.new_case(Opened("D-07"))
        for _ in range(count):
            (number,) = store.append(case, Noted("a", "present", text=word))
            print(number, flush=True)


if __name__ == "__main__":
    write(Path(sys.argv[1]), int(sys.argv[2]), sys.argv[3])
