"""A small workspace of two sources that tests read, damage and kill, and the ways to damage it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import duckdb

from pipeline.ledger import journal, loading, store
from pipeline.ledger.replay import opened_work
from pipeline.ledger.sent_mails import SentLog
from pipeline.outcome import Outcome
from pipeline.runs import forget as forgetting
from pipeline.runs import run as runs
from pipeline.runs.load import load
from pipeline.settings.workspace_file import find_workspace

CONFIG = """
[workspace]
name = "Damage"
as_of = 2026-06-30
[[sources]]
files = "exports/log*.csv"
mapping = "mappings/log.toml"
[[sources]]
files = "exports/other*.csv"
mapping = "mappings/other.toml"
"""
MAPPING = """
name = "{name}"
[columns]
client = "who"
performed_on = "day"
exercise = "lift"
load = "kg"
reps = "reps"
[formats]
load_unit = "kg"
"""
DAY = 1782777600
"""SOURCE_DATE_EPOCH of 2026-06-30."""


def lines_of(who: str, days: range, load: float = 60) -> list[str]:
    return [f"{who},2026-05-{day:02},back squat,{load},8" for day in days]


class Room:
    """A small workspace of two sources, read and damaged."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        for name in ("exports", "mappings"):
            (folder / name).mkdir()
        (folder / "setledger.toml").write_text(CONFIG)
        for name in ("log", "other"):
            (folder / f"mappings/{name}.toml").write_text(MAPPING.format(name=name))

    def export(self, *groups: list[str], name: str = "log.csv") -> Path:
        path = self.folder / "exports" / name
        lines = ["who,day,lift,kg,reps", *(line for group in groups for line in group)]
        path.write_text("\n".join(lines) + "\n")
        return path

    def load(self, *accepted: str) -> Outcome:
        outcome = Outcome()
        with opened_work(find_workspace(self.folder)) as work:
            load(work, outcome, accepted)
            work.publish()
            outcome.problems += work.said
            outcome.notes += work.notes
        return outcome

    def unload(self, wanted: str) -> list[str]:
        return loading.unload(find_workspace(self.folder), wanted)[1]

    def rebuild(self) -> None:
        """The ledger made again, without the review."""
        with opened_work(find_workspace(self.folder), from_scratch=True) as work:
            work.is_dirty = True
            work.publish()

    def salvage(self) -> list[str]:
        return runs.rebuild(find_workspace(self.folder), is_salvage=True).problems

    def forget(self, client_id: str) -> forgetting.Removal:
        workspace = find_workspace(self.folder)
        with store.locked(workspace.store):
            removal = forgetting.plan(workspace, client_id)
            forgetting.forget(workspace, removal, Outcome())
        return removal

    def clients(self) -> dict[str, int]:
        with duckdb.connect(str(self.folder / "setledger.duckdb"), read_only=True) as con:
            return dict(
                con.execute(
                    "select client_id, count(*) from ledger.sets where replaced_by is null"
                    " group by all order by all"
                ).fetchall()
            )

    @property
    def store(self) -> Path:
        return self.folder / ".setledger"

    @property
    def journal(self) -> Path:
        return self.store / "loads.jsonl"

    def kept(self, path: Path) -> Path:
        """What is kept of a file in exports/."""
        return store.content_path(self.store, store.digest(path.read_bytes()))

    def events(self) -> list[str]:
        return [event["event"] for event in journal.read_journal(self.store)]


def flip(path: Path, at: int | None = None, bit: int = 2) -> None:
    """One bit of a file turned; by default in its middle."""
    data = bytearray(path.read_bytes())
    data[len(data) // 2 if at is None else at] ^= 1 << bit
    path.write_bytes(data)


def cut(path: Path) -> None:
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])


def cut_lines(path: Path) -> None:
    path.write_bytes(b"".join(path.read_bytes().splitlines(keepends=True)[:-1]))


def remove(path: Path) -> None:
    path.unlink()


Damage = Callable[[Path], None]
EACH: list[Damage] = [flip, cut, remove]


def altered(line: int) -> Damage:
    def damage(path: Path) -> None:
        texts = path.read_bytes().split(b"\n")
        at = sum(len(text) + 1 for text in texts[: line - 1]) + len(texts[line - 1]) // 2
        flip(path, at)

    return damage


def without_line(line: int) -> Damage:
    def damage(path: Path) -> None:
        texts = path.read_bytes().splitlines(keepends=True)
        path.write_bytes(b"".join(texts[: line - 1] + texts[line:]))

    return damage


def swapped(path: Path) -> None:
    texts = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(b"".join([*texts[:-2], texts[-1], texts[-2]]))


def mailed(room: Room) -> SentLog:
    log = SentLog.of(room.store)
    for client in ("ines", "kofi"):
        for state in ("sending", "sent"):
            log.note(client, "2026-05", f"<{client}@x.org>", f"{client}@example.org", state)
    with opened_work(find_workspace(room.folder)) as work:
        work.publish()
    return log


class Killed(BaseException):
    """Stands for a kill: nothing catches it."""
