"""The arithmetic of a change before it is made: weekly sets of each muscle, now and after it.

Reads the published review; sql/whatif/ computes, sql/macros/ holds what it shares with findings.
An answer is an estimate: it takes the last four weeks as usual and changes nothing else.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.errors import UsageError
from pipeline.ledger.connection import Row, fetch, opened
from pipeline.names.nearest import did_you_mean
from pipeline.resources import resource
from pipeline.review.macros import macros
from pipeline.review.model_files import in_order, tables_read
from pipeline.review.other_day import build_copy
from pipeline.review.whatif.request import Asked, Wish, read_wish, with_known_exercises
from pipeline.settings.workspace import catalogue_of

if TYPE_CHECKING:
    import duckdb

    from pipeline.settings.workspace import Client, Workspace

ASKED = {
    "asked_change": "client_id varchar, rest_days integer, is_without_extensions boolean",
    "asked_sets": "muscle varchar, sets integer",
    "asked_swaps": "exercise varchar, new_exercise varchar",
}
"""Temporary tables that say what was asked, with their columns."""


@dataclass(frozen=True)
class Answer:
    """Rows of sql/whatif/ for one change."""

    asked: Asked
    span: Row
    week: Row
    muscles: tuple[Row, ...]
    added: tuple[Row, ...]
    labels: dict[str, str]
    """Muscle to its label."""
    rules: Row

    @property
    def is_led(self) -> bool:
        """Whether a pause or care holds: figures only."""
        return self.span["led_kind"] is not None


def answer(workspace: Workspace, wish: Wish, as_of: date | None = None) -> Answer:
    """What the change would make of the client's week; UsageError names what cannot be done."""
    catalogue = catalogue_of(workspace)
    with _review_of(workspace, wish.client_id, as_of) as con, macros(con):
        asked = read_wish(wish, _client(workspace, con, wish.client_id), catalogue)
        _write_asked(con, asked)
        _make_views(con)
        _refuse_empty(con, asked)
        if asked.swaps:
            asked = with_known_exercises(asked, _trained(con), catalogue)
            _write_asked(con, asked)
        return _read(con, asked, {each.muscle: each.label for each in catalogue.muscles})


def _read(con: duckdb.DuckDBPyConnection, asked: Asked, labels: dict[str, str]) -> Answer:
    return Answer(
        asked,
        fetch(con, "from whatif_span")[0],
        fetch(con, "from whatif_week")[0],
        tuple(fetch(con, "from whatif_muscles")),
        tuple(fetch(con, "from whatif_added order by muscle, sets_a_week desc, exercise")),
        labels,
        fetch(con, "from review.rules")[0],
    )


def _client(workspace: Workspace, con: duckdb.DuckDBPyConnection, client_id: str) -> Client:
    rows = fetch(con, "select distinct client_id from review.muscle_status order by client_id")
    known = [row["client_id"] for row in rows]
    if client_id not in known and client_id in {client.id for client in workspace.clients}:
        day = fetch(con, "select as_of from review.run")[0]["as_of"]
        raise UsageError(f"--client {client_id}: nothing is logged up to {day}.")
    if client_id not in known:
        hint = did_you_mean(client_id, known)
        raise UsageError(f"--client {client_id}: no such client in the review; {hint}")
    return workspace.client(client_id)


def _trained(con: duckdb.DuckDBPyConnection) -> list[str]:
    rows = fetch(
        con, "select distinct exercise from whatif_sessions where version = 'before' order by all"
    )
    return [row["exercise"] for row in rows]


# The database


def _refuse_empty(con: duckdb.DuckDBPyConnection, asked: Asked) -> None:
    span = fetch(con, "from whatif_span")[0]
    if span["weeks"] is None:
        raise UsageError(
            f"{asked.client.id}: the four weeks to {span['to_on']} are all deload days; there is "
            "no usual week to reckon with."
        )
    if not fetch(con, "from whatif_sessions limit 1"):
        raise UsageError(
            f"{asked.client.id}: no hard set in the four weeks to {span['to_on']}; there is "
            "nothing to reckon with."
        )


def _write_asked(con: duckdb.DuckDBPyConnection, asked: Asked) -> None:
    rows: dict[str, list[tuple[Any, ...]]] = {
        "asked_change": [(asked.client.id, asked.rest_days, asked.is_without_extensions)],
        "asked_sets": list(asked.sets),
        "asked_swaps": list(asked.swaps),
    }
    for table, columns in ASKED.items():
        con.execute(f"create temp table if not exists {table} ({columns})")
        con.execute(f"delete from {table}")
        if rows[table]:
            marks = ", ".join("?" * len(rows[table][0]))
            con.executemany(f"insert into {table} values ({marks})", rows[table])


def _make_views(con: duckdb.DuckDBPyConnection) -> None:
    """The files of sql/whatif/ as views, each after those it reads."""
    import duckdb

    paths = (resource("sql") / "whatif").glob("*.sql")
    files = {path.stem: path.read_text(encoding="utf-8") for path in paths}
    for name in in_order({name: tables_read(sql, con) for name, sql in files.items()}):
        try:
            con.execute(f"create temp view {name} as {files[name]}")
        except (duckdb.CatalogException, duckdb.BinderException) as error:
            raise UsageError(
                "The review was built by another version of setledger; `setledger run` builds it "
                "anew."
            ) from error


@contextmanager
def _review_of(
    workspace: Workspace, client_id: str, as_of: date | None
) -> Iterator[duckdb.DuckDBPyConnection]:
    """The published review, read-only; for another day a copy with this client built anew."""
    with opened(workspace.database, is_sealed=True) as con:
        tables = fetch(
            con, "select 1 from information_schema.tables where table_name = 'muscle_status'"
        )
        built_on = fetch(con, "select as_of from review.run")[0]["as_of"] if tables else None
        if built_on is None:
            raise UsageError(f"{workspace.root}: no review is built yet; `setledger run` does it.")
        if as_of in (None, built_on):
            yield con
            return
    with tempfile.TemporaryDirectory(prefix="setledger-") as folder:
        path = Path(folder) / workspace.database.name
        assert as_of is not None
        build_copy(workspace, path, as_of, scope=[client_id])
        with opened(path, is_sealed=True) as con:
            yield con
