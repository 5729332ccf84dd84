"""Which copies of its variables a machine's history calls for.

Time falls into worlds: the epochs between repairs, in order, then each stretch in which a part was out. A
variable has one version for all worlds in which nothing above it differs. A repair renews the cause that it cures
for all epochs after it. Taking a part out is an intervention (Pearl's do-operator; in troubleshooting Pernestal,
Nyberg & Warnquist, Eng. Appl. AI, 2012): in that stretch what the part carries is set to its sound state, whatever
stands above it; everything else is as in the epoch around, and so it is again when the part is back. What a
carried cause has wrecked stays wrecked: causes have no copy but those carried. What is told of the past is no other
after a repair: it stands in the epoch in which the machine came in.

Versions are numbers: 0 to the present epoch for epochs, above that the number of the world of a stretch, and AWAY
for a variable that is surely in its sound state there and needs no copy.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence

from diagnose.network.history import History, Stretch

AWAY = -1
"""Version of what is surely away with the part."""


class Worlds:
    """The versions of every variable. `order`: ids, parents first; `above`: the parents; `causes`: those that only
    repairs and taking away change; `past`: what is told of the time before the machine came in."""

    def __init__(
        self,
        order: Sequence[str],
        above: Callable[[str], tuple[str, ...]],
        causes: Collection[str],
        history: History,
        past: Collection[str] = (),
    ):
        self.order, self.above, self.causes, self.history = order, above, causes, history
        self.past = past
        self.versions: dict[str, tuple[int, ...]] = {}
        for id in order:
            self.versions[id] = self._epochs(id)
            for number, stretch in enumerate(history.away):
                self.versions[id] += (self._in_stretch(id, number, stretch),)

    @property
    def now(self) -> int:
        """The present epoch."""
        return self.history.now

    def present(self, id: str) -> int:
        """The version of the present."""
        return self.versions[id][self.now]

    def epochs(self, id: str) -> tuple[int, ...]:
        """The version in each epoch."""
        return self.versions[id][: self.now + 1]

    def version_of_parent(self, id: str, version: int, parent: str) -> int:
        """The version of a parent that stands above this version."""
        return self.versions[parent][self.versions[id].index(version)]

    def stretch(self, version: int) -> Stretch | None:
        """The stretch that a version belongs to; None for one of an epoch."""
        return self.history.away[version - self.now - 1] if version > self.now else None

    def carried(self, id: str, version: int) -> float | None:
        """P(it is away with the part in this version); None where the part does not carry it, or in an epoch."""
        stretch = self.stretch(version)
        return None if stretch is None else stretch.carried.get(id)

    def around(self, id: str, version: int) -> int:
        """The version of the epoch around a stretch."""
        stretch = self.stretch(version)
        return version if stretch is None else self.versions[id][stretch.epoch]

    def in_stretch(self, id: str, number: int) -> int:
        """The version in the stretch of this number."""
        return self.versions[id][self.now + 1 + number]

    def name(self, id: str, version: int) -> str:
        """The name of the variable: the plain id at present, `id@version` before, `id@without:part` in a stretch
        (with its epoch, where that is not the present one)."""
        if version == self.present(id):
            return id
        stretch = self.stretch(version)
        if stretch is None:
            return f"{id}@{version}"
        return f"{id}@without:{stretch.part}{'' if stretch.epoch == self.now else f'@{stretch.epoch}'}"

    def needed(self) -> dict[str, set[int]]:
        """The present versions, those that were observed, and all above those."""
        needed = {id: {self.present(id)} for id in self.order}
        for finding, epoch in self.history.observed:
            needed[finding].add(self.versions[finding][epoch])
        for number, stretch in enumerate(self.history.away):
            for finding in stretch.watched:
                needed[finding].add(self.in_stretch(finding, number))
        for id in reversed(self.order):
            found = needed[id]
            found |= {self.around(id, v) for v in found if self.carried(id, v) is not None}
            if id in self.causes:
                found |= set(range(max(v for v in found if v <= self.now) + 1))
            for version in found:
                if self.carried(id, version) is None:
                    self._need_above(id, version, needed)
        return needed

    def _need_above(self, id: str, version: int, needed: dict[str, set[int]]) -> None:
        for parent in self.above(id):
            above = self.version_of_parent(id, version, parent)
            if above != AWAY:
                needed[parent].add(above)

    def _epochs(self, id: str) -> tuple[int, ...]:
        """The version number of the variable in each epoch."""
        version, found = 0, [0]
        for boundary, repaired in enumerate(self.history.repairs):
            if id in self.causes:
                changed = id in repaired
            else:
                changed = any(
                    self.versions[p][boundary] != self.versions[p][boundary + 1] for p in self.above(id)
                )
            version += changed
            found.append(version)
        if id in self.past:
            found = [found[self.history.came_in(epoch)] for epoch in range(self.now + 1)]
        return tuple(found)

    def _in_stretch(self, id: str, number: int, stretch: Stretch) -> int:
        """The version in a stretch: its own where the part carries it, or something above or brought differs."""
        world, around = self.now + 1 + number, self.versions[id][stretch.epoch]
        if id in stretch.carried:
            return AWAY if stretch.carried[id] >= 1 else world
        if id in self.causes:
            return around
        differs = any(self.versions[p][world] != self.versions[p][stretch.epoch] for p in self.above(id))
        return world if differs or id in stretch.brings else around
