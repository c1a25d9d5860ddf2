"""The command, and the demo, made once for all tests."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.commands import Done, run_installed, run_setledger
from tests.conftest import made_once, unasked


@pytest.fixture(scope="session")
def setledger() -> Callable[..., Done]:
    """Runs the command: setledger("run", cwd=folder)."""
    return run_setledger


@pytest.fixture(scope="session")
def installed() -> Callable[..., subprocess.CompletedProcess[str]]:
    """Runs the installed command, where the process is the point."""
    return run_installed


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A demo workspace; tests must not change it."""

    def make(folder: Path) -> None:
        done = run_setledger("demo", "harbour-lane", cwd=folder)
        assert done.returncode == 0, done.stderr

    return made_once(tmp_path_factory, "demo", make) / "harbour-lane"


@pytest.fixture(scope="session")
def july(demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo with the pages of July beside the latest ones; tests must not change it."""

    def make(folder: Path) -> None:
        shutil.copytree(demo, folder / "club")
        words = ("report", "--month", "2026-07")
        done = run_setledger(*words, "-w", str(folder / "club"), cwd=folder)
        assert done.returncode == 0, done.stderr

    return made_once(tmp_path_factory, "july", make) / "club"


@pytest.fixture
def without_contract(monkeypatch: pytest.MonkeyPatch) -> None:
    """Runs do not ask the data contract."""
    unasked(monkeypatch)
