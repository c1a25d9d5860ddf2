"""Ask the published database: read-only, streaming, with what each column means."""

from __future__ import annotations

import csv
import itertools
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, TextIO

import duckdb

from pipeline.errors import UsageError
from pipeline.names.nearest import nearest
from pipeline.review.export import defused
from pipeline.visible import json_text, visible

BATCH_ROWS = 10_000
WIDTH_ROWS = 200
"""Rows looked at to set the widths of a printed table; longer cells later just run over."""
LOADS = """
select
    load_id, source, path, state, first_on, last_on, lines_read, lines_loaded, lines_set_aside,
    sets_loaded, loaded_at,
from ledger.loads
order by load_id
"""
_UNIT = re.compile(r"\[([^\[\]]+)\]")


def run_query(
    con: duckdb.DuckDBPyConnection, sql: str, form: str, to: TextIO, *, is_raw: bool = False
) -> None:
    """Write the answer as "table", "csv" or "json" (one array), batch by batch.

    Table and CSV show a mark for what steers a terminal, and a CSV holds no formula; `is_raw`:
    cells as they are. JSON is exact, with escapes.
    """
    try:
        if not con.extract_statements(sql):
            raise UsageError(
                "There is no SQL to answer; write it in quotes, such as "
                '"select * from review.lift_status".'
            )
        result = con.execute(sql)
    except duckdb.Error as error:
        hint = "" if _is_built(con) else " No review is built yet; run `setledger build` first."
        raise UsageError(f"This SQL cannot be answered: {str(error).strip()}{hint}") from error
    columns = [column[0] for column in result.description or ()]
    write_rows(columns, _rows(result), form, to, is_raw=is_raw)


def _is_built(con: duckdb.DuckDBPyConnection) -> bool:
    found = con.execute("select 1 from duckdb_tables() where schema_name = 'review' limit 1")
    return found.fetchone() is not None


def write_rows(
    columns: list[str],
    rows: Iterator[tuple[Any, ...]],
    form: str,
    to: TextIO,
    *,
    is_raw: bool = False,
) -> None:
    """Write rows as "table", "csv" or "json"; `is_raw` as in `run_query`."""
    if form == "json":
        _write_json(columns, rows, to)
    elif form == "csv":
        _write_csv(columns, rows, to, is_raw=is_raw)
    else:
        write_table(columns, rows, to, is_raw=is_raw)


def _rows(result: duckdb.DuckDBPyConnection) -> Iterator[tuple[Any, ...]]:
    while batch := result.fetchmany(BATCH_ROWS):
        yield from batch


def _write_csv(
    columns: list[str], rows: Iterator[tuple[Any, ...]], to: TextIO, *, is_raw: bool
) -> None:
    writer = csv.writer(to, lineterminator="\n")
    for row in itertools.chain([tuple(columns)], rows):
        writer.writerow(row if is_raw else [_safe(cell) for cell in row])


def _safe(cell: Any) -> Any:
    """A cell of a CSV that terminal and spreadsheet only show; numbers and nulls as they are."""
    if cell is None or isinstance(cell, (int, float)):
        return cell
    return visible(defused(cell) if isinstance(cell, str) else str(cell))


def _write_json(columns: list[str], rows: Iterator[tuple[Any, ...]], to: TextIO) -> None:
    separator = "["
    for row in rows:
        record = dict(zip(columns, row, strict=True))
        to.write(f"{separator}\n{json_text(record)}")
        separator = ","
    to.write("[]\n" if separator == "[" else "\n]\n")


def write_table(
    columns: list[str], rows: Iterator[tuple[Any, ...]], to: TextIO, *, is_raw: bool = False
) -> None:
    """Rows in columns of equal width."""
    shown = (
        tuple(_cell(cell, is_raw) for cell in row)
        for row in itertools.chain([tuple(columns)], rows)
    )
    first = list(itertools.islice(shown, WIDTH_ROWS + 1))
    widths = [max(len(row[place]) for row in first) for place in range(len(columns))]
    for cells in itertools.chain(first, shown):
        _write_line(cells, widths, to)


def _cell(cell: Any, is_raw: bool) -> str:
    text = "" if cell is None else str(cell).replace("\n", " ")
    return text if is_raw else visible(text)


def _write_line(cells: tuple[str, ...], widths: list[int], to: TextIO) -> None:
    padded = (cell.ljust(width) for cell, width in zip(cells, widths, strict=True))
    to.write("  ".join(padded).rstrip() + "\n")


@dataclass(frozen=True)
class Described:
    """One table or column: its name, type, unit and meaning."""

    name: str
    kind: str
    unit: str | None
    meaning: str


def describe_tables(con: duckdb.DuckDBPyConnection) -> list[Described]:
    """Tables and views of the interface, with their meaning."""
    rows = con.execute(
        """
        select schema_name || '.' || table_name as name, 'table' as kind, comment
        from duckdb_tables()
        where schema_name in ('ledger', 'own', 'review')
        union all
        select schema_name || '.' || view_name, 'view', comment
        from duckdb_views()
        where schema_name in ('ledger', 'own', 'review')
        order by name
        """
    ).fetchall()
    return [Described(name, kind, None, comment or "") for name, kind, comment in rows]


def describe_columns(con: duckdb.DuckDBPyConnection, table: str) -> list[Described]:
    """Columns of one table, named "review.muscle_day" or "muscle_day"."""
    schema, _, name = find_table(con, table).partition(".")
    rows = con.execute(
        """
        select column_name, lower(data_type), comment
        from duckdb_columns()
        where schema_name = ? and table_name = ?
        order by column_index
        """,
        [schema, name],
    ).fetchall()
    return [_described(column, kind, comment or "") for column, kind, comment in rows]


def _described(column: str, kind: str, comment: str) -> Described:
    unit = _UNIT.search(comment)
    return Described(column, kind, unit[1] if unit else None, _UNIT.sub("", comment).strip())


def find_table(con: duckdb.DuckDBPyConnection, wanted: str) -> str:
    """A table with its schema; UsageError names the nearest where there is none."""
    known = [each.name for each in describe_tables(con)]
    for name in (wanted, f"review.{wanted}", f"ledger.{wanted}", f"own.{wanted}"):
        if name in known:
            return name
    short = {name.partition(".")[2]: name for name in known}
    near = nearest(wanted.rpartition(".")[2], short)
    hint = f"did you mean {short[near[0]]}?" if near else f"there are {', '.join(known)}."
    raise UsageError(f"{wanted}: there is no such table; {hint}")
