"""Whether a run of words means one finding clearly, or which few it may mean."""

from __future__ import annotations

from collections.abc import Sequence

import diagnose.understanding.parts as kinds
from diagnose.understanding.candidate_ranking import ranked
from diagnose.understanding.content_words import LONE, telling
from diagnose.understanding.index import LIGHT, NameIndex
from diagnose.understanding.large import said_at_large
from diagnose.understanding.parts import Alternative, TextPart
from diagnose.understanding.segment import CANDIDATES, WordRun
from diagnose.understanding.signed_likeness import (
    ABSENT,
    FEATURES,
    PRESENT,
    UNCLEAR,
    Candidate,
    best_of,
    praise_of,
)
from diagnose.words.grammar import CIRCUMSTANCES, FAULTS, FLUIDS, QUANTITIES, SIGNS, WANTED
from diagnose.words.opposites import denied_by_praise
from diagnose.words.pieces import bare
from diagnose.words.polarity import DENIED, SOUND, SOUND_MARK, UNABLE
from diagnose.words.stems import stem, words

CLEAR = 0.85  # a likelihood from which nothing is asked
OBVIOUS = 0.75  # from here on words that name no sign and no fault are enough
LIKELY, AHEAD = 0.6, 3.0  # for the very words of a name: this will do, with so much lead over the next
MOST_OF_NAME = 0.7  # share of a name that was written
WRITTEN, WRITTEN_WHOLE = FEATURES.index("written"), FEATURES.index("written whole")
HALF, SHARE = 0.5, FEATURES.index("share")  # of a name or of what was said
SAME_WORDS, NAME_UNSAID = FEATURES.index("same words"), FEATURES.index("name unsaid")
MUCH_MORE, MORE = 0.2, 0.02  # of its name; of what was said
NEAR = 0.15  # share of the best one's likelihood, from which another one is near
WHOLE_NAME, MOST_COVERED = (
    0.75,
    0.8,
)  # where all that was said is a name, and nearly all of that name was said
NAMED = 0.9  # without a sign or a fault among its words a run must be as likely as this
ALL = 0.999  # but for rounding
PARTICULAR = 0.1  # from here on a finding that names the circumstances may be the one meant
ALONE, A_LITTLE_AHEAD = 0.4, 1.5  # for the very words of one name and no other
PLAIN, FAR_AHEAD, NEARLY_ALL = 0.65, 4.0, 0.8  # for a meaning that explains nearly all, far ahead of the next
LONG = 3  # words of a run that need not tell a sign where the name has them all
DENIED_LEAST = 0.45
"""Likelihood of the best choice for a question: a denial is said of few things (judgement)."""
FLUIDS_SAID = FLUIDS | {stem("water"), stem("exhaust"), stem("urea")}
_DIRECTIONS = frozenset(map(stem, words("low high late early slow fast wrong")))
MOST_UNSAID = 0.6  # share of a name: more of it unsaid, and another thing may be meant
DENIED_FAR = 0.97  # for a denial of what is not the finding's name
GENERAL_LEAST = 0.4  # for what is meant without the circumstances to be worth a question
LEAST, SOUND_LEAST = 0.3, 0.55  # the likeliest choice of a question; of what is said to be sound
ASK_SAME, LEAST_SAME = 0.35, 0.15  # where the very words of a name were said
ASK = 0.5  # what the choices of a question must reach together
CLOSE = 0.08  # a choice is worth showing if it has this share of the best one's likelihood
MOST = 3  # choices: as many as are read at a glance


def decided(index: NameIndex, run: WordRun, start: int, end: int, text: str) -> TextPart | None:
    """The part that a run comes to; None where nothing is near enough."""
    whole = _at_large(index, run)
    if whole:
        return TextPart(kinds.FINDING, start, end, text, whole[0], ABSENT, also=tuple(whole[1:]))
    praised = _praised(index, run)
    if praised:
        return TextPart(kinds.FINDING, start, end, text, praised[0], ABSENT, also=tuple(praised[1:]))
    found = ranked(index, run.candidates)
    if not _worth_a_look(index, run, found[0]):
        return None
    own = _very_name(index, run, text, found) or _without_circumstances(index, run, found)
    if own is not None:
        return TextPart(kinds.FINDING, start, end, text, index.ids[own.finding], own.state)
    if _clear(index, run, found):
        return TextPart(kinds.FINDING, start, end, text, found[0].id, found[0].state)
    kinds_of = _general_of(index, run, found)
    if kinds_of:
        return TextPart(kinds.FINDING, start, end, text, kinds_of, PRESENT)
    close = tuple(one for one in found[:MOST] if one.likelihood >= found[0].likelihood * CLOSE)
    general, _ = _core(index, run)
    if general is not None:
        close = (general, *[one for one in close if one.id != general.id][: MOST - 1])
        return TextPart(kinds.FINDING, start, end, text, sure=False, alternatives=tuple(map(_rounded, close)))
    if not _worth_asking(run, close):
        return None
    each = _denied_each(index, run, close)
    if each:
        return TextPart(kinds.FINDING, start, end, text, each[0], ABSENT, also=tuple(each[1:]))
    return TextPart(kinds.FINDING, start, end, text, sure=False, alternatives=tuple(map(_rounded, close)))


