"""`python -m tests.benchmarks.bench_codes [LINES]`: our whole reading of a candump log against python-can's alone.

One run, one file, the same minute; the ratio is printed, never asserted. Also the memory that a log ten times as
long takes.
"""

from __future__ import annotations

import random
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from tests.codes.bus import CODE, DM1, bam, line, payload

LINES = 1_000_000
CODES: list[CODE] = [(164, 18, 3), (636, 2, 1), (100, 1, 4)]
GROUPS = (0xF004, 0xF003, 0xFEF1, 0xFEEE, 0xFEEF, 0xFEF2, 0xFEF6, 0xFEF7, 0xFEDF, 0xFEDB, 0xFEC1, 0xF005)


def traffic(lines: int) -> Iterator[str]:
    """A bus at 1000 frames a second: ordinary groups of several modules, and each second a list of codes by BAM."""
    rng, written, second = random.Random(7), 0, 0
    while written < lines:
        frames = [line(frame) for frame in bam(0, payload(CODES), 1700000000.0 + second, DM1)]
        for n in range(1000 - len(frames)):
            id = 0x0C000000 | rng.choice(GROUPS) << 8 | rng.choice((0, 0, 0, 3, 11, 23, 33))
            frames.append(
                f"({1700000000 + second + n / 1000:.6f}) can0 {id:08X}#{rng.randbytes(8).hex().upper()}\n"
            )
        yield from frames[: lines - written]
        written += len(frames)
        second += 1


def timed(work: Callable[[], int]) -> tuple[float, int]:
    start = time.perf_counter()
    result = work()
    return time.perf_counter() - start, result


def ours(log: Path, readings: bool) -> int:
    from diagnose.codes.log_survey import survey

    return survey(log, readings=readings).frames


def python_can(log: Path) -> int:
    import can

    with can.LogReader(log) as reader:
        return sum(1 for _ in reader)


def peak(log: Path) -> float:
    """Megabytes that a process of its own takes at most for reading the log."""
    code = f"from tests.benchmarks.bench_codes import *; ours(Path({str(log)!r}), True); print(own_peak())"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return float(done.stdout)


def own_peak() -> float:
    """Of this program alone (Linux): `getrusage` would also tell the peak of the process that started it."""
    status = Path("/proc/self/status").read_text()
    return int(next(line for line in status.splitlines() if line.startswith("VmHWM")).split()[1]) / 1024


def main(lines: int) -> None:
    with tempfile.TemporaryDirectory() as folder:
        log, short = Path(folder) / "bus.log", Path(folder) / "short.log"
        log.write_text("".join(traffic(lines)), encoding="ascii")
        short.write_text("".join(traffic(lines // 10)), encoding="ascii")
        print(f"{lines} lines, {log.stat().st_size / 1e6:.0f} MB")
        theirs, read = timed(lambda: python_can(log))
        print(f"python-can, reading alone:     {theirs:6.2f} s  ({read} frames)")
        for readings in (False, True):
            mine, read = timed(lambda readings=readings: ours(log, readings))  # type: ignore[misc]
            what = "codes and readings" if readings else "codes"
            print(f"ours, {what + ':':24} {mine:6.2f} s  ({read} frames)  {theirs / mine:.1f} times as fast")
        print(f"peak memory: {peak(short):.0f} MB for a tenth of it, {peak(log):.0f} MB for all")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else LINES)
