"""Rows of the database as the pages read them: few queries, each for all of a client's rows."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from pipeline.formats import exercise
from pipeline.ledger.connection import Row, fetch
from pipeline.resources import resource

if TYPE_CHECKING:
    import duckdb

    from pipeline.settings.workspace import Client, Workspace
    from pipeline.units import Unit


@dataclass(frozen=True)
class ClientData:
    """What every section needs at hand: the database, the client, the day, the thresholds."""

    con: duckdb.DuckDBPyConnection = field(repr=False)
    client: Client
    as_of: date
    covered_on: date
    """The last covered day: all is drawn and judged up to it; see review.coverage."""
    rules: dict[str, Any]
    labels: dict[str, str]
    """Muscle to its label, in the order of tables and figures."""
    parts: tuple[str, ...] = ()
    """Body parts in the same order."""

    @property
    def client_id(self) -> str:
        """The client's id."""
        return self.client.id

    @property
    def units(self) -> Unit:
        """The unit in which the client reads loads."""
        return self.client.units

    def rows(self, sql: str, *values: Any) -> list[Row]:
        """Rows of a query."""
        return fetch(self.con, sql, *values)

    def answer(self, name: str, **values: Any) -> list[Row]:
        """Rows of the query sql/pages/`name`.sql for this client."""
        return answer(self.con, f"pages/{name}", client_id=self.client_id, **values)

    def of_client(self, table: str, order: str) -> list[Row]:
        """The client's rows of a review table."""
        return self.rows(
            f"from review.{table} where client_id = ? order by {order}", self.client_id
        )

    def label(self, muscle: str) -> str:
        """A muscle in words, as tables print it."""
        return self.labels.get(muscle, muscle.replace("_", " ").capitalize())

    def spoken(self, muscle: str) -> str:
        """A muscle inside a sentence."""
        return self.label(muscle).lower()

    def in_order(self, parts: tuple[str, ...]) -> tuple[str, ...]:
        """Body parts as every table and sentence orders them."""
        place = {part: rank for rank, part in enumerate(self.parts)}
        return tuple(sorted(parts, key=lambda part: place.get(part, len(place))))

    def subject(self, subject: str | None) -> str:
        """What a finding is about, inside a sentence; empty: the client as a whole."""
        if not subject:
            return ""
        return (
            self.spoken(subject) if subject in self.labels else exercise(subject.replace("_", " "))
        )


def answer(con: duckdb.DuckDBPyConnection, name: str, **values: Any) -> list[Row]:
    """Rows of the query sql/`name`.sql; `values` are its parameters."""
    return fetch(con, _query(name), **values)


@lru_cache
def _query(name: str) -> str:
    return (resource("sql") / f"{name}.sql").read_text(encoding="utf-8")


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


def read_client_data(con: duckdb.DuckDBPyConnection, client: Client, as_of: date) -> ClientData:
    """The data of one client."""
    muscles = fetch(con, "select muscle, label, body_part from review.muscles order by position")
    labels = {row["muscle"]: row["label"] for row in muscles}
    covered = fetch(con, "select covered_on from review.coverage where client_id = ?", client.id)
    covered_on = covered[0]["covered_on"] if covered else as_of
    rules = fetch(con, "from review.rules")[0]
    parts = tuple(dict.fromkeys(row["body_part"] for row in muscles))
    return ClientData(con, client, as_of, covered_on, rules, labels, parts)


def data_of(con: duckdb.DuckDBPyConnection, workspace: Workspace, client_id: str) -> ClientData:
    """The data of one client, for the day of the build."""
    return read_client_data(con, workspace.client(client_id), read_run(con).as_of)
