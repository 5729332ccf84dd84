"""A writer killed (SIGKILL) at random moments, and power cuts replayed: what was acknowledged is there, whole."""

from __future__ import annotations

import os
import random
import re
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from diagnose.cases.store import Store
from diagnose.errors import DiagnoseError
from tests.attack.damage import Kind, first, more

ROOT = Path(__file__).parents[2]


def kills(rounds: int, seed: int = 0, kind: Kind = Store) -> dict[str, int]:
    """One file, its writer killed so many times; how many entries were acknowledged and how many are lost (0).

    A writer is a fork of this program, so that most of the time goes to writing.
    """
    draw = random.Random(seed)
    acknowledged = lost = 0
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "kept.sqlite"
        with kind(path) as log:
            log.begin(first(kind, 1)[0])
        for number in range(rounds):
            heard = _killed(path, draw.uniform(0.0005, 0.02), kind)
            acknowledged += len(heard)
            with kind(path) as log:
                kept = len(log.entries(1))
                lost += sum(one > kept for one in heard)
                if number % 100 == 99 or number == rounds - 1:
                    assert log.verify() == ()
                if kept > 3000:  # a case of a size that is read quickly
                    log.close()
                    for file in Path(folder).iterdir():
                        file.unlink()
                    with kind(path) as fresh:
                        fresh.begin(first(kind, 1)[0])
    return {"rounds": rounds, "acknowledged": acknowledged, "lost": lost}


def _killed(path: Path, after: float, kind: Kind) -> list[int]:
    """A writer killed some seconds after its first word; the numbers that it was told."""
    out, into = os.pipe()
    writer = os.fork()
    if writer == 0:  # pragma: no cover - it is killed
        os.close(out)
        with kind(path, wait=30) as log:
            while True:
                (number,) = log.append(1, more(kind, "x" * 40)[0])
                os.write(into, f"{number}\n".encode())
    os.close(into)
    with os.fdopen(out, "rb", buffering=0) as heard:
        text = heard.read(1)
        time.sleep(after)
        os.kill(writer, signal.SIGKILL)
        os.waitpid(writer, 0)
        text += heard.readall()
    return [int(line) for line in text.split(b"\n")[:-1]]


# ---- power cuts ----


def cuts(rounds: int, seed: int = 0, synced: bool = True) -> dict[str, int]:
    """Power cuts: a store is written while its calls to the system are traced (strace), and replayed up to a random
    moment with the writes that no sync covers dropped or torn. `synced`: False takes the syncs away, which must
    lose events, or the test would see nothing. That a file is gone is on the disk once any later sync has returned,
    as file systems with a journal do it."""
    log = _written(synced)
    draw = random.Random(seed)
    lost = 0
    with tempfile.TemporaryDirectory() as folder:
        for _ in range(rounds):
            told = _replayed(log, Path(folder), draw)
            try:
                with Store(Path(folder) / "cases.sqlite") as store:
                    kept = len(store.events(1)) if store.last_case() else 0
                    whole = store.verify() == ()
            except DiagnoseError:
                kept, whole = 0, False
            lost += kept < told or not whole
            for file in Path(folder).iterdir():
                file.unlink()
    return {"rounds": rounds, "lost": lost}


FOLDER = "the folder"
_Step = tuple[str, str, int, bytes]
"""What happened (write, sync, length, told, gone), to which file, at which place, with which bytes."""


PROGRAM = """
import random, sys
from pathlib import Path
from diagnose.cases.events import Noted, Opened
from diagnose.cases.store import Store
from diagnose.errors import DiagnoseError
with Store(Path(sys.argv[1])) as store:
    store.new_case(Opened("D-07"))
    print(1, flush=True)
    for number in range(2, 150):
        store.append(1, Noted("a", "present", text="x" * random.Random(number).choice((5, 400, 3000))))
        print(number, flush=True)
    # a log of a thousand pages is copied back into the file: so is this one, as the last to close it does
"""
_CALL = re.compile(r"^\d+\s+(\w+)\((\d+)<([^>]*)>(?:, \"([^\"]*)\", \d+)?(?:, (\d+))?\)\s+= (-?\d+)")

_GONE = re.compile(r"^\d+\s+unlink\(\"([^\"]*)\"\)\s+= 0")


def _written(synced: bool) -> list[_Step]:
    """Every step of a store's life in order, by the calls that its program made to the system (strace)."""
    with tempfile.TemporaryDirectory() as folder:
        trace = Path(folder) / "trace"
        calls = "trace=pwrite64,write,fdatasync,fsync,ftruncate,unlink"
        strace = ["strace", "-f", "-y", "-xx", "-s", "1000000", "-e", calls, "-o", str(trace)]
        program = [sys.executable, "-c", PROGRAM, str(Path(folder) / "cases.sqlite")]
        subprocess.run([*strace, *program], cwd=ROOT, check=True, stdout=subprocess.PIPE)
        steps = [step for line in trace.read_text().splitlines() for step in _step(line)]
    return [step for step in steps if synced or step[0] != "sync"]


def _step(line: str) -> Iterator[_Step]:
    found = _CALL.match(line)
    if gone := _GONE.match(line):
        yield "gone", Path(_plain(gone[1]).decode()).name, 0, b""
    if not found:
        return
    call, handle, where, data, place, _ = found.groups()
    name = Path(_plain(where).decode()).name
    if call == "write" and handle == "1":
        if text := _plain(data).strip():
            yield "told", "", int(text), b""
    elif name.startswith("cases.sqlite") and not name.endswith("-shm"):
        if call == "pwrite64":
            yield from _sectors(name, int(place), _plain(data))
        elif call == "ftruncate":
            yield "length", name, int(place), b""
        elif call in ("fsync", "fdatasync"):
            yield "sync", name, 0, b""
    elif call == "fsync":  # the folder: what was made or taken away in it
        yield "sync", FOLDER, 0, b""


def _sectors(name: str, place: int, data: bytes) -> Iterator[_Step]:
    """A write as the sectors of 512 bytes that a disk writes one by one."""
    while data:
        length = 512 - place % 512
        yield "write", name, place, data[:length]
        place, data = place + length, data[length:]


def _plain(text: str) -> bytes:
    return bytes.fromhex(text.replace("\\x", ""))


def _replayed(steps: list[_Step], folder: Path, draw: random.Random) -> int:
    """The files as the disk may hold them after a cut at a random moment; how many events were told by then."""
    files: dict[str, bytearray] = {}
    loose: dict[str, list[_Step]] = {}
    told = 0
    for step in steps[: draw.randrange(len(steps) + 1)]:
        what, name, place, _ = step
        if what == "told":
            told = place
        elif what == "sync":
            for one in (*loose.pop(FOLDER, []), *loose.pop(name, [])):
                _put(files, one)
        else:
            loose.setdefault(FOLDER if what == "gone" else name, []).append(step)
    for waiting in loose.values():
        for one in waiting:
            fate = draw.random()
            if fate < 0.5:
                _put(files, one if fate < 0.35 else _torn(one, draw))
    for name, content in files.items():
        (folder / name).write_bytes(content)
    return told


def _put(files: dict[str, bytearray], step: _Step) -> None:
    what, name, place, data = step
    content = files.setdefault(name, bytearray())
    if what == "gone":
        del files[name]
        return
    if what == "length":
        del content[place:]
        return
    content.extend(bytes(max(0, place + len(data) - len(content))))
    content[place : place + len(data)] = data


def _torn(step: _Step, draw: random.Random) -> _Step:
    what, name, place, data = step
    return what, name, place, data[: draw.randrange(len(data) + 1)]
