"""What is told of one cylinder or bank: exact posteriors against enumeration of every mechanism's draw, worked
numbers for two findings at one place and at two, and the identity of everything where no place is told.

The enumeration knows nothing of how the program writes the network: it lists, for each cylinder that was named and
for the rest together, what is there, where each common cause strikes, and what each mechanism does.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import product
from typing import Any

import numpy as np
import pytest

from diagnose.knowledge.located import at
from diagnose.knowledge.records import Knowledge
from diagnose.network import places
from diagnose.network.build import Built, build
from diagnose.network.engine import Engine, Posterior, posterior
from diagnose.network.faults import roots
from diagnose.network.history import History, Renewal, Stretch
from diagnose.network.machine import Machine
from diagnose.network.places import build_at
from diagnose.network.strikes import EACH, ELSEWHERE, SEVERAL, SPOTS_SEVERAL
from diagnose.network.whereabouts import copies_of, in_the_tree, likely_places
from tests.knowledge_by_hand import cause, condition, fact, finding, knowledge, only, times

AT_4, AT_2 = "cylinder 4", "cylinder 2"
SIX = Machine(facts={"cylinders": "6"})
COUNT = fact("cylinders", {"3": 0.1, "4": 0.4, "6": 0.5})


def here(**rest: Any) -> dict[str, Any]:
    return {"located": "cylinder", **rest}


def network(known: Knowledge, told: Mapping[str, int], machine: Machine = SIX) -> Built:
    return build_at(known, machine, History(observed=frozenset((id, 0) for id in told)))


def answer(built: Built, told: Mapping[str, int]) -> Posterior:
    cards = built.network.cards
    evidence = {(v := built.variable(id)): np.eye(cards[v])[state] for id, state in told.items()}
    return posterior(built.network, evidence)


def chances(known: Knowledge, told: Mapping[str, int], machine: Machine = SIX) -> dict[str, float]:
    built = network(known, told, machine)
    found = answer(built, told)
    return {id: float(found.marginals[built.variable(id)][1]) for id in built.causes}


def engine(built: Built, told: Mapping[str, int]) -> Engine:
    cards = built.network.cards
    evidence = {(v := built.variable(id)): np.eye(cards[v])[state] for id, state in told.items()}
    return Engine(built.network, in_the_tree(built, evidence) | evidence)


# ---- against enumeration ----

P, Q, C = 0.03, 0.05, 0.04
"""P(injector), P(valve), P(wiring) of the machine."""
HOLD, LEAK_WEAK = 0.8, 0.01
"""Valve -> weak; leak of weak."""
MISS_OF_WEAK, MISS_OF_INJECTOR, MISS_OF_WIRING, LEAK_MISS = 0.6, 0.7, 0.5, 0.02
COLD_OF_WEAK, COLD_OF_INJECTOR, WEAK_OF_WIRING, LEAK_COLD = 0.4, 0.3, 0.25, 0.03


def rough_running(**rest: object) -> Knowledge:
    """An injector and a valve of each cylinder, wiring common to all; a weak cylinder between."""
    return knowledge(
        COUNT,
        cause("injector", P, {"miss": MISS_OF_INJECTOR, "cold": COLD_OF_INJECTOR, "power": 0.2}, **here()),
        cause("valve", Q, {"weak": HOLD}, **here()),
        cause("wiring", C, {"weak": WEAK_OF_WIRING, "miss": MISS_OF_WIRING}),
        condition("weak", LEAK_WEAK, {"miss": MISS_OF_WEAK, "cold": COLD_OF_WEAK, "power": 0.5}, **here()),
        finding("miss", LEAK_MISS, **here()),
        finding("cold", LEAK_COLD, **here()),
        finding("power", 0.05),
    )


Told = Mapping[tuple[str, str], int]
"""(finding, place or empty) -> 0 or 1."""
States = tuple[int, ...]
"""Of each part of the engine (the cylinders named, then the rest together), 0 or 1."""


class Enumerated:
    """The posterior of `rough_running` by listing what is there at each part of the engine, where the wiring
    strikes, and what each mechanism does; P(at one part) is such that P(at any) is the machine's."""

    def __init__(self, told: Told, count: int):
        named = tuple(dict.fromkeys(place for _, place in told if place))
        self.told, self.parts = told, (*named, ELSEWHERE)
        self.share = [*([1 / count] * len(named)), 1 - len(named) / count]
        self.total, self.sums = 0.0, dict.fromkeys(("injector", "valve", "wiring"), 0.0)
        self.sets = dict.fromkeys(product((0, 1), repeat=3), 0.0)  # by which of the three are there
        states: list[States] = list(product((0, 1), repeat=len(self.parts)))
        for injector, valve, weak, wiring in product(states, states, states, (0, 1)):
            p = (
                self.all_of(injector, self.each(P))
                * self.all_of(valve, self.each(Q))
                * (C if wiring else 1 - C)
            )
            p *= (
                self.weak(weak, valve, wiring) * self.miss(injector, weak, wiring) * self.cold(injector, weak)
            )
            p *= self.one(
                1 - 0.95 * (1 - 0.2 * any(injector)) * (1 - 0.5 * any(weak)), told.get(("power", ""))
            )
            self.total += p
            self.sets[int(any(injector)), int(any(valve)), wiring] += p
            for id, there in (("injector", any(injector)), ("valve", any(valve)), ("wiring", wiring)):
                self.sums[id] += p * there

    def each(self, p: float) -> list[float]:
        return [1 - (1 - p) ** share for share in self.share]

    def all_of(self, states: States, chances: Sequence[float]) -> float:
        return float(np.prod([self.one(c, state) for state, c in zip(states, chances, strict=True)]))

    def one(self, chance: float, state: int | None) -> float:
        return 1.0 if state is None else chance if state else 1 - chance

    def strikes(self, there: int, strength: float) -> Iterator[tuple[float, list[float]]]:
        """Where a common cause strikes: its probability, and of each part P(struck)."""
        yield 1 - there * strength, [0.0] * len(self.parts)
        for n, share in enumerate(self.share):
            yield there * strength * (1 - SEVERAL) * share, [float(n == m) for m in range(len(self.parts))]
        yield there * strength * SEVERAL, [1.0 if part == ELSEWHERE else EACH for part in self.parts]

    def weak(self, weak: States, valve: States, wiring: int) -> float:
        return sum(
            p * self.all_of(weak, anyhow(self.each(LEAK_WEAK), [HOLD * v for v in valve], hit))
            for p, hit in self.strikes(wiring, WEAK_OF_WIRING)
        )

    def miss(self, injector: States, weak: States, wiring: int) -> float:
        by = [MISS_OF_INJECTOR * i for i in injector], [MISS_OF_WEAK * w for w in weak]
        return sum(
            p * self.at_places("miss", anyhow(self.each(LEAK_MISS), *by, hit))
            for p, hit in self.strikes(wiring, MISS_OF_WIRING)
        )

    def cold(self, injector: States, weak: States) -> float:
        if not any(id == "cold" and place for id, place in self.told):  # told of the machine alone, if at all
            by = [COLD_OF_INJECTOR * any(injector)], [COLD_OF_WEAK * any(weak)]
            return self.one(anyhow([LEAK_COLD], *by)[0], self.told.get(("cold", "")))
        by = [COLD_OF_INJECTOR * i for i in injector], [COLD_OF_WEAK * w for w in weak]
        return self.at_places("cold", anyhow(self.each(LEAK_COLD), *by))

    def at_places(self, id: str, chances: Sequence[float]) -> float:
        """P(what was told of the finding | P(it shows at each part))."""
        p, none = 1.0, 1.0
        for part, chance in zip(self.parts, chances, strict=True):
            p *= self.one(chance, self.told.get((id, part)))
            none *= 1 - self.told.get((id, part), chance)
        return p * self.one(1 - none, self.told.get((id, "")))