def _at_large(index: NameIndex, run: WordRun) -> Sequence[str]:
    """What is denied at large; a belt that is tight is not slack, and may squeal."""
    found = said_at_large(index, run.tokens) if run.whole else ()
    said = {raw for token in run.tokens for raw in token.raw if raw.startswith(SOUND_MARK)}
    if not said or not denied_by_praise(one.removeprefix(SOUND_MARK) for one in said).isdisjoint(_IN_GENERAL):
        return found
    against = praise_of(run.tokens)
    return [id for id in found if not against.isdisjoint(index.bag(index.ids.index(id)))]


def _praised(index: NameIndex, run: WordRun) -> list[str]:
    """The findings that say of the very thing that is praised the fault that the praise denies: the sea strainer
    is clean, and so not clogged."""
    if any(token.sign != SOUND or token.word in CIRCUMSTANCES for token in run.tokens):
        return []
    if len({token.word for token in run.tokens} - LIGHT.keys()) < TWO:
        return []  # a tank that is clean may be any tank
    against = praise_of(run.tokens)
    return [
        index.ids[one.finding]
        for one in run.candidates
        if one.state == ABSENT and one.explained >= ALL and one.unsaid and one.unsaid <= against
    ]


def _general_of(index: NameIndex, run: WordRun, found: Sequence[Alternative]) -> str:
    """The general finding of which all that is likely are kinds: what dies stops by itself, however it does."""
    if not telling(index, run) or _two_ways(run) or any(token.sign == SOUND for token in run.tokens):
        return ""
    near = [one for one in found if one.likelihood >= NEAR * found[0].likelihood and one.state == PRESENT]
    if not near:
        return ""
    families = [{one.id, *index.generals.get(one.id, ())} for one in near]
    shared = set.intersection(*families) & {id for ids in index.generals.values() for id in ids}
    if len(near) > 1 and near[0].likelihood >= max(LIKELY, A_LITTLE_AHEAD * near[1].likelihood):
        return near[0].id if near[0].id in index.generals or near[0].id in shared else ""
    if len(near) < 2 or not shared or sum(one.likelihood for one in near) < KINDS:
        return ""
    return (
        next(one.id for one in near if one.id in shared) if shared & {one.id for one in near} else min(shared)
    )


_IN_GENERAL = denied_by_praise([""])  # "ok" and "good" deny no fault of their own, and so any
TWO = 2  # words that name one part and no other
KINDS = 0.7  # what the kinds of one general finding must reach together


def _worth_a_look(index: NameIndex, run: WordRun, best: Alternative) -> bool:
    known = {token.word for token in run.tokens} & index.rarity.keys() - CIRCUMSTANCES
    very = any(one.features[SAME_WORDS] and not one.doubt and _as_written(one) for one in run.candidates)
    return telling(index, run) or (len(known) > 1 and (very or best.likelihood >= OBVIOUS))


