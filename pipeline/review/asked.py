"""The review as a question of one client meets it: its database, its client, its views.

`whatif`, `next` and `compare` read the published tables; what they compute stands in a folder of
sql/ of its own, as views that only the question sees.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.errors import UsageError
from pipeline.ledger.connection import fetch, opened
from pipeline.names.nearest import did_you_mean
from pipeline.resources import resource
from pipeline.review.macros import macros
from pipeline.review.model_files import in_order, tables_read
from pipeline.review.other_day import build_copy

if TYPE_CHECKING:
    import duckdb

    from pipeline.settings.workspace import Client, Workspace


@contextmanager
def review_of(
    workspace: Workspace, client_id: str, as_of: date | None = None
) -> Iterator[duckdb.DuckDBPyConnection]:
    """The published review, read-only; for another day a copy with this client built anew."""
    with opened(workspace.database, is_sealed=True) as con:
        tables = fetch(
            con, "select 1 from information_schema.tables where table_name = 'muscle_status'"
        )
        built_on = fetch(con, "select as_of from review.run")[0]["as_of"] if tables else None
        if built_on is None:
            raise UsageError(f"{workspace.root}: no review is built yet; `setledger run` does it.")
        if as_of in (None, built_on):
            with macros(con):
                yield con
            return
    with tempfile.TemporaryDirectory(prefix="setledger-") as folder:
        path = Path(folder) / workspace.database.name
        assert as_of is not None
        build_copy(workspace, path, as_of, scope=[client_id])
        with opened(path, is_sealed=True) as con, macros(con):
            yield con


def client_of(workspace: Workspace, con: duckdb.DuckDBPyConnection, client_id: str) -> Client:
    """A client of the review; UsageError names the nearest where there is none."""
    rows = fetch(con, "select distinct client_id from review.muscle_status order by client_id")
    known = [row["client_id"] for row in rows]
    if client_id not in known and client_id in {client.id for client in workspace.clients}:
        day = fetch(con, "select as_of from review.run")[0]["as_of"]
        raise UsageError(f"--client {client_id}: nothing is logged up to {day}.")
    if client_id not in known:
        hint = did_you_mean(client_id, known)
        raise UsageError(f"--client {client_id}: no such client in the review; {hint}")
    return workspace.client(client_id)


def write_rows(
    con: duckdb.DuckDBPyConnection,
    tables: dict[str, str],
    rows: dict[str, list[tuple[Any, ...]]],
) -> None:
    """Temporary tables that say what is asked: names with their columns, and their rows."""
    for table, columns in tables.items():
        con.execute(f"create temp table if not exists {table} ({columns})")
        con.execute(f"delete from {table}")
        if rows[table]:
            marks = ", ".join("?" * len(rows[table][0]))
            con.executemany(f"insert into {table} values ({marks})", rows[table])


def make_views(con: duckdb.DuckDBPyConnection, folder: str) -> None:
    """The files of sql/`folder`/ as views, each after those it reads."""
    import duckdb

    paths = (resource("sql") / folder).glob("*.sql")
    files = {path.stem: path.read_text(encoding="utf-8") for path in paths}
    for name in in_order({name: tables_read(sql, con) for name, sql in files.items()}):
        try:
            con.execute(f"create temp view {name} as {files[name]}")
        except (duckdb.CatalogException, duckdb.BinderException) as error:
            raise UsageError(
                "The review was built by another version of setledger; `setledger run` builds it "
                "anew."
            ) from error
