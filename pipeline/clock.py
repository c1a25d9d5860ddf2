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
    return first.replace(day=monthrange(first.year, first.month)[1])
