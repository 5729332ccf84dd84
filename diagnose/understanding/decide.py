"""Whether a run of words means one finding clearly, or which few it may mean."""

from __future__ import annotations

import diagnose.understanding.parts as kinds
from diagnose.understanding.grammar import CIRCUMSTANCES, SIGNS
from diagnose.understanding.index import Index
from diagnose.understanding.large import GENERAL, SOUND_AT_LARGE, at_large, sound_at_large
from diagnose.understanding.likeness import ABSENT, FAULTS, FEATURES, UNCLEAR, Candidate
from diagnose.understanding.parts import Alternative, Part
from diagnose.understanding.polarity import SOUND, THERE
from diagnose.understanding.ranking import ranked
from diagnose.understanding.segment import Run
from diagnose.understanding.stems import stem, words

CLEAR = 0.85  # a likelihood from which nothing is asked
OBVIOUS = 0.75  # from here on words that name no sign and no fault are enough
LIKELY, AHEAD = 0.6, 3.0  # for the very words of a name: this will do, with so much lead over the next
MOST_OF_NAME = 0.7
WRITTEN, WRITTEN_WHOLE = FEATURES.index("written"), FEATURES.index("written whole")
SAME_WORDS = FEATURES.index("same words")
NAMED = 0.9  # without a sign or a fault among its words a run must be as likely as this
LEAST, SOUND_LEAST = 0.3, 0.55  # the likeliest choice of a question; of what is said to be sound
ASK_SAME, LEAST_SAME = 0.35, 0.15  # where the very words of a name were said
ASK = 0.5  # what the choices of a question must reach together
CLOSE = 0.08  # a choice is worth showing if it has this share of the best one's likelihood
MOST = 3


def decided(index: Index, run: Run, start: int, end: int, text: str) -> Part | None:
    """The part that a run comes to; None where nothing is near enough."""
    words = frozenset(token.word for token in run.tokens)
    if sound_at_large(run.tokens):
        known = [id for id in SOUND_AT_LARGE[words - {"OK"}] if id in index.ids]
        if known:
            return Part(kinds.FINDING, start, end, text, known[0], ABSENT, also=tuple(known[1:]))
    if at_large(run.tokens):
        known = [id for id in GENERAL[words] if id in index.ids]
        if known:
            return Part(kinds.FINDING, start, end, text, known[0], ABSENT, also=tuple(known[1:]))
    found = ranked(index, run.candidates)
    best = found[0]
    if not telling(index, run) and not (
        best.likelihood >= OBVIOUS and len(words & index.rarity.keys() - CIRCUMSTANCES) > 1
    ):
        return None
    unclear = {index.ids[one.finding] for one in run.candidates if one.state == UNCLEAR}
    second = found[1].likelihood if len(found) > 1 else 0.0
    same = any(index.ids[one.finding] == best.id and one.features[SAME_WORDS] for one in run.candidates)
    enough = best.likelihood >= (LIKELY if same and best.likelihood >= AHEAD * second else CLEAR)
    content = words - CIRCUMSTANCES - {"in"}
    named = telling(index, run) or (best.likelihood >= NAMED and _MEASURED.isdisjoint(content))
    if len(content) >= 3:
        named = named or any(index.ids[one.finding] == best.id and _as_written(one) for one in run.candidates)
    if enough and best.id not in unclear and named:
        return Part(kinds.FINDING, start, end, text, best.id, best.state)
    close = tuple(one for one in found[:MOST] if one.likelihood >= best.likelihood * CLOSE)
    sound = any(token.sign == SOUND for token in run.tokens)
    exact = any(one.features[SAME_WORDS] and not one.doubt for one in run.candidates)
    together, least = (
        (ASK_SAME, LEAST_SAME) if exact and not sound else (ASK, SOUND_LEAST if sound else LEAST)
    )
    if sum(one.likelihood for one in close) < together or best.likelihood < least:
        return None
    return Part(kinds.FINDING, start, end, text, sure=False, alternatives=tuple(map(_rounded, close)))


def _as_written(one: Candidate) -> bool:
    """Every word that was said stands in the name, and most of the name was said."""
    return one.features[WRITTEN] == 1.0 and one.features[WRITTEN_WHOLE] >= MOST_OF_NAME


LONE = SIGNS | frozenset(
    map(
        stem,
        words(
            """power fade overheat derate overspeed hydrolock wax milky intermittent sudden charge prime
        throttle metal steam grey hard gas loss overcool fuelout flat dust ether needs lightoff mark click blow
        ammonia sweet often dim flicker sulphur needs gurgle squeak slap rumble bark cough swollen puff
        pop smell bent slow lose needs boil gelled lefton"""
        ),
    )
) - {stem("lamp"), stem("code"), stem("fault")}
"""Words that say something by themselves."""


def telling(index: Index, run: Run) -> bool:
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
        not content.isdisjoint(LONE | FAULTS)
        or any(token.sign != THERE or token.word == "SAME" for token in run.tokens)
        or any(token.word == "in" for token in run.tokens[1:-1])
    )


_MEASURED = frozenset(
    map(
        stem,
        words("""temperature pressure level voltage speed sensor switch signal inhibit consumption filter"""),
    )
)
"""What is only measured or named, and so tells nothing by itself."""
_NEEDS_SIGN = frozenset(map(stem, words("power charge prime throttle metal hard gas loss open fall")))


def _rounded(one: Alternative) -> Alternative:
    return Alternative(one.id, one.state, round(one.likelihood, 3))
