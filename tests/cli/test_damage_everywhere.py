"""Kills, full disks and damage everywhere: at each durable step of each command, to each file.

The build and the pages are left out, as they are made again from what is kept: what they write has
tests of its own.
"""

from __future__ import annotations

import contextlib
import errno
import os
import shutil
import subprocess
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import duckdb
import pytest

from pipeline.errors import SetledgerError
from pipeline.ledger import erasure, journal, store
from pipeline.ledger.replay import opened_work
from pipeline.ledger.sent_mails import SentLog
from pipeline.outcome import Outcome
from pipeline.pages import write
from pipeline.review import build as building
from pipeline.runs import run as runs
from pipeline.runs.load import load
from pipeline.settings.workspace_file import find_workspace
from tests.cli.damaged_room import (
    DAY,
    Damage,
    Killed,
    Room,
    altered,
    cut,
    cut_lines,
    flip,
    lines_of,
    mailed,
    remove,
)

pytestmark = pytest.mark.slow


@pytest.fixture(autouse=True)
def calm(monkeypatch: pytest.MonkeyPatch) -> None:
    """A fixed clock, and no build and no pages."""
    monkeypatch.setenv("SOURCE_DATE_EPOCH", str(DAY))
    for place, name in (
        (building, "build"), (runs, "build"), (runs, "check_changes"), (runs, "resolve_names"),
        (write, "report"), (write, "write_rosters_again"),
    ):  # fmt: skip
        monkeypatch.setattr(place, name, lambda *given, **named: None)


def a_room(folder: Path, number: int) -> Room:
    """Two sources with two clients each, one version held, mails sent."""
    place = folder / str(number)
    place.mkdir()
    room = Room(place)
    room.export(lines_of("Ines", range(1, 9)), lines_of("Kofi", range(1, 9)))
    room.export(lines_of("Ines", range(10, 13)), lines_of("Kofi", range(10, 13)), name="other.csv")
    room.load()
    mailed(room)
    room.export(lines_of("Ines", range(1, 9, 7)), lines_of("Kofi", range(1, 9)))
    room.load()
    room.export(
        lines_of("Ines", range(10, 15)), lines_of("Kofi", range(10, 12)),
        ["Kofi,2026-05-12,row,9,9"], name="other.csv",
    )  # fmt: skip
    return room


def broken(room: Room) -> Room:
    """A room whose journal has lost a line."""
    room.load()
    altered(3)(room.journal)
    return room


def forgotten(room: Room) -> Room:
    room.load()
    room.forget("kofi")
    return room


def readmit(room: Room) -> None:
    workspace = find_workspace(room.folder)
    with store.locked(workspace.store):
        erasure.readmit(workspace, "kofi")


COMMANDS: dict[str, tuple[Callable[[Room], Any], Callable[[Room], Any]]] = {
    "load": (lambda room: None, Room.load),
    "accept": (Room.load, lambda room: room.load("3")),
    "unload": (Room.load, lambda room: room.unload("1")),
    "rebuild": (Room.load, Room.rebuild),
    "forget": (Room.load, lambda room: room.forget("ines")),
    "readmit": (forgotten, readmit),
    "salvage": (broken, Room.salvage),
    "mail": (Room.load, mailed),
}


class Steps:
    """Counts writes that reach the disk, and ends one of them as a kill or a full disk does."""

    def __init__(self, patched: pytest.MonkeyPatch) -> None:
        self.count = 0
        self.at: int | None = None
        self.error: Callable[[], BaseException] = Killed
        self.is_after = False
        for place, name in ((os, "fsync"), (Path, "replace"), (Path, "unlink")):
            patched.setattr(place, name, self._counted(getattr(place, name)))

    def _counted(self, sound: Callable[..., Any]) -> Callable[..., Any]:
        def step(*given: Any, **named: Any) -> Any:
            self.count += 1
            is_now = self.count == self.at
            if is_now and not self.is_after:
                raise self.error()
            done = sound(*given, **named)
            if is_now:
                raise self.error()
            return done

        return step


def full_disk() -> BaseException:
    return OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


def steps_of(command: Callable[[Room], Any], room: Room) -> int:
    with pytest.MonkeyPatch.context() as patched:
        steps = Steps(patched)
        command(room)
    return steps.count


