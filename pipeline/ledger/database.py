"""The database that is derived from the journal: its tables made, or a copy of it opened."""

from __future__ import annotations

import contextlib
import shutil
from collections.abc import Iterable
from datetime import datetime
from pathlib import Path

import duckdb

from pipeline import __version__
from pipeline.ledger.sent_mails import Entry
from pipeline.ledger.sql_headers import comment_on, read_header
from pipeline.resources import resource

SCHEMA_VERSION = 1
"""Version of the tables' layout; a database of another version is built again."""


def open_copy(
    database: Path, path: Path, *, from_scratch: bool
) -> tuple[duckdb.DuckDBPyConnection, int]:
    """A connection to the copy at `path`, and how many journal lines it contains.

    Where the database is missing, damaged or of another schema, the copy is an empty one.
    """
    if database.exists() and not from_scratch:
        shutil.copyfile(database, path)
        with contextlib.suppress(duckdb.Error):
            con = duckdb.connect(str(path))
            row = con.execute("select schema_version, events_applied from ledger.meta").fetchone()
            if row and row[0] == SCHEMA_VERSION:
                return con, int(row[1])
            con.close()
        path.unlink(missing_ok=True)
        path.with_suffix(".duckdb.wal").unlink(missing_ok=True)
    con = duckdb.connect(str(path))
    create_ledger(con)
    return con, 0


def create_ledger(con: duckdb.DuckDBPyConnection) -> None:
    """The tables and views of schema ledger, with their comments, in an empty database."""
    con.execute("begin transaction")
    con.execute("create schema if not exists ledger")
    for path in ledger_files():
        sql = path.read_text(encoding="utf-8")
        con.execute(sql)
        meaning, keyed = read_header(sql)
        keyed.pop("grain", None)
        kind = "view" if _is_view(sql) else "table"
        comment_on(con, f"ledger.{path.stem}", meaning, keyed, kind)
    con.execute("insert into ledger.meta values (?, ?, 0, null)", [SCHEMA_VERSION, __version__])
    con.execute("commit")


def ledger_files() -> list[Path]:
    """The statements that make schema ledger: tables, then the views on them."""
    return sorted((resource("sql") / "ledger").glob("*.sql"), key=_views_last)


def _is_view(sql: str) -> bool:
    return "\ncreate or replace view" in sql


def _views_last(path: Path) -> tuple[bool, str]:
    return _is_view(path.read_text(encoding="utf-8")), path.name


def start_notes(con: duckdb.DuckDBPyConnection) -> None:
    """Temporary tables in which a run notes what it changed, for the data contract."""
    con.execute("create temp table changed_days (client_id varchar, performed_on date)")
    con.execute(
        "create temp table receipts"
        " (load_id integer, set_lines integer, weighed_lines integer, standing_sets bigint)"
    )


def mirror_mails(con: duckdb.DuckDBPyConnection, entries: Iterable[Entry]) -> bool:
    """Make ledger.mails say what the sent log says; gives whether it said something else."""
    rows = [
        (
            entry.client_id,
            entry.period,
            entry.message_id,
            entry.recipient,
            entry.state,
            datetime.fromisoformat(entry.at).replace(tzinfo=None),
            entry.detail,
        )
        for entry in entries
    ]
    standing = con.execute("from ledger.mails").fetchall()
    if sorted(standing, key=repr) == sorted(rows, key=repr):
        return False
    con.execute("delete from ledger.mails")
    if rows:
        con.executemany("insert into ledger.mails values (?, ?, ?, ?, ?, ?, ?)", rows)
    return True
