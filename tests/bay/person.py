"""Somebody at the bay's screen with a machine of known faults: reads what is asked and types the answer.

Nothing is read but the screen. What the machine shows stands in a play; what the play does not name is as on a
typical machine with these faults: what a fault brings about more often than not, and nothing that misleads.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import yaml

from diagnose.cli.bay.results import asked_name
from diagnose.knowledge.records import Finding, Knowledge
from diagnose.network.build import build
from diagnose.network.machine import Machine
from diagnose.network.network import Table
from diagnose.network.ties import untied
from diagnose.practice.world import World

HERE = Path(__file__).parent
PLAYS = HERE / "plays"
EVEN = 0.5
"""The draw of every mechanism of a typical machine."""
STAND = "What did you see?"
_NUMBERED = re.compile(r"( {0,2}(\d+) )(\S.*)")


class Lost(AssertionError):
    """The screen asks what a play has no answer to, or goes round in circles."""


@dataclass(frozen=True)
class Play:
    """One machine and what is wrong with it. `shows`: what is typed where a finding is asked, by its id; `says`:
    the same by words of the question; `typed`: at the stands, in order, before the moves are followed; `reworded`:
    the complaint where it was not understood."""

    id: str
    title: str
    machine: str
    family: str
    complaint: str
    causes: tuple[str, ...]
    hours: str = ""
    facts: Mapping[str, str] = field(default_factory=dict)
    reworded: str = ""
    last_right: str = ""
    codes: str = ""
    shows: Mapping[str, str] = field(default_factory=dict)
    says: Mapping[str, str] = field(default_factory=dict)
    typed: tuple[str, ...] = ()


def plays() -> tuple[Play, ...]:
    """All of them, in the order of their names."""
    return tuple(read(path) for path in sorted(PLAYS.glob("*.yaml")))


def read(path: Path) -> Play:
    """One play."""
    told = yaml.safe_load(path.read_text(encoding="utf-8"))
    return Play(**{name: _texts(value) for name, value in told.items()}, id=path.stem)


def _texts(value: Any) -> Any:
    """Numbers and words as they are typed."""
    if isinstance(value, dict):
        return {key: str(one) for key, one in value.items()}
    return tuple(map(str, value)) if isinstance(value, list) else str(value)


def machine(knowledge: Knowledge, play: Play) -> World:
    """The typical machine with the faults of a play."""
    facts = {**knowledge.families[play.family].facts, **play.facts}
    built = build(knowledge, Machine(play.machine, play.family, facts, float(play.hours or 0) or None))
    built = untied(built, built.telling)
    network, settled = built.network, [*built.causes, *built.others.values()]
    held = {network.index[id]: int(id in play.causes) for id in settled}
    sizes = (1 if isinstance(one, Table) else 1 + len(one.parents) for one in network.families)
    return World(network, held, [np.full(size, EVEN) for size in sizes])


class Person:
    """Answers what the screen asks, as one does who stands beside the machine and follows the moves."""

    def __init__(self, knowledge: Knowledge, play: Play):
        self.knowledge, self.play, self.machine = knowledge, play, machine(knowledge, play)
        named = {*knowledge.findings, *knowledge.causes, *knowledge.facts}
        if unknown := [id for id in (*play.shows, *play.causes, *play.facts) if id not in named]:
            raise Lost(f"{play.id}: the knowledge has no {', '.join(unknown)}")
        self.typed = list(play.typed)
        self.mended: set[str] = set()
        self.closed = self.away = False
        self.move = ""

    def answer(self, screen: Sequence[str], prompt: str) -> str:
        """What is typed at this prompt below this screen."""
        if prompt.startswith(STAND):
            self.move = _joined(screen)
        for words, typed in self.play.says.items():
            if words in _joined([*screen, prompt]):
                return typed
        for start, found in self._by_prompt().items():
            if prompt.startswith(start):
                return found(screen)
        raise Lost(f"{self.play.id}: no answer to: {prompt}")

    def _by_prompt(self) -> Mapping[str, Callable[[Sequence[str]], str]]:
        play = self.play
        return {
            "New case. Machine number": lambda _: play.machine,
            "Number, machine or words": self._which,
            "Number (Enter: none of these)": self._chosen,
            "Running hours": lambda _: play.hours,
            "What did it come in for": lambda _: play.complaint,
            "In other words": lambda _: play.reworded,
            "Hours since": lambda _: play.last_right,
            "Number (u undo, b back)": self._finding,
            "Numbers (0 none": self._findings,
            "Codes (Enter": self._codes,
            "More codes": lambda _: "",
            "Numbers or words, commas": self._repairs,
            "Really done": lambda _: "y",
            "Numbers, a all": self._proofs,
            STAND: self._stand,
            "Which cylinder": lambda _: "",
            "Which bank": lambda _: "",
            "Found:": self._causes,
            "y for yes": lambda _: "y",
            "Was the repair proven": self._proven,
            "-- Enter": lambda _: "",
        }

    def _stand(self, _: Sequence[str]) -> str:
        """What the play has typed first; then the moves. Where a proof is due later it goes to work once."""
        if self.typed:
            return self.typed.pop(0)
        goes, self.away = (
            "falls due later" in self.move and not self.away,
            self.away or "falls due" in self.move,
        )
        return "b" if goes else "d"

    def _which(self, _: Sequence[str]) -> str:
        return "q" if self.closed else "1" if self.away else "n"

    def _chosen(self, screen: Sequence[str]) -> str:
        """The number of the family, of the fact's value, or of how it was confirmed."""
        play, labels, asked = self.play, numbered(screen), _joined(screen)
        wanted = {self.knowledge.families[play.family].name}
        wanted |= {value for id, value in play.facts.items() if self.knowledge.facts[id].question in asked}
        wanted |= {"by repair: it was put right and the complaint went"}
        return next((str(n) for n, label in labels.items() if label in wanted), "")

    def _finding(self, screen: Sequence[str]) -> str:
        blank = max((n for n, one in enumerate(screen) if not one), default=-1)
        asked = re.sub(r"^\d+ of \d+: ", "", _joined(screen[blank + 1 :]))
        known = [one for one in self._known() if asked.startswith(f"{asked_name(one)} ")]
        if not known:
            raise Lost(f"{self.play.id}: which finding is this? {asked}")
        found = max(known, key=lambda one: len(one.name))
        return self._shown(found)

    def _known(self) -> Sequence[Finding]:
        return list(self.knowledge.findings.values())

    def _shown(self, finding: Finding) -> str:
        """What stands for it in the play; else the number of the state that the machine shows."""
        return self.play.shows.get(finding.id) or str(len(finding.states) - self._state(finding))

    def _state(self, finding: Finding) -> int:
        shown = finding.id in self.machine.network.index and not self.machine.normal(finding.id)
        return finding.states.index(self.machine.shows(finding.id)) if shown else 0

    def _codes(self, _: Sequence[str]) -> str:
        """Those of the play; else those that the machine has stored."""
        codes = [one for one in self.knowledge.findings.values() if one.kind == "code" and self._state(one)]
        return self.play.codes or ", ".join(one.codes[0] for one in codes if one.codes)

    def _findings(self, screen: Sequence[str]) -> str:
        names = {asked_name(one): one for one in self._known()}
        asked = {n: names[label] for n, label in numbered(screen).items()}
        so = [str(n) for n, one in asked.items() if self._shown(one) in ("yes", "y", "1")]
        return ", ".join(so) or "0"

    def _repairs(self, screen: Sequence[str]) -> str:
        """Those of the move."""
        names = {one.name: id for id, one in self.knowledge.repairs.items()}
        offered = numbered(screen)
        wanted = [n for n, label in offered.items() if f"{label} " in f"{self.move} "]
        self.mended |= {names[offered[n]] for n in wanted}
        self.machine.remove(
            c.cause
            for id in self.mended
            for c in self.knowledge.repairs[id].cures
            if c.cause in self.machine.network.index
        )
        return ", ".join(map(str, wanted))

    def _proofs(self, _: Sequence[str]) -> str:
        return "a"

    def _causes(self, screen: Sequence[str]) -> str:
        names = [self.knowledge.causes[id].name for id in self.play.causes]
        offered = {label: n for n, label in numbered(screen).items()}
        self.closed = True
        return ", ".join(str(offered.get(name, name)) for name in names)

    def _proven(self, _: Sequence[str]) -> str:
        return "y"


def numbered(screen: Sequence[str]) -> dict[int, str]:
    """The last list on the screen: numbers with their labels, what wrapped put together again."""
    found: dict[int, str] = {}
    beside = ""
    for line in screen:
        new = _NUMBERED.fullmatch(line)
        if new and int(new[2]) in (1, len(found) + 1):
            found = {} if int(new[2]) == 1 else found
            found[len(found) + 1] = new[3].strip()
            beside = " " * len(new[1])
        elif found and line.startswith(beside):
            found[len(found)] += f" {line.strip()}"
    return found


def _joined(lines: Sequence[str]) -> str:
    return " ".join(" ".join(lines).split())
