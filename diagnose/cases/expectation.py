"""What a scenario expects the program to say of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from diagnose.cases.scenario_lookup import Lookup
from diagnose.errors import Place
from diagnose.forms.fields import Values, Word
from diagnose.knowledge.observable import ASKED, LOOKED, TRIED, WHERE

MADE = (LOOKED, ASKED, TRIED, WHERE)
"""What the ids of checks begin with that no file names."""


@dataclass(frozen=True, slots=True)
class ExpectedCheck:
    """One of `any_of` stands among the `first` proposed checks."""

    first: int
    any_of: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ExpectedMove:
    """The next move is of this `kind`; where `any_of` names some, it is one of these checks, or does one of these
    repairs."""

    kind: str
    any_of: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Expectation:
    """What the program must say of the scenario.

    Every one of `causes` stands among the first `within`. `probability`: cause id -> (lowest, highest).
    `consequence`: causes told as consequences, not roots. `repairs`: all in the best repair option.
    `keep_running`: cause id -> what is advised of it.
    `unexplained`: nothing listed explains what was seen; the other cause comes first.
    """

    causes: tuple[str, ...]
    within: int
    probability: Mapping[str, tuple[float, float]]
    consequence: tuple[str, ...]
    check: ExpectedCheck | None
    move: ExpectedMove | None
    repairs: tuple[str, ...]
    keep_running: Mapping[str, str]
    unexplained: bool
    place: Place


def read_expectation(values: Values, lookup: Lookup) -> Expectation:
    """The expectation in these fields; what is wrong in it goes to the notes."""
    causes = lookup.all_known("causes", values["causes"])
    within = values["within"] or max(1, len(causes))
    _check_possible(values, causes, within, lookup)
    return Expectation(
        causes=causes,
        within=within,
        probability=_bounds(values["probability"], lookup),
        consequence=lookup.all_known("causes", values["consequence"]),
        check=_check(values["check"], lookup),
        move=_move(values["move"], lookup),
        repairs=lookup.all_known("repairs", values["repairs"]),
        keep_running={
            str(cause): str(advice)
            for cause, advice in values["keep_running"].items()
            if lookup.known("causes", cause) and advice is not None
        },
        unexplained=bool(values["unexplained"]),
        place=values.place,
    )


def _check_possible(values: Values, causes: tuple[str, ...], within: int, lookup: Lookup) -> None:
    """An expectation that says nothing, or that nothing can meet, is an error."""
    if not values.places:
        lookup.notes.add("S006", values.place, "nothing is expected", "leave `expect` out")
    if within < len(causes):
        message = f"{len(causes)} causes cannot stand within the first {within}"
        lookup.notes.add("S006", values.places["within"], message)
    if values["unexplained"] and causes:
        message = "`unexplained` says that none of the listed causes is there"
        lookup.notes.add("S006", values.places["unexplained"], message, "keep it or `causes`")


def _bounds(values: Mapping[Word, Any] | None, lookup: Lookup) -> dict[str, tuple[float, float]]:
    found = {}
    for cause, pair in (values or {}).items():
        if not lookup.known("causes", cause) or pair is None:
            continue
        if len(pair) == 2 and pair[0] <= pair[1]:
            found[str(cause)] = (pair[0], pair[1])
        else:
            message = "bounds are two probabilities, the lower first"
            lookup.notes.add("S006", cause.place, message, "write for example [0.5, 0.99]")
    return found


def _check(values: Values | None, lookup: Lookup) -> ExpectedCheck | None:
    if values is None:
        return None
    return ExpectedCheck(values["first"] or 1, lookup.all_known("checks", values["any_of"]))


def _move(values: Values | None, lookup: Lookup) -> ExpectedMove | None:
    if values is None:
        return None
    kind = values["kind"]
    made = [word for word in values["any_of"] if str(word).startswith(MADE)]
    named = [word for word in values["any_of"] if word not in made]
    known = lookup.all_known("repairs" if kind == "repair" else "checks", named)
    return ExpectedMove(kind, (*known, *map(str, made)))
