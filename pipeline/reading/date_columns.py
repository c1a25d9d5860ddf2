"""Columns of days and clock times: most texts at once, the others once per distinct one."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Callable
from datetime import date, datetime
from typing import Any

import polars as pl

from pipeline.errors import ConfigError, OpenKeyError
from pipeline.reading.cells import by_distinct, shortened, text_of
from pipeline.reading.context import Context
from pipeline.reading.dates import (
    LEAP_YEAR,
    SERIAL,
    Moment,
    expanded,
    has_clock,
    names_a_day,
    read_by_format,
    read_clock,
    read_moment,
    with_years,
)
from pipeline.settings.mapping import Mapping

ORDER_FREE = re.compile(r"([0-9]{1,2})([./-])([0-9]{1,2})\2([0-9]{4}|[0-9]{2})(?:[ ,T].*)?")
"""A day whose order (day first or month first) the text does not tell."""


def with_days(lines: pl.DataFrame, context: Context) -> pl.DataFrame:
    """Adds `performed_on` and `moment`, the clock time that the day's cell carries."""
    texts, mapping = lines["t_performed_on"], context.mapping
    if mapping.year is not None:
        read = _moments_without_year(lines, mapping)
    elif mapping.date_format is None:
        read = _with_order_free_days(texts, _iso_moments(texts), context)
    else:
        read = _formatted_moments(texts, mapping.date_format, mapping, "date")
    return lines.hstack(read)


def _moments_without_year(lines: pl.DataFrame, mapping: Mapping) -> pl.DataFrame:
    """Columns performed_on and moment of days that are written without their year."""
    pattern = expanded(mapping.date_format or "")
    if not names_a_day(f"{pattern} %Y"):
        raise ConfigError(
            f"{mapping.path}: [formats] date = {mapping.date_format!r} does not tell month and "
            'day; write a strptime pattern such as "%d.%m.".'
        )
    texts = lines["t_performed_on"]
    read = {
        text: read_by_format(f"{text} {LEAP_YEAR}", f"{pattern} %Y")
        for text in texts.drop_nulls().unique()
    }
    found = [read.get(text) if text is not None else None for text in texts.to_list()]
    days: list[date | None] = [None] * len(found)
    rows = defaultdict(list)
    for at, client in enumerate(lines["client_id"].to_list()):
        rows[client].append(at)
    for places in rows.values():
        dated = with_years([each.day if (each := found[at]) else None for at in places],
                           mapping.year or 0)  # fmt: skip
        for at, day in zip(places, dated, strict=True):
            days[at] = day
    moments = [
        datetime.combine(day, each.at.time()) if day and each and each.at else None
        for day, each in zip(days, found, strict=True)
    ]
    return pl.DataFrame(
        {
            "performed_on": pl.Series(days, dtype=pl.Date),
            "moment": pl.Series(moments, dtype=pl.Datetime("us")),
        }
    )


def _iso_moments(texts: pl.Series) -> pl.DataFrame:
    """Columns performed_on and moment of ISO 8601 texts; null where they are none."""
    text = pl.col("text")
    head = text.str.slice(0, 10).str.to_date("%Y-%m-%d", strict=False)
    clock = text.str.slice(10)
    has_moment = clock.str.contains(
        r"^[Tt ][0-2][0-9]:[0-5][0-9](?::[0-5][0-9](?:[.,][0-9]+)?)?"
        r"(?: ?(?:[Zz]|[+-][0-9]{2}:?(?:[0-9]{2})?))?$"
    )
    seconds = clock.str.extract(r"^.[0-9]{2}:[0-9]{2}:([0-9]{2})").fill_null("00")
    moment = pl.concat_str(text.str.slice(0, 10), pl.lit("T"), clock.str.slice(1, 5), pl.lit(":"),
                           seconds).str.to_datetime("%Y-%m-%dT%H:%M:%S", strict=False,
                                                    time_unit="us")  # fmt: skip
    is_dated = text.str.contains(r"^[0-9]{4}-[0-9]{2}-[0-9]{2}")
    frame = texts.alias("text").to_frame()
    plain = frame.select(
        pl.when(is_dated & (clock == "")).then(head).alias("performed_on"),
        pl.lit(None, dtype=pl.Datetime("us")).alias("moment"),
    )
    if plain["performed_on"].null_count() > texts.null_count():
        moments = frame.select(pl.when(is_dated & has_moment).then(moment)).to_series()
        plain = plain.with_columns(
            pl.col("performed_on").fill_null(moments.dt.date()), moments.alias("moment")
        )
    return _with_distinct_moments(texts, plain, read_moment)


def _with_distinct_moments(
    texts: pl.Series, read: pl.DataFrame, reader: Callable[[str], Moment | None]
) -> pl.DataFrame:
    """`read` with what is still null read text by text."""
    missing = read["performed_on"].is_null() & texts.is_not_null()
    left = texts.filter(missing).unique()
    if not left.len():
        return read
    found = {text: moment for text in left.to_list() if (moment := reader(text)) is not None}
    open_texts = texts.set(~missing, None)
    days = by_distinct(
        open_texts, lambda text: found[text].day if text in found else None, pl.Date()
    )
    moments = by_distinct(
        open_texts, lambda text: found[text].at if text in found else None, pl.Datetime("us")
    )
    return read.with_columns(
        pl.col("performed_on").fill_null(days), pl.col("moment").fill_null(moments)
    )


