"""`python -m tests.mutation PATH ...`: does any test notice when a line of the program is changed?

Each change (mutant) is made to a copy of the program; the tests of the package it lies in run until the first that
fails. A mutant that no test notices survives: the line does nothing, or nothing tests it. Options: `--most N`
mutants drawn at random (all without it), `--seed S`, `--tests PATH ...` (those of the package without it).
"""

from __future__ import annotations

import argparse
import ast
import compileall
import copy
import os
import random
import shutil
import signal
import sys
import tempfile
import time
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
TESTS = {
    "diagnose/plain.py": ["tests/test_plain.py"],
    "diagnose/saving.py": ["tests/cli/test_saving.py"],
    "diagnose/append_only": [
        "tests/cases",
        "tests/cli/test_store_commands.py",
        "tests/practice/test_keeping.py",
    ],
    "diagnose/cases": ["tests/cases", "tests/cli/test_store_commands.py"],
    "diagnose/codes": ["tests/codes"],
    "diagnose/learning": ["tests/learning"],
    "diagnose/network": ["tests/network"],
    "diagnose/planning": ["tests/planning"],
    "diagnose/knowledge/rules": ["tests/test_rules.py", "tests/test_own_knowledge.py"],
    "diagnose/forms": ["tests/test_reader.py", "tests/test_sections.py", "tests/test_loader.py"],
    "diagnose/words": ["tests/words", "tests/test_words.py", "tests/test_readings.py"],
    "diagnose/understanding": ["tests/words"],
}
"""The tests that answer for a file or folder; the longest name that fits counts."""
SWAPS: dict[type[ast.AST], type[ast.AST]] = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.In: ast.NotIn, ast.NotIn: ast.In, ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.And: ast.Or, ast.Or: ast.And,
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult,
}  # fmt: skip
IMPORTED = "ignore::pytest.PytestAssertRewriteWarning"
"""The warning that a plugin was imported already, as it is in a fork."""
GUARDS = {"frozen", "slots", "eq", "strict"}
"""Arguments that only keep a later program from going wrong: nothing that a run of this one could show."""
LEAST = 60.0
"""Seconds that the tests of a mutant may take at least; more than three times those of the program ends it too."""


@dataclass(frozen=True)
class Mutant:
    """A change: where, what was there, and the whole text of the changed file."""

    line: int
    what: str
    text: str


def mutants(text: str) -> Iterator[Mutant]:
    """Every single change of a module's text; docstrings, imports, annotations and `GUARDS` are let be."""
    tree = ast.parse(text)
    guards = {id(one.value) for one in ast.walk(tree) if isinstance(one, ast.keyword) and one.arg in GUARDS}
    for place, node in enumerate(ast.walk(tree)):
        if id(node) in guards:
            continue
        for number, what in enumerate(_changes(node)):
            changed = copy.deepcopy(tree)
            target = next(one for at, one in enumerate(ast.walk(changed)) if at == place)
            _apply(target, number)
            yield Mutant(getattr(node, "lineno", 0), what, ast.unparse(ast.fix_missing_locations(changed)))


def _changes(node: ast.AST) -> list[str]:
    """In words, all changes that a node can have; `_apply` makes the one of this number."""
    match node:
        case ast.Compare(ops=[op]) if type(op) in SWAPS:
            return [f"{type(op).__name__} -> {SWAPS[type(op)].__name__}"]
        case ast.BoolOp(op=op) | ast.BinOp(op=op) if type(op) in SWAPS:
            return [f"{type(op).__name__} -> {SWAPS[type(op)].__name__}"]
        case ast.UnaryOp(op=ast.Not()):
            return ["not dropped"]
        case ast.If() | ast.IfExp() | ast.While():
            return ["condition true", "condition false"] if not isinstance(node, ast.While) else []
        case ast.Constant(value=bool()):
            return ["truth turned round"]
        case ast.Constant(value=int() | float() as value):
            return [f"{value} + 1"]
        case ast.Return(value=value) if value is not None and not isinstance(value, ast.Constant):
            return ["returns None"]
        case ast.Expr(value=ast.Call()):
            return [f"call dropped: {ast.unparse(node)[:50]}"]
        case ast.AugAssign():
            return [f"dropped: {ast.unparse(node)[:50]}"]
    return []


def _apply(node: ast.AST, number: int) -> None:
    match node:
        case ast.Compare():
            node.ops = [SWAPS[type(node.ops[0])]()]  # type: ignore[list-item]
        case ast.BoolOp() | ast.BinOp():
            node.op = SWAPS[type(node.op)]()  # type: ignore[assignment]
        case ast.UnaryOp():
            node.op = ast.UAdd()  # `+x` of a truth value is the value
        case ast.If() | ast.IfExp():
            node.test = ast.Constant(number == 0)
        case ast.Constant(value=bool()):
            node.value = not node.value
        case ast.Constant(value=int() | float() as value):
            node.value = value + 1
        case ast.Return():
            node.value = ast.Constant(None)
        case ast.Expr():
            node.value = ast.Constant(None)
        case ast.AugAssign():
            node.op, node.value = ast.Add(), ast.Constant(0)


def answering(file: str) -> list[str]:
    """The tests that answer for a file."""
    fitting = [name for name in TESTS if file == name or file.startswith(f"{name}/")]
    return TESTS[max(fitting, key=len)] if fitting else ["tests"]


