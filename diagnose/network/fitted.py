"""What of the knowledge a machine can have, by its facts, and what hangs on what there."""

from __future__ import annotations

from diagnose.knowledge.machine_facts import Requirement
from diagnose.knowledge.records import Cause, Condition, Finding, Knowledge, Link
from diagnose.network.facts import Facts

Node = Cause | Condition | Finding


class Fitted:
    """`causes`: those that the machine can have. `nodes`: these, conditions and findings. `sound`: conditions and
    findings that it cannot have or show: they stay in their first state, nothing leads to them and they have no
    leak. `links`: effect -> parent -> link. `cleared`: finding -> what must be away for it to show anything."""

    def __init__(self, knowledge: Knowledge, facts: Facts):
        self.facts = facts
        self.causes = {id: cause for id, cause in knowledge.causes.items() if self._can_be(cause)}
        effects: dict[str, Condition | Finding] = {**knowledge.conditions, **knowledge.findings}
        self.nodes: dict[str, Node] = {**self.causes, **effects}
        self.sound = {one.id for one in effects.values() if not self._can_be(one)}
        self.links: dict[str, dict[str, Link]] = {id: {} for id in self.nodes}
        for id, node in self.nodes.items():
            for link in getattr(node, "leads_to", ()):  # a finding at a place leads to that of the machine
                if link.effect in self.links and self.sound.isdisjoint((id, link.effect)):
                    self.links[link.effect][id] = link
        self.cleared: dict[str, tuple[str, ...]] = {
            id: tuple(one for one in finding.clears if one in self.nodes and one not in self.sound)
            for id, finding in knowledge.findings.items()
        }

    def _can_be(self, record: Node) -> bool:
        return all(self.facts.chance(one) > 0 for one in record.only_if)

    def open_facts(self, record: Node) -> list[Requirement]:
        """What this machine must be for the record to apply, where that is not known."""
        return [one for one in record.only_if if self.facts.unknown(one.fact) and self.facts.chance(one) < 1]

    def above(self, id: str) -> tuple[str, ...]:
        """Everything that the variable hangs on, but facts."""
        return (*self.links[id], *self.cleared.get(id, ()))

    def topological(self) -> list[str]:
        """All nodes, each after those above it."""
        order: dict[str, None] = {}

        def visit(id: str) -> None:
            if id not in order:
                for parent in self.above(id):
                    visit(parent)
                order[id] = None

        for id in self.nodes:
            visit(id)
        return list(order)
