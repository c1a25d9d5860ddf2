"""Every table in the user's own hands: Parquet, or CSV that a spreadsheet can open safely."""

from __future__ import annotations

import re
import shutil
from pathlib import Path
from typing import Any

import duckdb

from pipeline.ledger.connection import opened

FORMULA_MARKS = r"^[=+\-@\t\r]"
"""A text cell that begins so would be run by a spreadsheet; it gets an apostrophe in front."""

_FORMULA = re.compile(FORMULA_MARKS)


def defused(cell: Any) -> Any:
    """A cell of a CSV as a spreadsheet may have it: no text is a formula."""
    return f"'{cell}" if isinstance(cell, str) and _FORMULA.match(cell) else cell


def export_tables(database: Path, folder: Path, form: str, *, by_client: bool) -> list[Path]:
    """Write each table and view of ledger, review and own; gives the files or folders written.

    Each is written beside and renamed, so that a reader never meets half a file. With
    `by_client`, tables of clients become folders with a part a client (hive partitions).
    """
    with opened(database) as con:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        tables = con.execute(
            """
            select schema_name, table_name, list(column_name order by column_index),
                list(data_type order by column_index)
            from duckdb_columns()
            where schema_name in ('ledger', 'own', 'review')
            group by all
            order by all
            """
        ).fetchall()
        return [
            _export_one(con, folder, form, by_client, f"{schema}.{table}", columns, kinds)
            for schema, table, columns, kinds in tables
        ]


def _export_one(
    con: duckdb.DuckDBPyConnection,
    folder: Path,
    form: str,
    by_client: bool,
    table: str,
    columns: list[str],
    kinds: list[str],
) -> Path:
    is_split = by_client and "client_id" in columns and len(columns) > 1
    path = folder / (table if is_split else f"{table}.{form}")
    beside = folder / f".{path.name}.new"
    selected = ", ".join(
        _defused(column)
        if form == "csv" and kind == "VARCHAR" and not (is_split and column == "client_id")
        else _name(column)
        for column, kind in zip(columns, kinds, strict=True)
    )  # fmt: skip
    options = f"format {form}" + (", header" if form == "csv" else "")
    options += ", partition_by (client_id)" if is_split else ""
    _remove(beside)
    source = ".".join(map(_name, table.split(".")))
    con.execute(f"copy (select {selected} from {source}) to {_literal(beside)} ({options})")
    _remove(path)
    beside.rename(path)
    return path


def _defused(column: str) -> str:
    name = _name(column)
    return (
        f"case when regexp_matches({name}, '{FORMULA_MARKS}') then '''' || {name}"
        f" else {name} end as {name}"
    )


def _name(text: str) -> str:
    """A name as SQL quotes it: in own models a column may be called anything."""
    return '"' + text.replace('"', '""') + '"'


def _remove(path: Path) -> None:
    if path.is_dir():
        shutil.rmtree(path)
    else:
        path.unlink(missing_ok=True)


def _literal(path: Path) -> str:
    return "'" + str(path).replace("'", "''") + "'"
