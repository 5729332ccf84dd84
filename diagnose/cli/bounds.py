"""A bound on the processor time of a call: what takes longer is ended with a word on what to do."""

from __future__ import annotations

import os
import signal
import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from types import FrameType

from diagnose.errors import DiagnoseError

LOOK, STUDY = 10.0, 60.0
"""Seconds of processor time of a look at a case, which somebody waits for at the machine; and of reports."""
SECONDS: Mapping[str, float] = {
    "causes": LOOK,
    "next": LOOK,
    "why": LOOK,
    "repair": LOOK,
    "cases": LOOK,
    "understand": LOOK,
    "report": STUDY,
}
"""By command. The others end by themselves (`plan` thinks as long as it was told), talk, or work on many cases."""
VARIABLE = "DIAGNOSE_SECONDS"


class TooLong(DiagnoseError):
    """The bound was reached."""


@contextmanager
def bounded(command: str) -> Iterator[None]:
    """Raise TooLong where the command takes more processor time than it may; DIAGNOSE_SECONDS allows other times.

    Where the system has no such clock, or this is not the main thread, nothing is bounded.
    """
    seconds = _allowed(command)
    main = threading.current_thread() is threading.main_thread()
    if seconds is None or not main or not hasattr(signal, "setitimer"):
        yield
        return

    def end(number: int, frame: FrameType | None) -> None:
        raise TooLong(
            f"This was not worked out within {seconds:g} s of processor time: the case has more findings, or more "
            "that do not fit together, than can be reckoned with. Withdraw what is doubtful (diagnose cases shows "
            f"the numbers), or allow more time: {VARIABLE}=120"
        )

    before = signal.signal(signal.SIGPROF, end)
    signal.setitimer(signal.ITIMER_PROF, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, before)


def _allowed(command: str) -> float | None:
    usual = SECONDS.get(command)
    try:
        asked = float(os.environ.get(VARIABLE, ""))
    except ValueError:
        return usual
    return asked if usual is not None and 0 < asked < 1e6 else usual
