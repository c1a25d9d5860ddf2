"""The user's own models: one SELECT a file that only reads; a fault names its line and stays alone.

A file of models/ is tried on a small database; nothing outside it may be read, written or loaded.
"""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import duckdb
import pytest

from pipeline.review import own_models
from pipeline.review.own_models import OwnFiles, build_own, read_files
from pipeline.settings.workspace import Workspace


class Room:
    """A folder with models/, and a database with three rows."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        (folder / "models").mkdir()
        self.con = duckdb.connect(str(folder / "room.duckdb"))
        self.con.execute("create schema review")
        self.con.execute(
            "create table review.hits as from (values ('ines', 3), ('ines', 5), ('kofi', 2))"
            " as t (client_id, sets)"
        )

    def write(self, name: str, sql: str) -> None:
        (self.folder / "models" / f"{name}.sql").write_text(sql, encoding="utf-8")

    def files(self) -> OwnFiles:
        return read_files(cast("Workspace", SimpleNamespace(root=self.folder)))

    def build(self) -> list[str]:
        """As a run does it: on a connection of its own."""
        self.con.close()
        self.con = duckdb.connect(str(self.folder / "room.duckdb"))
        return build_own(self.con, self.files())[1]

    def tables(self) -> list[str]:
        rows = self.con.execute(
            "select table_name from duckdb_tables() where schema_name = 'own' order by all"
        )
        return [name for (name,) in rows.fetchall()]

    def rows(self, sql: str) -> list[tuple[Any, ...]]:
        return self.con.execute(sql).fetchall()


@pytest.fixture
def room(tmp_path: Path) -> Room:
    return Room(tmp_path)


GOOD = """-- One row per client: hits and their sets.
-- grain: client_id
-- client_id: the client
-- order: all sets of its hits [sets]
select client_id, sum(sets)::integer as "order"
from review.hits
group by all;
"""


def test_a_model_becomes_a_table_with_its_comments(room: Room) -> None:
    room.write("select", GOOD)
    assert room.build() == []
    assert room.rows('from own."select" order by all') == [("ines", 8), ("kofi", 2)]
    assert room.rows(
        "select comment from duckdb_tables() where schema_name = 'own'"
    ) == [("One row per client: hits and their sets.",)]  # fmt: skip
    assert ("all sets of its hits [sets]",) in room.rows("select comment from duckdb_columns()")


def test_a_model_may_read_another_whatever_their_names(room: Room) -> None:
    room.write("a_last", "select n + 1 as n from own.z_first")
    room.write("z_first", "select 1 as n")
    assert room.build() == []
    assert room.rows("from own.a_last") == [(2,)]


@pytest.mark.parametrize(
    ("sql", "line", "word"),
    [
        ("-- One row.\nselect client_id,\n    nope\nfrom review.hits", 3, '"nope" not found'),
        ("-- One row.\n\nselect\nfrom where", 4, "syntax error"),
        ("select 1 as n;\n\n-- and\nselect 2 as n", 3, "one SELECT"),
        ("-- Only words.\n", 1, "no SELECT"),
        ("-- x\nselect cast(client_id as integer) as n from review.hits", 2, "Could not convert"),
        ("-- One row.\ndelete from review.hits", 2, "this is DELETE"),
        ("insert into review.hits values ('x', 1)", 1, "this is INSERT"),
        ("copy review.hits to 'stolen.csv'", 1, "this is COPY"),
        ("attach 'other.duckdb'", 1, "this is ATTACH"),
        ("install httpfs", 1, "one SELECT"),
        ("set enable_external_access = true", 1, "one SELECT"),
        ("pivot review.hits on client_id using sum(sets)", 1, "PIVOT"),
        ("-- x\nselect * from read_csv('/etc/passwd')", 2, "disabled by configuration"),
        ("select * from read_text('/etc/passwd')", 1, "disabled by configuration"),
        ("select * from glob('*')", 1, "disabled by configuration"),
        ("select * from 'room.csv'", 1, "disabled by configuration"),
        ("select * from 'https://example.org/a.parquet'", 1, "models/odd.sql:1: "),
        ("select * from files", 1, "does not exist"),  # a name of Python's, not of a table
        ("select * from enable_logging(storage_path = 'log')", 1, "locked"),
        ("select * from query('drop table review.hits')", 1, "single SELECT"),
        ("-- x\nselect ? as n", 2, "parameters"),
        ("-- One row.\n-- grain: day\n-- sets: sets\nselect sets from review.hits", 2, "day"),
        ("-- One row.\n-- grain: sets\n-- reps: n\nselect sets from review.hits", 3, "names reps"),
    ],
)
def test_a_fault_names_its_line_leaves_no_table_and_stops_no_other_model(
    room: Room, sql: str, line: int, word: str
) -> None:
    room.write("good", GOOD)
    room.write("odd", sql)
    [told] = room.build()
    assert told.startswith(f"models/odd.sql:{line}: ")
    assert word in told
    assert "\n" not in told
    assert told.endswith("Until this is mended there is no table own.odd; all else goes on.")
    assert room.tables() == ["good"]
    assert len(room.rows("from review.hits")) == 3
    assert {path.name for path in room.folder.iterdir()} <= {
        "models", "room.duckdb", "room.duckdb.wal"
    }  # fmt: skip


def test_what_once_was_built_does_not_stay_when_its_model_breaks_or_goes(room: Room) -> None:
    room.write("odd", GOOD)
    room.write("gone", GOOD)
    assert room.build() == []
    room.write("odd", "select nope from review.hits")
    (room.folder / "models" / "gone.sql").unlink()
    assert len(room.build()) == 1
    assert room.tables() == []
    (room.folder / "models" / "odd.sql").unlink()
    assert room.build() == []
    assert room.rows("select 1 from duckdb_schemas() where schema_name = 'own'") == []


def test_models_in_a_circle_and_what_rests_on_a_broken_one_are_named(room: Room) -> None:
    room.write("one", "select n from own.two")
    room.write("two", "select n from own.one")
    room.write("broken", "select nope")
    room.write("resting", "-- x\nselect * from own.broken")
    told = room.build()
    assert [each.split(": ")[0] for each in told] == [
        "models/broken.sql:1", "models/one.sql:1", "models/resting.sql:2", "models/two.sql:1"
    ]  # fmt: skip
    assert "own.two" not in room.tables()


def test_a_model_that_would_run_for_ever_is_stopped(
    room: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(own_models, "SECONDS_MAX", 0.2)
    room.write("endless", "select sum(a.range * b.range) from range(1000000) a, range(1000000) b")
    room.write("good", GOOD)
    [told] = room.build()
    assert "took longer than 0.2 seconds" in told
    assert room.tables() == ["good"]


def test_links_that_lead_out_odd_names_and_bytes_are_refused(room: Room, tmp_path: Path) -> None:
    outside = tmp_path.parent / f"{tmp_path.name}-outside.sql"
    outside.write_text("select 1 as n", encoding="utf-8")
    models = room.folder / "models"
    (models / "link.sql").symlink_to(outside)
    (models / "loop.sql").symlink_to(models / "loop.sql")
    (models / "folder.sql").mkdir()
    (models / "bytes.sql").write_bytes(b"select '\xff' as n")
    room.write('x"; drop schema review cascade; --', "select 1 as n")
    room.write(".hidden", "nonsense")
    told = room.build()
    assert [each.split(": ")[1].split(";")[0][:24] for each in told] == [
        "this is not UTF-8", "this is a folder, not a ", "leads out of the workspa",
        "leads out of the workspa", "a table's name is a-z, 0",
    ]  # fmt: skip
    assert len(room.rows("from review.hits")) == 3


def test_the_digest_tells_a_changed_renamed_or_removed_file(room: Room) -> None:
    empty = room.files().digest
    room.write("a", GOOD)
    first = room.files().digest
    room.write("a", GOOD + "\n")
    second = room.files().digest
    (room.folder / "models" / "a.sql").rename(room.folder / "models" / "b.sql")
    assert len({empty, first, second, room.files().digest}) == 4
    assert empty == ""
