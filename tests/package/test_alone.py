"""The demo needs no network and no home: what it asks of either is written down, and is nothing."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

CHECKOUT = Path(__file__).parents[2]

WATCH = """
import os, sys

def watch(event, arguments):
    if event in ("socket.connect", "socket.sendto", "socket.getaddrinfo"):
        address = arguments[-1] if event != "socket.getaddrinfo" else arguments[:2]
        if not isinstance(address, (str, bytes)):  # a path is a socket of this machine alone
            with open(os.environ["ATTEMPTS"], "a") as file:
                file.write(f"{event} {address}\\n")
            raise OSError(f"{event} {address}: no network in this test")

sys.addaudithook(watch)
"""


def without_network() -> list[str]:
    """A command that runs another one without network devices, where the machine lets us."""
    command = ["unshare", "-rn"]
    if shutil.which("unshare") is None:
        return []
    return command if subprocess.run([*command, "true"], check=False).returncode == 0 else []


def run(folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    """Python with every attempt at the network refused and noted, and a file for a home."""
    (folder / "watch").mkdir(exist_ok=True)
    (folder / "watch" / "sitecustomize.py").write_text(WATCH)
    (folder / "home").write_text("no folder, so that nothing can be written below it")
    paths = [str(folder / "watch"), str(CHECKOUT), *filter(None, sys.path)]
    return subprocess.run(
        [*without_network(), sys.executable, *words],
        cwd=folder,
        env={
            "PATH": os.environ["PATH"],
            "LC_ALL": "C.UTF-8",
            "PYTHONPATH": os.pathsep.join(paths),
            "HOME": str(folder / "home"),
            "ATTEMPTS": str(folder / "attempts"),
        },
        capture_output=True,
        text=True,
    )


def test_an_attempt_at_the_network_would_be_noted(tmp_path: Path) -> None:
    done = run(tmp_path, "-c", "import socket; socket.create_connection(('localhost', 9))")
    assert "no network in this test" in done.stderr
    assert (tmp_path / "attempts").read_text().startswith("socket.getaddrinfo")


@pytest.mark.slow
def test_the_demo_runs_without_network_and_home(tmp_path: Path) -> None:
    done = run(tmp_path, "-m", "pipeline.cli", "demo", "room")
    assert (done.returncode, done.stderr) == (0, "")
    assert (tmp_path / "room" / "out" / "ines" / "latest.html").is_file()
    assert not (tmp_path / "attempts").exists()
    assert (tmp_path / "home").is_file()
    checked = run(tmp_path, "-m", "pipeline.cli", "check", "-w", "room")
    assert checked.returncode in (0, 1), checked.stderr
    mails = run(
        tmp_path, "-m", "pipeline.cli", "send", "--dry-run", "--month", "2026-07", "-w", "room"
    )
    assert mails.returncode in (0, 1), mails.stderr
    assert "unexpected" not in checked.stderr + mails.stderr
    assert not (tmp_path / "attempts").exists()


def dependencies() -> dict[str, str]:
    """Name to the versions that may be used."""
    project = tomllib.loads((CHECKOUT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    found = (re.match(r"([a-z0-9-]+)(.*)", each) for each in project["dependencies"])
    return {each[1]: each[2] for each in found if each}


def test_each_dependency_has_its_reason_in_the_developers_file() -> None:
    text = (CHECKOUT / "DEVELOPERS.md").read_text(encoding="utf-8")
    section = text.split("## Dependencies")[1].split("\n## ")[0]
    told = re.findall(r"^\| `([a-z0-9-]+)` \| \S.{10,} \|$", section, re.MULTILINE)
    assert told == list(dependencies())


@pytest.mark.parametrize("name", ["duckdb", "polars"])
def test_what_may_change_with_a_major_version_has_an_upper_bound(name: str) -> None:
    assert re.fullmatch(r">=(\d+)\.\d+,<(\d+)", dependencies()[name])
