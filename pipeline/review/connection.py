"""Rows of a database as the rooms after the review read them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import duckdb

Row = dict[str, Any]


def fetch(con: duckdb.DuckDBPyConnection, sql: str, *values: Any) -> list[Row]:
    """Rows of a query, each as column to value."""
    cursor = con.execute(sql, list(values))
    names = [column[0] for column in cursor.description or ()]
    return [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]