def anyhow(*chances: Sequence[float]) -> list[float]:
    """P(one of several mechanisms works), part by part."""
    return [1 - float(np.prod([1 - c for c in column])) for column in zip(*chances, strict=True)]


CASES = [
    {("miss", AT_4): 1},
    {("miss", AT_4): 1, ("cold", AT_4): 1},
    {("miss", AT_4): 1, ("cold", AT_2): 1},
    {("miss", AT_4): 1, ("miss", AT_2): 1, ("cold", AT_4): 1},
    {("miss", AT_4): 1, ("cold", AT_4): 0, ("power", ""): 1},
    {("miss", AT_2): 0, ("miss", ""): 1, ("cold", AT_4): 1},
    {("miss", AT_4): 1, ("cold", ""): 1, ("power", ""): 0},
]


@pytest.mark.parametrize(
    "told", CASES, ids=lambda told: ", ".join(f"{f} {p} {s}" for (f, p), s in told.items())
)
@pytest.mark.parametrize("count", [3, 4, 6])
def test_exact_against_enumeration(told: dict[tuple[str, str], int], count: int) -> None:
    if count == 3:
        told = {(f, p.replace("4", "3")): s for (f, p), s in told.items()}
    expected = Enumerated(told, count)
    known, ids = rough_running(), {at(f, p): s for (f, p), s in told.items()}
    built = network(known, ids, Machine(facts={"cylinders": str(count)}))
    found = answer(built, ids)
    for id, p in expected.sums.items():
        assert found.marginals[built.variable(id)][1] == pytest.approx(p / expected.total, abs=1e-9), id
    assert np.exp(found.log_probability) == pytest.approx(expected.total, rel=1e-9)


