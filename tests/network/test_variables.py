"""What a variable stands for is told by its record: the names of a network are for people, and nothing is read back
out of them."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from diagnose.cases.case import Case, Epoch, Observation
from diagnose.diagnosis import Diagnosis, diagnose
from diagnose.knowledge.records import Cure, Knowledge, Repair
from diagnose.network import build as building
from diagnose.network.machine import Machine
from diagnose.network.network import Network
from diagnose.network.observed import ImpossibleEvidence
from diagnose.report.number_words import number_words
from diagnose.study.lines import lay_open
from tests.knowledge_by_hand import HERE, cause, condition, fact, finding, knowledge, number, only, times
from tests.planning.test_away import part

PACKAGE = Path(__file__).parents[2] / "diagnose"
TYPED = ("cli", "codes", "intake", "understanding", "cases", "knowledge", "moves", "words", "caching.py")
"""Where texts are taken apart that somebody typed or a case keeps; the marks of ids have their homes in knowledge:
located.py, away.py, observable.py."""
TAKES_APART = {"partition", "split", "rpartition", "rsplit"}
TAKES_APART |= {"removeprefix", "removesuffix", "startswith", "endswith"}


def _is_mark(value: object) -> bool:
    return isinstance(value, str) and " " not in value and value.strip("@>=#:") != value


def taken_apart(text: str) -> Iterator[str]:
    """Every mark at which a text is taken apart."""
    for node in ast.walk(ast.parse(text)):
        if (
            isinstance(node, ast.Call)
            and isinstance(node.func, ast.Attribute)
            and node.func.attr in TAKES_APART
        ):
            for given in node.args:
                if isinstance(given, ast.Constant) and _is_mark(given.value):
                    yield str(given.value)
                elif isinstance(given, ast.Name) and given.id.isupper() and given.id[0] != "_":
                    yield given.id


def test_no_name_is_taken_apart() -> None:
    files = [p for p in PACKAGE.rglob("*.py") if p.relative_to(PACKAGE).parts[0] not in TYPED]
    found = {path.name: list(taken_apart(path.read_text(encoding="utf-8"))) for path in files}
    assert {name: marks for name, marks in found.items() if marks} == {}


def test_a_planted_name_taken_apart_is_found() -> None:
    planted = 'a = name.partition("@")[0]\nb = id.startswith(OTHER)\nc = id.removeprefix("other:")\n'
    assert sorted(taken_apart(planted)) == ["@", "OTHER", "other:"]
    assert not list(taken_apart('a = words.split(", ")\nb = text.partition(" ")\n'))


def tangled() -> Knowledge:
    """All kinds of variables: causes by facts and by what wrecks them, a gate, a part that can be taken out, and
    records that are there once for each cylinder."""
    here: Any = {"located": "cylinder"}
    plain = knowledge(
        fact("cylinders", {"4": 0.4, "6": 0.6}),
        fact("duty", {"light": 0.7, "heavy": 0.3}),
        fact("turbo", {"no": 0.4, "yes": 0.6}),
        cause("injector", 0.03, {"miss": 0.7, "cold": 0.3}, modifiers=times(duty={"heavy": 4.0}), **here),
        cause("wiring", 0.04, {"miss": 0.5, "belt_worn": 0.3}),
        cause("belt_worn", 0.02, {"shakes": 0.8, "whistle": 0.2}, only_if=only(turbo=["yes"])),
        cause("mount", 0.03, {"shakes": 0.6}),
        condition("shakes", 0.01, {"rattle": 0.7, "whistle": 0.4}),
        finding("miss", 0.02, other=0.01, **here),
        finding("cold", 0.02, **here),
        finding("rattle", 0.02, other=0.01),
        finding("whistle", 0.01, only_if=only(turbo=["yes"])),
    )
    cures = (Cure("mount", number(0.9), HERE),)
    repair = Repair("mended", "mended", "test", number(30), (), (), (), cures, None, (), (), (), HERE)
    return replace(plain, repairs={"mended": repair}, removable={"belt": part("belt", {"belt_worn": 0.9})})


def told_of(*second: tuple[str, str]) -> Case:
    first = (("rattle", "present", ""), ("miss", "present", "cylinder 2"), ("cold", "absent", "cylinder 2"))
    before = tuple(Observation(f, s, place=place, event=n) for n, (f, s, place) in enumerate(first))
    after = tuple(Observation(f, s, epoch=1, event=9 + n) for n, (f, s) in enumerate(second))
    mended = Epoch(repairs=("mended",), causes=("mount",), observations=after)
    return Case(1, Machine(), came_in_for=("rattle",), epochs=(Epoch(observations=before), mended))


def said(diagnosis: Diagnosis) -> tuple[Any, ...]:
    opened = lay_open(diagnosis)
    return (
        diagnosis.causes,
        diagnosis.other_cause,
        diagnosis.evidence,
        diagnosis.fault_sets,
        diagnosis.unexplained,
        diagnosis.conflict,
        diagnosis.averaged,
        opened.named.left_out,
        [
            (number_words(diagnosis, row, item), item.label)
            for row, items in opened.named.rows.items()
            for item in items
        ],
    )


SECOND = (("rattle", "present"), ("rattle@belt", "gone"), ("whistle", "present"))


def test_names_say_nothing_to_the_program(monkeypatch: pytest.MonkeyPatch) -> None:
    """With numbers for names a tangled case has the same answer to the last bit, and the same words."""
    plain = diagnose(tangled(), told_of(*SECOND))

    def numbered(names: tuple[str, ...], *rest: Any) -> Network:
        return Network(tuple(map(str, range(len(names)))), *rest)

    monkeypatch.setattr(building, "Network", numbered)
    bare = diagnose(tangled(), told_of(*SECOND))
    kinds = {one.kind for one in bare.built.variables}
    assert kinds >= {"record", "other", "fact", "open", "arises", "shared", "share", "noise"}
    assert bare.built.network.names[0] == "0"
    assert said(bare) == said(plain)
    assert {one.place for one in bare.causes} > {""}
    assert np.isclose(bare.engine.log_probability, plain.engine.log_probability, rtol=0, atol=0)


def test_what_cannot_be_is_told_in_words_not_names(monkeypatch: pytest.MonkeyPatch) -> None:
    sure = knowledge(
        cause("flat", 0.1, {"clicks": 1.0, "dim": 1.0}), finding("clicks", 0.0), finding("dim", 0.0)
    )
    seen = (Observation("clicks", "present"), Observation("dim", "absent", event=1))
    with pytest.raises(ImpossibleEvidence) as caught:
        diagnose(sure, Case(1, Machine(), epochs=(Epoch(observations=seen),)))
    assert sorted(caught.value.names) == ["clicks", "dim"]
