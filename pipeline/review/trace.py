"""From a figure of the review back to the sets behind it, with file and line and what each counted.

`sql/trace/<table>.sql` says which sets stand behind each table's figures.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import duckdb

from pipeline.errors import UsageError
from pipeline.ledger.sql_headers import read_header
from pipeline.names.nearest import did_you_mean
from pipeline.resources import resource
from pipeline.resources import sql as sql_file

BASE = "traced_sets"
"""What each table's file chooses from."""
OUTER = "traced"
"""What stands around each table's file: place and log of the chosen sets, in order."""
NAMED = ("muscle", "exercise", "movement", "kind", "measure", "code", "subject")
"""Grain columns whose option names something: a slip would find no set and say nothing."""

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
    kind: str = "sets"
    """What the rows are: sets, or what the table's file says that they are."""


def traceable() -> list[str]:
    """Tables whose figures can be traced."""
    return sorted(path.stem for path in (resource("sql") / "trace").glob("*.sql")
                  if path.stem not in (BASE, OUTER))  # fmt: skip


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
    _refuse_unknown(con, table, columns, grain)
    base, chosen, outer = (sql_file(f"trace/{name}") for name in (BASE, table, OUTER))
    con.execute(f"create or replace temp view {BASE} as {base}")
    kind = read_header(chosen)[1].get("kind")
    sql = chosen if kind else f"with chosen as (\n{chosen}\n)\n{outer}"
    known = grain | {"column": column}
    values = {name: known.get(name) for name in set(_PARAMETER.findall(sql))}
    answer = con.execute(sql, values)
    names = tuple(each[0] for each in answer.description or ())
    rows = tuple(answer.fetchall())
    figure, value = f"review.{table}.{column}", value_of(con, table, column, grain)
    return Traced(figure, value, names, rows, kind or "sets")


def _refuse_unknown(
    con: duckdb.DuckDBPyConnection, table: str, columns: list[str], grain: dict[str, Any]
) -> None:
    """UsageError where an option names something that the client has no row of."""
    client_id = grain["client_id"]
    for name in (each for each in NAMED if each in columns):
        value = grain.get(name)
        if value is None and name != "measure":
            continue
        rows = con.execute(
            f"select distinct {name} from review.{table} where client_id = ? order by all",
            [client_id],
        ).fetchall()
        known = [row[0] for row in rows if row[0] is not None]
        if value is None:
            raise UsageError(_missing_measure(table, client_id, known))
        if value not in known:
            hint = did_you_mean(str(value), known)
            raise UsageError(f"--{name} {value}: {client_id} has none in review.{table}; {hint}")


def _missing_measure(table: str, client_id: str, known: list[str]) -> str:
    if not known:
        return f"{client_id}: no change is noted; [[clients.changes]] in setledger.toml notes one."
    return (
        f"review.{table}: name one with --measure, and with --on the day of the change; there are "
        f"{', '.join(known)}."
    )


_OF_DAY = {
    "day": "day = ?",
    "changed_on": "changed_on = ?",
    "week": "week = date_trunc('week', ?::date)",
    "month": "month = date_trunc('month', ?::date)",
    "set_id": "performed_on = ?",
}
"""Part of a table's grain to how a day chooses it; tables of the as-of day have none of them."""


@lru_cache
def _header(table: str) -> tuple[frozenset[str], frozenset[str]]:
    """A table's grain and all its columns, as its model's header has them."""
    sql = (resource("sql") / "review" / f"{table}.sql").read_text(encoding="utf-8")
    _, keyed = read_header(sql)
    return frozenset(re.split(r",\s*", keyed.pop("grain"))), frozenset(keyed)


def value_of(con: duckdb.DuckDBPyConnection, table: str, column: str, grain: dict[str, Any]) -> Any:
    """The figure itself, where the grain leads to one row; else None."""
    keys, columns = _header(table)
    conditions, values = [], []
    for name, value in grain.items():
        if value is None:
            continue
        if name == "on":
            found = [sql for key, sql in _OF_DAY.items() if key in keys]
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
