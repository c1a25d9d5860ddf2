"""What an ordinary user may not read or write is said in a sentence, and nothing is lost by it.

Tests may run as root, whom no mode stops: the command is then started without that power.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.cli.test_unattended import AUGUST, make_room, run, write_log
from tests.commands import BARE
from tests.conftest import made_once

ROOT = Path(__file__).parents[2]
POWERLESS = ["setpriv", "--bounding-set=-dac_override,-dac_read_search"]


def as_user(folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    """The command, stopped by modes as any user is."""
    command = [sys.executable, "-c", "from pipeline.cli import main; main()", *words]
    if os.geteuid() == 0:
        if shutil.which(POWERLESS[0]) is None:
            pytest.skip("setpriv is not installed, and root is stopped by no mode")
        command = POWERLESS + command
    return subprocess.run(
        [*command, "-w", str(folder)],
        cwd=ROOT,
        env=BARE | {"PYTHONPATH": str(ROOT), "SOURCE_DATE_EPOCH": AUGUST[24]},
        capture_output=True,
        text=True,
    )


@pytest.fixture(scope="session")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A workspace that was run, with a longer export since."""

    def make(folder: Path) -> None:
        room = make_room(folder / "room")
        assert run(room, 22).returncode == 0
        write_log(room, range(1, 24))

    return made_once(tmp_path_factory, "ordinary", make) / "room"


@pytest.fixture
def room(built: Path, tmp_path: Path) -> Path:
    shutil.copytree(built, tmp_path / "room")
    return tmp_path / "room"


def what_readers_see(folder: Path) -> dict[str, bytes]:
    paths = [folder / "setledger.duckdb", *(folder / "out").rglob("*.html")]
    return {str(path.relative_to(folder)): path.read_bytes() for path in paths}


CASES = [
    ("exports/log.csv", 0o000),
    ("setledger.toml", 0o000),
    (".", 0o500),
    *(
        pytest.param(name, mode, marks=pytest.mark.slow)
        for name, mode in (
            ("mappings/log.toml", 0o000),
            (".setledger", 0o500),
            (".setledger", 0o000),
            (".setledger/exports", 0o500),
            (".setledger/loads.jsonl", 0o000),
            (".setledger/loads.jsonl", 0o400),
            ("setledger.duckdb", 0o000),
        )
    ),
]


@pytest.mark.parametrize(("name", "mode"), CASES)
def test_what_may_not_be_touched_is_named_and_nothing_is_lost(
    room: Path, name: str, mode: int
) -> None:
    before = what_readers_see(room)
    path = room / name
    usual = path.stat().st_mode
    path.chmod(mode)
    try:
        done = as_user(room, "run")
    finally:
        path.chmod(usual)
    assert (done.returncode, done.stdout) == (2, ""), done.stderr
    assert (name if name != "." else str(room)) in done.stderr
    assert len(done.stderr.splitlines()) <= 2
    assert "unexpected" not in done.stderr
    assert what_readers_see(room) == before
    assert run(room, 24).returncode == 0
    assert what_readers_see(room) != before


def test_who_may_only_read_can_ask(room: Path) -> None:
    """A database on a read-only share: no lock, no copy, no log is needed to answer."""
    (room / ".setledger").chmod(0o500)
    room.chmod(0o500)
    try:
        done = as_user(room, "query", "select count(*) from ledger.sets", "--format", "csv")
    finally:
        room.chmod(0o700)
        (room / ".setledger").chmod(0o700)
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.split()[-1] == "336", "eight clients, 21 days, two lifts"
