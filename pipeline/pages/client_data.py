"""Rows of the database as the pages read them: few queries, each for all of a client's rows."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import TYPE_CHECKING, Any

from pipeline.ledger.connection import Row, fetch

if TYPE_CHECKING:
    import duckdb

    from pipeline.settings.workspace import Client


@dataclass(frozen=True)
class Desk:
    """What every section needs at hand: the database, the client, the day, the thresholds."""

    con: duckdb.DuckDBPyConnection = field(repr=False)
    client: Client
    as_of: date
    rules: dict[str, Any]
    tables: frozenset[str]
    """Tables and views of schema review that exist."""
    labels: dict[str, str]
    """Muscle to its label, in the order of tables and figures."""

    @property
    def client_id(self) -> str:
        """The client's id."""
        return self.client.id

    def rows(self, sql: str, *values: Any) -> list[Row]:
        """Rows of a query."""
        return fetch(self.con, sql, *values)

    def of_client(self, table: str, order: str) -> list[Row]:
        """The client's rows of a review table; none where the table does not exist yet."""
        if table not in self.tables:
            return []
        return self.rows(
            f"from review.{table} where client_id = ? order by {order}", self.client_id
        )

    def label(self, muscle: str) -> str:
        """A muscle in words, as tables print it."""
        return self.labels.get(muscle, muscle.replace("_", " ").capitalize())

    def spoken(self, muscle: str) -> str:
        """A muscle inside a sentence."""
        return self.label(muscle).lower()


@dataclass(frozen=True)
class Run:
    """The build that the pages rest on."""

    as_of: date
    tool_version: str
    schema_version: int


def read_run(con: duckdb.DuckDBPyConnection) -> Run:
    """The one row of review.run."""
    row = fetch(con, "select as_of, tool_version, schema_version from review.run")[0]
    return Run(row["as_of"], row["tool_version"], row["schema_version"])


def review_tables(con: duckdb.DuckDBPyConnection) -> frozenset[str]:
    """Tables and views of schema review."""
    rows = fetch(
        con, "select table_name from information_schema.tables where table_schema = 'review'"
    )
    return frozenset(row["table_name"] for row in rows)


def open_desk(con: duckdb.DuckDBPyConnection, client: Client, as_of: date) -> Desk:
    """A desk for one client."""
    tables = review_tables(con)
    labels = {}
    if "muscles" in tables:
        rows = fetch(con, "select muscle, label from review.muscles order by position")
        labels = {row["muscle"]: row["label"] for row in rows}
    rules = fetch(con, "from review.rules")[0]
    return Desk(con, client, as_of, rules, tables, labels)
