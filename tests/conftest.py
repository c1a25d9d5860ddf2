"""Fixtures that every room uses: a ledger in memory, rows with defaults, a build in one call."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable
from datetime import date, timedelta
from typing import Any

import duckdb
import pytest

from pipeline.ledger.database import ledger_files
from pipeline.names.exercises_file import load_catalogue
from pipeline.review.build import build_models
from pipeline.review.inputs import BuildInputs, resolve_names
from pipeline.review.model_files import find_models
from pipeline.settings.rules import Rules
from pipeline.settings.workspace import Client

MONDAY = date(2026, 6, 1)


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--all", action="store_true", help="Run the slow tests as well.")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    if config.getoption("--all") or "slow" in str(config.getoption("-m")):
        return
    skip = pytest.mark.skip(reason="slow; `pytest --all` runs it")
    for item in items:
        if "slow" in item.keywords:
            item.add_marker(skip)


def day(offset: int) -> date:
    """The day `offset` days after Monday 2026-06-01."""
    return MONDAY + timedelta(days=offset)


class Log:
    """A ledger in memory: add sets by what matters, then build and ask."""

    def __init__(self) -> None:
        self.con = duckdb.connect()
        self.con.execute("create schema ledger")
        for path in ledger_files():
            self.con.execute(path.read_text(encoding="utf-8"))
        self.catalogue = load_catalogue()
        self.rows: list[dict[str, Any]] = []
        self._line = itertools.count(2)

    def set(
        self, performed_on: date, exercise: str, load_kg: float | None, reps: int, **other: Any
    ) -> None:
        """One logged set; other columns of ledger.sets by name."""
        line = next(self._line)
        client = other.get("client_id", "ines")
        row = {
            "set_id": f"1:{line}:1",
            "client_id": client,
            "performed_on": performed_on,
            "started_at": None,
            "session_id": f"{client}/{performed_on}",
            "exercise_raw": exercise,
            "day_order": line,
            "set_no": None,
            "side": None,
            "load_kg": load_kg,
            "load_unit": "kg",
            "load_basis": None,
            "reps": reps,
            "partial_reps": None,
            "rir": None,
            "rpe": None,
            "to_failure": None,
            "set_kind": "work",
            "notes": None,
            "source": "test",
            "load_id": 1,
            "source_line": line,
            "replaced_by": None,
        }
        unknown = set(other) - set(row)
        assert not unknown, unknown
        self.rows.append(row | other)

    def sets(
        self,
        performed_on: date,
        exercise: str,
        load_kg: float | None,
        reps: int,
        count: int,
        **other: Any,
    ) -> None:
        """`count` alike sets."""
        for _ in range(count):
            self.set(performed_on, exercise, load_kg, reps, **other)

    def bodyweight(
        self, bodyweight_kg: float, performed_on: date | None = None, client_id: str = "ines"
    ) -> None:
        """A weigh-in; without a day it holds always."""
        self.con.execute(
            "insert into ledger.bodyweights values (?, ?, ?, 'test', null, null, null)",
            [client_id, performed_on, bodyweight_kg],
        )

    def exported(
        self, last_on: date, *, load_id: int = 1, lines_read: int = 1000, unread_lines: int = 0
    ) -> None:
        """The export that brought the sets reaches to a day; without one, to the last set."""
        self.con.execute(
            "insert into ledger.loads by name select ? as load_id, 'test' as source,"
            " 'exports/' || ? || '.csv' as path, '' as sha256, '' as mapping_sha256, 0 as bytes,"
            " 'loaded' as state, ?::date as last_on, ? as lines_read, 0 as lines_loaded,"
            " ? as lines_set_aside, 0 as lines_skipped, 0 as sets_loaded,"
            " timestamp '2026-01-01' as loaded_at",
            [load_id, load_id, last_on, lines_read, unread_lines],
        )
        self.con.execute(
            "insert into ledger.set_aside select ?, range, '{}', 'not_a_date', '' from range(?)",
            [load_id, unread_lines],
        )

    def build(self, as_of: date, *, clients: Iterable[Client] = (), **rules: Any) -> Log:
        """Store the rows and run every model."""
        import polars as pl

        if self.rows:
            con = self.con
            empty = con.sql("select * from ledger.sets limit 0").to_arrow_table()
            schema = pl.DataFrame(empty).schema
            con.register("incoming", pl.DataFrame(self.rows, schema=schema).to_arrow())
            con.execute("insert into ledger.sets by name select * from incoming")
            con.unregister("incoming")
            self.rows = []
        inputs = BuildInputs(
            as_of=as_of,
            rules=Rules(**rules),
            clients=tuple(clients),
            catalogue=self.catalogue,
            tool_version="test",
        )
        resolve_names(self.con, inputs)
        build_models(self.con, inputs, models=_models())
        return self

    def ask(self, sql: str) -> list[tuple[Any, ...]]:
        """Rows of a query."""
        return self.con.execute(sql).fetchall()

    def one(self, sql: str) -> Any:
        """The only value of a query."""
        rows = self.ask(sql)
        assert len(rows) == 1, rows
        return rows[0][0]


_FOUND: list[Any] = []


def _models() -> Any:
    if not _FOUND:
        _FOUND.append(find_models())
    return _FOUND[0]


@pytest.fixture
def log() -> Log:
    """An empty ledger."""
    return Log()


@pytest.fixture(scope="session")
def new_log() -> Callable[[], Log]:
    """Makes empty ledgers, for tests that need several."""
    return Log
