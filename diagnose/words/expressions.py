"""What the trade calls things, each with the plain words that it stands for.

What comes with the program stands in `expressions.yaml`, in the form of `slang` in a knowledge file; a shop's
overlay adds its own in the same form. A plain word with a minus behind it is said to be lacking: `power-` is no
power, low power, gutless. From memory of the trade; no published list.
"""

from __future__ import annotations

import hashlib
from functools import lru_cache
from pathlib import Path

from diagnose.caching import kept, stamp
from diagnose.words.expression import Slang, as_slang

FILE = Path(__file__).with_name("expressions.yaml")


@lru_cache(maxsize=1)
def expressions() -> Slang:
    """What comes with the program. Raises DataError, with every problem of the file."""
    here = FILE.parent
    key = hashlib.sha256(stamp(here, here.parent / "forms").encode()).hexdigest()[:32]
    return tuple((said, tuple(plain)) for said, plain in kept("expressions", key, _made_anew))


def _made_anew() -> Slang:
    from diagnose.words.expression_form import read_expressions  # brings YAML

    return as_slang(read_expressions(FILE))
