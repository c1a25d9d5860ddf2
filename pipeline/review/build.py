"""Find the SQL models, put them in order by what they read, build them, describe them.

A model is one SELECT in one file; its folder says where it lives. `staging`, `intermediate` and
`findings` become temporary tables, `review` becomes schema review. The first comment of a file is
its documentation: it reaches the database as comments.
"""

from __future__ import annotations

import hashlib
import json
import re
import time
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import duckdb

from pipeline.errors import ModelError
from pipeline.ledger.sql_headers import SCHEMA_VERSION, comment_on, read_header
from pipeline.outcome import Timing
from pipeline.resources import resource
from pipeline.review.macros import macros, macros_text
from pipeline.settings.rules import Rules, all_rules

if TYPE_CHECKING:
    from pipeline.names.catalogue import Catalogue
    from pipeline.settings.workspace import Client


FOLDERS = ("staging", "intermediate", "findings", "review")

CONFIG_TABLES: dict[str, str] = {
    "config_scope": "client_id varchar",
    "config_clients": (
        "client_id varchar, name varchar, units varchar, until_on date, is_listed boolean"
    ),
    "config_targets": (
        "client_id varchar, exercise varchar, target_load_kg double, target_reps integer"
    ),
    "config_changes": "client_id varchar, changed_on date, note varchar",
    "config_phases": "client_id varchar, kind varchar, from_on date, to_on date",
    "config_guides": (
        "client_id varchar, muscle varchar, week_low double, week_high double, "
        "session_low double, session_high double"
    ),
    "config_favours": "client_id varchar, muscle varchar, favour varchar",
    "seed_muscles": (
        "muscle varchar, body_part varchar, label varchar, position integer, low_end_group varchar"
    ),
    "seed_exercises": (
        "exercise varchar, movement varchar, load_basis varchar, bodyweight_share double"
    ),
    "seed_exercise_muscles": "exercise varchar, muscle varchar, role varchar",
}
"""Temporary tables that Python fills before the models run, with their columns.

config_scope holds the clients that this build makes; stg_sets is restricted to them.
config_favours.favour is bring_up or hold_back.
"""

KEY_TYPES: dict[str, str] = {
    "client_key": "select client_id from ledger.sets",
    "exercise_key": (
        "select exercise from ledger.exercise_names"
        " union all select lower(exercise_raw) from ledger.sets"
    ),
}
"""Temporary enumerations of the names that models sort, group and join by the million.

stg_sets stores client and exercise as these: numbers with labels, a third faster than text. The
tables of schema review hold text again.
"""

_RUN_COMMENTS = {
    "as_of": "the as-of day: nothing later is counted",
    "tool_version": "version of setledger that built the tables",
    "schema_version": "version of the tables' layout",
    "models_digest": "digest of the SQL models",
    "inputs_digest": "digest of rules, clients and catalogue",
}


@dataclass(frozen=True)
class Model:
    """One SQL file: its name, its place, what it reads and what its header says."""

    name: str
    folder: str
    is_view: bool
    meaning: str
    grain: tuple[str, ...]
    columns: dict[str, str]
    """Column to meaning, in the order of the final select."""
    sql: str = field(repr=False)
    reads: frozenset[str] = frozenset()
    """Other models that it reads."""

    @property
    def is_review(self) -> bool:
        """Whether it is part of the interface (schema review), not temporary."""
        return self.folder == "review"

    @property
    def table(self) -> str:
        """The name under which SQL refers to it."""
        return f"review.{self.name}" if self.is_review else self.name


@dataclass(frozen=True)
class BuildInputs:
    """Everything besides the sets that a build rests on."""

    as_of: date
    rules: Rules
    clients: tuple[Client, ...]
    catalogue: Catalogue
    tool_version: str

    @property
    def digest(self) -> str:
        """Digest of rules, clients and catalogue: with the sets and the day, all that counts."""
        parts = (
            self.rules.values(),
            tuple(repr(client) for client in self.clients),
            tuple(repr(exercise) for exercise in self.catalogue.exercises.values()),
        )
        return hashlib.sha256(repr(parts).encode()).hexdigest()


def tables_read(sql: str, con: duckdb.DuckDBPyConnection) -> frozenset[str]:
    """Tables that a SELECT reads, as "name" or "schema.name", by DuckDB's own parser."""
    row = con.execute("select json_serialize_sql(?)", [sql]).fetchone()
    tree = json.loads(row[0]) if row else {"error": True}
    if tree.get("error"):
        raise ModelError(f"does not parse as one SELECT: {tree.get('error_message', 'no text')}")
    tables: set[str] = set()
    ctes: set[str] = set()
    for node in _nodes(tree):
        if node.get("type") == "BASE_TABLE":
            schema = node.get("schema_name")
            tables.add(f"{schema}.{node['table_name']}" if schema else node["table_name"])
        for entry in node.get("cte_map", {}).get("map", ()) if "cte_map" in node else ():
            ctes.add(entry["key"])
    return frozenset(tables - ctes)


