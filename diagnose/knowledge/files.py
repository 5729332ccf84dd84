"""Where data that comes with the program lies, and the content of the files of a folder."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path

from diagnose.errors import Place, Problem
from diagnose.forms.content import read_bytes

FOLDER_VARIABLE = "DIAGNOSE_KNOWLEDGE"
OVERLAY_VARIABLE = "DIAGNOSE_OVERLAY"
LEARNT = ".learnt.yaml"
"""Ending of the overlay that the program learns."""
FORMAT = "1"  # raise it when the meaning of the files or records changes


@dataclass(frozen=True, slots=True)
class FileText:
    """The content of one file, under the name that places show. `overlay`: it changes what the others say."""

    name: str
    content: bytes
    overlay: bool = False


def shipped(name: str) -> Path:
    """A folder of data that comes with the program: from a checkout or from the installed package."""
    package = Path(__file__).resolve().parents[1]
    installed = package / "shipped" / name
    return installed if installed.is_dir() else package.parent / name


def shipped_folder() -> Path:
    """The folder of the knowledge that comes with the program."""
    return shipped("knowledge")


def chosen_folder(folder: Path | None = None) -> Path:
    """The folder given, else that of the environment variable DIAGNOSE_KNOWLEDGE, else the shipped one."""
    if folder is not None:
        return folder
    named = os.environ.get(FOLDER_VARIABLE)
    return Path(named) if named else shipped_folder()


def chosen_overlay(overlay: Path | None = None, folder: Path | None = None) -> Path | None:
    """The shop's overlay: the file (or folder of files) given, else that of DIAGNOSE_OVERLAY (empty: none).

    Else `overlay.yaml` in the user's configuration folder, where it (or what was learnt beside it) exists and
    no other `folder` was given: it was written for the knowledge in daily use.
    """
    chosen = overlay_place(overlay, folder)
    demanded = overlay is not None or OVERLAY_VARIABLE in os.environ
    if chosen is None or demanded or chosen.exists() or learnt_beside(chosen).exists():
        return chosen
    return None


def overlay_place(overlay: Path | None = None, folder: Path | None = None) -> Path | None:
    """Where the overlay lies, or would lie were there one; None where none is to be used."""
    if overlay is not None:
        return overlay
    named = os.environ.get(OVERLAY_VARIABLE)
    if named is not None:
        return Path(named) if named else None
    if folder is not None:
        return None
    from platformdirs import user_config_path

    return user_config_path("diesel-diagnose") / "overlay.yaml"


def learnt_beside(overlay: Path) -> Path:
    """Where what was learnt lies: `shop.learnt.yaml` beside the overlay `shop.yaml`, or beside the folder
    `shop`."""
    return overlay.with_name(f"{overlay.name.removesuffix('.yaml')}{LEARNT}")


def read_overlay_files(
    overlay: Path | None, learnt: bool | Path = True
) -> tuple[tuple[FileText, ...], tuple[Problem, ...]]:
    """The content of the overlay's file or files, and over it what was learnt; and what cannot be read.

    `learnt`: False leaves that out; a path is read in its place. With it the overlay itself need not exist.
    """
    if overlay is None:
        return (), ()
    beside = learnt_beside(overlay) if isinstance(learnt, bool) else learnt
    over = [beside] if learnt is not False and beside.exists() else []
    missed = not (
        beside.exists() or learnt_beside(overlay).exists()
    )  # nothing stands for it: a slip of the pen
    texts, problems = _overlay_itself(overlay) if overlay.exists() or missed else ((), ())
    contents = [(path, read_bytes(path)) for path in over]
    return (
        (
            *texts,
            *(FileText(str(path), content, True) for path, content in contents if isinstance(content, bytes)),
        ),
        (*problems, *(content for _, content in contents if isinstance(content, Problem))),
    )


def _overlay_itself(overlay: Path) -> tuple[tuple[FileText, ...], tuple[Problem, ...]]:
    if overlay.is_dir():
        texts, problems = read_folder(overlay)
        return tuple(replace(text, overlay=True) for text in texts), problems
    content = read_bytes(overlay)
    if isinstance(content, Problem):
        return (), (content,)
    return (FileText(str(overlay), content, overlay=True),), ()


def read_folder(folder: Path) -> tuple[tuple[FileText, ...], tuple[Problem, ...]]:
    """The knowledge files of a folder in order of name, and what cannot be read."""
    try:
        paths = sorted(folder.glob("*.yaml"))
    except OSError:
        paths = []
    if not paths:
        hint = "name a folder with .yaml files"
        return (), (Problem("K001", Place(str(folder)), "holds no knowledge", hint),)
    contents = [(path, read_bytes(path)) for path in paths]
    texts = tuple(FileText(str(path), content) for path, content in contents if isinstance(content, bytes))
    return texts, tuple(content for _, content in contents if isinstance(content, Problem))


def version(texts: Iterable[FileText]) -> str:
    """Hash of the names and contents of the files (not of the folder they lie in) and of the format."""
    digest = hashlib.sha256(FORMAT.encode())
    for text in texts:
        kind = "overlay " if text.overlay else ""
        digest.update(f"\0{kind}{Path(text.name).name}\0{len(text.content)}\0".encode())
        digest.update(text.content)
    return digest.hexdigest()
