"""Sets beside each other: equal lines, the order of a day, extensions of nothing."""

from __future__ import annotations

import polars as pl

from pipeline.reading.cells import text_of
from pipeline.reading.context import Context
from pipeline.settings.mapping import Mapping


def with_equal_lines(entries: pl.DataFrame, context: Context) -> pl.DataFrame:
    """Adds `equal_line`: an earlier line equal in every cell, if this one is told from others.

    A set number or a start time tells a line from others. An empty cell that repeats the one above
    counts as that one. A clock time in the day's own cell counts only if no unequal line of the
    client has the same: else it is when the session began, and alike sets are sets.
    """
    lines, firsts = _repeats(entries, context)
    equal = pl.lit(None, dtype=pl.Int32)
    if lines.len():
        equal = pl.col("line").replace_strict(lines, firsts, default=None, return_dtype=pl.Int32)
    return entries.with_columns(equal.alias("equal_line"))


def _repeats(entries: pl.DataFrame, context: Context) -> tuple[pl.Series, pl.Series]:
    """Lines that repeat an earlier one, and the first line that each repeats."""
    none = pl.Series(dtype=pl.Int32)
    numbered = pl.col("set_no").is_not_null()
    own_start = text_of("started_at").is_not_null()
    moment = pl.col("moment").is_not_null()
    if not entries.select((numbered | own_start | moment).any()).item():
        return none, none
    records = _with_carried(context.export.records, entries, context.mapping)
    cells = [name for name in records.columns if name != "source_line"]
    hashes = records.select(
        pl.col("source_line").alias("line"),
        records.select(cells).hash_rows().alias("hash"),
    )
    alike = hashes.filter(pl.col("hash").is_duplicated())["line"]
    if not alike.len():
        return none, none
    by_moment = entries.filter(moment & ~numbered & ~own_start)
    shared = pl.col("hash").n_unique().over("client_id", "moment") > 1
    chosen = pl.concat(
        [
            entries.filter(numbered | own_start)["line"],
            by_moment.join(hashes, on="line", how="left").filter(~shared)["line"],
        ]
    )
    first = (
        records.filter(pl.col("source_line").is_in(alike.implode()))
        .with_columns(pl.col("source_line").min().over(cells).alias("first"))
        .filter(
            (pl.col("first") != pl.col("source_line"))
            & pl.col("source_line").is_in(chosen.implode())
        )
    )
    return first["source_line"], first["first"]


def _with_carried(records: pl.DataFrame, entries: pl.DataFrame, mapping: Mapping) -> pl.DataFrame:
    """The records with what their empty cells repeat."""
    if not mapping.carried:
        return records
    told = entries.select(
        pl.col("line").alias("source_line"),
        *(text_of(name) for name in mapping.carried),
    ).unique("source_line", keep="first")
    return records.join(told, on="source_line", how="left", maintain_order="left")


def with_day_order(entries: pl.DataFrame, _: Context) -> pl.DataFrame:
    """Adds `day_order`, and `extends_nothing`: an extension that no work set goes before.

    The order is that of the lines without such an extension.
    """
    lone: list[pl.DataFrame] = []
    while True:
        ordered = _ordered_in_day(entries).with_columns(pl.lit(False).alias("extends_nothing"))
        found = _lone_extensions(ordered)
        if not found.height:
            return pl.concat([ordered, *lone])
        lone.append(found.with_columns(pl.lit(True).alias("extends_nothing")))
        entries = ordered.join(found.select("line"), on="line", how="anti", maintain_order="left")
        entries = entries.drop("day_order", "day_key", "extends_nothing")


def _lone_extensions(ordered: pl.DataFrame) -> pl.DataFrame:
    """The extensions that no work set of the exercise goes before on that day."""
    is_extension = pl.col("set_kind") == "extension"
    days = ordered.filter(is_extension).select("day_key").unique()
    if not days.height:
        return ordered.clear()
    is_work = pl.col("set_kind").fill_null("work") == "work"
    lift = text_of("exercise").str.to_lowercase()
    before = is_work.cast(pl.Int32).cum_sum().over("day_key", lift)
    return (
        ordered.join(days, on="day_key", how="semi")
        .sort("day_key", "day_order")
        .with_columns(before.alias("before"))
        .filter(is_extension & (pl.col("before") == 0))
        .drop("before")
    )


def _ordered_in_day(entries: pl.DataFrame) -> pl.DataFrame:
    """Adds `day_key` (client and day as a number) and `day_order`; rows stay in file order.

    Order: start time, then file order. A client's lines count as written last to first if in most
    exercises of a day that client's last set number is below the first; without set numbers, if
    the days mostly descend. A set without start time goes with the line before it.
    """
    code = pl.col("client_id").rank("dense").cast(pl.Int64)
    entries = entries.with_columns(
        (code * 1_000_000 + pl.col("performed_on").cast(pl.Int32)).alias("day_key")
    )
    backwards = _written_backwards(entries)
    has_starts = entries["started_at"].null_count() < entries.height
    if not has_starts and not backwards:
        order = pl.int_range(1, pl.len() + 1, dtype=pl.Int32).over("day_key")
        return entries.with_columns(order.alias("day_order"))
    turned = pl.col("client_id").is_in(backwards)
    at = pl.when(turned).then(-pl.col("line")).otherwise("line")
    placed = entries.with_row_index("row").with_columns(at.alias("at")).sort("day_key", "at", "n")
    placed = placed.with_columns(pl.col("started_at").forward_fill().over("day_key").alias("start"))
    placed = placed.sort("day_key", "start", "at", "n", nulls_last=False).with_columns(
        pl.int_range(1, pl.len() + 1, dtype=pl.Int32).over("day_key").alias("day_order")
    )
    return placed.sort("row").drop("row", "at", "start")


def _written_backwards(entries: pl.DataFrame) -> list[str]:
    """Clients whose last set stands first in the file."""
    step = pl.col("performed_on").cast(pl.Int32).diff().sign().sum()
    clients = entries.group_by("client_id").agg(step.alias("days"))
    number = pl.col("set_no").drop_nulls()
    steps = (
        entries.filter(pl.col("set_no").is_not_null())
        .group_by("client_id", "day_key", "t_exercise")
        .agg((number.last() - number.first()).sign().alias("numbers"))
        .group_by("client_id")
        .agg(pl.col("numbers").sum())
    )
    told = clients.join(steps, on="client_id", how="left")
    numbers = pl.col("numbers").fill_null(0)
    turned = pl.when(numbers != 0).then(numbers < 0).otherwise(pl.col("days") < 0)
    return sorted(told.filter(turned)["client_id"].to_list())