def _clear(index: NameIndex, run: WordRun, found: Sequence[Alternative]) -> bool:
    """The likeliest meaning is taken without a question."""
    best = found[0]
    own = [one for one in run.candidates if index.ids[one.finding] == best.id]
    same = any(one.features[SAME_WORDS] and _meant_so(one) for one in own)
    if best.likelihood < _enough(index, run, own, found) or _when_told(index, run, found):
        return False
    if any(one.state == UNCLEAR for one in own) or _two_ways(run):
        return False
    content = {token.word for token in run.tokens} - CIRCUMSTANCES - {"in", "OK"}
    if (content & FLUIDS_SAID) - {word for one in own for word in (*index.name(one.finding), *one.words)}:
        return False  # a smell of fuel is none of exhaust
    if best.state == PRESENT and all(one.unsaid & (QUANTITIES | _DIRECTIONS) for one in own):
        return False  # low coolant is its level, and not its temperature
    sound = any(token.sign == SOUND for token in run.tokens)
    if best.state == ABSENT and not any(_denies_a_fault(index, run, one) for one in own):
        return False
    if best.state == ABSENT and not same and all(one.features[NAME_UNSAID] > HALF for one in own):
        return best.likelihood >= DENIED_FAR
    if sound and any(token.sign == DENIED for token in run.tokens):
        return False
    named_less = all(one.features[NAME_UNSAID] > MOST_UNSAID for one in own)
    if best.state == ABSENT and len(content) == 1 and (sound or not same or named_less):
        return False  # a valve that is ok may be any valve
    if not telling(index, run) and all(one.unsaid & FAULTS for one in own):
        return False  # what was load tested may have passed
    whole = len(content) > 1 and any(map(_whole_name, own))
    named = telling(index, run) or (
        best.likelihood >= (WHOLE_NAME if whole else NAMED) and _MEASURED.isdisjoint(content)
    )
    return named or (len(content) >= LONG and any(map(_as_written, own)))


def _denies_a_fault(index: NameIndex, run: WordRun, one: Candidate) -> bool:
    """What is praised or denied is a sign or a fault: "no fuel at the cylinders" does not deny fuel that runs out
    of one, and "started by itself, no problem" not that it did."""
    denied = [token for token in run.tokens if token.sign == DENIED and token.word in one.words]
    if denied:
        within = any(token.word == "in" for token in run.tokens)  # oil in the coolant is a fault
        return within or any(token.word not in WANTED for token in denied)
    name = index.name(one.finding)
    faults = SIGNS | FAULTS | LONE | praise_of(run.tokens)
    return not faults.isdisjoint({*one.words, *name}) or DENIED in name.values()


def _enough(index: NameIndex, run: WordRun, own: Sequence[Candidate], found: Sequence[Alternative]) -> float:
    """The likelihood from which nothing is asked: less for the very words of a name, and least where no other
    finding has them."""
    best, second = found[0].likelihood, found[1].likelihood if len(found) > 1 else 0.0
    if not any(one.features[SAME_WORDS] and _meant_so(one) for one in own):
        explained = max(one.explained for one in own)
        return PLAIN if explained >= NEARLY_ALL and best >= FAR_AHEAD * second else CLEAR
    if own[0].state == PRESENT and _whole_name(own[0]) and best >= max(WHOLE_NAME, FAR_AHEAD * second):
        return WHOLE_NAME
    likely = {one.id for one in found if one.likelihood >= NEAR * best}
    if any(index.ids[one.finding] in likely and _as_near(one, own) for one in run.candidates):
        return CLEAR
    alone = (
        sum(bool(one.features[SAME_WORDS]) and _meant_so(one) and not one.doubt for one in run.candidates)
        == 1
    )
    if alone and best >= A_LITTLE_AHEAD * second:
        return ALONE
    return LIKELY if best >= AHEAD * second else CLEAR


def _whole_name(one: Candidate) -> bool:
    """All that was said is one of the finding's names, and all of that name was said."""
    return one.explained >= ALL and one.covered >= MOST_COVERED and one.unsaid.isdisjoint(FAULTS)


def _as_near(one: Candidate, own: Sequence[Candidate]) -> bool:
    """A finding that explains all as well, with more of its name said: another filter may have collapsed."""
    best = own[0]
    return (
        one.finding != best.finding
        and one.explained >= ALL
        and not one.doubt
        and one.features[NAME_UNSAID] + MUCH_MORE <= best.features[NAME_UNSAID]
    )


def _when_told(index: NameIndex, run: WordRun, found: Sequence[Alternative]) -> bool:
    """It was said when it shows, of which the likeliest finding says less than another likely one."""
    if CIRCUMSTANCES.isdisjoint(token.word for token in run.tokens):
        return False
    explained = {index.ids[one.finding]: one.explained for one in run.candidates}
    least = PARTICULAR * found[0].likelihood
    return any(
        one.likelihood >= least and explained[one.id] > explained[found[0].id] + MORE for one in found[1:]
    )


