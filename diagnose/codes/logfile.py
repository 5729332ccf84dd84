"""Bus logs by their file: candump by the own parser, other forms through python-can, an optional extra."""

from __future__ import annotations

import gzip
import io
import logging
import zlib
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from diagnose.codes.candump import read_candump
from diagnose.codes.frames import (
    EMPTY,
    ERROR,
    FD,
    FOREIGN,
    NO_TIME,
    REMOTE,
    STANDARD,
    Frame,
    FrameCounts,
    Wanted,
)
from diagnose.errors import CallError, DataError, Place, Problem

if TYPE_CHECKING:
    import can

BY_PYTHON_CAN: Mapping[str, str] = {
    ".asc": "ASCReader",
    ".blf": "BLFReader",
    ".csv": "CSVReader",
    ".trc": "TRCReader",
}
BINARY = (".blf",)
FORMS = "known forms: candump (both), .asc, .blf, .trc, .csv of python-can"
TOLD_EVERY = 1000  # frames
Told = Callable[[int], None]


def read_log(
    path: Path, wanted: Wanted, tally: FrameCounts, told: Told = lambda count: None
) -> Iterator[Frame]:
    """The wanted frames of a log, in order; `tally` counts all. `told` hears how many bytes were read.

    Where a file breaks off, what stands before is given and `tally.broken` says how it ended. Raises CallError
    where the form needs python-can and it is not installed, DataError for a file that cannot be read at all.
    """
    form = _form(path)
    read = _by_python_can if form in BY_PYTHON_CAN else _by_own_parser
    try:
        with path.open("rb") as file:
            packed = path.suffix.lower() == ".gz"
            plain: io.BufferedIOBase = gzip.GzipFile(fileobj=file) if packed else file
            yield from read(plain, form, wanted, tally, _counting(file, told))
    except (OSError, EOFError, zlib.error) as error:
        _broken(path, tally, error)
    except _ReaderError as error:
        _broken(path, tally, error.__cause__)


class _ReaderError(Exception):
    """Whatever a reader of python-can met in a file, as its cause."""


def _form(path: Path) -> str:
    """The ending of the name, that before `.gz` where it is packed."""
    endings = [ending.lower() for ending in path.suffixes if ending.lower() != ".gz"]
    return endings[-1] if endings else ""


def _counting(file: io.BufferedReader, told: Told) -> Callable[[], None]:
    """Tells how many bytes of the file itself, packed or not, were read since it was last asked."""
    before = 0

    def tell() -> None:
        nonlocal before
        now = file.tell()
        told(now - before)
        before = now

    return tell


def _broken(path: Path, tally: FrameCounts, error: BaseException | None) -> None:
    """Keep what was read before the file broke off; a file without a single frame is an error."""
    if not tally.frames:
        why = f": {error.strerror}" if isinstance(error, OSError) and error.strerror else ""
        problem = Problem("L001", Place(str(path)), f"cannot be read as a bus log{why}", FORMS)
        raise DataError([problem]) from error
    tally.broken = f"the file breaks off after {tally.frames} frames, or goes on in another form"


def _by_own_parser(
    file: io.BufferedIOBase, form: str, wanted: Wanted, tally: FrameCounts, tell: Callable[[], None]
) -> Iterator[Frame]:
    yield from read_candump(file, wanted, tally, tell)


def _by_python_can(
    file: io.BufferedIOBase, form: str, wanted: Wanted, tally: FrameCounts, tell: Callable[[], None]
) -> Iterator[Frame]:
    try:
        import can
    except ModuleNotFoundError as error:
        raise CallError(
            f"Logs of the form {form} need python-can: pip install 'diesel-diagnose[can]'"
        ) from error
    text: Any = file if form in BINARY else io.TextIOWrapper(file, encoding="utf-8", errors="replace")
    with _complaints_counted(tally):
        for place, message in enumerate(_messages(getattr(can, BY_PYTHON_CAN[form]), text)):
            if place % TOLD_EVERY == 0:
                tell()
            if frame := _plain(message, wanted, tally):
                yield frame


def _messages(reader: Callable[[Any], Any], file: Any) -> Iterator[can.Message]:
    try:
        yield from reader(file)
    except (OSError, EOFError, zlib.error):
        raise
    except Exception as error:  # the readers raise whatever their parsing meets
        raise _ReaderError from error


@contextmanager
def _complaints_counted(tally: FrameCounts) -> Iterator[None]:
    """The readers of python-can pass over lines with no more than a word to the log: these are counted."""

    class Counter(logging.Handler):
        def emit(self, record: logging.LogRecord) -> None:
            tally.skipped[FOREIGN] += 1

    log, counter = logging.getLogger("can.io"), Counter(logging.WARNING)
    heard, log.propagate = log.propagate, False
    log.addHandler(counter)
    try:
        yield
    finally:
        log.removeHandler(counter)
        log.propagate = heard


def _plain(message: can.Message, wanted: Wanted, tally: FrameCounts) -> Frame | None:
    """A frame as ours; None, and counted, for what is of no use here."""
    kind = _passed_over(message)
    if kind:
        tally.skipped[kind] += 1
        return None
    tally.frames += 1
    if not wanted(message.arbitration_id):
        return None
    channel = "" if message.channel is None else str(message.channel)
    time = message.timestamp if message.timestamp >= 0 else NO_TIME
    return Frame(time, channel, message.arbitration_id, bytes(message.data))


def _passed_over(message: can.Message) -> str:
    if message.is_error_frame:
        return ERROR
    if message.is_fd:
        return FD
    if message.is_remote_frame:
        return REMOTE
    if not message.is_extended_id:
        return STANDARD
    return "" if message.data else EMPTY
