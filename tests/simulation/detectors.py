"""Judges of simulated logs: the SQL models themselves, and the rules that most people use.

The sets go into the ledger as any export's would; every model that `review.lift_trend` rests on is
run as it is. The common rules see the same sessions, by their best index.
"""

from __future__ import annotations

import functools
from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from typing import Any

import duckdb
import numpy as np
import numpy.typing as npt
import polars as pl
from lifters import Scenario, last_day, sets_of

from pipeline.exercises import Catalogue
from pipeline.models import BuildInputs, Model, build, find_models
from pipeline.resources import resource
from pipeline.rules import Rules

EXERCISE = "bench press"
ALARMS = ("stalled", "regressing")


@functools.cache
def trend_models() -> tuple[Model, ...]:
    """The models that review.lift_trend rests on, in order."""
    models = {model.table: model for model in find_models()}
    needed: set[str] = set()
    open_tables = ["review.lift_trend"]
    while open_tables:
        table = open_tables.pop()
        if table in models and table not in needed:
            needed.add(table)
            open_tables.extend(models[table].reads)
    return tuple(model for model in models.values() if model.table in needed)


@functools.cache
def _catalogue() -> Catalogue:
    return Catalogue.load(resource("sql") / "seeds", None)


def _ledger() -> duckdb.DuckDBPyConnection:
    con = duckdb.connect()
    con.execute("create schema ledger")
    folder = resource("sql") / "ledger"
    for path in sorted(folder.glob("*.sql"), key=lambda each: each.stem == "current_sets"):
        con.execute(path.read_text(encoding="utf-8"))
    return con


def build_trends(
    sets: pl.DataFrame, as_of: date, rules: Rules | None = None, **changed: Any
) -> duckdb.DuckDBPyConnection:
    """A database with review.lift_trend of these sets; `changed` overrules single rules."""
    con = _ledger()
    rows = sets.with_row_index("line").select(
        pl.format("1:{}:1", pl.col("line") + 2).alias("set_id"),
        pl.format("lifter-{}", "lifter").alias("client_id"),
        pl.col("day").alias("performed_on"),
        pl.format("lifter-{}/{}", "lifter", "day").alias("session_id"),
        pl.lit(EXERCISE).alias("exercise_raw"),
        pl.col("set_no").alias("day_order"),
        "set_no",
        "load_kg",
        "reps",
        "rir",
        pl.lit("work").alias("set_kind"),
        pl.lit("simulated").alias("source"),
        pl.lit(1).alias("load_id"),
        (pl.col("line") + 2).alias("source_line"),
    )
    con.register("incoming", rows.to_arrow())
    con.execute("insert into ledger.sets by name select * from incoming")
    con.unregister("incoming")
    name = "insert into ledger.exercise_names values (?, ?, 'catalogue', null)"
    con.execute(name, [EXERCISE] * 2)
    inputs = BuildInputs(
        as_of=as_of,
        rules=replace(rules or Rules(), **changed),
        clients=(),
        catalogue=_catalogue(),
        tool_version="simulation",
    )
    build(con, inputs, models=trend_models())
    return con


def statuses(scenario: Scenario, lifters: int, seed: int, **changed: Any) -> pl.DataFrame:
    """One row a lifter: the last status, and days since the best session by the common rules."""
    sets = sets_of(scenario, lifters, seed)
    con = build_trends(sets, last_day(scenario), **changed)
    trends = con.sql(
        "select client_id, status, change_pct_per_week as rate, change_low, change_high"
        " from review.lift_trend"
        " qualify row_number() over (partition by client_id order by week desc) = 1"
    ).to_arrow_table()
    frame = pl.DataFrame(pl.from_arrow(trends))
    con.close()
    return frame.join(since_best(sets), on="client_id")


def since_best(sets: pl.DataFrame) -> pl.DataFrame:
    """Per lifter: days and sessions since the session with the best index, as the eye sees it."""
    left = pl.col("rir").fill_null(0)
    index = pl.col("load_kg") * (1 + (pl.col("reps") + left) / 30)
    sessions = (
        sets.filter(left <= 4)
        .group_by("lifter", "day")
        .agg(index.max().alias("index"))
        .sort("lifter", "day")
        .with_columns(
            pl.col("index").cum_max().over("lifter").alias("best"),
            pl.int_range(pl.len()).over("lifter").alias("place"),
        )
        .with_columns(
            (pl.col("best") > pl.col("best").shift(1).over("lifter"))
            .fill_null(True)
            .alias("is_best")
        )
    )
    return sessions.group_by("lifter").agg(
        pl.format("lifter-{}", pl.col("lifter").first()).alias("client_id"),
        (pl.col("day").max() - pl.col("day").filter("is_best").max())
        .dt.total_days()
        .alias("days_since_best"),
        (pl.col("place").max() - pl.col("place").filter("is_best").max()).alias(
            "sessions_since_best"
        ),
    )


def alarm_share(frame: pl.DataFrame, alarms: Sequence[str] = ALARMS) -> float:
    """Share of lifters whose last status is one of `alarms`."""
    return float(frame["status"].is_in(list(alarms)).fill_null(False).mean())  # type: ignore[arg-type]


def share_error(share: float, lifters: int) -> float:
    """Standard error of a share counted on so many lifters."""
    return float(np.sqrt(max(share * (1 - share), 1 / lifters) / lifters))


def days_at_equal_alarms(moving: pl.DataFrame, share: float) -> float:
    """Days without a new best at which the common rule accuses `share` of the moving lifters."""
    days: npt.NDArray[np.float64] = moving["days_since_best"].to_numpy()
    return float(np.quantile(days, 1 - share, method="higher"))
