"""Bits and bytes of a store changed at random, of cases or exercises: what is then read is what was written, or an
error says so."""

from __future__ import annotations

import random
import sqlite3
import tempfile
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

from diagnose.append_only.format import LOST
from diagnose.append_only.log import Log
from diagnose.append_only.rescue import rescue
from diagnose.cases.events import Checked, Noted, Opened, Repaired, Withdrawn
from diagnose.cases.store import Store
from diagnose.errors import DiagnoseError
from diagnose.practice.store import ExerciseEntry

Held = dict[int, tuple[object, ...]]
Kind = type[Log[Any, Any]]
"""The case store, or the file of exercises."""


def first(kind: Kind, number: int) -> tuple[object, ...]:
    """What a case or an exercise begins with."""
    if kind is Store:
        return Opened(f"D-{number:02}", "inline_six", complaint="no start"), Noted("a", "low")
    return ExerciseEntry("started", {"apprentice": f"Ann {number}"}), ExerciseEntry("said", {"rise": ["a"]})


def more(kind: Kind, text: str) -> tuple[object, ...]:
    """One of these goes on."""
    if kind is Store:
        return Noted("b", "present", text=text), Checked("look"), Repaired(("r",)), Withdrawn(1)
    return (
        ExerciseEntry("hinted", {"words": text}),
        ExerciseEntry("guessed", {"points": 1.5}),
        ExerciseEntry("given_up", {}),
    )


def made(path: Path, draw: random.Random, kind: Kind = Store) -> Held:
    """A file of some cases or exercises, and what it holds; its log copied back."""
    with kind(path) as log:
        for number in range(1, draw.randint(3, 12)):
            log.begin(*first(kind, number))
        for _ in range(draw.randint(10, 120)):
            stream = draw.randint(1, log.last() or 1)
            text = "x" * draw.choice((0, 5, 60, 300, 5000))
            log.append(stream, draw.choice(more(kind, text)))
        return {number: log.entries(number) for number in log.numbers()}


def one_bit(content: bytearray, draw: random.Random) -> None:
    content[draw.randrange(len(content))] ^= 1 << draw.randrange(8)


def some_bytes(content: bytearray, draw: random.Random) -> None:
    length = draw.choice((2, 8, 64, 512, 4096))
    start = draw.randrange(max(1, len(content) - length))
    kind = draw.randrange(3)
    junk = bytes(length) if kind == 0 else b"\xff" * length if kind == 1 else draw.randbytes(length)
    content[start : start + length] = junk[: len(content) - start]


def read(path: Path, kind: Kind = Store) -> Held | None:
    """Everything that can be read, one by one; None where the file cannot be opened or listed."""
    found: Held = {}
    try:
        with kind(path, wait=0.1) as log:
            numbers = log.numbers()
            for number in numbers:
                try:
                    found[number] = log.entries(number)
                except DiagnoseError:
                    continue
            assert (log.last() or 0) == len(numbers)
            if isinstance(log, Store):
                assert [one.number for one in log.cases()] == list(numbers)
    except DiagnoseError:
        return None
    return found


def round_of(seed: int, change: Callable[[bytearray, random.Random], None], kind: Kind = Store) -> str:
    """One file damaged once: "unseen" (all is read as it was), "found" (an error); anything else raises."""
    draw = random.Random(seed)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "kept.sqlite"
        held = made(path, draw, kind)
        content = bytearray(path.read_bytes())
        change(content, draw)
        path.write_bytes(content)
        _rescued(path, Path(folder) / "new.sqlite", held, kind)
        found = read(path, kind)
    if found is None:
        return "found"
    for number, entries in found.items():
        assert entries == held[number], f"seed {seed}: {kind.format.stream} {number} is read wrongly"
    return "unseen" if found == held else "found"


def _rescued(path: Path, new: Path, held: Held, kind: Kind) -> None:
    """What is rescued is what was written, but for what says that it was lost."""
    try:
        told = rescue(kind, path, new)
    except DiagnoseError:
        return
    with kind(new) as log:
        assert log.verify() == ()
        saved = {number: log.entries(number) for number in log.numbers()}
    pairs = [pair for n in saved for pair in zip(held[n], saved[n], strict=False) if pair[0] != pair[1]]
    assert all(LOST in str(b) or "kind='lost'" in str(b) for _, b in pairs)
    assert len(pairs) <= len(told.lost)


def attack(rounds: int, first: int = 0, kind: Kind = Store) -> Counter[str]:
    """So many single-bit damages, and four of several bytes for every ten."""
    told: Counter[str] = Counter()
    for seed in range(first, first + rounds):
        told[f"one bit, {round_of(seed, one_bit, kind)}"] += 1
        if seed % 10 < 4:
            told[f"several bytes, {round_of(seed + 10**6, some_bytes, kind)}"] += 1
    return told


def saved_share(rounds: int) -> float:
    """The share of events that a rescue saves after a page of 4096 bytes was overwritten."""
    kept = all_ = 0
    for seed in range(rounds):
        draw = random.Random(seed)
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "cases.sqlite"
            held = made(path, draw)
            content = bytearray(path.read_bytes())
            page = draw.randrange(len(content) // 4096) * 4096
            content[page : page + 4096] = draw.randbytes(4096)
            path.write_bytes(content)
            all_ += sum(map(len, held.values()))
            try:
                kept += rescue(Store, path, Path(folder) / "new.sqlite").entries
            except (DiagnoseError, sqlite3.Error):
                continue
    return kept / all_
