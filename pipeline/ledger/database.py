"""The database that is derived from the journal: its tables made, or a copy of it opened."""

from __future__ import annotations

import shutil
from collections.abc import Iterable
from dataclasses import dataclass, fields
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import duckdb

from pipeline import __version__
from pipeline.errors import UsageError
from pipeline.ledger.connection import SCHEMA_VERSION, held_by_another
from pipeline.ledger.sent_mails import Entry
from pipeline.ledger.sql_headers import comment_on, read_header
from pipeline.resources import resource

_MAIL_COLUMNS = len(fields(Entry))


@dataclass(frozen=True)
class Seen:
    """What a database contains of the journal and the sent log."""

    schema_version: int = SCHEMA_VERSION
    tool_version: str = __version__
    events: int = 0
    journal_digest: str | None = None
    rewritings: int = 0
    mails: tuple[tuple[Any, ...], ...] = ()
    """Rows of ledger.mails."""


def seen_by(con: duckdb.DuckDBPyConnection) -> Seen | None:
    """What a database has seen; None where it is none of ours, or damaged."""
    try:
        names = [row[0] for row in con.execute("describe ledger.meta").fetchall()]
        row = con.execute("select * from ledger.meta").fetchone()
        mails = con.execute("from ledger.mails").fetchall()
    except duckdb.Error:
        return None
    if row is None:
        return None
    meta = dict(zip(names, row, strict=True))
    return Seen(
        meta["schema_version"],
        meta["tool_version"],
        meta["events_applied"],
        meta.get("journal_digest"),
        meta.get("rewritings", -1),
        # one from before the first changes were noted has fewer columns
        tuple((*row, *(None,) * (_MAIL_COLUMNS - len(row))) for row in mails),
    )


def look_into(database: Path) -> Seen | None:
    """What the published database has seen; None where nobody can tell."""
    if not database.exists():
        return None
    try:
        with duckdb.connect(str(database), read_only=True) as con:
            return seen_by(con)
    except duckdb.Error:
        return None


@dataclass
class Copy:
    """A copy of the published database, or an empty one where that cannot be used."""

    con: duckdb.DuckDBPyConnection
    seen: Seen | None
    """What the published database has seen; None where there is none, or it cannot be read."""
    is_empty: bool
    said: list[str]
    """What is wrong with the published database."""


def open_copy(database: Path, path: Path, *, from_scratch: bool) -> Copy:
    """A connection to a copy at `path`.

    Where the database is missing, damaged, of another schema or held by another program, the copy
    is an empty one, to be filled from the journal. UsageError for one of a newer tool.
    """
    said: list[str] = []
    seen = None
    if database.exists():
        is_held = held_by_another(database)
        shutil.copyfile(database, path)
        try:
            con = duckdb.connect(str(path))
        except duckdb.Error as error:
            said.append(
                f"{database.name} is no database that can be read ({_first_line(error)}); it is "
                "made again from what was read."
            )
        else:
            seen = seen_by(con)
            if seen is not None and seen.schema_version > SCHEMA_VERSION:
                con.close()
                raise UsageError(
                    f"{database.name} was made by a newer setledger ({seen.tool_version}); update "
                    "this one. Nothing was changed."
                )
            if seen is None:
                said.append(
                    f"{database.name} holds no ledger that can be read; it is made again from "
                    "what was read."
                )
            is_ours = seen is not None and seen.schema_version == SCHEMA_VERSION
            if is_ours and not from_scratch and not is_held:
                return Copy(con, seen, False, said)
            con.close()
        if is_held:
            said.append(
                f"{database.name} is held open for writing by another program; the run made it "
                "again beside and put that in its place. Close the other program: it looks at a "
                "file that is gone."
            )
        path.unlink(missing_ok=True)
        path.with_suffix(".duckdb.wal").unlink(missing_ok=True)
    return Copy(empty(path), seen, True, said)


def empty(path: Path) -> duckdb.DuckDBPyConnection:
    """An empty ledger at `path`."""
    con = duckdb.connect(str(path))
    create_ledger(con)
    return con


def stray_wal(database: Path) -> Path | None:
    """The write-ahead file of another program's session beside the database, if there is one."""
    path = database.with_name(f"{database.name}.wal")
    return path if path.exists() else None


def _first_line(error: Exception) -> str:
    return str(error).strip().split("\n")[0][:200]


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
    con.execute(
        "insert into ledger.meta values (?, ?, 0, null, 0, null)", [SCHEMA_VERSION, __version__]
    )
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
    rows = [row_of(entry) for entry in entries]
    standing = con.execute("from ledger.mails").fetchall()
    if sorted(standing, key=repr) == sorted(rows, key=repr):
        return False
    con.execute("delete from ledger.mails")
    if rows:
        marks = ", ".join("?" * _MAIL_COLUMNS)
        con.executemany(f"insert into ledger.mails values ({marks})", rows)
    return True


def row_of(entry: Entry) -> tuple[Any, ...]:
    """A line of the sent log as ledger.mails stores it."""
    at = datetime.fromisoformat(entry.at).replace(tzinfo=None)
    return (
        entry.client_id, entry.period, entry.message_id, entry.recipient, entry.state, at,
        entry.detail, entry.code, entry.subject,
    )  # fmt: skip


def entry_of(row: tuple[Any, ...]) -> Entry:
    """The line of the sent log that a row of ledger.mails stands for."""
    client_id, period, message_id, recipient, state, at, *rest = row
    moment = at.replace(tzinfo=UTC).isoformat()
    return Entry(client_id, period, message_id, recipient, state, moment, *rest)
