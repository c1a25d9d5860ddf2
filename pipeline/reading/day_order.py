"""Entries beside each other: the order of a day, duplicate lines, extensions of nothing."""

from __future__ import annotations

import polars as pl

from pipeline.reading.cells import said, text_of
from pipeline.reading.export import Export
from pipeline.reading.reasons import Reason
from pipeline.reading.validation import Faults, Test
from pipeline.settings.mapping import Mapping


def duplicates(entries: pl.DataFrame, export: Export, mapping: Mapping) -> list[Test]:
    """Lines equal in every cell to an earlier one, if they carry a set number or a start time.

    An empty cell that repeats the one above counts as that one. A clock time in the day's own cell
    counts only if no unequal line of the client has the same: else it is when the session began,
    and alike sets are sets.
    """
    numbered = pl.col("set_no").is_not_null()
    own_start = text_of("started_at").is_not_null()
    moment = pl.col("moment").is_not_null()
    if not entries.select((numbered | own_start | moment).any()).item():
        return []
    records = _with_carried(export.records, entries, mapping)
    cells = [name for name in records.columns if name != "source_line"]
    hashes = records.select(
        pl.col("source_line").alias("line"),
        records.select(cells).hash_rows().alias("hash"),
    )
    alike = hashes.filter(pl.col("hash").is_duplicated())["line"]
    if not alike.len():
        return []
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
    if not first.height:
        return []
    lines, firsts = first["source_line"], first["first"]
    earlier = pl.col("line").replace_strict(lines, firsts, default=None, return_dtype=pl.Int32)
    return [
        Test(
            Reason.DUPLICATE,
            earlier.is_not_null(),
            said("every cell equals line ", earlier, ", with its set number or start time."),
        )
    ]


def _with_carried(records: pl.DataFrame, entries: pl.DataFrame, mapping: Mapping) -> pl.DataFrame:
    """The records with what their empty cells repeat."""
    if not mapping.carried:
        return records
    told = entries.select(
        pl.col("line").alias("source_line"),
        *(text_of(name) for name in mapping.carried),
    ).unique("source_line", keep="first")
    return records.join(told, on="source_line", how="left", maintain_order="left")


def with_day_order(entries: pl.DataFrame, faults: Faults) -> pl.DataFrame:
    """Adds `day_order`, after the extensions without a set before them are set aside."""
    while True:
        ordered = _ordered_in_day(entries)
        kept = _with_sets_before(ordered, faults)
        if kept.height == ordered.height:
            return ordered
        entries = kept.drop("day_order", "day_key")


def _with_sets_before(ordered: pl.DataFrame, faults: Faults) -> pl.DataFrame:
    """Entries without the lines of extensions that no work set of the exercise goes before."""
    is_extension = pl.col("set_kind") == "extension"
    days = ordered.filter(is_extension).select("day_key").unique()
    if not days.height:
        return ordered
    is_work = pl.col("set_kind").fill_null("work") == "work"
    lift = text_of("exercise").str.to_lowercase()
    before = is_work.cast(pl.Int32).cum_sum().over("day_key", lift)
    near = (
        ordered.join(days, on="day_key", how="semi")
        .sort("day_key", "day_order")
        .with_columns(before.alias("before"))
    )
    kept = faults.sift(
        near,
        [
            Test(
                Reason.EXTENSION_WITHOUT_SET,
                is_extension & (pl.col("before") == 0),
                said(
                    "an extension of '",
                    text_of("exercise"),
                    "' without a work set of it before on that day.",
                ),
            )
        ],
    )
    lost = near.select("line").join(kept.select("line"), on="line", how="anti")
    return ordered.join(lost, on="line", how="anti", maintain_order="left")


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
