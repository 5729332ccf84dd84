"""What the words of a call stand for: things of the knowledge, by id or in words, with "did you mean"."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import click
from click.shell_completion import CompletionItem

from diagnose.cases.events import CONFIRMED, MOST_HOURS, Confirmed
from diagnose.cli.context import CommandContext
from diagnose.errors import CallError
from diagnose.knowledge.records import Knowledge


def knowledge_of(context: click.Context | None) -> Knowledge:
    """The knowledge that this call uses."""
    given = context.find_object(CommandContext) if context else None
    return (given or CommandContext()).knowledge


class Thing(click.ParamType[str]):
    """Something of one or several sections of the knowledge: its id, or words that clearly mean it."""

    def __init__(self, name: str, *sections: str):
        self.name = name
        self.sections = sections

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> str:
        """The id meant. Fails with those that come near."""
        try:
            return self.meant(knowledge_of(ctx), str(value))
        except CallError as error:
            self.fail(str(error), param, ctx)

    def shell_complete(
        self, ctx: click.Context, param: click.Parameter, incomplete: str
    ) -> list[CompletionItem]:
        """The ids that begin so, with their names."""
        knowledge = knowledge_of(ctx)
        found = {id: one.name for section in self.sections for id, one in getattr(knowledge, section).items()}
        return [
            CompletionItem(id, help=name) for id, name in found.items() if id.startswith(incomplete.lower())
        ]

    def meant(self, knowledge: Knowledge, text: str) -> str:
        """The id meant by a text. Raises CallError with those that come near."""
        if any(text in getattr(knowledge, section) for section in self.sections):
            return text
        from diagnose.knowledge.lookup import resolve_any

        found = resolve_any(knowledge, text, self.sections)
        if found.clear:
            return found.clear.id
        hint = "" if found.close else f" Search with: diagnose knowledge find {text}"
        close = [match.id for match in found.close[:4]]
        raise CallError(f"“{text}” is no {self.name} of the knowledge.{hint}", close)


class KeyValue(click.ParamType[tuple[str, Any]]):
    """`key=value`, the key a thing of the knowledge."""

    def __init__(self, name: str, section: str):
        self.name = name
        self.thing = Thing(name.partition("=")[0], section)

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[str, Any]:
        """Key and value."""
        if isinstance(value, tuple):
            return value
        key, equals, rest = str(value).partition("=")
        if not equals or not rest.strip():
            self.fail(f"“{value}” is not of the form {self.name}.", param, ctx)
        id = self.thing.convert(key.strip(), param, ctx)
        return id, self.read(id, rest.strip(), param, ctx)

    def read(self, key: str, value: str, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """The value for this key."""
        raise NotImplementedError

    def shell_complete(
        self, ctx: click.Context, param: click.Parameter, incomplete: str
    ) -> list[CompletionItem]:
        """The keys that begin so; after the `=` what may stand there."""
        key, equals, begun = incomplete.partition("=")
        if equals:
            values = self.values(knowledge_of(ctx), key)
            return [CompletionItem(f"{key}={one}") for one in values if one.startswith(begun.lower())]
        found = self.thing.shell_complete(ctx, param, incomplete)
        return [CompletionItem(f"{one.value}=", help=one.help) for one in found]

    def values(self, knowledge: Knowledge, key: str) -> tuple[str, ...]:
        """What may stand behind this key, where that is a list."""
        return ()


class FactPair(KeyValue):
    """A machine fact with one of its values."""

    def __init__(self) -> None:
        super().__init__("fact=value", "facts")

    def read(self, key: str, value: str, param: click.Parameter | None, ctx: click.Context | None) -> str:
        """The value as the knowledge writes it."""
        known: Mapping[str, str] = {v.lower(): v for v in knowledge_of(ctx).facts[key].values}
        if value.lower() not in known:
            self.fail(
                f"“{value}” is no value of {key}. It is one of: {', '.join(known.values())}.", param, ctx
            )
        return known[value.lower()]

    def values(self, knowledge: Knowledge, key: str) -> tuple[str, ...]:
        """The values of the fact."""
        return knowledge.facts[key].values if key in knowledge.facts else ()


class RenewedPair(KeyValue):
    """A cause with the hours run since its part was last replaced."""

    def __init__(self) -> None:
        super().__init__("cause=hours", "causes")

    def read(self, key: str, value: str, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """The hours."""
        return HOURS.convert(value, param, ctx)


class Hours(click.ParamType[float]):
    """A number of running hours, from 0 on."""

    name = "hours"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """The number."""
        try:
            hours = float(str(value).removesuffix("h").strip())
        except ValueError:
            hours = -1.0
        if not 0 <= hours <= MOST_HOURS:
            self.fail(f"“{value}” is not a number of hours.", param, ctx)
        return hours


class Finite(click.FloatRange):
    """A number within bounds; none of them holds what is no number."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """The number."""
        number = float(super().convert(value, param, ctx))
        if not math.isfinite(number):
            self.fail(f"“{value}” is not a number.", param, ctx)
        return number


class FoundCause(click.ParamType[tuple[str, Confirmed | None]]):
    """A cause found, and after a `=` how it was confirmed."""

    name = "cause"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[str, Confirmed | None]:
        """The cause's id and how it was confirmed, None where that is not said."""
        if isinstance(value, tuple):
            return value
        words, equals, how = str(value).partition("=")
        confirmed = next((one for one in CONFIRMED if one.replace(" ", "-") == how.strip().lower()), None)
        if equals and confirmed is None:
            known = ", ".join(one.replace(" ", "-") for one in CONFIRMED)
            self.fail(f"“{how}” is no way to confirm a cause. It is one of: {known}.", param, ctx)
        return CAUSE.convert(words.strip(), param, ctx), confirmed

    def shell_complete(
        self, ctx: click.Context, param: click.Parameter, incomplete: str
    ) -> list[CompletionItem]:
        """The causes that begin so; after the `=` the ways to confirm one."""
        cause, equals, begun = incomplete.partition("=")
        ways = (one.replace(" ", "-") for one in CONFIRMED)
        if equals:
            return [CompletionItem(f"{cause}={way}") for way in ways if way.startswith(begun)]
        return CAUSE.shell_complete(ctx, param, incomplete)