# ---- worked numbers ----


def pair(*findings: str, cause_there: float = 0.02, common: float = 0.03) -> Knowledge:
    """An injector of each cylinder and wiring common to all bring two findings about; nothing else does."""
    return knowledge(
        COUNT,
        cause("injector", cause_there, {"miss": 0.8, "cold": 0.7}, **here()),
        cause("wiring", common, {"miss": 0.8, "cold": 0.7}),
        finding("miss", 0.0, **here()),
        finding("cold", 0.0, **here()),
    )


def odds(found: Mapping[str, float]) -> float:
    """Of the injector over the wiring; both at once is too rare to matter here."""
    return found["injector"] / found["wiring"]


@pytest.mark.parametrize("count", [3, 4, 6])
def test_two_findings_at_one_cylinder_speak_for_what_is_there_once_for_each(count: int) -> None:
    """One place for both: 1/n by the injector, ((1 - s)/n + s/2)^2 by the wiring, which strikes twice."""
    machine, known = Machine(facts={"cylinders": str(count)}), pair(cause_there=1e-6, common=1e-6)
    place = "cylinder 3"
    apart = odds(chances(known, {"miss": 1, "cold": 1}, machine))
    same = odds(chances(known, {at("miss", place): 1, at("cold", place): 1}, machine))
    struck = (1 - SEVERAL) / count + SEVERAL * EACH
    assert same / apart == pytest.approx(1 / count / struck**2, rel=1e-5)
    assert same / apart > 0.75 * count


def test_at_two_cylinders_it_takes_two_injectors() -> None:
    """Then P(injector at both) is P^2 / n^2 against P of the wiring: it was the wiring."""
    found = chances(pair(), {at("miss", AT_4): 1, at("cold", AT_2): 1})
    of_one = 1 - (1 - 0.02) ** (1 / 6)
    struck = ((1 - SEVERAL) / 6 + SEVERAL * EACH) ** 2 * 0.8 * 0.7
    assert found["wiring"] > 0.98
    # the wiring alone, or the injector at both and no wiring
    alone = (1 - 0.03) * (of_one * 0.8) * (of_one * 0.7)
    assert 1 - found["wiring"] == pytest.approx(alone / (alone + 0.03 * struck), rel=0.05)


def test_the_place_of_one_finding_alone_says_next_to_nothing() -> None:
    """It is there at 1/n by either; the wiring strikes several now and then, which no more than hints at it."""
    for count in ("3", "6"):
        machine = Machine(facts={"cylinders": count})
        before, after = (
            chances(pair(), told, machine) for told in ({"miss": 1}, {at("miss", "cylinder 3"): 1})
        )
        hint = (1 - SEVERAL) + SEVERAL * EACH * int(count)
        assert odds(after) / odds(before) == pytest.approx(1 / hint, rel=0.02)


def harness(p: float) -> Knowledge:
    """A harness, one for the machine, that is chafed at one cylinder or several."""
    return knowledge(
        COUNT,
        cause("harness", p, {"miss": 0.8, "cold": 0.7, "power": 0.5}, **here(several=True)),
        cause("injector", p, {"miss": 0.8, "cold": 0.7, "power": 0.5}, **here()),
        finding("miss", 0.0, **here()),
        finding("cold", 0.0, **here()),
        finding("power", 0.01),
    )


