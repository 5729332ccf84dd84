"""The layers of the design hold: imports of modules and packages point downward only, and in no circle."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "diagnose"
LAYERS = (
    ("diagnose.plain",),
    ("diagnose.errors",),
    ("diagnose.saving",),
    ("diagnose.caching",),
    ("diagnose.append_only",),
    ("diagnose.forms",),
    ("diagnose.words",),
    ("diagnose.knowledge",),
    ("diagnose.network",),
    ("diagnose.codes",),
    ("diagnose.understanding",),
    ("diagnose.cases",),
    ("diagnose.intake",),
    ("diagnose.hearing",),
    ("diagnose.evidence",),
    ("diagnose.diagnosis",),
    ("diagnose.learning",),
    ("diagnose.planning",),
    ("diagnose.moves",),
    ("diagnose.study",),
    ("diagnose.explaining",),
    ("diagnose.report",),
    ("diagnose.practice",),
    ("diagnose.cli",),
)
"""Lowest first. A module may import from its own layer and from those below it."""


def files() -> dict[str, Path]:
    """Every module and package of the program by its dotted name."""
    found = {}
    for path in PACKAGE.rglob("*.py"):
        parts = path.relative_to(ROOT).with_suffix("").parts
        found[".".join(parts[:-1] if path.name == "__init__.py" else parts)] = path
    return found


FILES = files()


def modules() -> list[str]:
    return sorted(FILES)


def layer(module: str) -> int:
    if module == PACKAGE.name:
        return -1  # whoever imports anything of the program runs it, so it may import nothing
    for number, names in enumerate(LAYERS):
        if any(module == name or module.startswith(f"{name}.") for name in names):
            return number
    raise AssertionError(f"{module} belongs to no layer: add it to LAYERS")


def imported(module: str, text: str | None = None) -> Iterator[str]:
    """All names that the module's text (where none is given, its file's) may import, in full."""
    path = FILES[module]
    base = module.split(".") if path.name == "__init__.py" else module.split(".")[:-1]
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8") if text is None else text)):
        if isinstance(node, ast.ImportFrom):
            above = base[: len(base) - node.level + 1] if node.level else []
            source = ".".join([*above, *([node.module] if node.module else [])])
            yield source
            yield from (f"{source}.{alias.name}" for alias in node.names)
        elif isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)


def upward(module: str, text: str | None = None) -> list[str]:
    return [name for name in imported(module, text) if name in FILES and layer(name) > layer(module)]


@pytest.mark.parametrize("module", modules())
def test_imports_point_downward(module: str) -> None:
    assert not upward(module)


@pytest.mark.parametrize(
    "planted",
    [
        "from diagnose.report.ranking import anything",
        "from diagnose.report import ranking",
        "from diagnose.cli import bay",
        "from diagnose import report",
        "import diagnose.report",
        "import diagnose.cli.bay as talk",
        "from ..report import ranking",
        "from .. import report",
        "def late():\n    from diagnose import cli",
    ],
)
@pytest.mark.parametrize("module", ["diagnose.network", "diagnose.network.engine"])
def test_a_planted_upward_import_is_found(module: str, planted: str) -> None:
    assert upward(module, planted)


def test_an_import_downward_is_let_be() -> None:
    assert not upward("diagnose.report", "from diagnose import network\nimport diagnose.cases.case")
    assert upward("diagnose", "from diagnose import errors")


@pytest.mark.parametrize("module", modules())
def test_only_the_bridge_imports_pgmpy(module: str) -> None:
    uses = any(name.split(".")[0] == "pgmpy" for name in imported(module))
    assert not uses or module == "diagnose.network.pgmpy_bridge"


@pytest.mark.parametrize("module", modules())
def test_only_the_log_imports_sqlite(module: str) -> None:
    """Another database can then stand behind the stores. What was told last is a cache, which may be deleted."""
    uses = any(name.split(".")[0] == "sqlite3" for name in imported(module))
    names = {f"diagnose.append_only.{name}" for name in ("failures", "opening", "rescue", "sqlite")}
    assert uses == (module in {*names, "diagnose.cases.kept_advice"})


def test_no_import_cycles() -> None:
    known = set(modules())
    # A package that names itself to fetch what lies in it is no circle.
    graph = {module: known.intersection(imported(module)) - {module} for module in known}
    done: set[str] = set()

    def visit(module: str, path: tuple[str, ...]) -> None:
        assert module not in path, f"cycle: {' -> '.join((*path, module))}"
        if module not in done:
            for name in graph[module]:
                visit(name, (*path, module))
            done.add(module)

    for module in sorted(known):
        visit(module, ())


def twice(named: Iterator[tuple[str, str]]) -> dict[str, list[str]]:
    """The names that stand in several modules, with these; each pair: a name and the module that has it."""
    found: dict[str, list[str]] = {}
    for name, module in named:
        found.setdefault(name, []).append(module)
    return {name: sorted(where) for name, where in found.items() if len(where) > 1}


def classes() -> Iterator[tuple[str, str]]:
    for module, path in FILES.items():
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.ClassDef):
                yield node.name, module


def test_no_two_classes_have_one_name() -> None:
    assert twice(classes()) == {}


def test_a_name_that_stands_twice_is_found() -> None:
    planted = [("Step", "diagnose.report"), ("Case", "diagnose.cases"), ("Step", "diagnose.planning")]
    assert twice(iter(planted)) == {"Step": ["diagnose.planning", "diagnose.report"]}


ONE_SUBJECT = {
    "away": "a part taken out for a try: the knowledge, the network, the plan",
    "ending": "what a repair leaves to do: reckoned, and talked over in the bay",
    "facts": "the facts of a machine: the rules on them, and the network",
    "kept_advice": "what was told of a case: kept, and what of an advice it is",
    "learn": "learning: the story, and the commands",
    "located": "what each cylinder or bank has: the knowledge, and the rules",
    "move": "the next move: chosen, and told",
    "places": "the place of what was seen: taken in, and the network",
    "placing": "where it was: whether that is worth asking, and asked in the bay",
    "readings": "measured values: what they mean, and taken in",
    "record": "what is recorded: the commands, and the screens of it",
    "removable": "what can be taken out: the record, how it is read, the rules",
    "since": "when the machine was last right: whether that is worth asking, and asked in the bay",
    "stops": "what must not be done: told, and the rule of the knowledge",
    "store": "a file that only grows: of cases, of exercises, and the commands on it",
}
"""Module names that stand in several layers because these deal with one subject."""


def module_names() -> Iterator[tuple[str, str]]:
    return (
        (module.rpartition(".")[2], module) for module, path in FILES.items() if path.name != "__init__.py"
    )


def test_no_two_modules_of_different_subjects_have_one_name() -> None:
    assert sorted(twice(module_names())) == sorted(ONE_SUBJECT)


def test_a_subject_stands_once_in_a_layer() -> None:
    for modules_of_it in twice(module_names()).values():
        packages = [module.rpartition(".")[0] for module in modules_of_it]
        assert len(set(packages)) == len(packages)
