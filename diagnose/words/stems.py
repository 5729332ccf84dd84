"""The stem of a word: its ending cut, irregular forms made regular."""

from __future__ import annotations

import re
from functools import lru_cache

_IRREGULAR = {
    "ran": "run", "blew": "blow", "broke": "break", "broken": "break", "lost": "lose", "went": "go", "gone": "go",
    "came": "come", "froze": "freeze", "began": "begin", "took": "take", "drew": "draw",
    "fell": "fall", "fallen": "fall", "got": "get", "felt": "feel", "heard": "hear", "wore": "worn",
    "dying": "die", "died": "die", "dies": "die", "losing": "lose", "loosing": "lose", "loses": "lose",
    "using": "use", "uses": "use", "used": "use", "leaves": "leave", "valves": "valve", "hoses": "hose",
    "gauges": "gauge", "noises": "noise", "gases": "gas", "busses": "bus", "fuses": "fuse", "bogs": "bog",
    "going": "go", "doing": "do",
}  # fmt: skip
_KEPT = frozenset(["quite", "left", "stuck"])  # their endings are none
_ENDINGS = ("ings", "ing", "edly", "ed", "es", "s", "ly")
_DOUBLED = re.compile(r"([bdgmnprt])\1$")


@lru_cache(maxsize=1 << 14)
def stem(word: str) -> str:
    """The word without its ending."""
    if word in _KEPT:
        return word
    word = _IRREGULAR.get(word, word)
    if word.endswith(("eed", "eeds")):
        return word.removesuffix("s")
    for ending in _ENDINGS:
        if word.endswith(ending) and len(word) - len(ending) >= 3 and not word.endswith("ss"):
            rest = word[: -len(ending)]
            return (_DOUBLED.sub(r"\1", rest) if ending[-1] in "gd" else rest).removesuffix("e")
    return word.removesuffix("e") if len(word) > 4 else word


def words(text: str) -> list[str]:
    """A text's words, to write long lists of them short."""
    return text.split()
