"""The list of cases: what leads, what is next, what it waits for, who and when. Read, never worked out."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import asdict

from rich.console import Group, RenderableType
from rich.text import Text

from diagnose.cases.kept_advice import KeptAdvice
from diagnose.cases.store import Summary
from diagnose.cases.times import day
from diagnose.report.data import Json
from diagnose.report.record import waiting_words
from diagnose.report.screen_words import count, listed, percent
from diagnose.report.text import QUIET, STRONG, WARN, Pieces, foot, grid, line

NOT_LOOKED = "nobody looked yet: diagnose next -c {}"


def in_order(found: Iterable[Summary]) -> list[Summary]:
    """The open ones first, the latest first among them."""
    by_time = sorted(found, key=lambda one: (one.latest, one.number), reverse=True)
    return sorted(by_time, key=lambda one: (one.void, one.closed, not one.problem))


def fitting(
    found: Iterable[Summary], told: Mapping[int, KeptAdvice], words: Sequence[str], waiting: Collection[str]
) -> list[Summary]:
    """Those of the machine that the words name, else those that hold every word, and wait for any of `waiting`, if
    any is given."""
    cases = [one for one in found if not waiting or set(waiting) & set(one.waits_for)]
    if not words:
        return cases
    wanted = " ".join(words).casefold()
    machine = [one for one in cases if one.machine.casefold() == wanted]
    if machine:
        return machine
    parts = [word for text in words for word in text.casefold().split()]
    texts = {one.number: _text(one, last(one, told)) for one in cases}
    return [one for one in cases if all(part in texts[one.number] for part in parts)]


def _text(one: Summary, told: KeptAdvice | None) -> str:
    """All that a case can be found by."""
    words = [one.machine, one.complaint, one.by, *one.waits_for, one.waits_text]
    words += [told.name, told.move] if told else []
    return f"{one.number} {' '.join(words)}".casefold()


def last(one: Summary, told: Mapping[int, KeptAdvice]) -> KeptAdvice | None:
    """What was last told of the case; what was told of another one that had its number does not count."""
    found = told.get(one.number)
    return found if found and found.opened == one.opened and found.entries <= one.events else None


def cases_screen(
    found: Sequence[Summary],
    told: Mapping[int, KeptAdvice],
    names: Callable[[str], str],
    most: int | None,
    asked: bool,
) -> RenderableType:
    """The cases in order, at most so many; `names`: of causes, by id; `asked`: whether only some were asked for."""
    if not found and not asked:
        return Group(line("No case yet."), *foot("diagnose new MACHINE COMPLAINT, or diagnose bay"))
    if not found:
        return Group(line("No case fits."), *foot("diagnose cases (all of them)"))
    table = grid("right", "left", "left")
    for one in found[:most]:
        for row in _rows(one, last(one, told), names):
            table.add_row(*row)
    rest = len(found) - len(found[:most])
    step = "diagnose cases NUMBER (its history), MACHINE or WORDS; diagnose next -c NUMBER"
    return Group(table, *_more(found, rest), *foot(step))


def _more(found: Sequence[Summary], rest: int) -> Pieces:
    opened = sum(not (one.closed or one.void or one.problem) for one in found)
    words = f"{count(len(found), 'case')}, {count(opened, 'open', 'open')}"
    more = f"; {rest} more: --all, -n NUMBER, or words to look for" if rest else ""
    yield line(f"{words}{more}", style=QUIET)


def _rows(
    one: Summary, told: KeptAdvice | None, names: Callable[[str], str]
) -> Iterable[tuple[RenderableType, ...]]:
    number = Text(str(one.number), STRONG)
    if one.problem:
        yield number, Text("damaged", WARN), one.problem
        return
    state = "void" if one.void else "closed" if one.closed else "open"
    yield number, state, _typed(f"{one.machine}: {one.complaint}" if one.complaint else one.machine, STRONG)
    yield from (("", "", words) for words in _lines(one, told, names))


def _typed(words: str, style: str) -> Text:
    """What somebody typed, on one line whatever the width: none of its words begins a line of the list."""
    return Text(words, style, no_wrap=True, overflow="ellipsis")


def _lines(one: Summary, told: KeptAdvice | None, names: Callable[[str], str]) -> Iterable[Text]:
    """What is said of a case under its name: of one that is closed what it was, when, and who."""
    if one.closed:
        yield Text(f"it was: {listed(map(names, one.causes))}" if one.causes else "no cause named")
    elif not one.void:
        yield from _waiting(one)
        yield from map(Text, _standing(told)) if told else (Text(NOT_LOOKED.format(one.number), QUIET),)
    since = one.events - told.entries if told and not one.closed else 0
    late = f"; {count(since, 'entry', 'entries')} since this was told" if since else ""
    yield _typed(f"{day(one.latest)}{f' {one.by}' if one.by else ''}{late}", QUIET)


def _waiting(one: Summary) -> Iterable[Text]:
    if one.waits_for:
        words = listed(map(waiting_words, one.waits_for))
        yield _typed(f"waits for {words}{f': {one.waits_text}' if one.waits_text else ''}", WARN)


def state_line(one: Summary, told: KeptAdvice | None) -> str:
    """An open case in one line: what it waits for, else what is next, with what leads."""
    if one.waits_for:
        return f"waits for {listed(map(waiting_words, one.waits_for))}"
    leads = f" ({told.name}, {percent(told.probability)})" if told and told.name else ""
    return f"{told.verb} {told.move}{leads}" if told else "nobody looked yet"


def _standing(told: KeptAdvice) -> Iterable[str]:
    if told.stop:
        word, _, name = told.stop.partition(": ")
        yield f"{word.upper()}: {name}"
    if told.name:
        yield f"{told.name}, {percent(told.probability)}"
    yield f"{told.verb} {told.move}"


def cases_data(found: Iterable[Summary], told: Mapping[int, KeptAdvice]) -> Json:
    """The list as plain values; `told`: what was last told of the case, and how many entries came since."""
    return {"cases": [_case(one, last(one, told)) for one in found]}


def _case(one: Summary, told: KeptAdvice | None) -> Json:
    values = asdict(one) | {"waits_for": list(one.waits_for), "causes": list(one.causes)}
    if told is None:
        return values | {"told": None}
    leading = {"id": told.cause or None, "name": told.name, "probability": told.probability}
    return values | {
        "told": {
            "leading": leading if told.name else None,
            "move": {"kind": told.kind, "name": told.move},
            "stop": told.stop or None,
            "entries_since": one.events - told.entries,
        }
    }
