"""Files made to harm: each is refused or read with an exit code that is documented, in bounded time and memory."""

from __future__ import annotations

import gzip
import os
import random
import resource
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

from tests.attack.fuzz import KNOWLEDGE, LESSON, MARK, SCENARIO

ROOT = Path(__file__).parents[2]
SECONDS, MEGABYTES, LETTERS = 15, 400, 100_000
"""Processor time, memory and answer of one call at most; the start of the program, with pandas, is in them."""
MB = 1_000_000

Maker = Callable[[random.Random], bytes]
YAML: dict[str, Maker] = {
    "nested lists": lambda draw: b"[" * draw.randint(100, MB),
    "nested maps": lambda draw: b"{a: " * draw.randint(100, MB // 4),
    "nested by indentation": lambda draw: b"".join(b" " * i + b"a:\n" for i in range(draw.randint(50, 2500))),
    "aliases that double": lambda draw: (
        b"a: &a [x,x]\n" + b"".join(b"b%d: &b%d [*a,*a]\n" % (i, i) for i in range(99))
    ),
    "a million keys": lambda draw: b"".join(b"k%d: 1\n" % i for i in range(draw.randint(10_000, 400_000))),
    "the same key": lambda draw: b"a: 1\n" * draw.randint(1000, 900_000),
    "a long key": lambda draw: b"k" * draw.randint(1000, 4 * MB) + b": 1\n",
    "a long text": lambda draw: SCENARIO.replace("no start", "x" * draw.randint(10_000, 4 * MB)).encode(),
    "a long number": lambda draw: SCENARIO.replace("100", "9" * draw.randint(300, MB)).encode(),
    "wrong items": lambda draw: b"scenario: s\nevents:\n" + b"- 1\n" * draw.randint(1000, MB),
    "wrong ids": lambda draw: (
        b"scenario: s\nevents:\n" + b"- note: " + b"- note: Xx Yy\n" * draw.randint(1000, 200_000)
    ),
    "too large": lambda draw: b"#" * 6 * MB,
    "zeros": lambda draw: bytes(draw.randint(1, MB)),
    "noise": lambda draw: draw.randbytes(draw.randint(1, MB)),
    "utf-16": lambda draw: SCENARIO.encode("utf-16"),
    "a tag": lambda draw: b"!!python/object/apply:os.system ['true']",
    "merge keys": lambda draw: b"<<: &a {b: 1}\n",
    "forged": lambda draw: SCENARIO.replace("D-07", f'"D\\n{MARK}\\e[2J"').encode(),
    "many documents": lambda draw: b"---\na: 1\n" * draw.randint(2, 100_000),
    "quotes": lambda draw: b"'" * draw.randint(1, MB),
}
LINES: dict[str, Maker] = {
    "nested": lambda draw: b'{"a":' * draw.randint(1000, MB // 5),
    "wrong lines": lambda draw: b"{}\n" * draw.randint(1000, MB),
    "no line": lambda draw: b"x" * draw.randint(1000, 20 * MB),
    "noise": lambda draw: draw.randbytes(draw.randint(1, MB)),
    "a long number": lambda draw: LESSON.replace("5.0", "9" * draw.randint(300, MB)).encode(),
    "unpaired": lambda draw: LESSON.replace("no start", "\\ud800" * 1000).encode(),
    "many": lambda draw: f"{LESSON}\n".encode() * draw.randint(10, 3000),
}
LOGS: dict[str, Maker] = {
    "no line": lambda draw: b"1" * draw.randint(1000, 30 * MB),
    "requests": lambda draw: _requests(draw, draw.randint(1000, 300_000)),
    "buses": lambda draw: b"".join(b"(1.0) c%d 18FECA00#04FFA4001201FFFF\n" % i for i in range(100_000)),
    "identifiers": lambda draw: b"".join(
        b"(1.0) can0 %08X#00\n" % draw.getrandbits(29) for _ in range(100_000)
    ),
    "noise": lambda draw: draw.randbytes(draw.randint(1, MB)),
}


def _requests(draw: random.Random, count: int) -> bytes:
    """Messages of several packets, announced and never sent."""
    one = b"(1.0) can%d 1CEC%02X%02X#10090002FF%02XFE00\n"
    return b"".join(
        one % (draw.randrange(40), draw.randrange(255), draw.randrange(255), draw.randrange(256))
        for _ in range(count)
    )


def calls(draw: random.Random, folder: Path) -> Iterator[tuple[str, list[str]]]:
    """Endlessly: the name of a kind of file, and a call with such a file."""
    number = 0
    while True:
        for ending, makers in (
            (".yaml", YAML),
            (".jsonl", LINES),
            (".csv", LINES),
            (".log", LOGS),
            (".gz", LOGS),
        ):
            for name, make in makers.items():
                number += 1
                file = folder / f"{number}{'.log' if ending == '.gz' else ''}{ending}"
                content = make(draw)
                file.write_bytes(gzip.compress(content, 1) if ending == ".gz" else content)
                yield f"{name} ({ending})", _call(draw, str(file), ending)
                file.unlink()


def _call(draw: random.Random, file: str, ending: str) -> list[str]:
    if ending == ".yaml":
        how = (["causes", "-f"], ["--shop", "S", "shop"], ["--overlay", "S", "knowledge", "check"])
        words = draw.choice(how)
        return [file if word == "S" else word for word in words] if "S" in words else [*words, file]
    return ["codes", file] if ending in (".log", ".gz") else ["learn", "-f", file]


CALL = """
import atexit, re
def told():
    status = open("/proc/self/status").read()
    open({most!r}, "w").write(re.search(r"VmHWM:\\s*(\\d+)", status)[1])
atexit.register(told)
from diagnose.cli.main import run
run()
"""
"""The program, telling at its end how much memory it had at most (what the system tells of a child counts that of
the process that it was forked from)."""


def harmed(words: list[str], home: Path) -> str:
    """What is wrong with the answer of a call in a process of its own; empty where nothing is."""
    environment = os.environ | {
        "DIAGNOSE_KNOWLEDGE": str(KNOWLEDGE),
        "DIAGNOSE_CASES": str(home / "cases.sqlite"),
        "OPENBLAS_NUM_THREADS": "1",  # each thread of it takes memory of its own
    }
    most = home / "most_memory"
    command = [sys.executable, "-c", CALL.format(most=str(most)), *words]

    def limits() -> None:
        resource.setrlimit(resource.RLIMIT_CPU, (SECONDS, SECONDS))

    run = subprocess.Popen(
        command,
        cwd=ROOT,
        env=environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        preexec_fn=limits,
    )
    assert run.stdout is not None
    output = run.stdout.read()
    run.stdout.close()
    code = run.wait()
    memory = int(most.read_text()) * 1024 / MB if most.exists() else 0.0
    most.unlink(missing_ok=True)
    problems = [
        f"exit code {code}" if code not in (0, 1, 2, 3) else "",
        "a traceback" if b"Traceback" in output else "",
        "a raw escape" if b"\x1b" in output else "",
        "a forged line"
        if any(line.lstrip().startswith(MARK.encode()) for line in output.splitlines())
        else "",
        f"{memory:.0f} MB" if memory > MEGABYTES else "",
        f"{len(output)} letters" if len(output) > LETTERS else "",
    ]
    return ", ".join(filter(None, problems))


def attack(files: int, seed: int = 0) -> list[str]:
    """So many hostile files; what went wrong."""
    draw = random.Random(seed)
    with tempfile.TemporaryDirectory() as folder:
        made = calls(draw, Path(folder))
        found = []
        for _ in range(files):
            name, words = next(made)
            if said := harmed(words, Path(folder)):
                found.append(f"{name}: {said}: {' '.join(words)[:80]}")
    return found
