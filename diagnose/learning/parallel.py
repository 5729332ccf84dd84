"""Work shared among processes: the same results in the same order, however many there are."""

from __future__ import annotations

import os
import signal
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Executor, Future
from contextlib import contextmanager
from functools import cache
from typing import Any, Protocol, TypeVar

from diagnose.errors import DiagnoseError
from diagnose.knowledge.records import Knowledge
from diagnose.learning.counts import School

T = TypeVar("T")
R = TypeVar("R")


class Crew(Protocol):
    """Does a job for every task; results come in order of the tasks."""

    def __call__(self, job: Callable[[School, T], R], tasks: Iterable[T]) -> Iterator[R]:
        """`job` is a function at the top of its module, tasks and results can be pickled."""


def processors() -> int:
    """How many processors this program may use."""
    try:
        return len(os.sched_getaffinity(0))
    except AttributeError:  # not on every system
        return os.cpu_count() or 1


@contextmanager
def crew(knowledge: Knowledge, wanted: int) -> Iterator[Crew]:
    """So many processes, no more than there are processors; one works here itself."""
    count = min(wanted, processors())
    if count <= 1:
        school = School(knowledge)
        yield lambda job, tasks: (job(school, task) for task in tasks)
        return
    from concurrent.futures import ProcessPoolExecutor
    from concurrent.futures.process import BrokenProcessPool
    from multiprocessing import get_context

    with ProcessPoolExecutor(count, get_context("spawn"), _begin, (knowledge,)) as pool:
        try:
            yield lambda job, tasks: _in_order(pool, count + 1, job, tasks)
        except BrokenProcessPool as error:
            raise DiagnoseError(
                "A process was ended from outside, perhaps for want of memory: --processes 1"
            ) from error
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            raise


def _in_order(pool: Executor, ahead: int, job: Callable[[School, T], R], tasks: Iterable[T]) -> Iterator[R]:
    """Results in order; only so many tasks are read ahead."""
    waiting: deque[Future[R]] = deque()
    for task in tasks:
        waiting.append(pool.submit(_do, (job, task)))
        if len(waiting) > ahead:
            yield waiting.popleft().result()
    while waiting:
        yield waiting.popleft().result()


_WITH: list[Knowledge] = []


def _begin(knowledge: Knowledge) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # who started the work ends it
    _WITH[:] = [knowledge]


@cache
def _school() -> School:
    return School(_WITH[0])


def _do(task: tuple[Callable[[School, Any], Any], Any]) -> Any:
    job, what = task
    return job(_school(), what)
