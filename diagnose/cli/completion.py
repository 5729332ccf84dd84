"""The command completion: what a shell needs to complete commands, families, facts, findings, causes and cases."""

from __future__ import annotations

import click
from click.shell_completion import get_completion_class

from diagnose.cli.show import say

SHELLS = ("bash", "zsh", "fish")
VARIABLE = "_DIAGNOSE_COMPLETE"


HELP = """Have a shell complete what is typed.

Commands, options, families, facts, findings, causes, checks, repairs, cases. Put one of these lines into the file
that the shell reads at its start:

\b
eval "$(diagnose completion bash)"       ~/.bashrc
eval "$(diagnose completion zsh)"        ~/.zshrc
diagnose completion fish | source        ~/.config/fish/config.fish
"""


@click.command(help=HELP)
@click.argument("shell", type=click.Choice(SHELLS))
@click.pass_context
def completion(ctx: click.Context, /, shell: str) -> None:
    """Have a shell complete what is typed."""
    found = get_completion_class(shell)
    assert found is not None  # one of SHELLS
    say(found(ctx.find_root().command, {}, "diagnose", VARIABLE).source())