def test_what_is_at_one_or_more_cylinders_shows_everything_there() -> None:
    """P = p w w ((1 - s)/n + s/2) at one cylinder, p w w s/4 at two; of the injector p w w / n, and (p/n)^2."""
    p, n, m = 1e-4, 6, SPOTS_SEVERAL
    same = chances(harness(p), {at("miss", AT_4): 1, at("cold", AT_4): 1})
    assert same["harness"] / same["injector"] == pytest.approx(((1 - m) / n + m * EACH) * n, rel=1e-3)
    apart = chances(harness(p), {at("miss", AT_4): 1, at("cold", AT_2): 1})
    assert apart["harness"] > 0.999  # two injectors: (p/n)^2
    assert apart["injector"] < 20 * p
    built = network(harness(p), {at("miss", AT_4): 1, at("cold", AT_4): 1, "power": 1})
    told = {at("miss", AT_4): 1, at("cold", AT_4): 1, "power": 1}
    found = answer(built, told)
    whole = [p * 0.8 * 0.7 * 0.5 * x for x in ((1 - m) / n + m * EACH, 1 / n)]
    assert np.exp(found.log_probability) == pytest.approx(sum(whole), rel=0.03)
    assert built.priors["harness"] == pytest.approx(p)


def test_one_or_more_is_one_cause_that_a_repair_renews() -> None:
    seen = at("miss", AT_4)
    history = History(({"harness": Renewal(1.0)},), frozenset({(seen, 0), (seen, 1)}))
    built = build_at(harness(0.02), SIX, history)
    evidence = {built.variable(seen, epoch): np.array([0.0, 1.0]) for epoch in (0, 1)}
    found = posterior(built.network, evidence)
    assert found.marginals[built.variable("harness")][1] == pytest.approx(0.0)
    assert found.marginals[built.variable("injector")][1] == pytest.approx(1.0)


def test_causes_keep_their_priors_and_findings_their_frequency() -> None:
    """Nothing found: the copies together are what the knowledge says of the machine, facts known or not."""
    known = knowledge(
        COUNT,
        fact("oil", {"good": 0.7, "bad": 0.3}),
        cause("ring", 0.02, {"miss": 0.8}, **here(), modifiers=times(oil={"bad": 5.0})),
        cause("rate", 2.0, {"miss": 0.5}, **here(per="rate"), only_if=only(oil=["bad"])),
        finding("miss", [0.02, 0.01], "none", "some", "much", **here()),
    )
    known = replace(known, causes={id: replace(one, leads_to=()) for id, one in known.causes.items()})
    plain, built = build(known, Machine()), network(known, {at("miss", AT_4): 1}, Machine())
    for id in ("ring", "rate", "miss"):
        mine, theirs = (
            Engine(one.network, {}, [one.variable(id)]).marginal(one.variable(id)) for one in (built, plain)
        )
        assert mine == pytest.approx(theirs, abs=2e-3 if id != "miss" else 1e-12)
    assert dict(built.priors) | dict(plain.priors) == dict(built.priors)


def test_who_does_not_say_how_many_cylinders_counts_on_average() -> None:
    """1/n on average over the engines that have a cylinder of this number."""
    known = pair()
    part = places.shares(known, Machine(), "cylinder", [AT_4])
    assert part[AT_4] == pytest.approx((0.4 / 4 + 0.5 / 6) / 0.9)
    assert part[ELSEWHERE] == pytest.approx(1 - part[AT_4])
    assert places.shares(known, Machine(), "bank", ["bank A"]) == {"bank A": 0.5, ELSEWHERE: 0.5}
    assert set(places.shares(known, Machine(), "bank", ["bank A", "bank B"])) == {"bank A", "bank B"}


# ---- what holds for every case ----


def test_without_a_place_the_network_is_the_very_same() -> None:
    known = rough_running()
    unmarked = replace(
        known,
        causes={id: replace(one, located="") for id, one in known.causes.items()},
        conditions={id: replace(one, located="") for id, one in known.conditions.items()},
        findings={id: replace(one, located="") for id, one in known.findings.items()},
    )
    told = {"miss": 1, "cold": 0}
    one, other = (network(which, told) for which in (known, unmarked))
    assert one.network.names == other.network.names
    mine, theirs = answer(one, told), answer(other, told)
    assert mine.log_probability == theirs.log_probability
    assert all((mine.marginals[v] == theirs.marginals[v]).all() for v in range(len(one.network.names)))


def test_the_order_in_which_places_are_told_says_nothing() -> None:
    told = {at("miss", AT_4): 1, at("cold", AT_2): 1, "power": 1}
    assert chances(rough_running(), told) == pytest.approx(
        chances(rough_running(), dict(reversed(told.items())))
    )


def test_which_cylinder_it_is_says_nothing() -> None:
    """Cylinders are alike: the same answer at 1 and at 5."""
    one, five = (
        chances(rough_running(), {at("miss", place): 1, at("cold", place): 1, "power": 0})
        for place in ("cylinder 1", "cylinder 5")
    )
    assert one == pytest.approx(five, abs=1e-12)


