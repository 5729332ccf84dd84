"""Whole cases played in the bay: `python -m tests.bay.play`, `--write` for the transcripts too."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from statistics import median

from tests.bay.person import plays
from tests.bay.stage import SIZES, Performance, Step, file, perform

COMMAND = "python -m tests.bay.play --write"


def main() -> None:
    """Play the cases named, or all; print keys and processor time of each step; `--write` keeps the transcripts."""
    parser = argparse.ArgumentParser(description=main.__doc__)
    parser.add_argument("names", nargs="*", help="of plays; all where none is named")
    parser.add_argument("--width", type=int, action="append", choices=SIZES, help="one of the two only")
    parser.add_argument("--write", action="store_true", help="write the transcripts")
    options = parser.parse_args()
    played = []
    for play in plays():
        if options.names and play.id not in options.names:
            continue
        for width in options.width or SIZES:
            shown = perform(play, width)
            played.append(shown)
            print(table(shown), flush=True)
            if options.write:
                file(play, width).write_text(shown.text, encoding="utf-8")
    print(summary([step for shown in played for step in shown.steps[1:]]))


def table(shown: Performance) -> str:
    """Keys and processor time of each step."""
    rows = [
        f"  {step.first[:20]:20} {step.questions:4} answers {step.keys:4} keys {step.pages:2} pages"
        f"  {step.seconds:6.2f} s, slowest {step.slowest:5.2f} s"
        for step in shown.steps
    ]
    whole = sum(step.keys for step in shown.steps), sum(step.seconds for step in shown.steps)
    return "\n".join([f"{shown.play.id} at {shown.width}: {whole[0]} keys, {whole[1]:.1f} s", *rows])


def summary(steps: Sequence[Step]) -> str:
    """Keys of a step and processor time of an answer, over all steps but the opening of the case."""
    keys, seconds = [step.keys for step in steps], [step.slowest for step in steps]
    if not steps:
        return "nothing was played"
    return (
        f"{len(steps)} steps: {median(keys):.0f} keys a step, {max(keys)} at most; the slowest answer of a step "
        f"takes {median(seconds):.2f} s of the processor, {max(seconds):.2f} s at most"
    )


if __name__ == "__main__":
    main()
