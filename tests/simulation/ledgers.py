"""Simulated sets as a ledger, and the review tables asked for built from it: no table besides."""

from __future__ import annotations

import functools
from datetime import date
from typing import Any

import duckdb
import numpy as np
import polars as pl

from pipeline.names.catalogue import Catalogue
from pipeline.names.exercises_file import load_catalogue
from pipeline.resources import resource
from pipeline.review.build import build_models
from pipeline.review.inputs import BuildInputs
from pipeline.review.model_files import Model, find_models
from pipeline.settings.rules import Rules
from pipeline.settings.workspace import Client


@functools.cache
def every_model() -> tuple[Model, ...]:
    """All models, read once."""
    return find_models()


@functools.cache
def models_behind(*tables: str) -> tuple[Model, ...]:
    """The models that these tables rest on, in order."""
    models = {model.table: model for model in every_model()}
    needed: set[str] = set()
    open_tables = list(tables)
    while open_tables:
        table = open_tables.pop()
        if table in models and table not in needed:
            needed.add(table)
            open_tables.extend(models[table].reads)
    return tuple(model for model in models.values() if model.table in needed)


@functools.cache
def catalogue() -> Catalogue:
    """The catalogue that comes with the package."""
    return load_catalogue()


def empty_ledger() -> duckdb.DuckDBPyConnection:
    """A database in memory with the ledger's tables."""
    con = duckdb.connect()
    con.execute("create schema ledger")
    folder = resource("sql") / "ledger"
    for path in sorted(folder.glob("*.sql"), key=lambda each: each.stem == "current_sets"):
        con.execute(path.read_text(encoding="utf-8"))
    return con


def build_tables(
    sets: pl.DataFrame,
    as_of: date,
    *tables: str,
    clients: tuple[Client, ...] = (),
    **changed: Any,
) -> duckdb.DuckDBPyConnection:
    """A database with these tables; `changed` overrules single rules.

    `sets` has client_id, day, exercise, load_kg, reps, rir (null: unlogged), in the order done.
    """
    con = empty_ledger()
    line = pl.col("line") + 2
    rows = sets.with_row_index("line").select(
        pl.format("1:{}:1", line).alias("set_id"),
        "client_id",
        pl.col("day").alias("performed_on"),
        pl.format("{}/{}", "client_id", "day").alias("session_id"),
        pl.col("exercise").alias("exercise_raw"),
        line.alias("day_order"),
        "load_kg",
        "reps",
        "rir",
        pl.lit("work").alias("set_kind"),
        pl.lit("simulated").alias("source"),
        pl.lit(1).alias("load_id"),
        line.alias("source_line"),
    )
    con.register("incoming", rows.to_arrow())
    con.execute("insert into ledger.sets by name select * from incoming")
    con.unregister("incoming")
    con.execute(
        "insert into ledger.exercise_names"
        " select distinct exercise_raw, exercise_raw, 'catalogue', null from ledger.sets"
    )
    inputs = BuildInputs(
        as_of=as_of,
        rules=Rules(**changed),
        clients=clients,
        catalogue=catalogue(),
        tool_version="simulation",
    )
    build_models(con, inputs, models=models_behind(*tables))
    return con


def share_error(share: float, count: int) -> float:
    """Standard error of a share counted on so many."""
    return float(np.sqrt(max(share * (1 - share), 1 / count) / count))
