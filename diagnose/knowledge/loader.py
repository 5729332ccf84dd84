"""The story of the knowledge: files -> (cache, or else documents -> records -> rules) -> Knowledge.

What yields the knowledge from a filled cache imports neither YAML nor the rules.
"""

from __future__ import annotations

from pathlib import Path

from diagnose.errors import DataError, Problem
from diagnose.knowledge import cache
from diagnose.knowledge.files import (
    chosen_folder,
    chosen_overlay,
    overlay_place,
    read_folder,
    read_overlay_files,
    shipped,
    shipped_folder,
)
from diagnose.knowledge.records import Knowledge

__all__ = ["check", "load", "shipped", "shipped_folder"]


def load(folder: Path | None = None, overlay: Path | None = None, learnt: bool | Path = True) -> Knowledge:
    """The checked knowledge of the folder (default: DIAGNOSE_KNOWLEDGE, else what is shipped) with the shop's
    overlay over it (default: see `files.chosen_overlay`), and over that what was learnt beside it (False:
    not; a path: this in its place).

    Raises:
        DataError: with every problem of every file.
    """
    knowledge, problems = check(folder, overlay, learnt)
    if knowledge is None:
        raise DataError(problems)
    return knowledge


def check(
    folder: Path | None = None, overlay: Path | None = None, learnt: bool | Path = True
) -> tuple[Knowledge | None, tuple[Problem, ...]]:
    """The knowledge (None if anything is wrong) and every problem, in order of place."""
    files, unread = read_folder(chosen_folder(folder))
    over, lost = read_overlay_files(_chosen(overlay, folder, learnt), learnt)
    texts, unread = (*files, *over), (*unread, *lost)
    if not unread and (known := cache.get(texts)):
        return known, ()
    from diagnose.knowledge.assemble import assemble  # brings YAML and the rules

    knowledge, problems = assemble(texts, unread)
    return (cache.put(knowledge, texts) if knowledge else None), problems


def notices(
    folder: Path | None = None, overlay: Path | None = None, learnt: bool | Path = True
) -> tuple[Problem, ...]:
    """What the overlays say in the words of an earlier version, and how it was read: nothing of it is an error.
    Arguments as of `load`; nothing where the knowledge does not hold together."""
    over, _ = read_overlay_files(_chosen(overlay, folder, learnt), learnt)
    texts = [text for text in over if b"prior" in text.content]
    if not texts:
        return ()
    knowledge, _ = check(folder, overlay, learnt)
    if knowledge is None:
        return ()
    from diagnose.forms.notes import Notes
    from diagnose.knowledge import earlier
    from diagnose.knowledge.overlay import read_overlay

    read = (read_overlay(text, Notes()) for text in texts)
    return tuple(earlier.notices((values for values in read if values is not None), knowledge))


def _chosen(overlay: Path | None, folder: Path | None, learnt: bool | Path) -> Path | None:
    """The overlay in use; where only a learnt one is tried out, the place where one would be."""
    return overlay_place(overlay, folder) if isinstance(learnt, Path) else chosen_overlay(overlay, folder)
