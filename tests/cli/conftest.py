"""The commands as a user calls them: on a case store of their own and a small knowledge."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import Result

from diagnose.knowledge.loader import load
from diagnose.knowledge.records import Knowledge
from tests.calling import run

FOLDER = Path(__file__).parent / "knowledge"

Call = Callable[..., Result]
Shown = Callable[..., Any]


@pytest.fixture(scope="session")
def small() -> Knowledge:
    return load(FOLDER)


@pytest.fixture
def call(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Call:
    """Call the program; the exit code is asserted."""
    monkeypatch.setenv("DIAGNOSE_KNOWLEDGE", str(FOLDER))
    monkeypatch.setenv("DIAGNOSE_CASES", str(tmp_path / "cases.sqlite"))
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.delenv("DIAGNOSE_SHOP", raising=False)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    return run


@pytest.fixture
def shown(call: Call) -> Shown:
    """Call the program with --json; the schema is asserted, the values are returned."""

    def run(*args: str, code: int = 0) -> Any:
        values = json.loads(call(*args, "--json", code=code).stdout)
        name = "-".join(args[:2]) if args[0] == "knowledge" else args[0]
        assert values["schema"] == f"diagnose.{name}/1"
        return values

    return run
