"""Work in processes: what one job's failure does to the others, and what a killed parent leaves."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from pipeline import processes

ROOT = Path(__file__).parents[2]
JOBS = processes.POOL_FROM
PATIENCE = 5.0
"""Seconds within which the workers of a killed run must be gone."""


def halve(number: int) -> int:
    """Half of an even number."""
    if number % 2:
        raise ValueError(f"{number} is odd")
    return number // 2


def stay(folder: str) -> None:
    """Say who works here, then work for longer than any test waits; the watcher gets its turns."""
    (Path(folder) / str(os.getpid())).touch()
    time.sleep(600)


def stay_without_prctl(folder: str) -> None:
    """The same in a process that the kernel does not end."""
    processes.ask_kernel_for_end(0)
    stay(folder)


def _is_running(pid: int) -> bool:
    try:
        state = Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rpartition(")")[2].split()[0]
    except (FileNotFoundError, ProcessLookupError):
        return False
    return state != "Z"


@pytest.mark.parametrize("amount", [JOBS - 1, JOBS + 1], ids=["alone", "in processes"])
def test_a_failure_is_told_and_stops_no_other(amount: int) -> None:
    attempts = {attempt.job: attempt for attempt in processes.each(halve, range(amount))}
    assert sorted(attempts) == list(range(amount))
    for number, attempt in attempts.items():
        if number % 2:
            assert (attempt.done, attempt.failure) == (None, f"ValueError: {number} is odd")
        else:
            assert (attempt.done, attempt.failure) == (number // 2, None)


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="looks into /proc")
@pytest.mark.parametrize("work", ["stay", "stay_without_prctl"])
def test_workers_end_with_their_killed_parent(work: str, tmp_path: Path) -> None:
    """kill -9 of the parent alone; the second time only the portable way may end the workers."""
    code = (
        "from pipeline import processes\n"
        f"from tests.unit.test_processes import {work}\n"
        f"list(processes.each({work}, [{str(tmp_path)!r}] * {JOBS}))\n"
    )
    parent = subprocess.Popen(
        [sys.executable, "-c", code], cwd=ROOT, env=os.environ | {"PYTHONPATH": str(ROOT)}
    )
    wanted = min(os.cpu_count() or 1, JOBS)
    workers: set[int] = set()
    try:
        until = time.monotonic() + 60
        while len(workers) < wanted and time.monotonic() < until and parent.poll() is None:
            time.sleep(0.05)
            workers = {int(path.name) for path in tmp_path.iterdir()}
        assert len(workers) == wanted
        os.kill(parent.pid, signal.SIGKILL)
        parent.wait()
        until = time.monotonic() + PATIENCE
        while any(map(_is_running, workers)) and time.monotonic() < until:
            time.sleep(0.05)
        assert not any(map(_is_running, workers))
    finally:
        parent.kill()
        parent.wait()
        for pid in filter(_is_running, workers):
            os.kill(pid, signal.SIGKILL)
