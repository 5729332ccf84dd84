"""What time and parts cost in this shop: rates, downtime, the price of a comeback, own prices of parts."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from diagnose.knowledge.records import Part


@dataclass(frozen=True, slots=True)
class Shop:
    """Rates in the shop's money. The defaults are round figures of common practice, meant to be replaced.

    `labour`, `downtime`: for one hour. `comeback`: the machine comes back with the complaint (towing, goodwill, a
    second visit). `hand_over`: somebody else finds it for sure (towing, days lost, their diagnosis), the cure
    itself on top. `consumables`: share of parts added.
    `horizon`: running hours ahead for which parts left in are reckoned with. `by`: who notes, where nobody says.
    """

    currency: str = "EUR"
    labour: float = 95.0
    downtime: float = 45.0
    comeback: float = 900.0
    hand_over: float = 4000.0
    horizon: float = 3000.0
    consumables: float = 0.03
    by: str = ""
    prices: Mapping[str, float] = field(default_factory=dict)

    def time(self, minutes: float) -> float:
        """What minutes cost while the machine stands."""
        return minutes / 60 * (self.labour + self.downtime)

    def waiting(self, hours: float) -> float:
        """What it costs that the machine stands for so many working hours and nobody works on it."""
        return hours * self.downtime

    def parts(self, parts: Iterable[Part]) -> float:
        """What the parts cost with consumables; the shop's own prices win over the knowledge's."""
        plain = sum(self.prices.get(part.name, part.price) * part.quantity for part in parts)
        return plain * (1 + self.consumables)

    def money(self, amount: float) -> str:
        """An amount in words, rounded as one speaks of money."""
        step = 1 if abs(amount) < 100 else 5 if abs(amount) < 1000 else 10
        return f"{round(amount / step) * step:,.0f} {self.currency}"
