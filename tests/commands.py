"""The command as a user types it: within the test's own process, or as it is installed."""

from __future__ import annotations

import contextlib
import io
import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from unittest import mock

from pipeline import processes
from pipeline.cli import main

COMMAND = str(Path(sys.executable).parent / "setledger")
BARE = {"PATH": "/usr/bin:/bin", "LC_ALL": "C.UTF-8"}
if "PYTHONPATH" in os.environ:  # a checkout other than the installed one is tested
    BARE["PYTHONPATH"] = os.environ["PYTHONPATH"]


@dataclass(frozen=True)
class Done:
    """What a command left: its exit code and what it said."""

    returncode: int
    stdout: str
    stderr: str


def run_setledger(*words: str, cwd: Path, **environment: str) -> Done:
    """The command within this process, without a terminal and with hardly any environment.

    That saves the start of Python and the imports of each; `installed` is the real thing. Pages
    are written in this process as well: the test workers have the cores already.
    """
    out, err = io.StringIO(), io.StringIO()
    code = 0
    folder, mask = Path.cwd(), os.umask(0o022)
    os.chdir(cwd)
    try:
        with (
            mock.patch.dict(os.environ, BARE | environment, clear=True),
            mock.patch.object(sys, "argv", ["setledger", *words]),
            mock.patch.object(sys, "stdin", io.StringIO()),
            mock.patch.object(processes, "POOL_FROM", 1000),
            contextlib.redirect_stdout(out),
            contextlib.redirect_stderr(err),
        ):
            main()
    except SystemExit as stop:
        code = int(stop.code or 0)
    finally:
        os.umask(mask)
        os.chdir(folder)
    return Done(code, out.getvalue(), err.getvalue())


def run_installed(*words: str, cwd: Path, **environment: str) -> subprocess.CompletedProcess[str]:
    """The installed command in a process of its own, as a user starts it."""
    return subprocess.run(
        [COMMAND, *words], cwd=cwd, env=BARE | environment, capture_output=True, text=True
    )
