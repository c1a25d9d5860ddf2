"""Remarks on loads that look noted in another unit, or for one hand instead of both."""

from __future__ import annotations

import shlex
from collections.abc import Iterator
from typing import TYPE_CHECKING

from pipeline.checks.remarks import Remark
from pipeline.formats import counted, number
from pipeline.ledger.connection import Row, fetch

if TYPE_CHECKING:
    import duckdb

BESIDE = {"first": "those after", "last": "those before", "between": "those before and after"}
"""Place of the sessions to what they are compared with."""


def unit_slips(con: duckdb.DuckDBPyConnection) -> Iterator[Remark]:
    """A question for each stretch of sessions; none where the tables were built before it was."""
    tables = "select 1 from duckdb_tables() where schema_name = 'review' and table_name = ?"
    if not fetch(con, tables, "unit_slips"):
        return
    rows = fetch(con, "from review.unit_slips order by slipped_from desc, client_id, exercise")
    for row in rows:
        first, last = row["slipped_from"], row["slipped_to"]
        days = f"on {first}" if first == last else f"from {first} to {last}"
        yield Remark(
            "open",
            "loads",
            "review.unit_slips",
            f"{row['client_id']}: loads of {row['exercise']} {days} "
            f"({counted(row['sessions'], 'session')}) stand at {beside(row)}: {perhaps(row)}? "
            "They are kept out of trends, bests and records; mend them in corrections.csv, or "
            f"say what changed: `{settling(row)}`.",
            {
                "client_id": row["client_id"],
                "exercise": row["exercise"],
                "slipped_from": str(first),
                "slipped_to": str(last),
                "factor": row["factor"],
            },
        )


def beside(row: Row) -> str:
    """How the loads stand to the others of the lift."""
    return f"{number(row['factor'], 2)} times {BESIDE[row['place']]}"


def perhaps(row: Row) -> str:
    """What may have happened; which side is wrong is not known."""
    size = max(row["factor"], 1 / row["factor"])
    if size > 2.1:
        is_more = row["factor"] > 1
        return f"{'pounds' if is_more else 'kilograms'} noted as " + (
            "kilograms" if is_more else "pounds"
        )
    both = "both hands noted as one" if row["factor"] > 1 else "one hand noted for both"
    return f"{both}, or another machine"


def settling(row: Row) -> str:
    """The command by which a real change is noted."""
    return (
        f"setledger client change {row['client_id']} --on {row['jumped_on']} "
        f'--exercise {shlex.quote(row["exercise"])} "WHAT CHANGED"'
    )
