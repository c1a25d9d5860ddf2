"""How the rooms after the review read a database: its connections, and rows of a query."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import duckdb

Row = dict[str, Any]


def fetch(con: duckdb.DuckDBPyConnection, sql: str, *values: Any, **named: Any) -> list[Row]:
    """Rows of a query, each as column to value; its parameters by place, or by name."""
    cursor = con.execute(sql, named or list(values))
    names = [column[0] for column in cursor.description or ()]
    return [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]


@contextlib.contextmanager
def opened(database: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    """A read-only connection."""
    import duckdb

    con = duckdb.connect(str(database), read_only=True)
    try:
        yield con
    finally:
        con.close()


_CONNECTIONS: dict[Path, Any] = {}
"""One read-only connection a process and database: opening costs more than a page's queries."""


def connection(database: Path) -> duckdb.DuckDBPyConnection:
    """This process's connection to a database."""
    import duckdb

    con = _CONNECTIONS.get(database)
    if con is None:
        con = _CONNECTIONS[database] = duckdb.connect(str(database), read_only=True)
    return con


def close_connections() -> None:
    """Let go of the databases, before they are written or removed."""
    for con in _CONNECTIONS.values():
        con.close()
    _CONNECTIONS.clear()
