"""What every command works with, loaded when asked for: knowledge, shop, case store, the case in question."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from diagnose.cli import terminal
from diagnose.cli.show import say
from diagnose.errors import CallError, DataError
from diagnose.knowledge.records import Knowledge

if TYPE_CHECKING:
    from diagnose.cases.case import Case
    from diagnose.cases.events import Event, Opened
    from diagnose.cases.store import Store, Summary
    from diagnose.moves.advice import Advice
    from diagnose.planning.shop import Shop

Signed = TypeVar("Signed", bound="Event")


@dataclass
class CommandContext:
    """The files named on the command line, or those of the environment and the user's data folder; `by`: who
    notes."""

    knowledge_folder: Path | None = None
    store_path: Path | None = None
    shop_path: Path | None = None
    overlay_path: Path | None = None
    by: str = ""
    _opened: Store | None = field(default=None, init=False, repr=False)

    @cached_property
    def knowledge(self) -> Knowledge:
        """The checked knowledge. Raises DataError."""
        from diagnose.knowledge.loader import load

        return load(self.knowledge_folder, self.overlay_path)

    @cached_property
    def shop(self) -> Shop:
        """The shop's rates and prices. Raises DataError."""
        from diagnose.planning.shop_file import load_shop

        return load_shop(self.shop_path)

    @contextmanager
    def store(self) -> Iterator[Store]:
        """The case store, open: the same until `close`, so that what it holds is looked at once."""
        from diagnose.cases.store import Store

        if self._opened is None or not self._opened.current:
            self.close()
            self._opened = Store(self.store_path)
        yield self._opened

    def close(self) -> None:
        """Let go of the case store."""
        if self._opened is not None:
            self._opened.close()
            self._opened = None

    def number(self, chosen: int | None) -> int:
        """The case chosen, else the one last worked on in this terminal, else the open one with the latest entry.
        Raises CallError where there is none."""
        return self._meant().number if chosen is None else chosen

    def open_number(self, chosen: int | None) -> int:
        """The same for what is recorded: never silently a closed case. Raises CallError."""
        if chosen is not None:
            return chosen
        case = self._meant()
        if case.closed:
            which = f"Case {case.number} ({case.machine}: {case.complaint or 'no complaint'}) is closed."
            raise CallError(f"{which} Say which case is meant with -c NUMBER, or start one: diagnose new")
        return case.number

    def _meant(self) -> Summary:
        """The case last worked on in this terminal, else the open one with the latest entry."""
        with self.store() as store:
            last = terminal.last(store.path)
            here = None if last is None else store.summary(last)
            if here and not here.void:
                return here
            found = [one for one in store.cases() if not one.void]
        if not found:
            raise CallError("There is no case yet. Start one: diagnose new MACHINE COMPLAINT")
        return max(found, key=lambda one: (not one.closed, one.latest, one.number))

    def case(self, chosen: int | None = None, file: Path | None = None) -> Case:
        """The stored case, or that of a scenario file. Raises CallError, and DataError for a bad file."""
        if file is None:
            number = self.number(chosen)
            from diagnose.cases.renamed import with_present_ids

            with self.store() as store:
                return with_present_ids(self.knowledge, store.case(number))
        if chosen is not None:
            raise CallError("Give a case number or a file, not both.")
        from diagnose.cases.scenario import load

        return load(file, self.knowledge).case()

    @cached_property
    def noted_by(self) -> str:
        """Who notes: the one named on the call, else the shop file's; what is wrong in that file loses no entry."""
        if self.by:
            return self.by
        try:
            return self.shop.by
        except DataError as error:
            say(f"Nobody is named as the one who noted it: {error}", err=True)
            return ""

    def open_case(self, opened: Opened, more: Iterable[Event]) -> int:
        """Start a case; its number."""
        with self.store() as store:
            return store.new_case(self._signed(opened), *map(self._signed, more))

    def _signed(self, event: Signed) -> Signed:
        return event if event.by or not self.noted_by else replace(event, by=self.noted_by)

    def keep_told(self, advice: Advice) -> None:
        """Keep what was told of a stored case, for the list of cases."""
        if not advice.case.number:
            return
        from diagnose.cases.kept_advice import remember
        from diagnose.cases.store import default_path
        from diagnose.report.kept_advice import told_of

        remember(self.store_path or default_path(), told_of(advice))

    def record(self, number: int, events: Iterable[Event]) -> tuple[int, ...]:
        """Append events, all or none; their numbers in the case."""
        signed = [self._signed(event) for event in events]
        with self.store() as store:
            numbers = store.append(number, *signed)
            from diagnose.cases.times import jumps

            clock = jumps(store.events(number))
            terminal.remember(store.path, number)
        for one in numbers:
            if one in clock:
                say(f"Number {one}: {clock[one]}. Set the clock of this computer.", err=True)
        return numbers
