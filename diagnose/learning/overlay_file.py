"""The learnt overlay on the disk: written whole or not at all, and taken back."""

from __future__ import annotations

import os
from pathlib import Path

from diagnose.errors import CallError, DataError, Place, Problem
from diagnose.knowledge import loader
from diagnose.knowledge.files import learnt_beside, overlay_place
from diagnose.saving import not_written, replace

BEFORE = ".before"
"""Ending of the copy that `undo` goes back to."""


def place_of_learnt(overlay: Path | None, folder: Path | None) -> Path:
    """Where the learnt overlay of this knowledge lies. Raises CallError where no overlay is in use at all."""
    chosen = overlay_place(overlay, folder)
    if chosen is None:
        raise CallError(
            "What is learnt goes beside the shop's overlay, and none is in use here. Name one: --overlay FILE, or "
            "DIAGNOSE_OVERLAY (an empty file will do)."
        )
    return learnt_beside(chosen)


def write(path: Path, text: str, overlay: Path | None, folder: Path | None) -> None:
    """Put the new overlay in place of the old one, which is kept beside it. Raises DataError, and changes
    nothing, where the knowledge would not hold together with it, or the disk fails."""

    def put(new: Path) -> None:
        new.write_text(text, encoding="utf-8")
        _check(new, overlay, folder)
        if path.exists():
            replace(_before(path), lambda old: old.write_bytes(path.read_bytes()))

    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        replace(path, put)
    except OSError as error:
        problem = Problem("L003", Place(str(path)), not_written(error))
        raise DataError([problem]) from error


def undo(path: Path) -> bool:
    """Back to the learnt overlay before; where there is none, to what is not learnt. Whether that one is in
    force now. Raises CallError where nothing is learnt."""
    if not path.exists():
        raise CallError(f"Nothing is learnt: there is no {path}.")
    before = _before(path)
    if before.exists():
        os.replace(before, path)
        return True
    path.unlink()
    return False


def _before(path: Path) -> Path:
    return path.with_name(path.name + BEFORE)


def _check(new: Path, overlay: Path | None, folder: Path | None) -> None:
    knowledge, problems = loader.check(folder, overlay, learnt=new)
    if knowledge is None:
        raise DataError(problems)
