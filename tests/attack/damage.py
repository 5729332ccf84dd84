"""Bits and bytes of a store changed at random: what is then read is what was written, or an error says so."""

from __future__ import annotations

import random
import sqlite3
import tempfile
from collections import Counter
from collections.abc import Callable
from pathlib import Path

from diagnose.cases.events import Checked, Event, Noted, Opened, Repaired, Withdrawn
from diagnose.cases.rescue import LOST, rescue
from diagnose.cases.store import Store
from diagnose.errors import DiagnoseError

Cases = dict[int, tuple[Event, ...]]


def made(path: Path, draw: random.Random) -> Cases:
    """A store of some cases, and what it holds; its log copied back."""
    with Store(path) as store:
        for number in range(1, draw.randint(3, 12)):
            store.new_case(Opened(f"D-{number:02}", "inline_six", complaint="no start"), Noted("a", "low"))
        for _ in range(draw.randint(10, 120)):
            case = draw.randint(1, store.last_case() or 1)
            text = "x" * draw.choice((0, 5, 60, 300, 5000))
            kinds = (Noted("b", "present", text=text), Checked("look"), Repaired(("r",)), Withdrawn(1))
            store.append(case, draw.choice(kinds))
        return {one.number: store.events(one.number) for one in store.cases()}


def one_bit(content: bytearray, draw: random.Random) -> None:
    content[draw.randrange(len(content))] ^= 1 << draw.randrange(8)


def some_bytes(content: bytearray, draw: random.Random) -> None:
    length = draw.choice((2, 8, 64, 512, 4096))
    start = draw.randrange(max(1, len(content) - length))
    kind = draw.randrange(3)
    junk = bytes(length) if kind == 0 else b"\xff" * length if kind == 1 else draw.randbytes(length)
    content[start : start + length] = junk[: len(content) - start]


def read(path: Path) -> Cases | None:
    """Everything that can be read, case by case; None where the file cannot be opened or listed."""
    found: Cases = {}
    try:
        with Store(path, wait=0.1) as store:
            listed = store.cases()
            for one in listed:
                try:
                    found[one.number] = store.events(one.number)
                except DiagnoseError:
                    continue
            assert store.last_case() == len(listed)
    except DiagnoseError:
        return None
    return found


def round_of(seed: int, change: Callable[[bytearray, random.Random], None]) -> str:
    """One store damaged once: "unseen" (all is read as it was), "found" (an error); anything else raises."""
    draw = random.Random(seed)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "cases.sqlite"
        held = made(path, draw)
        content = bytearray(path.read_bytes())
        change(content, draw)
        path.write_bytes(content)
        _rescued(path, Path(folder) / "new.sqlite", held)
        found = read(path)
    if found is None:
        return "found"
    for number, events in found.items():
        assert events == held[number], f"seed {seed}: case {number} is read wrongly"
    return "unseen" if found == held else "found"


def _rescued(path: Path, new: Path, held: Cases) -> None:
    """What is rescued is what was written, but for what says that it was lost."""
    try:
        told = rescue(path, new)
    except DiagnoseError:
        return
    with Store(new) as store:
        assert store.verify() == ()
        saved = {one.number: store.events(one.number) for one in store.cases()}
    differ = sum(a != b for number in held for a, b in zip(held[number], saved.get(number, ()), strict=False))
    assert all(LOST in str(b) for n in saved for a, b in zip(held[n], saved[n], strict=False) if a != b)
    assert differ <= len(told.lost)


def attack(rounds: int, first: int = 0) -> Counter[str]:
    """So many single-bit damages, and four of several bytes for every ten."""
    told: Counter[str] = Counter()
    for seed in range(first, first + rounds):
        told[f"one bit, {round_of(seed, one_bit)}"] += 1
        if seed % 10 < 4:
            told[f"several bytes, {round_of(seed + 10**6, some_bytes)}"] += 1
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
                kept += rescue(path, Path(folder) / "new.sqlite").events
            except (DiagnoseError, sqlite3.Error):
                continue
    return kept / all_
