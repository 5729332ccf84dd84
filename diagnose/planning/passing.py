"""What is asked of the driver and seen in passing: done in one go, before anything is opened, run or measured.

A technician asks first, all that matters at once, then goes to the machine (common practice). So what is asked
counts as one step of the way: all of it that is worth its minutes is done together, and once the driver was
asked a further question comes first only where nothing else saves as much.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from diagnose.diagnosis import Diagnosis
from diagnose.knowledge.away import is_away
from diagnose.knowledge.observable import is_look, is_question, is_where, observable
from diagnose.knowledge.records import Check, Knowledge
from diagnose.planning.options import CheckOption, empty_handed
from diagnose.planning.placing import is_placing
from diagnose.planning.savings import WORTH_IT, Saving
from diagnose.planning.situation import Situation
from diagnose.planning.unasked import bearing

MOSTLY = 2 / 3
"""Share of them in a check that counts as asking (judgement)."""
BRIEF, TALK = 5.0, 10.0
"""Minutes of one such check at most, and of all that is asked in one go (judgement)."""
MAIN = 0.2
"""Share of what is in question on which a question must bear to be asked beside another (judgement): a cause of a
tenth is not hunted by its side signs, such as the charge lamp of an engine that overheats."""


def in_passing(knowledge: Knowledge, option: CheckOption) -> bool:
    """Whether the driver is asked for it, or it is seen in passing."""
    return _asked(knowledge, option.check) if option.check else _unchecked(option.id)


def _unchecked(id: str) -> bool:
    """Whether it is a question, for a place too, or a look without a procedure."""
    return is_question(id) or is_look(id) or is_where(id)


def passing(knowledge: Knowledge, now: Situation, numbers: Iterable[int]) -> list[int]:
    """Those of the checks, by number, that are asked or seen in passing."""
    return [n for n in numbers if in_passing(knowledge, now.checks[n])]


def were_asked(diagnosis: Diagnosis) -> bool:
    """Whether something was asked since the last repair."""
    known, done = diagnosis.knowledge.checks, diagnosis.case.epochs[-1].checks
    return any(_unchecked(id) or (id in known and _asked(diagnosis.knowledge, known[id])) for id in done)


def in_one_go(
    diagnosis: Diagnosis, now: Situation, saved: Mapping[int, Saving], among: Iterable[int]
) -> list[int]:
    """Of what is asked, by number, all that saves enough beside the check that saves the most and bears on much of
    what is in question, the most first; as much as can be asked at once."""
    least = WORTH_IT * max((one.money for one in saved.values()), default=0.0)
    chosen, minutes = list[int](), 0.0
    bears = [n for n in among if belongs(diagnosis, now.checks[n])]
    for number in sorted(bears, key=lambda n: (-saved[n].money, n)):
        minutes += now.minutes(number)
        if saved[number].money <= max(least, 0.0) or minutes > TALK:
            break
        chosen.append(number)
    return chosen


def belongs(diagnosis: Diagnosis, option: CheckOption) -> bool:
    """Whether it is worth asking beside another question; a fact of the machine and a place always are."""
    return is_question(option.id) or is_where(option.id) or bearing(diagnosis, option.findings) >= MAIN


def to_the_point(diagnosis: Diagnosis, option: CheckOption) -> bool:
    """Whether a check bears on what is in question: only then it comes before another for being quick. Nobody
    measures the coolant before the sump of an engine whose bearings knock comes off (common practice)."""
    taken_apart = any(is_away(id) or is_placing(id) for id in option.findings)
    return option.check is None or taken_apart or bearing(diagnosis, option.findings) >= MAIN


def _asked(knowledge: Knowledge, check: Check) -> bool:
    """A check that takes no tool and asks nothing of the machine, and mostly what can be told."""
    told = [observable(knowledge, id).in_passing for id in check.reveals]
    return empty_handed(check) and check.minutes.value <= BRIEF and sum(told) >= MOSTLY * len(told) > 0
