"""What a knowledge, or a shop's overlay of it, calls things besides what is built in."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from diagnose.caching import stamp
from diagnose.knowledge.records import Knowledge
from diagnose.words import expressions
from diagnose.words.expression import Slang, as_slang


def of_shop(knowledge: Knowledge) -> Slang:
    """What is said there, with the plain words that it stands for."""
    return tuple((said.lower(), plain) for said, plain in as_slang(knowledge.slang.values()))


@lru_cache(maxsize=1)
def reader() -> str:
    """Changes with every change of how texts are read, so that what was read otherwise is read anew."""
    return stamp(Path(__file__).parent, expressions.FILE.parent)
