"""The demo, made once as a user makes it: in a fresh folder, by the installed command."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

Setledger = Callable[..., "subprocess.CompletedProcess[str]"]


def run_setledger(*words: str, cwd: Path, **environment: str) -> subprocess.CompletedProcess[str]:
    """The installed command, without a terminal and with hardly any environment."""
    command = Path(sys.executable).parent / "setledger"
    return subprocess.run(
        [str(command), *words],
        cwd=cwd,
        env={"PATH": "/usr/bin:/bin", "LC_ALL": "C.UTF-8"} | environment,
        capture_output=True,
        text=True,
    )


@pytest.fixture
def setledger() -> Setledger:
    """Runs the command: setledger("run", cwd=folder)."""
    return run_setledger


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A demo workspace; tests must not change it."""
    folder = tmp_path_factory.mktemp("demo")
    done = run_setledger("demo", "harbour-lane", cwd=folder)
    assert done.returncode == 0, done.stderr
    return folder / "harbour-lane"
