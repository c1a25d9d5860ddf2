"""Days and clock times as exports write them: ISO 8601, a strptime pattern, or epoch numbers.

A zone is read past: a moment belongs to the calendar day as written.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import polars as pl

from pipeline.errors import ConfigError, OpenKeyError
from pipeline.reading.fields import by_distinct, is_given, text_of
from pipeline.reading.month_names import in_english
from pipeline.reading.records import RawExport, shortened
from pipeline.settings.mapping import Mapping

ORDER_FREE = re.compile(r"([0-9]{1,2})([./-])([0-9]{1,2})\2([0-9]{4}|[0-9]{2})(?:[ ,T].*)?")
"""A day whose order (day first or month first) the text does not tell."""


_WEEK_DAY = re.compile(r"([0-9]{4})-?W([0-9]{2})-?([1-7])")


_ORDINAL = re.compile(r"([0-9]{4})-([0-9]{3})")


_YEAR_FIRST = re.compile(r"([0-9]{4})[/.]([0-9]{1,2})[/.]([0-9]{1,2})(?:[ T](.+))?")


_BASIC = re.compile(r"([0-9]{4})([0-9]{2})([0-9]{2})(?:T(.+))?")


_EXTENDED = re.compile(r"([0-9]{4})-([0-9]{1,2})-([0-9]{1,2})(?:[ T](.+))?")


_CLOCK = re.compile(
    r"([0-9]{1,2})(?:[:.h]([0-9]{2})(?:[:.m]([0-9]{2})(?:[.,][0-9]+)?s?)?)? ?(am|pm|a\.m\.|p\.m\.)?"
)


_BASIC_CLOCK = re.compile(r"([0-9]{2})([0-9]{2})([0-9]{2})?(?:[.,][0-9]+)?")


_ZONE = re.compile(r" ?(?:z|utc|gmt|[+-][0-9]{2}:?(?:[0-9]{2})?)$")


@dataclass(frozen=True)
class Moment:
    """A calendar day, and the clock time if the text has one; both as written."""

    day: date
    at: datetime | None = None


def read_moment(text: str) -> Moment | None:
    """ISO 8601 without a format: calendar, week or ordinal date, with or without a time.

    A zone is read past: day and clock time are those written.
    """
    week = _WEEK_DAY.fullmatch(text)
    ordinal = _ORDINAL.fullmatch(text)
    try:
        if week:
            return Moment(date.fromisocalendar(int(week[1]), int(week[2]), int(week[3])))
        if ordinal:
            day = date(int(ordinal[1]), 1, 1) + timedelta(days=int(ordinal[2]) - 1)
            return Moment(day) if day.year == int(ordinal[1]) else None
        for shape in (_EXTENDED, _BASIC, _YEAR_FIRST):
            match = shape.fullmatch(text)
            if match:
                return _moment(date(int(match[1]), int(match[2]), int(match[3])), match[4])
    except ValueError:
        return None
    return None


def _moment(day: date, clock: str | None) -> Moment | None:
    if clock is None:
        return Moment(day)
    at = read_clock(_ZONE.sub("", clock.casefold()))
    return None if at is None else Moment(day, datetime.combine(day, at))


def read_clock(text: str) -> time | None:
    """A clock time such as 18:05, 18:05:30, 6:05 pm or 1805; fractions of a second are cut."""
    shown = text.strip().casefold()
    match = _CLOCK.fullmatch(shown)
    if not match or (match[2] is None and match[4] is None):
        match = _BASIC_CLOCK.fullmatch(shown)
        if not match:
            return None
        hour, half = int(match[1]), None
    else:
        hour, half = int(match[1]), match[4]
    if half:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if half.startswith("p") else 0)
    try:
        return time(hour, int(match[2] or 0), int(match[3] or 0))
    except ValueError:
        return None


def read_by_format(text: str, pattern: str) -> Moment | None:
    """A day or moment by a strptime pattern, "epoch" (seconds) or "epoch_ms"; those in UTC."""
    try:
        if pattern == SERIAL:
            return _by_serial(float(text.replace(",", ".")))
        if pattern in ("epoch", "epoch_ms"):
            seconds = float(text) / (1000 if pattern == "epoch_ms" else 1)
            found = datetime.fromtimestamp(seconds, UTC).replace(tzinfo=None, microsecond=0)
            return Moment(found.date(), found)
        found = _by_pattern(text, pattern)
    except (ValueError, OverflowError, OSError):
        return None
    return Moment(found.date(), found if has_clock(pattern) else None)


def _by_serial(number: float) -> Moment | None:
    """The moment of a day number as spreadsheets count: 1 is the first day of 1900.

    They take 1900 for a leap year, so that from March of it on the count starts two days earlier.
    """
    if not _SERIAL_FIRST <= number < _SERIAL_LAST:
        return None
    day, part = divmod(round(number * 86_400), 86_400)
    found = datetime(1899, 12, 30) + timedelta(days=day, seconds=part)
    return Moment(found.date(), found if part else None)


def _by_pattern(text: str, pattern: str) -> datetime:
    """The moment by a strptime pattern; names of days and months in seven languages.

    A zone is read past. Raises ValueError.
    """
    try:
        return datetime.strptime(text, pattern).replace(tzinfo=None)
    except ValueError:
        if not {"%a", "%A", "%b", "%B"} & {pattern[at : at + 2] for at in range(len(pattern))}:
            raise
        return datetime.strptime(in_english(text, pattern), pattern).replace(tzinfo=None)


def expanded(pattern: str) -> str:
    """A pattern with its short forms written out, which strptime does not know."""
    for short, full in _SHORT_FORMS.items():
        pattern = pattern.replace(short, full)
    return pattern


SERIAL = "serial"
"""Date format of the day numbers of spreadsheets."""

_SERIAL_FIRST, _SERIAL_LAST = 61, 200_000

_SHORT_FORMS = {"%F": "%Y-%m-%d", "%T": "%H:%M:%S", "%R": "%H:%M", "%D": "%m/%d/%y"}


def has_clock(pattern: str) -> bool:
    """Whether a pattern carries a clock time."""
    return any(mark in pattern for mark in ("%H", "%I", "%X", "%c", "epoch"))


def names_a_day(pattern: str) -> bool:
    """Whether a pattern tells year, month and day, so that it gives back the day it writes."""
    if pattern in ("epoch", "epoch_ms", SERIAL):
        return True
    if not any(mark in pattern for mark in ("%Y", "%y", "%G", "%c", "%x")):
        return False
    trial = datetime(2026, 11, 23, 18, 5, 30, tzinfo=UTC)
    try:
        written = trial.strftime(pattern)
        return bool(datetime.strptime(written, pattern).date() == trial.date())
    except ValueError:
        return False


def with_days(lines: pl.DataFrame, mapping: Mapping, export: RawExport) -> pl.DataFrame:
    """Adds `performed_on` and `moment`, the clock time that the day's cell carries."""
    texts = lines["t_performed_on"]
    if mapping.year is not None:
        read = _moments_without_year(lines, mapping)
    elif mapping.date_format is None:
        read = _iso_moments(texts)
        read = _with_order_free_days(texts, read, mapping, export)
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


