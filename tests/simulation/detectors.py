"""Judges of simulated logs: the SQL models themselves, and the rules that most people use.

The sets go into the ledger as any export's would; every model that `review.lift_trend` rests on is
run as it is. The common rules see the same sessions, by their best index.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

import duckdb
import numpy as np
import numpy.typing as npt
import polars as pl
from ledgers import build_tables
from lifters import Scenario, last_day, sets_of

EXERCISE = "bench press"
ALARMS = ("stalled", "regressing")


def build_trends(sets: pl.DataFrame, as_of: date, **changed: Any) -> duckdb.DuckDBPyConnection:
    """A database with review.lift_trend of these sets; `changed` overrules single rules."""
    rows = (
        named(sets)
        .sort("lifter", "day", "exercise", "set_no")
        .select(
            pl.format("lifter-{}", "lifter").alias("client_id"),
            "day",
            "exercise",
            "load_kg",
            "reps",
            "rir",
        )
    )
    return build_tables(rows, as_of, "review.lift_trend", **changed)


def statuses(scenario: Scenario, lifters: int, seed: int, **changed: Any) -> pl.DataFrame:
    """One row a lifter: the last status, and what the common rules go by."""
    return judged(sets_of(scenario, lifters, seed), last_day(scenario), **changed)


def judged(sets: pl.DataFrame, as_of: date, **changed: Any) -> pl.DataFrame:
    """One row a lifter and lift: the last status, and days since the best session."""
    con = build_trends(sets, as_of, **changed)
    trends = con.sql(
        "select client_id, exercise, status, change_pct_per_week as rate, change_low, change_high"
        " from review.lift_trend"
        " qualify row_number() over (partition by client_id, exercise order by week desc) = 1"
    ).to_arrow_table()
    frame = pl.DataFrame(pl.from_arrow(trends))
    con.close()
    return frame.join(since_best(sets), on=["client_id", "exercise"])


def since_best(sets: pl.DataFrame) -> pl.DataFrame:
    """Days and sessions since the session with the best index, as the eye sees it."""
    left = pl.col("rir").fill_null(0)
    index = pl.col("load_kg") * (1 + (pl.col("reps") + left) / 30)
    lift = ["lifter", "exercise"]
    sessions = (
        named(sets)
        .filter(left <= 4)
        .group_by(*lift, "day")
        .agg(index.max().alias("index"))
        .sort(*lift, "day")
        .with_columns(
            pl.col("index").cum_max().over(lift).alias("best"),
            pl.int_range(pl.len()).over(lift).alias("place"),
        )
        .with_columns(
            (pl.col("best") > pl.col("best").shift(1).over(lift)).fill_null(True).alias("is_best")
        )
    )
    return sessions.group_by(lift).agg(
        pl.format("lifter-{}", pl.col("lifter").first()).alias("client_id"),
        (pl.col("day").max() - pl.col("day").filter("is_best").max())
        .dt.total_days()
        .alias("days_since_best"),
        (pl.col("place").max() - pl.col("place").filter("is_best").max()).alias(
            "sessions_since_best"
        ),
    )


def named(sets: pl.DataFrame) -> pl.DataFrame:
    """Sets with the name of their lift, the one lift's where a simulator has only one."""
    if "exercise" in sets.columns:
        return sets
    return sets.with_columns(pl.lit(EXERCISE).alias("exercise"))


def alarm_share(frame: pl.DataFrame, alarms: Sequence[str] = ALARMS) -> float:
    """Share of lifters whose last status is one of `alarms`."""
    return float(frame["status"].is_in(list(alarms)).fill_null(False).mean())  # type: ignore[arg-type]


def cut_at_equal_alarms(moving: pl.DataFrame, share: float, column: str) -> float:
    """Days or sessions without a new best at which the rule accuses `share` of the moving."""
    since: npt.NDArray[np.float64] = moving[column].to_numpy()
    return float(np.quantile(since, 1 - share, method="higher"))