def test_a_further_cylinder_told_of_changes_little_where_it_says_little() -> None:
    """The cylinders that were not named are written out together: naming one more parts them anew. What that
    changes is of the order of two faults at once."""
    told = {at("miss", AT_4): 1, at("cold", AT_4): 1}
    history = History(observed=frozenset({*((id, 0) for id in told), (at("miss", AT_2), 0)}))
    built = build_at(rough_running(), SIX, history)
    again = answer(built, told)
    for id, p in chances(rough_running(), told).items():
        assert again.marginals[built.variable(id)][1] == pytest.approx(p, abs=2e-3)


# ---- states, gates, repairs, parts taken out ----


def test_states_of_a_finding_and_what_it_clears() -> None:
    """Compression good at 2 clears the valve there, and not the one at 4."""
    known = knowledge(
        COUNT,
        cause("valve", 0.05, {"low": [[0.3, 0.6]]}, **here()),
        finding("low", [0.01, 0.01], "normal", "low", "none", **here()),
        finding("good", 0.9, **here(), clears=("valve",), misleads=0.0),
    )
    prior = 1 - 0.95 ** (5 / 6)
    cleared = chances(known, {at("good", AT_2): 1})["valve"]
    assert cleared == pytest.approx(prior, rel=2e-3)  # of the five others
    both = chances(known, {at("good", AT_2): 1, at("low", AT_4): 2})["valve"]
    assert both > 0.7
    assert chances(known, {at("good", AT_4): 1, at("low", AT_4): 2})["valve"] < 0.2


def test_a_repair_renews_the_cause_at_every_cylinder() -> None:
    """Replaced and still missing: it is the other cause, at the same cylinder or not."""
    known = knowledge(
        COUNT,
        cause("injector", 0.02, {"miss": 1.0}, **here()),
        cause("valve", 0.01, {"miss": 1.0}, **here()),
        finding("miss", 0.0, **here()),
    )
    seen = at("miss", AT_4)
    history = History(({"injector": Renewal(1.0, 0.0)},), frozenset({(seen, 0), (seen, 1)}))
    built = build_at(known, SIX, history)
    evidence = {built.variable(seen, epoch): np.array([0.0, 1.0]) for epoch in (0, 1)}
    found = posterior(built.network, evidence)
    assert found.marginals[built.variable("injector")][1] == pytest.approx(0.0)
    assert found.marginals[built.variable("valve")][1] == pytest.approx(1.0)


def test_a_part_taken_out_takes_its_causes_at_every_cylinder() -> None:
    known, seen = rough_running(), at("miss", AT_4)
    history = History(
        observed=frozenset({(seen, 0), ("miss", 0)}), away=(Stretch("rail", 0, {"injector": 1.0}, ("miss",)),)
    )
    built = build_at(known, SIX, history)
    told = {seen: 1, "miss@rail": 0}
    assert answer(built, told).marginals[built.variable("injector")][1] > 0.9


# ---- what is shown and asked of it ----


def test_where_the_cause_most_likely_is() -> None:
    told = {at("miss", AT_4): 1, at("cold", AT_4): 1}
    built = network(rough_running(), told)
    assert likely_places(engine(built, told), built)["injector"] == AT_4
    assert "wiring" not in likely_places(engine(built, told), built)
    told = {at("miss", AT_4): 0, "power": 1}  # weak, and not at 4: elsewhere
    built = network(rough_running(), told)
    assert not likely_places(engine(built, told), built)


def test_what_wrecked_it_is_told_at_a_cylinder_too() -> None:
    """The injector drips and melts the piston of its cylinder: the piston is the consequence."""
    known = knowledge(
        COUNT,
        cause("injector", 0.02, {"piston": 0.5, "smoke": 0.8}, **here()),
        cause("piston", 0.0002, {"low": 0.95}, **here()),
        finding("low", 0.001, **here()),
        finding("smoke", 0.01, **here()),
    )
    told = {at("low", AT_4): 1, at("smoke", AT_4): 1}
    built = network(known, told)
    ids = [built.variable(id) for id in built.causes]
    assert roots(engine(built, told), ids, copies=copies_of(built)) == {
        built.variable("piston"): built.variable("injector")
    }
    elsewhere = {at("low", AT_4): 1, at("smoke", AT_2): 1}
    apart = chances(known, elsewhere)
    assert apart["injector"] > 0.5
    assert chances(known, told)["injector"] > 0.95
