"""`python -m diagnose.cli`."""

from diagnose.cli.main import run

run()
