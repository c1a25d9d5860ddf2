"""kill -9 of a run while it renders pages: its workers do not stay behind with their memory."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from pipeline.runs import run as runs
from pipeline.settings.workspace_file import find_workspace
from tests.cli.test_unattended import AUGUST, CLIENTS, make_room

pytestmark = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="looks into /proc")
PATIENCE = 5.0
"""Seconds within which everything that the run had started must be gone."""


def _children(pid: int) -> set[int]:
    """Processes that a process started and that still run."""
    found = set()
    for path in Path("/proc").glob("[0-9]*/stat"):
        try:
            state, parent = path.read_text("utf-8", "replace").rpartition(")")[2].split()[:2]
        except (FileNotFoundError, ProcessLookupError):
            continue
        if int(parent) == pid and state != "Z":
            found.add(int(path.parent.name))
    return found


def _is_running(pid: int) -> bool:
    try:
        state = Path(f"/proc/{pid}/stat").read_text("utf-8", "replace").rpartition(")")[2].split()
    except (FileNotFoundError, ProcessLookupError):
        return False
    return state[0] != "Z"


def test_no_worker_outlives_a_killed_run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", AUGUST[22])
    room = make_room(tmp_path / "room")
    assert runs.run(find_workspace(room)).problems == []
    pages = {client: (room / "out" / client / "latest.html") for client in CLIENTS}
    for page in pages.values():
        page.unlink()
    running = subprocess.Popen(
        [sys.executable, "-c", "from pipeline.cli import main; main()", "report", "-w", str(room)],
        cwd=tmp_path,
        env=os.environ | {"PYTHONPATH": str(Path(__file__).parents[2])},
    )
    workers: set[int] = set()
    try:
        until = time.monotonic() + 60
        while time.monotonic() < until and running.poll() is None:
            if any(page.exists() for page in pages.values()):
                break
            time.sleep(0.01)
        workers = _children(running.pid)
        assert len(workers) >= 2, "the first page is there, and others are being made"
        os.kill(running.pid, signal.SIGKILL)
        running.wait()
        until = time.monotonic() + PATIENCE
        while any(map(_is_running, workers)) and time.monotonic() < until:
            time.sleep(0.02)
        assert not any(map(_is_running, workers))
        assert not all(page.exists() for page in pages.values()), "it was killed in between"
    finally:
        running.kill()
        running.wait()
        for pid in filter(_is_running, workers):
            os.kill(pid, signal.SIGKILL)
