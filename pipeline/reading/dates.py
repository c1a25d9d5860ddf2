"""Days and clock times as exports write them: ISO 8601, a strptime pattern, or epoch numbers.

A zone is read past: a moment belongs to the calendar day as written.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

from pipeline.reading.month_names import in_english

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
