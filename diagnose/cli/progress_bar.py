"""Something to look at while the program thinks."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

SHORT = 2.0  # seconds that nobody minds


@contextmanager
def waiting(what: str, seconds: float, silent: bool = False) -> Iterator[None]:
    """A bar on standard error that fills in this time; on a terminal only, and only where it takes longer."""
    if silent or seconds <= SHORT or not sys.stderr.isatty():
        yield
        return
    from rich.console import Console
    from rich.progress import Progress, ProgressColumn, Task, TextColumn
    from rich.progress_bar import ProgressBar

    class Elapsed(ProgressColumn):
        """The time gone, as a bar: the work itself cannot say how far it is."""

        def render(self, task: Task) -> ProgressBar:
            return ProgressBar(total=seconds, completed=min(task.elapsed or 0.0, seconds), width=30)

    columns = (TextColumn("{task.description}"), Elapsed())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        bar.add_task(f"{what}, {seconds:g} s")
        yield


@contextmanager
def progress(what: str) -> Iterator[Callable[[int, int], None]]:
    """A bar on standard error for work that says how far it is: (done, of how many); on a terminal only."""
    if not sys.stderr.isatty():
        yield lambda done, of: None
        return
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(what, total=None)
        yield lambda done, of: bar.update(task, completed=done, total=of)


@contextmanager
def steps() -> Iterator[Callable[[str, int, int], None]]:
    """The same for work in several steps: (what is being done, done, of how many)."""
    if not sys.stderr.isatty():
        yield lambda what, done, of: None
        return
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("", total=None)
        yield lambda what, done, of: bar.update(task, description=what, completed=done, total=of)
