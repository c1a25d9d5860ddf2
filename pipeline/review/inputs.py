"""What besides the sets a build rests on, and the temporary tables that tell the models of it."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, Any

from pipeline import __version__
from pipeline.ledger.connection import SCHEMA_VERSION
from pipeline.ledger.sql_headers import comment_on
from pipeline.resources import seed_rows
from pipeline.review.model_files import models_digest
from pipeline.settings.rules import Rules, all_rules
from pipeline.settings.workspace import Workspace, catalogue_of

if TYPE_CHECKING:
    import duckdb

    from pipeline.names.catalogue import Catalogue
    from pipeline.settings.workspace import Client

CONFIG_TABLES: dict[str, str] = {
    "config_scope": "client_id varchar",
    "config_clients": (
        "client_id varchar, name varchar, units varchar, until_on date, is_listed boolean"
    ),
    "config_targets": (
        "client_id varchar, exercise varchar, target_load_kg double, target_reps integer"
    ),
    "config_changes": (
        "client_id varchar, changed_on date, note varchar, exercise varchar, code varchar, "
        "subject varchar"
    ),
    "config_phases": "client_id varchar, kind varchar, from_on date, to_on date",
    "config_guides": (
        "client_id varchar, muscle varchar, week_low double, week_high double, "
        "session_low double, session_high double"
    ),
    "config_waived": "client_id varchar, code varchar, subject varchar, until_on date",
    "config_favours": "client_id varchar, muscle varchar, favour varchar",
    "seed_muscles": (
        "muscle varchar, body_part varchar, label varchar, position integer, low_end_group varchar"
    ),
    "seed_exercises": (
        "exercise varchar, movement varchar, load_basis varchar, bodyweight_share double"
    ),
    "seed_exercise_muscles": "exercise varchar, muscle varchar, role varchar",
    "seed_pain_words": "language varchar, kind varchar, words varchar",
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
    "inputs_digest": "digest of rules, clients, catalogue and words of pain",
}


@dataclass(frozen=True)
class BuildInputs:
    """Everything besides the sets that a build rests on."""

    as_of: date
    rules: Rules
    clients: tuple[Client, ...]
    catalogue: Catalogue
    tool_version: str

    @property
    def resolved_clients(self) -> tuple[Client, ...]:
        """The clients, with exercises and muscles as the models name them.

        What the user writes may be any spelling of the log: a set and a target that say
        "Kniebeuge" are of one exercise.
        """
        return tuple(_resolved(client, self.catalogue) for client in self.clients)

    @property
    def digest(self) -> str:
        """Digest of all that counts besides the sets and the day."""
        parts = (
            self.rules.values(),
            tuple(repr(client) for client in self.resolved_clients),
            tuple(repr(exercise) for exercise in self.catalogue.exercises.values()),
            _pain_words(),
        )
        return hashlib.sha256(repr(parts).encode()).hexdigest()


def _resolved(client: Client, catalogue: Catalogue) -> Client:
    return replace(
        client,
        targets=tuple(
            replace(each, exercise=catalogue.resolve(each.exercise).exercise)
            for each in client.targets
        ),
        changes=tuple(
            replace(each, exercise=catalogue.resolve(each.exercise).exercise)
            if each.exercise is not None
            else each
            for each in client.changes
        ),
        guide=tuple(
            replace(each, muscle=catalogue.muscle_of(each.muscle)) for each in client.guide
        ),
        bring_up=tuple(map(catalogue.muscle_of, client.bring_up)),
        hold_back=tuple(map(catalogue.muscle_of, client.hold_back)),
    )


def build_inputs(workspace: Workspace, as_of: date) -> BuildInputs:
    """What besides the sets a build rests on."""

    return BuildInputs(
        as_of=as_of,
        rules=workspace.rules,
        clients=workspace.clients,
        catalogue=catalogue_of(workspace),
        tool_version=__version__,
    )


def resolve_names(con: duckdb.DuckDBPyConnection, inputs: BuildInputs) -> None:
    """Every spelling in the ledger, with the exercise that it is taken for."""
    import polars as pl

    spellings = [
        name
        for (name,) in con.execute(
            "select distinct exercise_raw from ledger.sets order by exercise_raw"
        ).fetchall()
    ]
    con.execute("delete from ledger.exercise_names")
    frame = pl.DataFrame(
        [
            (each.exercise_raw, each.exercise, each.how, each.score)
            for each in inputs.catalogue.resolve_all(spellings)
        ],
        schema={
            "exercise_raw": pl.String,
            "exercise": pl.String,
            "how": pl.String,
            "score": pl.Float64,
        },
        orient="row",
    )
    con.register("incoming_names", frame.to_arrow())
    con.execute("insert into ledger.exercise_names by name select * from incoming_names")
    con.unregister("incoming_names")


def write_inputs(
    con: duckdb.DuckDBPyConnection,
    inputs: BuildInputs,
    scope: Iterable[str] | None,
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
    _write_clients(con, inputs.resolved_clients)
    _insert(
        con,
        "config_waived",
        [
            (each.id, one.code, one.subject, one.until_on)
            for each in inputs.clients
            for one in each.waived
        ],
    )
    _write_catalogue(con, inputs.catalogue)
    _insert(con, "seed_pain_words", list(_pain_words()))
    _write_run(con, inputs)
    _write_rules(con, inputs.rules)


def _pain_words() -> tuple[tuple[str, ...], ...]:
    return tuple(tuple(row.values()) for row in seed_rows("pain_words.csv"))


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
        [
            (each.id, one.changed_on, one.note, one.exercise, one.code, one.subject)
            for each in clients
            for one in each.changes
        ],
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


def _write_run(con: duckdb.DuckDBPyConnection, inputs: BuildInputs) -> None:
    con.execute(
        "create or replace table review.run as select ?::date as as_of, ? as tool_version,"
        " ?::integer as schema_version, ? as models_digest, ? as inputs_digest",
        [inputs.as_of, inputs.tool_version, SCHEMA_VERSION, models_digest(), inputs.digest],
    )
    comment_on(con, "review.run", "One row: what this build rests on.", _RUN_COMMENTS)


def _write_rules(con: duckdb.DuckDBPyConnection, rules: Rules) -> None:
    known = all_rules().values()
    columns = ", ".join(f"?::{rule.type} as {rule.name}" for rule in known)
    con.execute(f"create or replace table review.rules as select {columns}", list(rules.values()))
    comments = {rule.name: f"{rule.meaning} [{rule.unit}]; basis: {rule.basis}" for rule in known}
    comment_on(con, "review.rules", "One row: every threshold as used.", comments)