def _denied_each(index: NameIndex, run: WordRun, close: Sequence[Alternative]) -> list[str]:
    """A sign denied without circumstances is denied of every finding that is called so: no white smoke."""
    heads = [token for token in run.tokens if token.sign == DENIED]
    if (
        not heads
        or not all(token.word in SIGNS for token in heads)
        or any(UNABLE in t.raw for t in run.tokens)
    ):
        return []
    if any(token.word in CIRCUMSTANCES or token.sign == SOUND for token in run.tokens):
        return []
    whole = {
        index.ids[one.finding]
        for one in run.candidates
        if one.state == ABSENT
        and not one.doubt
        and one.explained >= ALL
        and all(token.word in index.name(one.finding) for token in heads)
    }
    return [one.id for one in close] if all(one.id in whole for one in close) else []


def _worth_asking(run: WordRun, close: Sequence[Alternative]) -> bool:
    """The choices are likely enough to bother somebody with."""
    sound = any(token.sign == SOUND for token in run.tokens)
    exact = any(one.features[SAME_WORDS] and not one.doubt for one in run.candidates)
    denied = close[0].state == ABSENT
    together, least = ASK, SOUND_LEAST if sound else DENIED_LEAST if denied else LEAST
    if exact and not sound:
        together, least = ASK_SAME, LEAST_SAME
    return sum(one.likelihood for one in close) >= together and close[0].likelihood >= least


def _without_circumstances(index: NameIndex, run: WordRun, found: Sequence[Alternative]) -> Candidate | None:
    """What is meant whatever the circumstances, where nothing likely names them: it dies on bumps."""
    alone, clear = _core(index, run)
    if alone is None or not clear:
        return None
    number = index.ids.index(alone.id)
    own = next((one for one in run.candidates if one.finding == number), None)
    return None if own is None or _particular(index, run, found, own) else own


def _particular(index: NameIndex, run: WordRun, found: Sequence[Alternative], general: Candidate) -> bool:
    """A likely finding explains more of what was said: it has the circumstances in its name, too."""
    likely = {one.id for one in found if one.likelihood >= PARTICULAR}
    return any(
        index.ids[one.finding] in likely and one.explained > general.explained + MORE
        for one in run.candidates
    )


def _core(index: NameIndex, run: WordRun) -> tuple[Alternative | None, bool]:
    """What a run likely means when its circumstances are left out, and whether that is clear."""
    core = tuple(token for token in run.tokens if token.word not in CIRCUMSTANCES)
    if not core or len(core) == len(run.tokens):
        return None, False
    rest = WordRun(core, tuple(best_of(index, core, CANDIDATES)))
    alone = ranked(index, rest.candidates)
    if not alone or not telling(index, rest) or alone[0].likelihood < GENERAL_LEAST:
        return None, False
    return alone[0], _clear(index, rest, alone)


def _very_name(index: NameIndex, run: WordRun, text: str, found: Sequence[Alternative]) -> Candidate | None:
    """The one candidate by whose very name or alias the run goes, where no other has it too."""
    same = [
        one for one in run.candidates if one.features[SAME_WORDS] and not one.doubt and one.state == PRESENT
    ]
    if _two_ways(run):
        return None
    likely = {one.id for one in found if one.likelihood >= HALF * found[0].likelihood}
    same = [one for one in same if index.ids[one.finding] in likely]
    named = [one for one in same if any(bare(name) == bare(text) for name in index.texts(one.finding))]
    return named[0] if len(named) == 1 and telling(index, run) else None


def _two_ways(run: WordRun) -> bool:
    """A denial is the very name of one finding and denies that of another: no oil leaks."""
    same = {one.state for one in run.candidates if one.features[SAME_WORDS] and not one.doubt}
    return {PRESENT, ABSENT} <= same and all(token.sign == DENIED for token in run.tokens)


def _meant_so(one: Candidate) -> bool:
    """The words were written so, or most names of the finding say this and nothing else."""
    return one.features[WRITTEN_WHOLE] > HALF or one.features[SHARE] >= HALF


def _as_written(one: Candidate) -> bool:
    """Every word that was said stands in the name, and most of the name was said."""
    return one.features[WRITTEN] == 1.0 and one.features[WRITTEN_WHOLE] >= MOST_OF_NAME


_MEASURED = frozenset(
    map(
        stem,
        words("""temperature pressure level voltage speed sensor switch signal inhibit consumption filter"""),
    )
)
"""What is only measured or named, and so tells nothing by itself."""


def _rounded(one: Alternative) -> Alternative:
    return Alternative(one.id, one.state, round(one.likelihood, 3))
