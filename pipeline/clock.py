"""Today and the as-of day: the only module that asks a clock."""

from __future__ import annotations

import os
from calendar import monthrange
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from pipeline.errors import UsageError


def now() -> datetime:
    """This moment in UTC, to the second; SOURCE_DATE_EPOCH overrules it (reproducible builds)."""
    fixed = os.environ.get("SOURCE_DATE_EPOCH")
    if fixed:
        return datetime.fromtimestamp(int(fixed), UTC)
    return datetime.now(UTC).replace(microsecond=0)


def today(timezone: str | None) -> date:
    """The calendar day in the workspace's time zone (the machine's if it names none)."""
    return now().astimezone(ZoneInfo(timezone) if timezone else None).date()


def last_day() -> date:
    """Tomorrow, where on earth it is latest: no as-of day lies beyond it."""
    return (now() + _EARLIEST_ZONE).date() + timedelta(days=1)


_EARLIEST_ZONE = timedelta(hours=14)
_FIRST_YEAR = 1950
"""Logs do not reach behind it; an earlier day is set aside."""


def why_no_as_of(day: date) -> str | None:
    """Why a day can be no as-of day; None: it can."""
    if day > last_day():
        return "lies after tomorrow"
    return "lies before 1950" if day.year < _FIRST_YEAR else None


def as_of(text: str, key: str) -> date:
    """An as-of day that a command names. Raises UsageError for one that cannot be."""
    day = parse_day(text, key)
    if why := why_no_as_of(day):
        raise UsageError(f"{key}: {day} {why}; name a day that has come.")
    return day


def parse_day(text: str, key: str) -> date:
    """A day written YYYY-MM-DD; `key` names where it stands, for the message."""
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise UsageError(f"{key}: '{text}' is not a day; write it as YYYY-MM-DD.") from error


def month_that_ended(day: date) -> date:
    """The last day of the month before that of `day`."""
    return day.replace(day=1) - timedelta(days=1)


def month_end(month: str) -> date:
    """The last day of a month written YYYY-MM."""
    first = parse_day(f"{month}-01", "--month")
    if why := why_no_as_of(first):
        raise UsageError(f"--month: {month} {why}; name a month that has begun.")
    return first.replace(day=monthrange(first.year, first.month)[1])
