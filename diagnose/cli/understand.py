"""The command `understand`: what a text says, part by part, without recording anything."""

from __future__ import annotations

import click
from rich.console import Group, RenderableType

from diagnose.cli.context import CommandContext
from diagnose.cli.shared_options import json_option
from diagnose.cli.show import out
from diagnose.errors import CallError
from diagnose.knowledge.observable import observable
from diagnose.knowledge.records import Knowledge
from diagnose.report.data import Json
from diagnose.report.text import QUIET, line
from diagnose.understanding import TextPart, Understanding
from diagnose.understanding import understand as understood


@click.command()
@click.argument("words", nargs=-1, required=True, metavar="TEXT...")
@json_option
@click.pass_obj
def understand(context: CommandContext, /, words: tuple[str, ...], as_json: bool) -> None:
    """What a text says, part by part; nothing is recorded.

    TEXT is a complaint, a note or an answer in anybody's words. Shown are the findings with their state, readings,
    codes, what is told of the machine and its past, circumstances and place, and word for word what was not
    understood.
    """
    text = " ".join(words)
    if not text.strip():
        raise CallError("There is nothing to understand: say what was seen.")
    found = understood(context.knowledge, text)
    out("understand", as_json, lambda: data(found), lambda: _screen(context.knowledge, found))


def data(found: Understanding) -> Json:
    """The parts as plain data."""
    return {
        "text": found.text,
        "parts": [_part(part) for part in found.parts],
        "not_understood": list(found.not_understood),
    }


def _part(part: TextPart) -> Json:
    return {
        "span": [part.start, part.end],
        "text": part.text,
        "kind": part.kind,
        "id": part.id,
        "state": part.state,
        "value": part.value,
        "unit": part.unit,
        "confidence": part.confidence,
        "sure": part.sure,
        "also": list(part.also),
        "alternatives": [
            {"id": one.id, "state": one.state, "likelihood": round(one.likelihood, 3), "unit": one.unit}
            for one in part.alternatives
        ],
    }


def _screen(knowledge: Knowledge, found: Understanding) -> RenderableType:
    lines = [piece for part in found.parts for piece in _lines(knowledge, part)]
    lines += [line(f"Not understood: {words}", style=QUIET) for words in found.not_understood]
    return Group(*(lines or [line("Nothing of it comes near anything that the knowledge knows.")]))


def _lines(knowledge: Knowledge, part: TextPart) -> list[RenderableType]:
    unsure = "" if part.confidence == "sure" else f" ({part.confidence})"
    if part.kind == "finding" and part.sure:
        names = [_in_words(knowledge, id, part.state) for id in (part.id, *part.also)]
        return [line(f"{name}{unsure}") for name in names]
    if part.alternatives:
        named = [
            f"{one.id} {one.unit}".strip()
            if part.kind == "reading"
            else _in_words(knowledge, one.id, one.state)
            for one in part.alternatives
        ]
        return [line(f"“{part.text}” may be: {'; or '.join(named)}")]
    if part.kind == "finding":
        return []
    value = "" if part.value is None else f" {part.value:g} {part.unit}"
    name = " = ".join(filter(None, (", ".join((part.id, *part.also)), part.state)))
    typed = f" “{part.text}”" if part.text != name else ""
    return [line(f"{part.kind}: {name}{value}{typed}{unsure}")]


def _in_words(knowledge: Knowledge, id: str, state: str) -> str:
    finding = observable(knowledge, id)
    if state == "absent":
        return f"{finding.name}: {finding.normal}"
    return finding.name
