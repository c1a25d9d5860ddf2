"""The batches that the contract is asked of: the ledger's rows, alike ones once with their number.

Ranges, words and references are asked of the distinct combinations of values, each with the number
of its sets: the verdict and its counts are those of row by row, at a small part of the cost.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from pipeline.checks.contract.clauses import Frame
from pipeline.checks.contract.scope import Scope
from pipeline.resources import sql
from pipeline.units import KG_PER_LB

if TYPE_CHECKING:
    import duckdb
    import pandas as pd


def prepare(con: duckdb.DuckDBPyConnection, scope: Scope) -> None:
    """The temporary relations that the statements read."""
    changed = (
        "and (client_id, performed_on) in (select (client_id, performed_on) from changed_days)"
        if scope.is_partial
        else ""
    )
    con.execute(
        "create or replace temp view contract_sets as"
        f" from ledger.sets where replaced_by is null {changed}"
    )
    con.execute(f"create or replace temp view asked_versions as {sql('contract/asked_versions')}")
    con.execute(sql("contract/receipts"))


def frame_of(con: duckdb.DuckDBPyConnection, name: Frame, scope: Scope) -> pd.DataFrame:
    """The rows of sql/contract/<name>.sql; column `sets` counts the sets behind each."""
    query = sql(f"contract/{name}")
    known = {"as_of": scope.as_of, "is_partial": scope.is_partial, "kg_per_lb": KG_PER_LB}
    given = {key: value for key, value in known.items() if f"${key}" in query}
    return con.execute(query, given).df()
