"""Ordinary cases, known and unknown families: nothing that was found is set aside."""

from __future__ import annotations

import pytest

from diagnose.evidence.engaged import with_engine
from tests.benchmarks.drawn_cases import drawn_cases
from tests.shipped import shipped_knowledge


@pytest.mark.slow
def test_nothing_is_set_aside_in_ordinary_cases() -> None:
    """Three to twelve findings; raises TooWide where some would have to be left out."""
    for case in drawn_cases(shipped_knowledge(), 36, 3, 12):
        _, engine, thin = with_engine(case.built, case.evidence)
        engine.check()
        assert thin is None or thin.error < 0.1