def depending(copy_: Path, file: str) -> set[str]:
    """The modules of the program and of its tests that stand on this file, it among them, by name. The commands are
    imported by name, so all of them are taken to."""
    wanted = {}
    for path in (*copy_.glob("diagnose/**/*.py"), *copy_.glob("tests/**/*.py")):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        wanted[_name(path.relative_to(copy_))] = {name for node in ast.walk(tree) for name in _imported(node)}
    found = {_name(Path(file))} | {name for name in wanted if name.startswith("diagnose.cli")}
    while more := {name for name, needs in wanted.items() if name not in found and needs & found}:
        found |= more
    return found


def _name(path: Path) -> str:
    return ".".join(path.with_suffix("").parts).removesuffix(".__init__")


def _imported(node: ast.AST) -> Iterator[str]:
    """What may be a module: `from a import b` is of `a` or of `a.b`."""
    match node:
        case ast.Import(names=names):
            yield from (one.name for one in names)
        case ast.ImportFrom(module=str(module), names=names):
            yield module
            yield from (f"{module}.{one.name}" for one in names)


def survives(file: str, text: str, anew: set[str], tests: Sequence[str], seconds: float) -> bool:
    """Whether no test notices this text of the file: in a fork that has imported all that does not stand on it."""
    target = Path(file)
    before = target.read_text(encoding="utf-8")
    target.write_text(text, encoding="utf-8")
    try:
        child = os.fork()
        if not child:
            _forget(anew)
            os._exit(_run(tests))
        return _ended(child, seconds) == 0
    finally:
        target.write_text(before, encoding="utf-8")


def _forget(modules: Iterable[str]) -> None:
    """They are imported anew, also by `from package import module`, which asks the package first."""
    for name in modules:
        sys.modules.pop(name, None)
        package, _, last = name.rpartition(".")
        if package in sys.modules:
            vars(sys.modules[package]).pop(last, None)


def _ended(child: int, seconds: float) -> int | None:
    """The status with which it ended; None where it had to be ended."""
    ends = time.monotonic() + seconds
    while time.monotonic() < ends:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            return status
        time.sleep(0.02)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return None


def _run(tests: Sequence[str]) -> int:
    """The exit code of these tests, run without a word in this process."""
    kept, nowhere = os.dup(1), os.open(os.devnull, os.O_WRONLY)
    sys.stdout.flush()
    os.dup2(nowhere, 1)
    try:
        return int(pytest.main(["-x", "-q", "-p", "no:cacheprovider", "-W", IMPORTED, *tests]))
    finally:
        sys.stdout.flush()
        os.dup2(kept, 1)
        os.close(kept)
        os.close(nowhere)


def examine(file: str, most: int | None, seed: int, tests: Sequence[str] | None) -> tuple[int, list[str]]:
    """How many mutants of a file of the copy were tried, and in words those that survived."""
    asked = list(tests or answering(file))
    began = time.monotonic()
    if _run(asked):
        raise SystemExit(f"{' '.join(asked)} fail without any change")
    seconds = max(LEAST, 3 * (time.monotonic() - began))
    anew = depending(Path(), file)
    text = Path(file).read_text(encoding="utf-8")
    if not survives(file, text, anew, asked, seconds):
        raise SystemExit(
            f"{' '.join(asked)} fail in a fork without any change: every mutant would seem noticed"
        )
    found = list(mutants(text))
    drawn = random.Random(seed).sample(found, min(most or len(found), len(found)))
    left = []
    for mutant in sorted(drawn, key=lambda one: one.line):
        if survives(file, mutant.text, anew, asked, seconds):
            left.append(f"{file}:{mutant.line}: {mutant.what}")
            print(f"survived {left[-1]}", flush=True)
    return len(drawn), left


def enter(copy_: Path) -> None:
    """From now on the program and its tests are those of the copy."""
    for name in [one for one in sys.modules if one.split(".")[0] in ("diagnose", "tests")]:
        del sys.modules[name]
    sys.path[:] = [str(copy_), *(one for one in sys.path if one not in ("", str(ROOT)))]
    sys.dont_write_bytecode = True  # of a file changed twice within a second the older would be taken
    os.environ |= {"PYTHONPATH": str(copy_), "PYTHONDONTWRITEBYTECODE": "1"}
    os.chdir(copy_)


def main() -> None:
    """Examine the files named, and those of the folders named."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("paths", nargs="+")
    parser.add_argument("--most", type=int)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--tests", nargs="*")
    said = parser.parse_args()
    files = [file for path in said.paths for file in _files(path)]
    with tempfile.TemporaryDirectory() as folder:
        copy_ = Path(folder)
        for name in ("diagnose", "tests", "knowledge", "scenarios", "docs"):
            shutil.copytree(ROOT / name, copy_ / name, ignore=shutil.ignore_patterns("__pycache__"))
        for name in ("pyproject.toml", "README.md", "DEVELOPERS.md"):
            shutil.copy(ROOT / name, copy_)
        compileall.compile_dir(copy_, quiet=2)
        enter(copy_)
        for file in files:
            tried, left = examine(file, said.most, said.seed, said.tests)
            print(f"{file}: {len(left)} of {tried} survived", flush=True)
        os.chdir(ROOT)


def _files(path: str) -> list[str]:
    whole = ROOT / path
    found = [whole] if whole.is_file() else sorted(whole.rglob("*.py"))
    return [str(one.relative_to(ROOT)) for one in found]


if __name__ == "__main__":
    main()
