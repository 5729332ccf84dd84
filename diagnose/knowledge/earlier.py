"""Overlays of an earlier version: there a cause had a `prior`, the probability that it was present on a
machine that came in; now it has a frequency on machines in service.

What the overlay knew better than the knowledge then, it still knows: its odds over those of the prior that
was shipped then (`earlier_priors.csv`) multiply the frequency that is shipped now, and the odds of a share.
The file is not changed."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from functools import cache
from importlib.resources import files

from diagnose.errors import Problem
from diagnose.forms.fields import PROBABILITY, Field, Values, WrittenNumber
from diagnose.knowledge.entry import Entry
from diagnose.knowledge.records import PER, Cause, Knowledge

PRIOR = {"prior": Field(PROBABILITY, "of an earlier version")}
"""The field that causes of an overlay may still have."""
NEW_CAUSE = 0.2
"""Odds of a cause in 500 hours of service over those on a machine that came in: the median over the causes that are
shipped (judgement); for a cause that the shop itself has added."""
WINDOW = 0.5
"""The 500 hours, in thousands."""
NEAR_ONE = 0.999  # a prior of 1 has no odds


@cache
def shipped_priors() -> Mapping[str, float]:
    """Cause -> the prior that was shipped, the last time that causes had one."""
    text = files("diagnose.knowledge").joinpath("earlier_priors.csv").read_text(encoding="utf-8")
    return {row["id"]: float(row["prior"]) for row in csv.DictReader(text.splitlines())}


def up_to_date(patch: Entry, shipped: Entry | None) -> Entry:
    """What an overlay says of a record, its `prior` as a frequency; left out where it gives a frequency as
    well, and where the cause has come with no prior to compare with. `shipped`: the same record without any
    overlay."""
    if patch.section != "causes" or "prior" not in patch.values.places:
        return patch
    figure, values = patch.values["prior"], Values(patch.values.place, **patch.values)
    values.pop("prior")
    values.places = {name: place for name, place in patch.values.places.items() if name != "prior"}
    if figure is not None and not any(name in values.places for name in PER):
        for name, number in _frequency(patch.id, figure, shipped):
            values[name], values.places[name] = number, figure.place
    return replace(patch, values=values)


def _frequency(id: str, prior: WrittenNumber, shipped: Entry | None) -> Iterator[tuple[str, WrittenNumber]]:
    if shipped is None:
        yield "rate", replace(prior, value=NEW_CAUSE * _odds(prior.value) / WINDOW)
    elif id in shipped_priors() and shipped.section == "causes":
        ratio = _odds(prior.value) / _odds(shipped_priors()[id])
        for name in PER:
            if (number := shipped.values[name]) is not None:
                yield name, replace(prior, value=_times(number.value, ratio, name))


def _times(frequency: float, ratio: float, per: str) -> float:
    if per != "share":
        return frequency * ratio
    odds = _odds(frequency) * ratio
    return odds / (1 + odds)


def _odds(p: float) -> float:
    below = min(p, NEAR_ONE)
    return below / (1 - below)


def notices(overlays: Iterable[Values], knowledge: Knowledge) -> list[Problem]:
    """What was read otherwise than it stands there, as words to be told, not as errors. `overlays`: as read;
    `knowledge`: with them."""
    return [
        Problem(
            "K029",
            figure.place,
            f"{_name(knowledge, id)}: the prior {figure.value:g} of an earlier version {words}",
            HINT,
        )
        for file in overlays
        for id, values in (file["causes"] or {}).items()
        if values is not None and "prior" in values.places and (figure := values["prior"]) is not None
        for words in (_words(id, values, figure, knowledge.causes.get(id)),)
    ]


HINT = "causes now have a rate or a share: docs/knowledge-format.md, Causes"


def _name(knowledge: Knowledge, id: str) -> str:
    return knowledge.causes[id].name if id in knowledge.causes else id


def _words(id: str, values: Values, prior: WrittenNumber, cause: Cause | None) -> str:
    if cause is None:
        return "is passed over: the cause is there no more"
    if any(name in values.places for name in PER):
        return "is passed over: its frequency stands beside it"
    if cause.frequency.place == prior.place:
        return f"is read as {cause.per}: {cause.frequency.value:.4g}"
    if id in shipped_priors():
        return "is passed over: what was learnt lies over it"
    return "is passed over: nothing is known to compare it with"
