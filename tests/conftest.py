"""Fixtures that every room uses: a ledger in memory, rows with defaults, a build in one call."""

from __future__ import annotations

import fcntl
import itertools
import os
import shutil
from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import duckdb
import pytest

from pipeline.checks import check as checking
from pipeline.errors import ModelError
from pipeline.ledger.database import ledger_files
from pipeline.review.build import build_models
from pipeline.review.inputs import BuildInputs, resolve_names
from pipeline.review.model_files import tables_read
from pipeline.runs import run as runs
from pipeline.settings.rules import Rules
from pipeline.settings.workspace import Client
from tests.simulation.ledgers import catalogue, every_model, models_behind

MONDAY = date(2026, 6, 1)


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--all", action="store_true", help="Run the slow tests as well.")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    if config.getoption("--all"):
        return
    for kind in ("slow", "browser"):
        if kind in str(config.getoption("-m")):
            continue
        skip = pytest.mark.skip(reason=f"{kind}; `pytest --all` runs it")
        for item in items:
            if kind in item.keywords:
                item.add_marker(skip)


_IS_THOROUGH = False


def pytest_configure(config: pytest.Config) -> None:
    global _IS_THOROUGH
    _IS_THOROUGH = bool(config.getoption("--all"))


def examples(many: int) -> int:
    """How many examples a property is tried on: `many` with --all, by default an eighth."""
    return many if _IS_THOROUGH else max(many // 8, 5)


def made_once(
    tmp_path_factory: pytest.TempPathFactory, name: str, make: Callable[[Path], None]
) -> Path:
    """A folder that the first worker to ask fills, for the tests of all workers to read."""
    root = tmp_path_factory.getbasetemp()
    if "PYTEST_XDIST_WORKER" in os.environ:
        root = root.parent
    folder, done = root / f"once-{name}", root / f"once-{name}.done"
    with (root / f"once-{name}.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not done.exists():
            shutil.rmtree(folder, ignore_errors=True)  # left by a try that failed
            folder.mkdir()
            make(folder)
            done.touch()
    return folder


def unasked(patches: pytest.MonkeyPatch) -> None:
    """The data contract holds unasked: asking takes half a second and has tests of its own."""
    for module in (checking, runs):
        patches.setattr(module, "validate", lambda *_: [])
    patches.setattr(checking, "differs", lambda *_: False)


def day(offset: int) -> date:
    """The day `offset` days after Monday 2026-06-01."""
    return MONDAY + timedelta(days=offset)


class Log:
    """A ledger in memory: add sets by what matters, then build and ask.

    Models run when they are asked for: `make` runs those behind some tables, a question those
    behind the tables that it names, and a look at `con` all of them.
    """

    def __init__(self) -> None:
        self._con = duckdb.connect()
        self._con.execute("create schema ledger")
        for path in ledger_files():
            self._con.execute(path.read_text(encoding="utf-8"))
        self.catalogue = catalogue()
        self.rows: list[dict[str, Any]] = []
        self._line = itertools.count(2)
        self._inputs: BuildInputs | None = None
        self._built: frozenset[str] = frozenset()
        self._builds = 0

    @property
    def con(self) -> duckdb.DuckDBPyConnection:
        """The database; once `build` was called, with every table built."""
        self.make()
        return self._con

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
        self._con.execute(
            "insert into ledger.bodyweights values (?, ?, ?, 'test', null, null, null)",
            [client_id, performed_on, bodyweight_kg],
        )

    def exported(
        self, last_on: date, *, load_id: int = 1, lines_read: int = 1000, unread_lines: int = 0
    ) -> None:
        """The export that brought the sets reaches to a day; without one, to the last set."""
        self._con.execute(
            "insert into ledger.loads by name select ? as load_id, 'test' as source,"
            " 'exports/' || ? || '.csv' as path, '' as sha256, '' as mapping_sha256, 0 as bytes,"
            " 'loaded' as state, ?::date as last_on, ? as lines_read, 0 as lines_loaded,"
            " ? as lines_set_aside, 0 as lines_skipped, 0 as sets_loaded,"
            " timestamp '2026-01-01' as loaded_at",
            [load_id, load_id, last_on, lines_read, unread_lines],
        )
        self._con.execute(
            "insert into ledger.set_aside select ?, range, '{}', 'not_a_date', '' from range(?)",
            [load_id, unread_lines],
        )

    def insert(self) -> None:
        """Store the rows."""
        import polars as pl

        con = self._con
        if self.rows:
            empty = con.sql("select * from ledger.sets limit 0").to_arrow_table()
            schema = pl.DataFrame(empty).schema
            con.register("incoming", pl.DataFrame(self.rows, schema=schema).to_arrow())
            con.execute("insert into ledger.sets by name select * from incoming")
            con.unregister("incoming")
            self.rows = []

    def build(self, as_of: date, *, clients: Iterable[Client] = (), **rules: Any) -> Log:
        """Store the rows, and whatever is asked from now on is built for this day."""
        con = self._con
        self.insert()
        self._inputs = BuildInputs(
            as_of=as_of,
            rules=Rules(**rules),
            clients=tuple(clients),
            catalogue=self.catalogue,
            tool_version="test",
        )
        self._built, self._builds = frozenset(), 0
        resolve_names(con, self._inputs)
        return self

    def make(self, *tables: str) -> Log:
        """Run the models behind these tables, unless they have run; none named: all models."""
        wanted = frozenset(tables) or EVERY
        if self._inputs is None or (self._builds and wanted <= self._built):
            return self
        # whoever asks for something else time and again asks for everything
        wanted = EVERY if self._builds > 1 else wanted | self._built
        build_models(self._con, self._inputs, models=models_behind(*sorted(wanted)))
        self._built, self._builds = wanted, self._builds + 1
        return self

    def temporary(self, name: str) -> list[dict[str, Any]]:
        """Rows of a model that is dropped after a build, here made as a review table."""
        assert self._inputs is not None
        models = models_behind(name)
        asked = replace(models[-1], folder="review")
        build_models(self._con, self._inputs, models=[*models[:-1], asked])
        rows = self._con.execute(f"select * from {asked.table}")
        columns = [column[0] for column in rows.description or ()]
        return [dict(zip(columns, row, strict=True)) for row in rows.fetchall()]

    def ask(self, sql: str) -> list[tuple[Any, ...]]:
        """Rows of a query."""
        return self.table(sql)[1]

    def table(self, sql: str) -> tuple[list[str], list[tuple[Any, ...]]]:
        """Columns and rows of a query."""
        named = _tables_of(sql, self._con)
        if named is not None:
            self.make(*named)
        asked = self._con.execute(sql)
        return [column[0] for column in asked.description or ()], asked.fetchall()

    def one(self, sql: str) -> Any:
        """The only value of a query."""
        rows = self.ask(sql)
        assert len(rows) == 1, rows
        return rows[0][0]


EVERY = frozenset(model.table for model in every_model())
"""The tables that all models make."""


def _tables_of(sql: str, con: duckdb.DuckDBPyConnection) -> frozenset[str] | None:
    """The models' tables that a query names; None where it reads the ledger alone.

    All (an empty set) where it asks for what the database holds.
    """
    try:
        named = tables_read(sql, con)
    except ModelError:  # no select: "describe", "from table"
        return frozenset()
    if named and all(each.startswith("ledger.") for each in named):
        return None
    is_known = all(each in EVERY or each.startswith("ledger.") for each in named)
    return named & EVERY if is_known else frozenset()


@pytest.fixture
def log() -> Log:
    """An empty ledger."""
    return Log()


@pytest.fixture(scope="session")
def new_log() -> Callable[[], Log]:
    """Makes empty ledgers, for tests that need several."""
    return Log
