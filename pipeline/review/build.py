"""The models run over what changed, in one transaction: all tables of schema review, or none."""

from __future__ import annotations

import time
from collections.abc import Iterable, Sequence
from datetime import date
from typing import TYPE_CHECKING

import duckdb

from pipeline.errors import ModelError
from pipeline.ledger import store
from pipeline.ledger.side_files import write_side_files
from pipeline.ledger.sql_headers import comment_on
from pipeline.outcome import Outcome, Timing
from pipeline.review.inputs import (
    CONFIG_TABLES,
    KEY_TYPES,
    BuildInputs,
    build_inputs,
    resolve_names,
    write_inputs,
)
from pipeline.review.macros import macros
from pipeline.review.model_files import Model, find_models, models_digest
from pipeline.review.own_models import build_own, read_files

if TYPE_CHECKING:
    from pipeline.ledger.work import Work


def build(work: Work, outcome: Outcome, as_of: date, *, is_forced: bool = False) -> None:
    """Run the models over what changed, or over all if anything besides the sets did.

    Then the user's own models, all of them; one that fails is a problem and stops nothing else.
    """
    with outcome.timed("build"):
        side_digest = write_side_files(work)
        inputs = build_inputs(work.workspace, as_of)
        sent = work.con.execute(
            "select client_id, code, subject, at_moment from ledger.mails"
            " where state = 'sent' and code is not null order by all"
        ).fetchall()
        digest = store.digest(
            repr((inputs.digest, models_digest(), side_digest, as_of, sent)).encode()
        )
        own = read_files(work.workspace)
        row = work.con.execute("select inputs_digest from ledger.meta").fetchone()
        kept, _, kept_own = ((row and row[0]) or "").partition(" ")
        is_same = kept == digest and not is_forced
        is_built = is_same and not work.changed_clients
        if is_built and kept_own == own.digest:
            return
        if not is_built:
            resolve_names(work.con, inputs)
            scope = work.changed_clients if is_same else None
            outcome.timings = build_models(work.con, inputs, scope=scope)
            work.changed_clients.clear()
        timings, faults = build_own(work.con, own)
        outcome.timings += timings
        outcome.problems += faults
        # own models with a fault leave no digest: the next build tries, and says, again
        digests = f"{digest} {'' if faults else own.digest}".rstrip()
        work.con.execute("update ledger.meta set inputs_digest = ?", [digests])
        work.is_dirty = True


def build_models(
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
            write_inputs(con, inputs, scope)
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
            if _exists(con, model.name, "views"):  # what an earlier tool made it
                con.execute(f"drop view {model.table}")
            con.execute(f"create or replace table {model.table} as\n{model.sql}")
        if model.is_review:
            _comment(con, model)
    except duckdb.Error as error:
        raise ModelError(
            f"sql/{model.folder}/{model.name}.sql failed: {error}; the last good database stays "
            "in place."
        ) from error
    return Timing(model.table, time.perf_counter() - started)


def _exists(con: duckdb.DuckDBPyConnection, name: str, kind: str = "tables") -> bool:
    column = kind.removesuffix("s") + "_name"
    return bool(
        con.execute(
            f"select 1 from duckdb_{kind}() where schema_name = 'review' and {column} = ?", [name]
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
