"""The program called as from a shell, its exit code asserted."""

from __future__ import annotations

from click.testing import CliRunner, Result

from diagnose.cli.main import program


def run(*args: str, code: int = 0, typed: str = "") -> Result:
    """The result of one call; `typed`: what is typed at its prompts."""
    result = CliRunner().invoke(program, args, input=typed)
    assert result.exit_code == code, f"{args}: {result.exit_code}\n{result.output}"
    return result