def _nodes(tree: Any) -> Iterator[dict[str, Any]]:
    stack = [tree]
    while stack:
        node = stack.pop()
        if isinstance(node, dict):
            yield node
            stack.extend(node.values())
        elif isinstance(node, list):
            stack.extend(node)


def find_models(folder: Path | None = None) -> tuple[Model, ...]:
    """All models below sql/, each after those it reads."""
    root = folder or resource("sql")
    con = duckdb.connect()
    models = {}
    for place in FOLDERS:
        for path in sorted((root / place).rglob("*.sql")):
            sql = path.read_text(encoding="utf-8").strip().rstrip(";")
            meaning, keyed = read_header(sql)
            try:
                reads = tables_read(sql, con)
            except ModelError as error:
                raise ModelError(f"sql/{place}/{path.name} {error}") from error
            is_view = keyed.get("kind") == "view"
            if is_view:  # else it is the meaning of a column of that name
                del keyed["kind"]
            model = Model(
                name=path.stem,
                folder=place,
                is_view=is_view,
                meaning=meaning,
                grain=tuple(re.split(r",\s*", keyed.pop("grain", ""))),
                columns=keyed,
                sql=sql,
                reads=reads,
            )
            models[model.table] = model
    con.close()
    return tuple(_in_order(models))


def _in_order(models: dict[str, Model]) -> list[Model]:
    """Depth first by name, so that the order is the same on every machine."""
    done: dict[str, Model] = {}

    def visit(model: Model, path: tuple[str, ...]) -> None:
        if model.table in done:
            return
        if model.table in path:
            raise ModelError(f"models read each other in a circle: {' → '.join(path)}")
        for name in sorted(model.reads & models.keys()):
            visit(models[name], (*path, model.table))
        done[model.table] = model

    for name in sorted(models):
        visit(models[name], ())
    return list(done.values())


def models_digest(models: Sequence[Model]) -> str:
    """Digest of the SQL of all models and of the macros they share."""
    text = "\n".join([macros_text(), *(f"{model.table}\n{model.sql}" for model in models)])
    return hashlib.sha256(text.encode()).hexdigest()


def build(
    con: duckdb.DuckDBPyConnection,
    inputs: BuildInputs,
    *,
    scope: Iterable[str] | None = None,
    models: Sequence[Model] | None = None,
) -> list[Timing]:
    """Run every model in one transaction: all tables of schema review, or none.

    `scope` names the clients to make again, the rows of all others staying as they are; None
    makes all. Raises ModelError with the file that failed.
    """
    models = find_models() if models is None else models
    with macros(con):
        con.execute("begin transaction")
        try:
            con.execute("create schema if not exists review")
            _write_inputs(con, inputs, scope, models)
            timings = [_build_one(con, model, scope is not None) for model in models]
            con.execute("commit")
        except BaseException:
            con.execute("rollback")
            raise
        finally:
            _drop_temporary(con, models)
    return timings


def _build_one(con: duckdb.DuckDBPyConnection, model: Model, is_partial: bool) -> Timing:
    started = time.perf_counter()
    try:
        if model.is_view:
            con.execute(f"create or replace view {model.table} as\n{model.sql}")
        elif not model.is_review:
            con.execute(f"create or replace temp table {model.table} as\n{model.sql}")
        elif is_partial and "client_id" in model.columns and _exists(con, model.name):
            con.execute(
                f"delete from {model.table} where client_id in (select client_id from config_scope)"
            )
            con.execute(f"insert into {model.table} by name\n{model.sql}")
        else:
            con.execute(f"create or replace table {model.table} as\n{model.sql}")
        if model.is_review:
            _comment(con, model)
    except duckdb.Error as error:
        raise ModelError(
            f"sql/{model.folder}/{model.name}.sql failed: {error}; the last good database stays "
            "in place."
        ) from error
    return Timing(model.table, time.perf_counter() - started)


def _exists(con: duckdb.DuckDBPyConnection, name: str) -> bool:
    return bool(
        con.execute(
            "select 1 from duckdb_tables() where schema_name = 'review' and table_name = ?", [name]
        ).fetchone()
    )


def _comment(con: duckdb.DuckDBPyConnection, model: Model) -> None:
    kind = "view" if model.is_view else "table"
    comment_on(con, model.table, model.meaning, model.columns, kind)


def _drop_temporary(con: duckdb.DuckDBPyConnection, models: Sequence[Model]) -> None:
    for model in models:
        if not model.is_review:
            con.execute(f"drop table if exists temp.{model.name}")
    for name in CONFIG_TABLES:
        con.execute(f"drop table if exists temp.{name}")
    for name in KEY_TYPES:
        con.execute(f"drop type if exists temp.{name}")


