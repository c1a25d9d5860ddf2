"""Entries beside each other: the order of a day, duplicate lines, extensions of nothing."""

from __future__ import annotations

import polars as pl

from pipeline.fields import said, text_of
from pipeline.judging import Faults, Test
from pipeline.reading import RawExport
from pipeline.reasons import Reason


def duplicates(entries: pl.DataFrame, export: RawExport) -> list[Test]:
    """Lines equal in every cell to an earlier one, if they carry a set number or a start time.

    A clock time in the day's own cell counts only if no unequal line of the client has the same:
    else it is when the session began, and alike sets are sets.
    """
    numbered = pl.col("set_no").is_not_null()
    own_start = text_of("started_at").is_not_null()
    moment = pl.col("moment").is_not_null()
    if not entries.select((numbered | own_start | moment).any()).item():
        return []
    cells = [name for name in export.records.columns if name != "source_line"]
    hashes = export.records.select(
        pl.col("source_line").alias("line"),
        export.records.select(cells).hash_rows().alias("hash"),
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
        export.records.filter(pl.col("source_line").is_in(alike.implode()))
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


def with_day_order(entries: pl.DataFrame, faults: Faults) -> pl.DataFrame:
    """Adds `day_order`, after the extensions without a set before them are set aside."""
    while True:
        ordered = _ordered_in_day(entries)
        if not (ordered["set_kind"] == "extension").any():
            return ordered
        in_order = ordered.sort("day_key", "day_order")
        is_work = pl.col("set_kind").fill_null("work") == "work"
        lift = text_of("exercise").str.to_lowercase()
        before = is_work.cast(pl.Int32).cum_sum().over("day_key", lift)
        marked = in_order.with_columns(before.alias("before"))
        kept = faults.sift(
            marked,
            [
                Test(
                    Reason.EXTENSION_WITHOUT_SET,
                    (pl.col("set_kind") == "extension") & (pl.col("before") == 0),
                    said(
                        "an extension of '",
                        text_of("exercise"),
                        "' without a work set of it before on that day.",
                    ),
                )
            ],
        )
        if kept.height == marked.height:
            return ordered
        entries = kept.drop("before", "day_order", "day_key").sort("line", "n")


def _ordered_in_day(entries: pl.DataFrame) -> pl.DataFrame:
    """Adds `day_key` (client and day as a number) and `day_order`; rows stay in file order.

    Order: start time, then file order. A client's lines count as written last to first if that
    client's set numbers mostly descend from line to line within a day's exercise; without set
    numbers, if the days mostly descend. A set without start time goes with the line before it.
    """
    codes = entries["client_id"].unique(maintain_order=True)
    code = entries["client_id"].replace_strict(
        codes, pl.Series(range(codes.len()), dtype=pl.Int64), return_dtype=pl.Int64
    ) if entries.height else pl.Series([], dtype=pl.Int64)  # fmt: skip
    entries = entries.with_columns(
        (code * 1_000_000 + entries["performed_on"].cast(pl.Int32)).alias("day_key")
    )
    backwards = entries.select(_runs_backwards(entries)).to_series()
    has_starts = entries["started_at"].null_count() < entries.height
    if not has_starts and not backwards.any():
        order = pl.col("day_key").cum_count().over("day_key")
        return entries.with_columns(order.cast(pl.Int32).alias("day_order"))
    at = pl.when(backwards).then(-pl.col("line")).otherwise("line")
    placed = entries.with_row_index("row").with_columns(at.alias("at")).sort("day_key", "at", "n")
    placed = placed.with_columns(pl.col("started_at").forward_fill().over("day_key").alias("start"))
    placed = placed.sort("day_key", "start", "at", "n", nulls_last=False)
    placed = placed.with_columns(
        pl.col("day_key").cum_count().over("day_key").cast(pl.Int32).alias("day_order")
    )
    return placed.sort("row").drop("row", "at", "start")


def _runs_backwards(entries: pl.DataFrame) -> pl.Expr:
    """Whether the row's client wrote the last set first."""
    step = pl.col("performed_on").cast(pl.Int32).diff().sign().over("client_id")
    by_days = step.sum().over("client_id") < 0
    if entries["set_no"].null_count() == entries.height:
        return by_days
    number = pl.col("set_no").diff().sign().over("day_key", text_of("exercise"))
    ups = number.sum().over("client_id")
    return pl.when(ups != 0).then(ups < 0).otherwise(by_days)
