"""The same work for each of many clients, in processes: the failure of one stops no other."""

from __future__ import annotations

import contextlib
import ctypes
import multiprocessing
import os
import signal
import sys
import threading
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from functools import partial
from multiprocessing import connection
from typing import Generic, TypeVar

Job = TypeVar("Job")
Done = TypeVar("Done")

POOL_FROM = 6
"""From so many jobs on, starting a second process costs less than it saves."""

_PR_SET_PDEATHSIG = 1
"""From linux/prctl.h."""


class Attempt(Generic[Job, Done]):
    """One job with what came of it: a result, or the reason for having none."""

    def __init__(self, job: Job, done: Done | None, failure: str | None) -> None:
        self.job, self.done, self.failure = job, done, failure


def each(work: Callable[[Job], Done], jobs: Sequence[Job]) -> Iterator[Attempt[Job, Done]]:
    """Do every job, in the order in which they are finished; failures are told, not raised."""
    if len(jobs) < POOL_FROM:
        for job in jobs:
            yield _attempt(work, job)
        return
    lost: list[Job] = []
    with _pool(os.cpu_count() or 1) as pool:
        futures = {pool.submit(partial(_attempt, work), job): job for job in jobs}
        for future in as_completed(futures):
            try:
                yield future.result()
            except BrokenProcessPool:
                lost.append(futures[future])
    # a process was killed and took the others' jobs along: each gets a process of its own
    for job in lost:
        with _pool(1) as pool:
            alone: Future[Attempt[Job, Done]] = pool.submit(partial(_attempt, work), job)
            try:
                yield alone.result()
            except BrokenProcessPool:
                yield Attempt(job, None, "its process was killed, perhaps for want of memory")


def _pool(processes: int) -> ProcessPoolExecutor:
    return ProcessPoolExecutor(
        processes, mp_context=multiprocessing.get_context("spawn"), initializer=end_with_parent
    )


# A worker whose parent is gone


def end_with_parent() -> None:
    """End this worker as soon as its parent is gone, also after kill -9.

    Of itself a worker waits for its next job for good, with all its memory. Nothing is lost by a
    sudden end: whatever a worker writes comes to its place by one rename.
    """
    parent = multiprocessing.parent_process()
    if parent is None:
        return
    ask_kernel_for_end(signal.SIGKILL)
    if os.name == "posix" and parent.pid != os.getppid():  # it was gone before the kernel was asked
        os._exit(1)
    threading.Thread(target=_watch, args=(parent.sentinel,), daemon=True).start()


def ask_kernel_for_end(by_signal: int) -> None:
    """Have Linux send this process a signal once its parent ends; 0 takes it back."""
    if sys.platform.startswith("linux"):
        with contextlib.suppress(OSError, AttributeError):  # a C library without it
            ctypes.CDLL(None).prctl(_PR_SET_PDEATHSIG, ctypes.c_ulong(by_signal))


def _watch(sentinel: int) -> None:
    """The same everywhere: what only the parent holds open closes with it."""
    connection.wait([sentinel])
    os._exit(1)


def _attempt(work: Callable[[Job], Done], job: Job) -> Attempt[Job, Done]:
    try:
        return Attempt(job, work(job), None)
    except Exception as error:  # the guard of one client: whatever breaks, the others go on
        if os.environ.get("SETLEDGER_TRACEBACK"):
            raise
        return Attempt(job, None, f"{type(error).__name__}: {error}".splitlines()[0])
