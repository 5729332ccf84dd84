"""Whether words say anything by themselves, or only name a part."""

from __future__ import annotations

from diagnose.understanding.index import NameIndex
from diagnose.understanding.segment import WordRun
from diagnose.words.grammar import CIRCUMSTANCES, FAULTS, SIGNS
from diagnose.words.polarity import THERE
from diagnose.words.stems import stem, words

LONE = SIGNS | frozenset(
    map(
        stem,
        words(
            """power fade overheat derate overspeed hydrolock wax milky intermittent sudden charge prime
        throttle metal steam grey hard gas loss overcool fuelout flat dust ether needs lightoff mark click blow
        ammonia sweet often dim flicker sulphur needs gurgle squeak slap rumble bark cough swollen puff
        pop smell bent slow lose needs boil gelled lefton dead"""
        ),
    )
) - {stem("lamp"), stem("code"), stem("fault")}
"""Words that say something by themselves."""


def telling(index: NameIndex, run: WordRun) -> bool:
    """Whether a run says anything: a sign, a fault of something, something denied; not just the name of a part."""
    content = {token.word for token in run.tokens} & index.rarity.keys() - CIRCUMSTANCES - {
        "OK",
        "in",
        "SAME",
    }
    if not content:
        return False
    if len(content) == 1:
        (word,) = content
        signed = any(token.word == word and token.sign != THERE for token in run.tokens)
        return (word in LONE - _NEEDS_SIGN) or signed
    return (
        not content.isdisjoint(LONE | FAULTS | _DOES)
        or any(token.sign != THERE or token.word == "SAME" for token in run.tokens)
        or any(token.word == "in" for token in run.tokens[1:-1])
    )


_DOES = frozenset(
    map(stem, words("rise soot run slip dry fill fuzz charred weed turn empty swollen carbon rust"))
)
"""What a part does or is, which tells something beside the part's name."""
_NEEDS_SIGN = frozenset(map(stem, words("power charge prime throttle metal hard gas loss open fall")))
