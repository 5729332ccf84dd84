"""Where on the engine a cause strikes that is not there once for each cylinder or bank: at one place, each by its
share, or at several.

A hidden variable says which: nowhere, at one of the places (in each state of what it brings about), at several.
Of those each is struck with probability `EACH`, what is elsewhere for certain; of banks both, for two are several.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from diagnose.errors import Place
from diagnose.knowledge.located import apart, kind_of
from diagnose.knowledge.number import Number
from diagnose.knowledge.records import Condition, Link

ELSEWHERE = "elsewhere"
SEVERAL = 0.05
"""How often a common cause that shows at a cylinder or bank shows at several of them (judgement)."""
SPOTS_SEVERAL = 0.1
"""How often a cause that is at one or more of them is at several where somebody names one (judgement: who names
one has mostly looked at the others)."""
EACH = 0.5
"""P(one cylinder is among those struck | several are) (judgement)."""


def struck(parent: str, effect: str) -> str:
    """The id of where the link from the parent to the effect strikes."""
    return f"{parent}>{effect}"


def itself(cause: str, place: Place) -> Link:
    """The link of a cause to its own places."""
    return Link(cause, ((Number(1.0, "", 0.0, place),),), place)


def to_strike(parent: str, link: Link, copies: Mapping[str, float], several: float = SEVERAL) -> Link:
    """The link by way of where it strikes, which `strike` is; as it is where the effect has no copies. `copies`:
    with the share of each."""
    if not copies:
        return link
    parts = (*((1 - several) * share for share in copies.values()), several)
    rows = (tuple(replace(n, value=n.value * part) for part in parts for n in row) for row in link.strengths)
    return replace(link, effect=struck(parent, link.effect), strengths=tuple(rows))


def strike(parent: str, link: Link, copies: Mapping[str, float]) -> Condition:
    """Where the link strikes; it leads to the copies."""
    states = range(len(link.strengths[0]))
    names = tuple(f"{where} {state}" for where in (*copies, "several") for state in states)
    leads_to = []
    for copy in copies:
        met = (*(float(one == copy) for one in copies), _among_several(copy, copies))
        rows = (_row(state, len(states), p, link.place) for p in met for state in states)
        leads_to.append(Link(copy, tuple(rows), link.place))
    none = tuple(Number(0.0, "", 0.0, link.place) for _ in names)
    id = struck(parent, link.effect)
    return Condition(id, "", "", "", ("nowhere", *names), none, tuple(leads_to), link.place)


def _among_several(copy: str, copies: Mapping[str, float]) -> float:
    """P(the copy is struck | several are)."""
    place = apart(copy)[1]
    rest = any(apart(one)[1] == ELSEWHERE for one in copies)
    banks = any(kind_of(apart(one)[1]) == "bank" for one in copies)
    return EACH if rest and not banks and place != ELSEWHERE else 1.0


def _row(state: int, states: int, p: float, place: Place) -> tuple[Number, ...]:
    """With this probability the effect is in this state."""
    return tuple(Number(p if one == state else 0.0, "", 0.0, place) for one in range(states))
