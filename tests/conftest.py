"""Tests never touch the user's own cache or cases; drawn examples and planning time are the same in every run."""

from __future__ import annotations

import itertools
import os
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import settings

settings.register_profile("steady", deadline=None, derandomize=True)
settings.load_profile("steady")

SHARING = (
    "tests/test_calibration.py",
    "tests/test_own_knowledge.py",
    "tests/handbook/",
    "tests/network/",
    "tests/planning/",
)
"""Files whose tests share what takes long to make, or other people's programs that take long to import."""
APART = "tests/test_scenarios.py"
"""Many tests that share nothing."""


def pytest_configure(config: pytest.Config) -> None:
    """Folders of their own, before any module is imported; the workers of one run inherit them, so that one
    reads the knowledge for all."""
    if not hasattr(config, "workerinput"):
        folder = TemporaryDirectory(prefix="diagnose-tests-")
        config.add_cleanup(folder.cleanup)
        os.environ["DIAGNOSE_CACHE"] = str(Path(folder.name) / "cache")
    os.environ["DIAGNOSE_OVERLAY"] = ""


@pytest.fixture(autouse=True, scope="session")
def _own_cases(tmp_path_factory: pytest.TempPathFactory) -> None:
    os.environ["DIAGNOSE_CASES"] = str(tmp_path_factory.mktemp("user") / "cases.sqlite")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Of several workers each begins with a stretch of the tests, and who is done takes over from the end of
    another's: first those that are better left together, last those that anyone can take over."""

    def rank(item: pytest.Item) -> int:
        return next((n for n, name in enumerate(SHARING) if item.nodeid.startswith(name)), len(SHARING))

    items.sort(key=lambda item: (item.nodeid.startswith(APART), rank(item)))


@pytest.fixture
def counted_time(monkeypatch: pytest.MonkeyPatch) -> None:
    """Planning time counted in looks at the clock, 5 ms each: the same plan on a busy machine."""
    from diagnose.planning import planner, rollout

    for module in (planner, rollout):
        ticks = itertools.count()
        monkeypatch.setattr(module, "monotonic", lambda ticks=ticks: next(ticks) * 0.005)
