"""Why a set of repairs is done together, in words and money."""

from __future__ import annotations

from diagnose.plain import percent, small
from diagnose.planning.repairs import LeftOut, Pays, RepairChoice
from diagnose.planning.shop import Shop
from diagnose.planning.wear import Wear


def why(choice: RepairChoice, shop: Shop) -> tuple[str, ...]:
    """What stays broken, what each part of the set is good for, and what was left out."""
    told = (
        _left_out(one, shop) if isinstance(one, LeftOut) else _pays(one, choice, shop) for one in choice.why
    )
    return (f"still broken afterwards: {percent(choice.still_broken)}", *told)


def _pays(one: Pays, choice: RepairChoice, shop: Shop) -> str:
    why = []
    if one.still_broken is not None:
        why.append(
            f"without it {percent(one.still_broken)} instead of {percent(choice.still_broken)} stay broken"
        )
    if one.wear:
        why.append(_age(one.wear))
    if one.wrecks:
        why.append("what it leaves in may wreck more")
    verb = "saves" if one.saved > 0 else "does not pay:"
    return f"{one.repair.name}: {verb} {shop.money(one.saved).lstrip('-')}" + (
        f"; {'; '.join(why)}" if why else ""
    )


def _left_out(one: LeftOut, shop: Shop) -> str:
    name, more = small(one.wear.repair.name), shop.money(one.more)
    return f"not {name}: it would cost {more} more than it saves; {_age(one.wear)}"


def _age(wear: Wear) -> str:
    return (
        f"the old part has run {wear.age:,.0f} of about {wear.life:,.0f} h, "
        f"and fails with {percent(wear.fails)} within the hours reckoned ahead"
    )
