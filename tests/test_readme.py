"""The README's example is what the program says, and the page stays short."""

from __future__ import annotations

from pathlib import Path

from tests.calling import run

README = Path(__file__).parents[1] / "README.md"
MOST_WORDS = 600


def test_the_example_is_what_is_shown() -> None:
    sample = README.read_text().split("```\n$ diagnose ")[1].split("```")[0]
    call, *lines = sample.splitlines()
    shown = run(*call.split()).output
    parts = [part.strip("\n") for part in "\n".join(lines).split("...\n")]
    for part in parts:
        assert part.removesuffix("\n...") in shown, part


def test_the_page_is_short() -> None:
    assert len(README.read_text().split()) < MOST_WORDS
