"""What a machine can still do, or still holds, while something is apart; what must not be asked of it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from diagnose.knowledge.records import Access

ABILITIES: Mapping[str, str] = {
    "cranking": "the starter turns the engine",
    "running": "the engine runs for some minutes",
    "load": "the machine works or is driven, warm",
    "coolant": "the cooling system is full and closed",
    "oil": "the sump is full",
    "head": "the head is on",
    "compression": "every cylinder is closed: head, injectors and valve gear in place",
}
AFTER_IT: Mapping[str, str] = {"cranking": "running", "running": "load"}
"""What cannot be had either without the first."""


def with_all_after(abilities: Iterable[str]) -> frozenset[str]:
    """The abilities and what cannot be had without them."""
    found = set(abilities)
    for ability, next_one in AFTER_IT.items():
        if ability in found:
            found.add(next_one)
    return frozenset(found)


def with_what_they_need(abilities: Iterable[str]) -> frozenset[str]:
    """The abilities and those that they cannot be had without: who pulls a load runs, and who runs has cranked."""
    found = set(abilities)
    for needed, ability in tuple(AFTER_IT.items())[::-1]:
        if ability in found:
            found.add(needed)
    return frozenset(found)


def both_ways(path: Iterable[Access]) -> float:
    """Minutes to reach and to restore all of these states."""
    return sum(state.both_ways for state in path)


def lost(state: Access) -> frozenset[str]:
    """The abilities that the machine is without while this state is open."""
    return with_all_after(state.without)


def with_all_before(access: Mapping[str, Access], ids: Iterable[str]) -> frozenset[str]:
    """The states and all that must be opened before them."""
    found: set[str] = set()
    waiting = [id for id in ids if id in access]
    while waiting:
        id = waiting.pop()
        if id not in found:
            found.add(id)
            waiting.extend(needed for needed in access[id].needs if needed in access)
    return frozenset(found)


def shutting_out(access: Mapping[str, Access], wants: Iterable[str]) -> frozenset[str]:
    """The states that must not be open where these abilities are wanted."""
    wanted = frozenset(wants)
    return frozenset(id for id, state in access.items() if wanted & lost(state))
