"""The layers of the design hold: imports point downward only, and no command pulls in heavy packages."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "diagnose"
LAYERS = (
    ("diagnose.errors",),
    ("diagnose.knowledge",),
    ("diagnose.network",),
    ("diagnose.codes",),
    ("diagnose.cases",),
    ("diagnose.intake",),
    ("diagnose.diagnosis",),
    ("diagnose.learning",),
    ("diagnose.planning",),
    ("diagnose.study",),
    ("diagnose.explaining",),
    ("diagnose.report",),
    ("diagnose.practice",),
    ("diagnose.cli",),
)
"""Lowest first. A module may import from its own layer and from those below it."""


def modules() -> list[str]:
    paths = [p.relative_to(ROOT).with_suffix("") for p in PACKAGE.rglob("*.py") if p.name != "__init__.py"]
    return sorted(".".join(path.parts) for path in paths)


def layer(module: str) -> int:
    for number, names in enumerate(LAYERS):
        if any(module == name or module.startswith(f"{name}.") for name in names):
            return number
    raise AssertionError(f"{module} belongs to no layer: add it to LAYERS")


def imported(module: str) -> Iterator[str]:
    tree = ast.parse((ROOT / Path(*module.split("."))).with_suffix(".py").read_text(encoding="utf-8"))
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module:
            yield node.module
            yield from (f"{node.module}.{alias.name}" for alias in node.names)
        elif isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)


@pytest.mark.parametrize("module", modules())
def test_imports_point_downward(module: str) -> None:
    known = set(modules())
    for name in imported(module):
        if name in known:
            assert layer(name) <= layer(module), f"{module} imports {name}"


@pytest.mark.parametrize("module", modules())
def test_only_the_bridge_imports_pgmpy(module: str) -> None:
    uses = any(name.split(".")[0] == "pgmpy" for name in imported(module))
    assert not uses or module == "diagnose.network.pgmpy_bridge"


def test_no_import_cycles() -> None:
    known = set(modules())
    graph = {module: {name for name in imported(module) if name in known} for module in known}
    done: set[str] = set()

    def visit(module: str, path: tuple[str, ...]) -> None:
        assert module not in path, f"cycle: {' -> '.join((*path, module))}"
        if module not in done:
            for name in graph[module]:
                visit(name, (*path, module))
            done.add(module)

    for module in sorted(known):
        visit(module, ())
