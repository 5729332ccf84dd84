"""Completion on a shell, as click asks for it."""

from __future__ import annotations

import click
import pytest
from click.shell_completion import ShellComplete

from diagnose.cli.main import program


def completed(*words: str) -> set[str]:
    """What is offered after these words of a call, the last one unfinished."""
    *before, last = words
    asked = ShellComplete(program, {}, "diagnose", "_DIAGNOSE_COMPLETE")
    return {item.value for item in asked.get_completions(list(before), last)}


@pytest.mark.usefixtures("call")
def test_families_causes_and_checks_are_completed() -> None:
    assert "old_six" in completed("new", "P-1", "--family", "o")
    assert "measure_batteries" in completed("note", "--check", "mea")
    assert completed("note", "--repaired", "res") == {"reseal"}
    assert "next" in completed("ne")
    assert isinstance(program, click.Group)
