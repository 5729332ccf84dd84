"""The knowledge, for one machine and its history of repairs, as a network.

Repairs cut time into epochs. A cause persists unless it is repaired; a repaired cause stays with probability
1 - effectiveness and comes back at once with probability `infant`. The noise of a mechanism that no repair
touched persists (the same inhibitors act before and after), so a finding that stays after a perfect repair of
A gives P(B | A absent, finding) of the unchanged network. Only variables below a repaired cause, and only
those that were observed earlier, get a copy for the earlier time, named `id@version`; the plain id is now. A
part taken out for a try makes a stretch of time of its own in the same way: what is below the causes that it
carries, and was observed in the stretch, gets a copy for it, `id@without:part` (worlds.py); the noise is the
same.

Machine facts that are not known are root variables. A cause arises by a table over those that multiply its
hazard or decide whether this kind of machine has it. What other causes bring about, and conditions and
findings, are gated: `id@open` is what they would be, `id` is that where every gate (a fact; something that a
finding clears) is open, and its first state where one is closed.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from diagnose.knowledge.away import GONE, away_id, finding_of
from diagnose.knowledge.records import Cause, Condition, Finding, Knowledge
from diagnose.network.arising import Arising
from diagnose.network.built import Built, unlisted
from diagnose.network.facts import Facts, FactVariable
from diagnose.network.fitted import Fitted
from diagnose.network.gates import Gate, gated, misleading, not_there
from diagnose.network.history import History
from diagnose.network.link_tables import (
    breaks,
    inhibited,
    leak_vector,
    link_table,
    other_table,
    presence,
    what_is_left,
)
from diagnose.network.machine import Machine
from diagnose.network.network import Array, Family, Network, NoisyMax, Table
from diagnose.network.observed import one_hot
from diagnose.network.variables import Variable
from diagnose.network.worlds import AWAY, Worlds

PRESENCE = ("absent", "present")
DECIDES = 100.0
"""More than any fact that only multiplies hazards tells: what gates something is let go last."""


def build(
    knowledge: Knowledge,
    machine: Machine,
    history: History | None = None,
    portions: Mapping[str, float] | None = None,
) -> Built:
    """The network of everything the knowledge says of this machine. `portions`: causes that are one part of what
    their numbers speak of, with the share of that (places.py)."""
    return _Builder(knowledge, machine, history or History(), portions or {}).build()


class _Builder:
    """Collects variables in topological order."""

    def __init__(
        self, knowledge: Knowledge, machine: Machine, history: History, portions: Mapping[str, float]
    ):
        self.knowledge, self.machine, self.history = knowledge, machine, history
        self.facts = Facts(knowledge.facts, machine.facts)
        self.arising = Arising(knowledge, machine, self.facts, portions)
        self.fitted = Fitted(knowledge, self.facts)
        self.names: list[str] = []
        self.variables: list[Variable] = []
        self.states: list[tuple[str, ...]] = []
        self.families: list[Family] = []
        self.index: dict[Variable, int] = {}
        self.gating: set[FactVariable] = set()

    def build(self) -> Built:
        order = self.fitted.topological()
        past = {id for id in order if isinstance(node := self.fitted.nodes[id], Finding) and node.past}
        self.worlds = Worlds(order, self.fitted.above, self.fitted.causes, self.history, past)
        needed = self.worlds.needed()
        facts = self._add_facts()
        others = {}
        for id in order:
            node = self.fitted.nodes[id]
            if isinstance(node, Finding) and node.other:
                arises = Table((), presence(node.other.value))
                others[id] = self._add(unlisted(id), Variable("other", id), PRESENCE, arises)
            if isinstance(node, Cause):
                self._add_cause(node, sorted(needed[id]))
            else:
                self._add_effect(node, sorted(needed[id]))
        network = Network(tuple(self.names), tuple(self.states), tuple(self.families))
        fixed = [self.variables[v].asked for mine in facts.values() for v in mine]
        away = self._away()
        versions = {
            **{id: self.worlds.epochs(id) for id in order},
            **{id: self.worlds.epochs(finding_of(id)) for id in away},
            **dict.fromkeys(fixed, (0,) * (self.history.now + 1)),
        }
        priors = {id: self.arising.marginal(cause) for id, cause in self.fitted.causes.items()}
        told = {**dict.fromkeys(self.gating, 0.0), **self.arising.telling}
        told |= {v: told[v] + DECIDES for v in self.gating}
        return Built(
            network,
            tuple(self.variables),
            tuple(self.fitted.causes),
            others,
            versions,
            priors,
            facts,
            {self._of_fact(v): spread for v, spread in told.items()},
            {self._of_fact(v): self.facts.joint((v,)) for fact in facts for v in self.facts.variables(fact)},
            away=away,
        )

    def _away(self) -> dict[str, dict[int, int]]:
        """The variables of the tests by taking away, by id and epoch."""
        found: dict[str, dict[int, int]] = {}
        for number, stretch in enumerate(self.history.away):
            for finding in stretch.watched:
                variable = self._variable(finding, self.worlds.in_stretch(finding, number))
                found.setdefault(away_id(finding, stretch.part), {})[stretch.epoch] = variable
        return found

    def _add_facts(self) -> dict[str, tuple[int, ...]]:
        """The unknown facts on which something hangs, each after the one it depends on."""
        asked = dict.fromkeys(
            v.fact for cause in self.fitted.causes.values() for v in self.arising.variables(cause)
        )
        for node in self.fitted.nodes.values():
            if not isinstance(node, Cause) and node.id not in self.fitted.sound:
                asked |= dict.fromkeys(one.fact for one in self.fitted.open_facts(node))
        found = {}
        for fact in self.facts.above(asked):
            parent = self.facts.parent(fact)
            found[fact] = tuple(self._add_fact(v, parent) for v in self.facts.variables(fact))
        return found

    def _add_fact(self, variable: FactVariable, parent: str) -> int:
        above = () if variable.value or not parent else (self.index[Variable("fact", parent)],)
        table = Table(above, self.facts.table(variable))
        stands_for = Variable("fact", variable.fact, value=variable.value)
        return self._add(variable.name, stands_for, variable.states, table)

    def _of_fact(self, variable: FactVariable) -> int:
        return self.index[Variable("fact", variable.fact, value=variable.value)]

    def _variable(self, id: str, version: int) -> int:
        return self.index[Variable("record", id, version)]

    def _add(self, name: str, stands_for: Variable, states: tuple[str, ...], family: Family) -> int:
        self.index[stands_for] = len(self.names)
        self.names.append(name)
        self.variables.append(stands_for)
        self.states.append(states)
        self.families.append(family)
        return self.index[stands_for]

    def _add_behind(
        self, gates: Sequence[Gate], name: str, stands_for: Variable, states: tuple[str, ...], family: Family
    ) -> int:
        """The variable; with gates, what it would be first, and behind them what it is."""
        if not gates:
            return self._add(name, stands_for, states, family)
        free = self._add(f"{name}@open", replace(stands_for, kind="open"), states, family)
        return self._add(name, stands_for, states, gated(gates, free, len(states)))

    def _gates(self, node: Cause | Condition | Finding, version: int) -> list[Gate]:
        """What must hold for the node to show anything, in one of its versions."""
        if node.id in self.fitted.sound:
            return []  # shut for good
        gates = []
        for one in self.fitted.open_facts(node):
            (variable,) = self.facts.variables(one.fact)
            is_open = tuple(value in one.values for value in variable.states)
            gates.append(Gate(self._of_fact(variable), is_open, not_there(node)))
            self.gating.add(variable)
        if not isinstance(node, Finding):
            return gates
        mistaken = misleading(node)
        for id in self.fitted.cleared[node.id]:
            above = self.worlds.version_of_parent(node.id, version, id)
            if above == AWAY:
                continue
            variable_number = self._variable(id, above)
            sound = tuple(state == 0 for state in range(len(self.states[variable_number])))
            gates.append(Gate(variable_number, sound, mistaken))
        return gates

    def _add_cause(self, cause: Cause, versions: Sequence[int]) -> None:
        for version in versions:
            if self._add_carried(cause, PRESENCE, version):
                continue
            name, mine = self.worlds.name(cause.id, version), Variable("record", cause.id, version)
            parents = [
                self._variable(p, self.worlds.version_of_parent(cause.id, version, p))
                for p in self.fitted.links[cause.id]
            ]
            links = [link_table(link, 2) for link in self.fitted.links[cause.id].values()]
            if version:
                epoch = self.worlds.versions[cause.id].index(version)
                renewal = self.history.repairs[epoch - 1][cause.id]
                arises: Table = Table((), presence(renewal.infant))
                parents.append(self._variable(cause.id, version - 1))
                links.append(what_is_left(2, renewal.effectiveness))
            else:
                above = tuple(self._of_fact(v) for v in self.arising.variables(cause))
                arises = Table(above, self.arising.table(cause))
            if not parents:
                self._add(name, mine, PRESENCE, arises)
                continue
            gates = self._gates(cause, version)
            if not arises.parents:
                family = NoisyMax(tuple(parents), arises.values, tuple(links))
                self._add_behind(gates, name, mine, PRESENCE, family)
                continue
            own = self._add(f"{name}@arises", replace(mine, kind="arises"), PRESENCE, arises)
            if gates:  # these are in the table of what arises: on average they would count twice
                family = NoisyMax(tuple(parents), one_hot(2, 0), tuple(links))
                parents = [
                    self._add_behind(
                        gates, f"{name}@brought", replace(mine, kind="brought"), PRESENCE, family
                    )
                ]
                links = [np.eye(2)]
            self._add(name, mine, PRESENCE, NoisyMax((own, *parents), one_hot(2, 0), (np.eye(2), *links)))

    def _add_carried(self, node: Cause | Condition | Finding, states: tuple[str, ...], version: int) -> bool:
        """In a stretch in which a part is out that carries the node: what is left of it, whatever stands
        above it (the do-operator). Whether this version is one of these."""
        effectiveness = self.worlds.carried(node.id, version)
        if effectiveness is None:
            return False
        around = self._variable(node.id, self.worlds.around(node.id, version))
        card = len(states)
        family = NoisyMax((around,), one_hot(card, 0), (what_is_left(card, effectiveness),))
        self._add(self.worlds.name(node.id, version), Variable("record", node.id, version), states, family)
        return True

    def _add_effect(self, node: Condition | Finding, versions: Sequence[int]) -> None:
        card = len(node.states)
        made = [v for v in versions if self.worlds.carried(node.id, v) is None]
        links = {parent: link_table(link, card) for parent, link in self.fitted.links[node.id].items()}
        used = {p: {self.worlds.version_of_parent(node.id, v, p) for v in made} for p in links}
        steady = [parent for parent in links if len(used[parent]) == 1]
        parents = [self._variable(parent, *used[parent]) for parent in steady]
        tables = [links[parent] for parent in steady]
        if isinstance(node, Finding) and node.other:
            parents.append(self.index[Variable("other", node.id)])
            tables.append(other_table(card))
        leak = not_there(node) if node.id in self.fitted.sound else leak_vector(node.leak)
        shared = NoisyMax(tuple(parents), leak, tuple(tables))
        if len(made) == 1 and len(steady) == len(links):
            name = self.worlds.name(node.id, made[0])
            self._add_behind(
                self._gates(node, made[0]), name, Variable("record", node.id, made[0]), node.states, shared
            )
        else:
            self._add_copies(node, made, shared, {p: links[p] for p in links if p not in steady})
        for version in versions:
            self._add_carried(node, node.states, version)

    def _add_copies(
        self,
        node: Condition | Finding,
        versions: Sequence[int],
        shared: NoisyMax,
        changing: Mapping[str, Array],
    ) -> None:
        """One variable a version; the unchanged parents and each link's inhibitor are common to all."""
        card = len(node.states)
        common = self._add(f"{node.id}@shared", Variable("shared", node.id), node.states, shared)
        shares = self._add_shares(node, versions, changing)
        for version in versions:
            sources, tables = [common], [np.eye(card)]
            for parent in changing:
                above = self.worlds.version_of_parent(node.id, version, parent)
                if above != AWAY:
                    variable, table = shares[parent, above]
                    sources.append(variable)
                    tables.append(table)
            family = NoisyMax(tuple(sources), self._brought(node, version), tuple(tables))
            name, states = self.worlds.name(node.id, version), self._states(node, version)
            self._add_behind(
                self._gates(node, version), name, Variable("record", node.id, version), states, family
            )

    def _states(self, node: Condition | Finding, version: int) -> tuple[str, ...]:
        """The states; the first one of a finding with a part out says that it is gone."""
        out = isinstance(node, Finding) and self.worlds.stretch(version) is not None
        return (GONE, *node.states[1:]) if out else node.states

    def _brought(self, node: Condition | Finding, version: int) -> Array:
        """What shows because a part is out; nothing else."""
        stretch = self.worlds.stretch(version)
        above = stretch.brings.get(node.id) if stretch else None
        return one_hot(len(node.states), 0) if above is None else np.array([1 - sum(above), *above])

    def _add_shares(
        self, node: Condition | Finding, versions: Sequence[int], changing: Mapping[str, Array]
    ) -> dict[tuple[str, int], tuple[int, Array]]:
        """What each version of each changing parent contributes: a variable, and the link from it. The draw
        of the link's inhibitor is a variable where several versions of the parent meet it, the contribution
        one where only several versions of the node do; a parent that meets a single version of the node keeps
        its plain link."""
        above = [(p, self.worlds.version_of_parent(node.id, v, p)) for v in versions for p in changing]
        uses = Counter(key for key in above if key[1] != AWAY)
        met = Counter(parent for parent, _ in uses)
        noises = {p: self._add_noise(p, node.id, changing[p]) for p in changing if met[p] > 1}
        found = {}
        for (parent, version), times in uses.items():
            table, same = changing[parent], np.eye(len(node.states))
            if parent in noises:
                share = self._add_share((parent, version), node, table, noises[parent])
                found[parent, version] = share, same
            elif times > 1:
                family = NoisyMax((self._variable(parent, version),), one_hot(len(node.states), 0), (table,))
                found[parent, version] = (
                    self._add(
                        f"{parent}>{node.id}",
                        Variable("share", node.id, version, parent),
                        node.states,
                        family,
                    ),
                    same,
                )
            else:
                found[parent, version] = self._variable(parent, version), table
        return found

    def _add_noise(self, parent: str, effect: str, table: Array) -> int:
        """The inhibitor of one link as a root: which stretch of the unit interval the draw fell into."""
        widths = np.diff(breaks(table), prepend=0.0)
        draws = tuple(map(str, range(len(widths))))
        noise = Variable("noise", effect, parent=parent)
        return self._add(f"{parent}>{effect}@noise", noise, draws, Table((), widths))

    def _add_share(self, key: tuple[str, int], node: Condition | Finding, table: Array, noise: int) -> int:
        """What one parent's version contributes, given the inhibitor's draw: a deterministic table."""
        parent, version = key
        name = f"{parent}>{node.id}@{version}"
        share = Table((self._variable(parent, version), noise), inhibited(table))
        return self._add(name, Variable("share", node.id, version, parent), node.states, share)
