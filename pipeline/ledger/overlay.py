"""A version's rows laid over what its source gave before, client by client and day by day.

Between a client's first and last day in the version its source is as the version says: an equal
day keeps its rows, one that differs or is gone is replaced. Days outside stay. The rows are sets
or weigh-ins; both go the same way.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from pipeline.resources import sql

if TYPE_CHECKING:
    import duckdb
    import polars as pl

    from pipeline.ledger.work import Work

Table = Literal["sets", "bodyweights"]
TABLES: tuple[Table, ...] = ("sets", "bodyweights")


@dataclass(frozen=True)
class Overlay:
    """How the sets of a version lie over what its source brought before."""

    days_standing: int
    """Days of its range that its source gave before."""
    days_added: int
    days_replaced: int
    sets_taken_away: int
    worst_client: str | None
    """The client that loses the largest share of its sets in the range."""
    worst_share: float


def compare_sets(con: duckdb.DuckDBPyConnection, source: str, sets: pl.DataFrame) -> Overlay:
    """What laying these sets over their source would do; `lay_over` may then do it."""
    _compare(con, "sets", source, sets)
    # fetched whole: DuckDB registers no frame while a result is unfinished
    [figures] = con.execute(sql("overlay/figures")).fetchall()
    return Overlay(*figures)


def _compare(con: duckdb.DuckDBPyConnection, table: Table, source: str, rows: pl.DataFrame) -> None:
    """Temporary tables incoming_sets or incoming_bodyweights, and day_changes."""
    con.register("incoming_frame", rows.to_arrow())
    con.execute(f"create or replace temp table incoming_{table} as from incoming_frame")
    con.unregister("incoming_frame")
    con.execute(sql(f"overlay/compared_{table}"))
    con.execute(sql("overlay/day_changes"), {"source": source})


def lay_sets(work: Work, load_id: int, source: str) -> None:
    """Lay the sets that were compared last over their source."""
    work.con.execute(
        "insert into changed_days select client_id, performed_on from day_changes"
        " where not is_equal"
    )
    _lay_over(work, "sets", load_id, source)


def lay_weigh_ins(work: Work, load_id: int, source: str, weigh_ins: pl.DataFrame) -> None:
    """Lay a version's weigh-ins over those of its source."""
    if weigh_ins.is_empty():
        return
    _compare(work.con, "bodyweights", source, weigh_ins)
    _lay_over(work, "bodyweights", load_id, source)


def _lay_over(work: Work, table: Table, load_id: int, source: str) -> None:
    """Days that differ or are gone are replaced; days that are new or differ come in."""
    work.note_clients("select distinct client_id from day_changes where not is_equal")
    work.con.execute(
        f"update ledger.{table} as standing set replaced_by = ?"
        " from (from day_changes where not is_equal) as changed"
        " where standing.source = ? and standing.replaced_by is null"
        " and standing.client_id = changed.client_id"
        " and standing.performed_on = changed.performed_on",
        [load_id, source],
    )
    work.con.execute(
        f"insert into ledger.{table} by name select * from incoming_{table}"
        " semi join (from day_changes where not is_equal) using (client_id, performed_on)"
    )


def replace_readings(work: Work, old_loads: list[int], load_id: int) -> None:
    """The same content, read anew: all rows of its earlier readings give way."""
    for old in old_loads:
        work.con.execute(
            "insert into changed_days select distinct client_id, performed_on"
            " from ledger.sets where load_id = ? and replaced_by is null",
            [old],
        )
        for table in TABLES:
            counts = "load_id = ? and replaced_by is null"
            work.note_clients(f"select distinct client_id from ledger.{table} where {counts}", old)
            work.con.execute(
                f"update ledger.{table} set replaced_by = ? where {counts}", [load_id, old]
            )
        work.con.execute("update ledger.loads set state = 'replaced' where load_id = ?", [old])


def take_out(work: Work, source: str) -> None:
    """All rows that a source gave, so that the versions that count can be laid anew."""
    work.con.execute(
        "insert into changed_days select distinct client_id, performed_on from ledger.sets"
        " where source = ?",
        [source],
    )
    for table in TABLES:
        work.note_clients(f"select distinct client_id from ledger.{table} where source = ?", source)
        work.con.execute(f"delete from ledger.{table} where source = ?", [source])
