"""Figures that are nearly equal, also in a tuple or a record: there mypy takes those of pytest for another type."""

from __future__ import annotations

from typing import Any

import pytest


def near(figures: Any, **how: Any) -> Any:
    """`pytest.approx` of a figure, or of some."""
    return pytest.approx(figures, **how)
