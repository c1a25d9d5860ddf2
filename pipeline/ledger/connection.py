"""The published database, opened for reading: the one place that does.

Readers never block a run, which works on a copy; they meet the last database that was published.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.errors import UsageError

if TYPE_CHECKING:
    import duckdb

Row = dict[str, Any]


def fetch(con: duckdb.DuckDBPyConnection, sql: str, *values: Any) -> list[Row]:
    """Rows of a query, each as column to value."""
    cursor = con.execute(sql, list(values))
    names = [column[0] for column in cursor.description or ()]
    return [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]


def connect(database: Path, *, is_sealed: bool = False) -> duckdb.DuckDBPyConnection:
    """A read-only connection; `is_sealed`: with no way to other files, extensions, the network.

    UsageError where nothing is loaded yet.
    """
    import duckdb

    if not database.exists():
        raise UsageError(f"{database.parent}: nothing is loaded yet; `setledger run` does it all.")
    config: dict[str, str | bool | int | float | list[str]] = (
        {"enable_external_access": "false", "lock_configuration": "true"} if is_sealed else {}
    )
    return duckdb.connect(str(database), read_only=True, config=config)


@contextmanager
def opened(database: Path, *, is_sealed: bool = False) -> Iterator[duckdb.DuckDBPyConnection]:
    """A read-only connection that closes itself."""
    con = connect(database, is_sealed=is_sealed)
    try:
        yield con
    finally:
        con.close()