def _write_inputs(
    con: duckdb.DuckDBPyConnection,
    inputs: BuildInputs,
    scope: Iterable[str] | None,
    models: Sequence[Model],
) -> None:
    for name, columns in CONFIG_TABLES.items():
        con.execute(f"create or replace temp table {name} ({columns})")
    for name, query in KEY_TYPES.items():
        con.execute(
            f"create temporary type {name} as enum (select distinct * from ({query}) order by all)"
        )
    if scope is None:
        con.execute("insert into config_scope select distinct client_id from ledger.sets")
    else:
        _insert(con, "config_scope", [(client_id,) for client_id in sorted(set(scope))])
    _write_clients(con, inputs.clients)
    _write_catalogue(con, inputs.catalogue)
    _write_run(con, inputs, models)
    _write_rules(con, inputs.rules)


def _insert(con: duckdb.DuckDBPyConnection, table: str, rows: list[tuple[Any, ...]]) -> None:
    if rows:
        marks = ", ".join("?" * len(rows[0]))
        con.executemany(f"insert into {table} values ({marks})", rows)


def _write_clients(con: duckdb.DuckDBPyConnection, clients: Sequence[Client]) -> None:
    _insert(
        con,
        "config_clients",
        [(each.id, each.name, each.units, each.until, True) for each in clients],
    )
    con.execute(
        "insert into config_clients select distinct sets.client_id, sets.client_id, 'kg',"
        " cast(null as date), false from ledger.sets"
        " anti join config_clients on sets.client_id = config_clients.client_id"
    )
    _insert(
        con,
        "config_targets",
        [
            (each.id, goal.exercise, goal.load_kg, goal.reps)
            for each in clients
            for goal in each.targets
        ],
    )
    _insert(
        con,
        "config_changes",
        [(each.id, change.changed_on, change.note) for each in clients for change in each.changes],
    )
    _insert(
        con,
        "config_phases",
        [
            (each.id, phase.kind, phase.from_on, phase.to_on)
            for each in clients
            for phase in each.phases
        ],
    )
    _insert(
        con,
        "config_guides",
        [
            (each.id, guide.muscle, *(guide.week or (None, None)), *(guide.session or (None, None)))
            for each in clients
            for guide in each.guide
        ],
    )
    _insert(
        con,
        "config_favours",
        [(each.id, muscle, "bring_up") for each in clients for muscle in each.bring_up]
        + [(each.id, muscle, "hold_back") for each in clients for muscle in each.hold_back],
    )


def _write_catalogue(con: duckdb.DuckDBPyConnection, catalogue: Catalogue) -> None:
    import polars as pl

    exercises = catalogue.exercises.values()
    frames = {
        "seed_muscles": pl.DataFrame(
            [
                (each.muscle, each.body_part, each.label, each.position, each.low_end_group)
                for each in catalogue.muscles
            ],
            schema=["muscle", "body_part", "label", "position", "low_end_group"],
            orient="row",
        ),
        "seed_exercises": pl.DataFrame(
            [
                (each.exercise, each.movement, each.load_basis, each.bodyweight_share)
                for each in exercises
            ],
            schema=["exercise", "movement", "load_basis", "bodyweight_share"],
            orient="row",
        ),
        "seed_exercise_muscles": pl.DataFrame(
            [(each.exercise, muscle, "direct") for each in exercises for muscle in each.direct]
            + [
                (each.exercise, muscle, "indirect")
                for each in exercises
                for muscle in each.indirect
            ],
            schema=["exercise", "muscle", "role"],
            orient="row",
        ),
    }
    for name, frame in frames.items():
        con.register("incoming_seed", frame.to_arrow())
        con.execute(f"insert into {name} by name select * from incoming_seed")
        con.unregister("incoming_seed")


def _write_run(
    con: duckdb.DuckDBPyConnection, inputs: BuildInputs, models: Sequence[Model]
) -> None:
    con.execute(
        "create or replace table review.run as select ?::date as as_of, ? as tool_version,"
        " ?::integer as schema_version, ? as models_digest, ? as inputs_digest",
        [inputs.as_of, inputs.tool_version, SCHEMA_VERSION, models_digest(models), inputs.digest],
    )
    comment_on(con, "review.run", "One row: what this build rests on.", _RUN_COMMENTS)


def _write_rules(con: duckdb.DuckDBPyConnection, rules: Rules) -> None:
    known = all_rules().values()
    columns = ", ".join(f"?::{rule.type} as {rule.name}" for rule in known)
    con.execute(f"create or replace table review.rules as select {columns}", list(rules.values()))
    comments = {rule.name: f"{rule.meaning} [{rule.unit}]; basis: {rule.basis}" for rule in known}
    comment_on(con, "review.rules", "One row: every threshold as used.", comments)