class CaseNumber(click.IntRange):
    """The number of a stored case."""

    def __init__(self) -> None:
        super().__init__(1)

    def shell_complete(
        self, ctx: click.Context, param: click.Parameter, incomplete: str
    ) -> list[CompletionItem]:
        """The cases that begin so, with their machines; open ones first."""
        return [one for one in _cases(ctx) if one.value.startswith(incomplete)]


class CaseWords(click.ParamType[str]):
    """A number of a case, of a machine, or words."""

    name = "case"

    def shell_complete(
        self, ctx: click.Context, param: click.Parameter, incomplete: str
    ) -> list[CompletionItem]:
        """The cases and machines that begin so."""
        found = _cases(ctx)
        machines = dict.fromkeys(one.help.partition(":")[0] for one in found if one.help)
        wanted = incomplete.casefold()
        return [
            *(one for one in found if one.value.startswith(incomplete)),
            *(CompletionItem(name) for name in machines if name.casefold().startswith(wanted)),
        ]


def _cases(context: click.Context) -> list[CompletionItem]:
    from diagnose.report.case_list import in_order

    with (context.find_object(CommandContext) or CommandContext()).store() as store:
        found = in_order(store.cases())
    return [CompletionItem(str(one.number), help=f"{one.machine}: {one.complaint}") for one in found]


class Words(click.ParamType[str]):
    """Words in any form, for which the ids of some sections of the knowledge are offered while they are typed."""

    name = "words"

    def __init__(self, *sections: str):
        self.thing = Thing("", *sections)

    def shell_complete(
        self, ctx: click.Context, param: click.Parameter, incomplete: str
    ) -> list[CompletionItem]:
        """The ids that begin so."""
        return self.thing.shell_complete(ctx, param, incomplete)


HOURS = Hours()
CASE = CaseWords()
CASE_NUMBER = CaseNumber()
SEEN = Words("findings")
CAUSE_WORDS = Words("causes")
ANYTHING = Words(
    "causes", "conditions", "findings", "checks", "repairs", "access", "hazards", "facts", "families"
)
CAUSE = Thing("cause", "causes")
CHECK = Thing("check", "checks")
ACCESS = Thing("access state", "access")
FAMILY = Thing("family", "families")
REPAIR = Thing("repair or cause", "repairs", "causes")
FACT = FactPair()
RENEWED = RenewedPair()
FOUND = FoundCause()
