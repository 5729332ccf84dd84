"""One case on the stand: every answer is stored at once, and the last one can be taken back."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import zip_longest

from diagnose.cases.case import Case
from diagnose.cases.events import Event, Noted, Opened, Withdrawn
from diagnose.cli.asking import take
from diagnose.cli.context import CommandContext
from diagnose.cli.talk import Talk
from diagnose.intake.note import followed
from diagnose.intake.outcome import Intake
from diagnose.knowledge.observable import noted
from diagnose.knowledge.records import Knowledge


@dataclass
class BaySession:
    """`case` is always as the store has it. `batches`: what was recorded together in this conversation."""

    context: CommandContext
    talk: Talk
    number: int
    case: Case = field(init=False)
    batches: list[tuple[int, ...]] = field(default_factory=list, init=False)

    def __post_init__(self) -> None:
        self.case = self.context.case(self.number)

    @property
    def knowledge(self) -> Knowledge:
        """The knowledge in use."""
        return self.context.knowledge

    def record(self, events: Iterable[Event]) -> tuple[int, ...]:
        """Store events at once, all or none; their numbers."""
        version = self.knowledge.version
        batch = self.context.record(self.number, [replace(event, knowledge=version) for event in events])
        self.batches.append(batch)
        before, self.case = self.case, self.context.case(self.number)
        self.talk.say(*followed(self.knowledge, before, self.case))
        return batch

    def keep(self, intake: Intake) -> bool:
        """Store what was understood, and say it; whether there was anything."""
        if not intake.events:
            return False
        self.record(intake.events)
        self.tell(intake.events, intake.words)
        return True

    def tell(self, events: Sequence[Event], words: Sequence[str]) -> None:
        """Say what was noted, what was denied in general once."""
        told = noted_words(self.knowledge, events, words)
        self.talk.say(*(one if one.startswith("Kept as words") else f"Noted: {one}" for one in told))

    @property
    def complained(self) -> bool:
        """Whether something was found that is not normal."""
        seen = ((noted(self.knowledge, one.finding), one.state) for one in self.case.observations)
        return any(finding is not None and state != finding.normal for finding, state in seen)

    def note(self, text: str) -> bool:
        """Note what was typed, asking where it is not clear. Raises CallError where nothing comes near."""
        taken = take(self.knowledge, self.case, text, self.talk.choose)
        kept = self.keep(taken.intake)
        self.talk.say(*(f"Not understood: {words}" for words in taken.not_understood))
        return kept

    def undo(self) -> tuple[Event, ...]:
        """Take back what was recorded last; the events that no longer count."""
        gone = self._last()
        if gone:
            version = self.knowledge.version
            self.context.record(
                self.number, [Withdrawn(event.sequence, knowledge=version) for event in reversed(gone)]
            )
            self.case = self.context.case(self.number)
        return gone

    def _last(self) -> tuple[Event, ...]:
        """The last batch still in force; of an earlier conversation, the last entry."""
        standing = {
            event.sequence: event
            for event in self.case.history
            if event.sequence not in self.case.withdrawn and not isinstance(event, Opened | Withdrawn)
        }
        while self.batches:
            if batch := tuple(standing[n] for n in self.batches.pop() if n in standing):
                return batch
        return tuple(standing.values())[-1:]


def noted_words(knowledge: Knowledge, events: Sequence[Event], words: Sequence[str]) -> Iterator[str]:
    """The words of what was noted, a line each. What is not there is said as one says it, and of a general finding
    (smoke) once, not of each of its kinds (white, black, blue smoke)."""
    denied = {one.finding for one in events if isinstance(one, Noted) and _is_denied(knowledge, one)}
    for event, line in zip_longest(events, words):
        finding = noted(knowledge, event.finding) if isinstance(event, Noted) else None
        if finding is None or not isinstance(event, Noted) or finding.id not in denied:
            yield line
        elif not denied.intersection(finding.kind_of):
            yield line.replace(finding.in_words(event.state), f"not so: {finding.name}")


def _is_denied(knowledge: Knowledge, event: Noted) -> bool:
    finding = noted(knowledge, event.finding)
    return finding is not None and finding.states[:1] == ("absent",) == (event.state,)
