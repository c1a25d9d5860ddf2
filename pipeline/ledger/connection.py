"""The published database, opened for reading: the one place that does.

Readers never block a run, which works on a copy; they meet the last database that was published.
"""

from __future__ import annotations

import fcntl
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.errors import BusyError, DatabaseError, UsageError

if TYPE_CHECKING:
    import duckdb

SCHEMA_VERSION = 3
"""Version of the tables' layout; a database of another version is built again."""

Row = dict[str, Any]


def fetch(con: duckdb.DuckDBPyConnection, sql: str, *values: Any, **named: Any) -> list[Row]:
    """Rows of a query, each as column to value; its parameters by place, or by name."""
    cursor = con.execute(sql, named or list(values))
    names = [column[0] for column in cursor.description or ()]
    return [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]


def connect(database: Path, *, is_sealed: bool = False) -> duckdb.DuckDBPyConnection:
    """A read-only connection; `is_sealed`: with no way to other files, extensions, the network.

    UsageError where nothing is loaded yet, or where an earlier version made the tables.
    """
    import duckdb

    if not database.exists():
        raise UsageError(f"{database.parent}: nothing is loaded yet; `setledger run` does it all.")
    config: dict[str, str | bool | int | float | list[str]] = (
        {"enable_external_access": "false", "lock_configuration": "true"} if is_sealed else {}
    )
    try:
        con = duckdb.connect(str(database), read_only=True, config=config)
    except duckdb.Error as error:
        if held_by_another(database):
            raise BusyError(
                f"{database}: another program holds it open for writing; close that program."
            ) from error
        raise DatabaseError(
            f"{database}: cannot be read as a database ({str(error).splitlines()[0]}); `setledger "
            "rebuild` makes it again from what was read."
        ) from error
    if _is_outdated(con):
        con.close()
        raise UsageError(
            f"{database}: an earlier version of setledger made these tables; run `setledger build` "
            "first."
        )
    return con


def _is_outdated(con: duckdb.DuckDBPyConnection) -> bool:
    import duckdb

    try:
        row = con.execute("select schema_version from ledger.meta").fetchone()
    except duckdb.Error:
        return False
    return row is not None and row[0] < SCHEMA_VERSION


def held_by_another(database: Path) -> bool:
    """Whether another program has the database open for writing."""
    with database.open("rb") as handle:
        try:
            fcntl.lockf(handle, fcntl.LOCK_SH | fcntl.LOCK_NB)
        except OSError:
            return True
    return False


@contextmanager
def opened(database: Path, *, is_sealed: bool = False) -> Iterator[duckdb.DuckDBPyConnection]:
    """A read-only connection that closes itself."""
    con = connect(database, is_sealed=is_sealed)
    try:
        yield con
    finally:
        con.close()


_CONNECTIONS: dict[Path, duckdb.DuckDBPyConnection] = {}
"""One read-only connection a process and database: opening costs more than a page's queries."""


def shared_connection(database: Path) -> duckdb.DuckDBPyConnection:
    """This process's connection to a database, until `close_connections`."""
    if database not in _CONNECTIONS:
        _CONNECTIONS[database] = connect(database)
    return _CONNECTIONS[database]


def close_connections() -> None:
    """Let go of the databases, before they are written or removed."""
    for con in _CONNECTIONS.values():
        con.close()
    _CONNECTIONS.clear()