def _with_order_free_days(texts: pl.Series, read: pl.DataFrame, context: Context) -> pl.DataFrame:
    """Days such as 31.08.2026 without a format: read if only one order of day and month fits all.

    A few of them among ISO days are slips, and stay unread.
    """
    missing = read["performed_on"].is_null() & texts.is_not_null()
    left = texts.filter(missing)
    shaped = left.filter(
        left.str.contains(f"^(?:{ORDER_FREE.pattern.replace(chr(92) + '2', '[./-]')})$")
    )
    filled = texts.len() - texts.null_count()
    if not shaped.len() or 2 * shaped.len() < filled:
        return read
    distinct = sorted(shaped.unique().to_list())
    orders = [
        order for order in (True, False) if all(_order_fits(text, order) for text in distinct)
    ]
    if len(orders) != 1:
        trouble = (
            "reads as day/month and as month/day"
            if orders
            else "is written with the day first in some lines and the month first in others"
        )
        raise OpenKeyError(
            f"{context.mapping.path}: [formats] date is open: column "
            f"{context.shown('performed_on')} of {context.export.shown} {trouble} (such as "
            f"'{shortened(distinct[0])}'); write date = \"%d/%m/%Y\" or "
            '"%m/%d/%Y" under [formats], with the marks that the export has.'
        )
    day_first = orders[0]
    return _with_distinct_moments(texts, read, lambda text: _ordered(text, day_first))


def _order_fits(text: str, day_first: bool) -> bool:
    match = ORDER_FREE.fullmatch(text)
    return match is not None and int(match[3] if day_first else match[1]) <= 12


def _ordered(text: str, day_first: bool) -> Moment | None:
    match = ORDER_FREE.fullmatch(text)
    if match is None:
        return None
    day, month = (match[1], match[3]) if day_first else (match[3], match[1])
    year = match[4] if len(match[4]) == 4 else f"20{match[4]}"
    rest = text[match.end(4) :].lstrip(", ")
    return read_moment(f"{year}-{month}-{day}" + (f" {rest.lstrip('T')}" if rest else ""))


def _formatted_moments(texts: pl.Series, given: str, mapping: Mapping, key: str) -> pl.DataFrame:
    """Columns performed_on and moment of texts in a strptime pattern, or epoch numbers."""
    pattern = expanded(given)
    if not names_a_day(pattern):
        yearless = key == "date" and names_a_day(f"{pattern} %Y")
        raise ConfigError(
            f"{mapping.path}: [formats] {key} = {given!r} does not tell year, month and day; "
            + (
                "write the year of its first line beside it, such as year = 2026."
                if yearless
                else 'write a strptime pattern such as "%d.%m.%Y", or "epoch".'
            )
        )
    none = pl.lit(None, dtype=pl.Datetime("us")).alias("moment")
    frame = texts.alias("text").to_frame()
    empty = frame.select(pl.lit(None, dtype=pl.Date).alias("performed_on"), none)
    if frame.height and empty.height == 1:
        empty = empty.select(pl.all().repeat_by(frame.height).list.explode())
    read = empty
    text = pl.col("text")
    if pattern in ("epoch", "epoch_ms"):
        per_second = 1000 if pattern == "epoch_ms" else 1
        number = pl.when(text.str.contains(r"^-?[0-9]{1,14}$")).then(text)
        micros = number.cast(pl.Int64, strict=False) // per_second * 1_000_000
        moment = micros.cast(pl.Datetime("us"))
        read = frame.select(moment.dt.date().alias("performed_on"), moment.alias("moment"))
    elif pattern != SERIAL and not {"%z", "%Z", "%y"} & {
        pattern[at : at + 2] for at in range(len(pattern))
    }:
        try:
            if has_clock(pattern):
                moment = text.str.to_datetime(pattern, strict=False, time_unit="us")
                read = frame.select(
                    moment.dt.date().alias("performed_on"),
                    moment.dt.truncate("1s").alias("moment"),
                )
            else:
                days = text.str.to_date(pattern, strict=False)
                read = frame.select(days.alias("performed_on"), none)
        except pl.exceptions.PolarsError:
            read = empty
    return _with_distinct_moments(texts, read, lambda each: read_by_format(each, pattern))


def with_starts(lines: pl.DataFrame, context: Context) -> pl.DataFrame:
    """Adds `started_at`: from its own field, else from the day's cell; and `start_read`."""
    if not context.gives("started_at"):
        return lines.with_columns(
            pl.col("moment").alias("started_at"), pl.lit(True).alias("start_read")
        )
    texts = lines["t_started_at"]
    mapping = context.mapping
    pattern = mapping.started_at_format
    clock_only = pattern is not None and not names_a_day(expanded(pattern))
    if pattern is not None and not clock_only:
        whole = _formatted_moments(texts, pattern, mapping, "started_at")["moment"]
        clocks = pl.Series([None], dtype=pl.Time).new_from_index(0, texts.len())
    elif clock_only:
        written = expanded(pattern or "")
        whole = pl.Series([None], dtype=pl.Datetime("us")).new_from_index(0, texts.len())

        def by_format(text: str) -> Any:
            found = read_by_format(f"2026-11-23 {text}", f"%Y-%m-%d {written}")
            return found.at.time() if found and found.at else None

        clocks = by_distinct(texts, by_format, pl.Time())
    else:
        short = texts.str.len_chars() <= 14
        clocks = by_distinct(texts.set(~short.fill_null(True), None), read_clock, pl.Time())
        whole = _iso_moments(texts.set(clocks.is_not_null(), None))["moment"]
    return lines.with_columns(whole.alias("whole"), clocks.alias("clock")).with_columns(
        pl.coalesce("whole", pl.col("performed_on").dt.combine(pl.col("clock"), "us")).alias(
            "started_at"
        ),
        (
            text_of("started_at").is_null()
            | pl.col("whole").is_not_null()
            | pl.col("clock").is_not_null()
        ).alias("start_read"),
    )
