"""Tests never touch the user's own cache or cases."""

from __future__ import annotations

import os
from pathlib import Path

import pytest


@pytest.fixture(autouse=True, scope="session")
def _own_folders(tmp_path_factory: pytest.TempPathFactory) -> None:
    folder: Path = tmp_path_factory.mktemp("user")
    os.environ["DIAGNOSE_CACHE"] = str(folder / "cache")
    os.environ["DIAGNOSE_OVERLAY"] = ""
    os.environ["DIAGNOSE_CASES"] = str(folder / "cases.sqlite")