LEAP_YEAR = 2000
"""The year in which days without one are read first, so that 29 February is a day."""


def with_years(days: Sequence[date | None], year: int) -> list[date | None]:
    """Days of one year moved to theirs: the first is of `year`.

    A step of more than half a year back begins the next year (from December to January), one of
    more than half a year on the year before (a file with the newest day first).
    """
    told: list[date | None] = []
    before: date | None = None
    for each in days:
        if each is None:
            told.append(None)
            continue
        step = (each - before).days if before else 0
        year += (step < -_HALF_YEAR) - (step > _HALF_YEAR)
        before = each
        try:
            told.append(each.replace(year=year))
        except ValueError:
            told.append(None)
    return told


_HALF_YEAR = 183


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


def _with_order_free_days(
    texts: pl.Series, read: pl.DataFrame, mapping: Mapping, export: RawExport
) -> pl.DataFrame:
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
    column = mapping.columns.get("performed_on", "performed_on")
    if len(orders) != 1:
        trouble = (
            "reads as day/month and as month/day"
            if orders
            else "is written with the day first in some lines and the month first in others"
        )
        raise OpenKeyError(
            f"{mapping.path}: [formats] date is open: column '{column}' of {export.shown} "
            f"{trouble} (such as '{shortened(distinct[0])}'); write date = \"%d/%m/%Y\" or "
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


def with_starts(lines: pl.DataFrame, mapping: Mapping) -> pl.DataFrame:
    """Adds `started_at`: from its own field, else from the day's cell; and `start_read`."""
    if not is_given(mapping, "started_at"):
        return lines.with_columns(
            pl.col("moment").alias("started_at"), pl.lit(True).alias("start_read")
        )
    texts = lines["t_started_at"]
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
