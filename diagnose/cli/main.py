"""The program `diagnose`: commands loaded when called, and the one place where errors become exit codes."""

from __future__ import annotations

import errno
import gc
import os
import sys
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from importlib import import_module
from pathlib import Path
from typing import IO, Any

import click

from diagnose.cli.bounds import bounded
from diagnose.cli.context import CommandContext
from diagnose.errors import CallError, DataError, DiagnoseError, Place, Problem
from diagnose.plain import on_screen, typed

COMMANDS: Mapping[str, str] = {
    "bay": "diagnose.cli.bay:bay",
    "new": "diagnose.cli.record:new",
    "note": "diagnose.cli.record:note",
    "understand": "diagnose.cli.understand:understand",
    "withdraw": "diagnose.cli.record:withdraw",
    "cases": "diagnose.cli.cases:cases",
    "causes": "diagnose.cli.view:causes",
    "next": "diagnose.cli.view:next_",
    "why": "diagnose.cli.why:why",
    "repair": "diagnose.cli.decisions:repair",
    "plan": "diagnose.cli.decisions:plan",
    "report": "diagnose.cli.report:report",
    "codes": "diagnose.cli.codes:codes",
    "close": "diagnose.cli.record:close",
    "reopen": "diagnose.cli.record:reopen",
    "learn": "diagnose.cli.learn:learn",
    "shop": "diagnose.cli.decisions:shop",
    "practice": "diagnose.cli.practice:practice",
    "knowledge": "diagnose.cli.knowledge:knowledge",
    "store": "diagnose.cli.store:store",
    "completion": "diagnose.cli.completion:completion",
}


class ReportedError(click.ClickException):
    """An error of ours as click shows it: the message on standard error, and the exit code."""

    def __init__(self, error: DiagnoseError):
        super().__init__(str(error))
        self.exit_code = error.exit_code  # type: ignore[misc]  # click reads it from the instance too
        self.lead = "diagnose: " if isinstance(error, CallError) else ""

    def show(self, file: IO[Any] | None = None) -> None:
        """Problems stand alone on their lines, so that editors find the place."""
        click.echo(on_screen(f"{self.lead}{self.message}"), file=file or sys.stderr)


class Program(click.Group):
    """The commands by name, imported only when asked for; errors become exit codes here and nowhere else."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """The commands in the order of the work."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command, imported."""
        where = COMMANDS.get(cmd_name)
        if where is None:
            return None
        module, _, name = where.partition(":")
        command: click.Command = getattr(import_module(module), name)
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """The command meant by the first word, or an error with those that come near."""
        if args and args[0] not in COMMANDS and not args[0].startswith("-"):
            raise ReportedError(_no_command(args[0]))
        return super().resolve_command(ctx, args)

    def main(self, args: Sequence[str] | None = None, *more: Any, **how: Any) -> Any:
        """Run the program on these words, each of them made plain; the name of a file that is there stays."""
        words = sys.argv[1:] if args is None else args
        try:
            return super().main([_word(word) for word in words], *more, **how)
        except OSError as error:  # a full disk under the output, most likely
            _drop_output()
            where = Place(str(error.filename or "standard output"))
            problem = Problem("F001", where, f"cannot be read or written: {error.strerror or error}")
            ReportedError(DataError([problem])).show()
            sys.exit(1)

    def make_context(self, *args: Any, **how: Any) -> click.Context:
        """The context; errors of the call are fit for a screen."""
        with _shown():
            return super().make_context(*args, **how)

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; exit 1 where the data is wrong, 2 where the call is."""
        try:
            with _shown(), bounded(_named(ctx)):
                result = super().invoke(ctx)
            sys.stdout.flush()
        except DiagnoseError as error:
            raise ReportedError(error) from error
        except OSError as error:
            if error.errno != errno.EPIPE:
                raise
            _drop_output()
            return None
        return result


def _word(word: str) -> str:
    """A word of the call as it enters: one line without control characters, unless it names a file as it is."""
    return word if "\0" not in word and os.path.lexists(word) else typed(word)


def _named(ctx: click.Context) -> str:
    """The first word of the call, which names the command; empty where there is none."""
    return next(iter(ctx._protected_args or ctx.args), "")


@contextmanager
def _shown() -> Iterator[None]:
    """What click says of a call may hold the name of a file: it goes through the same gate."""
    try:
        yield
    except ReportedError:
        raise
    except click.UsageError as error:
        said = error.format_message()
        if on_screen(said) == said:
            raise
        raise click.UsageError(on_screen(said), error.ctx) from error


def _no_command(word: str) -> CallError:
    from difflib import get_close_matches

    return CallError(f"There is no command “{word}”.", get_close_matches(word, COMMANDS, 2, 0.5))


def _drop_output() -> None:
    """The reader (`head`, say) has seen enough: what is left goes nowhere, in silence."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


@click.group(cls=Program, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.option(
    "--knowledge",
    "folder",
    type=click.Path(exists=True, file_okay=False, path_type=Path),
    help="Folder of knowledge files instead of the shipped one (or set DIAGNOSE_KNOWLEDGE).",
)
@click.option(
    "--overlay",
    type=click.Path(exists=True, path_type=Path),
    help="The shop's own additions and changes to the knowledge (or set DIAGNOSE_OVERLAY).",
)
@click.option(
    "--store",
    type=click.Path(dir_okay=False, path_type=Path),
    help="File of the case store (or set DIAGNOSE_CASES).",
)
@click.option(
    "--shop",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="The shop's file of rates and prices (or set DIAGNOSE_SHOP); see diagnose shop.",
)
@click.version_option(package_name="diesel-diagnose", prog_name="diagnose")
@click.pass_context
def program(
    ctx: click.Context, folder: Path | None, overlay: Path | None, store: Path | None, shop: Path | None
) -> None:
    """From what is seen on a heavy diesel to the part that failed, and the next check worth its time.

    Start with `diagnose bay` for a guided talk, or with `diagnose new MACHINE COMPLAINT`. Always follow the
    engine maker's service information, local codes and licensed practice.

    Exit codes: 0 done, 1 the data is wrong, 2 the call is wrong, 3 something said is not recorded (see note).
    """
    ctx.obj = CommandContext(folder, store, shop, overlay)
    ctx.call_on_close(ctx.obj.close)


def run(args: Sequence[str] | None = None) -> None:
    """Entry point of the installed program."""
    gc.set_threshold(
        200_000, 50, 50
    )  # the records of the knowledge live to the end; looking them over takes time
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")  # a terminal that lacks a letter shows "?" instead
    try:
        program.main(args=args, prog_name="diagnose")
    finally:
        gc.freeze()  # nor does the end of the program look them over