@pytest.mark.parametrize("how", ["killed before", "killed after", "disk full"])
@pytest.mark.parametrize("name", COMMANDS)
def test_a_command_that_ends_at_any_durable_step_loses_nothing(
    name: str, how: str, tmp_path: Path
) -> None:
    """Afterwards the store is as before or as after the command; doing it again completes it."""
    prepare, command = COMMANDS[name]
    whole = a_room(tmp_path, 0)
    prepare(whole)
    shutil.copytree(whole.folder, tmp_path / "prepared")
    before = whole.clients()
    steps = steps_of(command, whole)
    after = whole.clients()
    assert steps > 3
    for at in range(1, steps + 1):
        room = Room.__new__(Room)
        room.folder = tmp_path / str(at)
        shutil.copytree(tmp_path / "prepared", room.folder)
        with pytest.MonkeyPatch.context() as patched:
            counted = Steps(patched)
            counted.at, counted.is_after = at, how == "killed after"
            counted.error = full_disk if how == "disk full" else Killed
            with contextlib.suppress(Killed, OSError):
                command(room)
        assert room.clients() in (before, after), at
        if name == "salvage":
            try:
                room.salvage()
            except SetledgerError as done:
                assert "nothing to salvage" in str(done), at
                room.load()
        elif name == "accept":
            if "accept" not in room.events():
                command(room)
            room.load()
        elif name == "unload":
            if "unload" not in room.events():
                command(room)
            room.load()
        elif name == "readmit":
            if "readmit" not in room.events():
                command(room)
        else:
            command(room)
        assert room.clients() == after, at
        said = [each for each in room.load().problems if "held back" not in each]
        assert said == [], at
        room.rebuild()
        assert room.clients() == (whole.clients() if name != "readmit" else room.clients()), at
        assert not list(room.folder.rglob(".*.new")), at
        shutil.rmtree(room.folder)


def kept_files(room: Room) -> list[Path]:
    return sorted(path for path in room.store.rglob("*") if path.is_file() and path.name != "lock")


def bits(path: Path) -> Iterator[tuple[str, Damage]]:
    size = path.stat().st_size
    for part in range(8):
        at = min(size - 1, size * part // 7)
        yield f"bit at {at}", lambda path, at=at, part=part: flip(path, at, bit=part)
    yield from (("cut", cut), ("line", cut_lines), ("gone", remove), ("empty", empty))


def empty(path: Path) -> None:
    path.write_bytes(b"")


@pytest.mark.parametrize("with_exports", [True, False], ids=["exports there", "exports gone"])
def test_damage_to_any_kept_file_is_mended_or_named(with_exports: bool, tmp_path: Path) -> None:
    """A bit turned, the file cut, a line cut off, the file gone or empty: each file in turn."""
    room = a_room(tmp_path, 0)
    room.load()
    room.forget("kofi")
    before, mails = room.clients(), mails_of(room)
    if not with_exports:
        for path in (room.folder / "exports").iterdir():
            path.unlink()
    standing = {path: path.read_bytes() for path in kept_files(room)}
    database = (room.folder / "setledger.duckdb").read_bytes()
    told: Counter[str] = Counter()
    for path, content in standing.items():
        for what, damage in bits(path):
            damage(path)
            came = came_of(room, with_exports)
            name = path.relative_to(room.folder)
            if came == "silence":
                assert room.clients() == before, (name, what)
                assert mails_of(room) == mails, (name, what)
            if path.suffix == ".jsonl" and path.name != journal.TOMBSTONES:
                is_same = path.exists() and path.read_bytes() == content
                assert came != "silence" or is_same, (name, what)
            told[came] += 1
            for each in kept_files(room):
                if each not in standing:
                    each.unlink()
            for each, bytes_ in standing.items():
                each.write_bytes(bytes_)
            (room.folder / "setledger.duckdb").write_bytes(database)
    assert told["named"] > 10, told
    assert len(told) >= 2, told


def came_of(room: Room, with_exports: bool) -> str:
    """What a run and a rebuild made of the damage."""
    from pipeline.checks import store as checks

    try:
        said = [] if not with_exports else room.load().problems
        found = [
            each for each in checks.kept(find_workspace(room.folder)) if each.severity != "note"
        ]
        room.rebuild()
    except SetledgerError as error:
        assert re_names(str(error)), error
        return "named"
    said = [each for each in said if "held back" not in each]
    if said or found:
        return "named" if not said else "mended or named"
    return "silence"


def re_names(sentence: str) -> bool:
    return any(word in sentence for word in (".setledger", "setledger unload", "setledger.duckdb"))


def mails_of(room: Room) -> list[tuple[Any, ...]]:
    with duckdb.connect(str(room.folder / "setledger.duckdb"), read_only=True) as con:
        return con.execute("from ledger.mails order by all").fetchall()


def test_a_disk_that_is_full_between_copy_and_publish_loses_nothing(tmp_path: Path) -> None:
    """A file system of 24 MB, filled up while the work copy is open."""
    small = tmp_path / "small"
    small.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=24m", "tmpfs", str(small)], capture_output=True
    )
    if mounted.returncode:
        pytest.skip("this user cannot mount a small file system")
    try:
        room = a_room(small, 0)
        before, lines = room.clients(), room.journal.read_bytes()
        filler = small / "filler"
        with (
            pytest.raises((OSError, SetledgerError)),
            opened_work(find_workspace(room.folder)) as work,
        ):
            load(work, Outcome())
            with filler.open("wb", buffering=0) as file, contextlib.suppress(OSError):
                while True:
                    file.write(bytes(4096))
            work.publish()
        assert room.clients() == before
        assert room.journal.read_bytes().startswith(lines)
        filler.unlink()
        room.load()
        assert room.clients() == {"ines": 13, "kofi": 11}
        room.rebuild()
        assert room.clients() == {"ines": 13, "kofi": 11}
        assert SentLog.of(room.store).faults == []
    finally:
        subprocess.run(["umount", str(small)], check=True)
