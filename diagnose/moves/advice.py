"""All that is said of a case, put together once: screens, JSON, documents, exercises and scenarios read it."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

from diagnose.diagnosis import Diagnosis
from diagnose.knowledge.observable import LAST_RIGHT_QUESTION
from diagnose.moves.move import ASK, CHECK, HAND_OVER, MAKE_SAFE, REPAIR, Move, move_of
from diagnose.moves.standing import NOTHING, Action, Standing
from diagnose.plain import small
from diagnose.planning.checks import CheckValue, next_checks
from diagnose.planning.decide import Decision, decide
from diagnose.planning.repairs import RepairChoice
from diagnose.planning.shop import Shop
from diagnose.planning.since import ASK_LAST_RIGHT

LOOKS = (ASK, MAKE_SAFE, CHECK)
"""The kinds of moves that are checks."""


class Advice(Standing):
    """A case as it stands with its next move, and the checks, repairs and plan that begin with it."""

    @cached_property
    def move(self) -> Move:
        """The one thing to do now."""
        return move_of(self)

    def next_checks(self, most: int | None = None) -> tuple[CheckValue, ...]:
        """The checks most worth doing; where the next move is one, it comes first."""
        lead = self.move.id if self.move.kind in LOOKS else ""
        return next_checks(self.diagnosis, self.situation, most, self.order, lead)

    def names(self, ids: Sequence[str]) -> tuple[str, ...]:
        """Of checks and questions in words, as one reads them in a list."""
        found = {option.id: option.asked or option.name for option in self.checks}
        found[ASK_LAST_RIGHT] = LAST_RIGHT_QUESTION
        return tuple(small(found[id].rstrip("?")) for id in ids)

    def repairs(self) -> tuple[RepairChoice, ...]:
        """The sets of repairs; where the next move is one of them, it comes first."""
        first = [one for one in self.choices if self._is_move(one)]
        return (*first[:1], *(one for one in self.choices if one not in first[:1]))

    def decide(self, seconds: float) -> Decision:
        """The plan, beginning with the next move where that is one of its actions."""
        return decide(self.diagnosis, self.situation, seconds, self._first_action())

    @cached_property
    def best(self) -> Action:
        """The next move as an action with its price: what a person who follows the program does."""
        move = self.move
        if move.kind in LOOKS and (option := self.check_option(move.id)):
            return self.check(option)
        if move.kind == REPAIR:
            return self.repair([self.knowledge.repairs[id] for id in move.ids])
        return self.hand_over() if move.kind == HAND_OVER else self.actions[0]

    def regret(self, action: Action) -> float:
        """Money that an action is expected to cost beyond the cheapest; 0 for the next move."""
        same = action.kind == self.best.kind and set(action.ids) == set(self.best.ids)
        more = action.expected - self.actions[0].expected
        return 0.0 if same or more < NOTHING else more

    def _is_move(self, choice: RepairChoice) -> bool:
        return self.move.kind == REPAIR and {r.id for r in choice.repairs} == set(self.move.ids)

    def _first_action(self) -> tuple[str, int] | None:
        """The next move as an action of the planning problem."""
        if self.move.kind in LOOKS:
            ids = [check.id for check in self.situation.checks]
            return ("test", ids.index(self.move.id)) if self.move.id in ids else None
        if self.move.kind == REPAIR:
            sets = [{repair.id for repair in done} for done in self.situation.repairs]
            wanted = set(self.move.ids)
            return ("fix", sets.index(wanted)) if wanted in sets else None
        return None


def advised(diagnosis: Diagnosis, shop: Shop) -> Advice:
    """What is said of a diagnosis."""
    return Advice(diagnosis.knowledge, diagnosis.case, shop, diagnosis)
