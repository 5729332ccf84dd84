"""Completion on a shell: what is offered, by a real bash too."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import click
import pytest
from click.shell_completion import ShellComplete, get_completion_class

from diagnose.cli.completion import SHELLS, VARIABLE
from diagnose.cli.main import program
from tests.cli.conftest import Call


def completed(*words: str) -> set[str]:
    """What is offered after these words of a call, the last one unfinished."""
    *before, last = words
    asked = ShellComplete(program, {}, "diagnose", VARIABLE)
    return {item.value for item in asked.get_completions(list(before), last)}


@pytest.mark.usefixtures("call")
def test_families_causes_and_checks_are_completed() -> None:
    assert "old_six" in completed("new", "P-1", "--family", "o")
    assert "measure_batteries" in completed("note", "--check", "mea")
    assert completed("note", "--repaired", "res") == {"reseal"}
    assert "next" in completed("ne")
    assert isinstance(program, click.Group)


@pytest.mark.usefixtures("call")
def test_facts_findings_and_causes_are_completed() -> None:
    assert "duty=" in completed("new", "P-1", "--fact", "du")
    assert "duty=long haul" in completed("new", "P-1", "--fact", "duty=lo")
    assert "pump_worn=" in completed("note", "--renewed", "pump")
    assert "no_start" in completed("note", "no_")
    assert "pump_worn" in completed("why", "pump")
    assert "pump_worn" in completed("why", "1", "--rather-than", "pump")
    assert "pump_worn" in completed("close", "pump")
    assert completed("close", "pump_worn=by-s") == {"pump_worn=by-sight"}
    assert "pump_worn" in completed("knowledge", "show", "pump")


def test_cases_are_completed_by_number_and_machine_open_ones_first(call: Call) -> None:
    for machine in ("P-1", "P-2", "Q-3"):
        call("new", machine, "no start")
    call("close", "-c", "3", "pump_worn", "--not-proven")
    assert completed("next", "-c", "") == {"1", "2", "3"}
    assert completed("cases", "p") == {"P-1", "P-2"}
    assert completed("cases", "2") == {"2"}
    offered = ShellComplete(program, {}, "diagnose", VARIABLE).get_completions(["note", "-c"], "")
    assert offered[-1].value == "3"
    assert offered[-1].help == "Q-3: no start"


@pytest.mark.parametrize("shell", SHELLS)
def test_one_command_gives_what_each_shell_needs(call: Call, shell: str) -> None:
    text = call("completion", shell).stdout
    assert f"{VARIABLE}={shell}_complete" in text
    assert "diagnose" in text


@pytest.mark.usefixtures("call")
@pytest.mark.parametrize("shell", SHELLS)
def test_each_shell_is_answered_in_its_own_form(shell: str, monkeypatch: pytest.MonkeyPatch) -> None:
    words = "diagnose new P-1 --family o"
    monkeypatch.setenv("COMP_WORDS", words)
    monkeypatch.setenv("COMP_CWORD", "o" if shell == "fish" else "4")
    found = get_completion_class(shell)
    assert found
    assert "old_six" in found(program, {}, "diagnose", VARIABLE).complete()


def program_in(folder: Path) -> dict[str, str]:
    """The environment with the program on the path, as it is installed."""
    script = folder / "diagnose"
    script.write_text(f"#!{sys.executable}\nfrom diagnose.cli.main import run\n\nrun()\n", encoding="utf-8")
    script.chmod(0o755)
    root = str(Path(__file__).parents[2])
    return os.environ | {"PATH": f"{folder}{os.pathsep}{os.environ['PATH']}", "PYTHONPATH": root}


@pytest.mark.usefixtures("call")
@pytest.mark.skipif(shutil.which("bash") is None, reason="there is no bash")
def test_a_real_bash_completes(tmp_path: Path) -> None:
    script = (
        'eval "$(diagnose completion bash)"; COMP_WORDS=(diagnose new P-1 --family o); COMP_CWORD=4; '
        '_diagnose_completion diagnose; echo "${COMPREPLY[@]}"'
    )
    done = subprocess.run(
        ["bash", "-c", script], env=program_in(tmp_path), capture_output=True, text=True, check=True
    )
    assert "old_six" in done.stdout.split()
