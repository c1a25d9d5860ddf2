"""From a figure of the review back to the sets behind it, with file and line and what each counted.

`sql/trace/<table>.sql` says which sets stand behind each table's figures.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import duckdb

from pipeline.errors import UsageError
from pipeline.resources import resource

BASE = "traced_sets"
_PARAMETER = re.compile(r"\$(\w+)")


@dataclass(frozen=True)
class Traced:
    """A figure as the review holds it, and the sets behind it."""

    figure: str
    """Table and column."""
    value: Any
    """What the review says; None where the grain names no single row."""
    columns: tuple[str, ...]
    rows: tuple[tuple[Any, ...], ...]


def traceable() -> list[str]:
    """Tables whose figures can be traced."""
    return sorted(path.stem for path in (resource("sql") / "trace").glob("*.sql")
                  if path.stem != BASE)  # fmt: skip


def trace(con: duckdb.DuckDBPyConnection, figure: str, grain: dict[str, Any]) -> Traced:
    """The sets behind a figure named "review.table.column"; `grain` by column, None left open.

    Raises UsageError for a table or column that there is not.
    """
    parts = figure.removeprefix("review.").split(".")
    if len(parts) != 2 or parts[0] not in traceable():
        raise UsageError(
            f"{figure}: name a figure as TABLE.COLUMN; tables are {', '.join(traceable())}."
        )
    table, column = parts
    columns = [
        name
        for (name,) in con.execute(
            "select column_name from information_schema.columns"
            " where table_schema = 'review' and table_name = ? order by ordinal_position",
            [table],
        ).fetchall()
    ]
    if column not in columns:
        raise UsageError(f"{figure}: there is no such column; there are {', '.join(columns)}.")
    con.execute(f"create or replace temp view {BASE} as {_read(BASE)}")
    sql = _read(table)
    known = grain | {"column": column}
    values = {name: known.get(name) for name in set(_PARAMETER.findall(sql))}
    answer = con.execute(sql, values)
    names = tuple(each[0] for each in answer.description or ())
    rows = tuple(answer.fetchall())
    return Traced(f"review.{table}.{column}", _value(con, table, column, columns, grain), names,
                  rows)  # fmt: skip


def _read(name: str) -> str:
    path: Path = resource("sql") / "trace" / f"{name}.sql"
    return path.read_text(encoding="utf-8")


def _value(
    con: duckdb.DuckDBPyConnection,
    table: str,
    column: str,
    columns: list[str],
    grain: dict[str, Any],
) -> Any:
    """The figure itself, where the grain leads to one row."""
    conditions, values = [], []
    for name, value in grain.items():
        if value is None:
            continue
        if name == "on":
            of_day = {"day": "day = ?", "week": "week = date_trunc('week', ?::date)",
                      "performed_on": "performed_on = ?"}  # fmt: skip
            found = [sql for key, sql in of_day.items() if key in columns]
            if found:
                conditions.append(found[0])
                values.append(value)
        elif name in columns:
            conditions.append(f"{name} = ?")
            values.append(value)
    rows = con.execute(
        f"select {column} from review.{table} where {' and '.join(conditions)} limit 2", values
    ).fetchall()
    return rows[0][0] if len(rows) == 1 else None
