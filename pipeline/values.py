"""Single values as exports write them: numbers, units, words, days and clock times.

Each function reads one distinct text; `normalise` calls it once per distinct text of a column.
None means: it cannot be read, and the line is set aside with the reason.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Literal

from pipeline.units import Unit

Decimal = Literal[".", ","]

UNIT_WORDS: dict[str, Unit] = {
    **dict.fromkeys(("kg", "kgs", "kilo", "kilos", "kilogram", "kilograms"), "kg"),
    **dict.fromkeys(("lb", "lbs", "pound", "pounds"), "lb"),
}
KIND_WORDS = {
    **dict.fromkeys(("work", "working", "work set", "working set", "normal"), "work"),
    **dict.fromkeys(("warmup", "warm up", "warm-up", "wu", "w", "warmup set"), "warmup"),
    **dict.fromkeys(
        ("extension", "drop", "drop set", "dropset", "drop-set", "rest-pause", "rest pause",
         "partials", "d"),
        "extension",
    ),
}  # fmt: skip
SIDE_WORDS: dict[str, str | None] = {
    **dict.fromkeys(("left", "l"), "left"),
    **dict.fromkeys(("right", "r"), "right"),
    "both": None,
}
BASIS_WORDS = {
    "total": "total",
    **dict.fromkeys(("per_hand", "per hand", "per-hand"), "per_hand"),
    **dict.fromkeys(("added", "weighted"), "added"),
    **dict.fromkeys(("assisted", "assistance"), "assisted"),
    **dict.fromkeys(("none", "no load"), "none"),
}
TRUTH_WORDS = {
    **dict.fromkeys(("true", "t", "yes", "y", "1", "x", "✓", "✔", "ja", "oui", "si", "sí",
                     "sì", "sim"), True),
    **dict.fromkeys(("false", "f", "no", "n", "0", "nein", "non", "não", "nao", "-"), False),
}  # fmt: skip


def word(text: str) -> str:
    """A word as the tables above list it."""
    return " ".join(text.casefold().replace("_", " ").split())


@dataclass(frozen=True)
class Number:
    """A number with what the cell says beside it."""

    value: float | None
    """None: the cell says bodyweight, which is no load."""
    unit: Unit | None = None
    is_added: bool = False
    """A leading "+", or "BW+": a load added to bodyweight."""


_NUMBER = re.compile(
    r"(?P<bw>bw|bodyweight|body weight)? ?(?P<sign>[+-])? ?"
    r"(?P<digits>[0-9][0-9.,' ’]*|[.,][0-9]+)? ?(?P<unit>[a-z]+)?\.?"
)


def read_number(
    text: str, decimal: Decimal, is_given: bool = False, thousands: str | None = None
) -> Number | None:
    """A number with an optional sign and unit; `is_given`: the mapping names the decimal mark."""
    shown = " ".join(text.casefold().replace("−", "-").split())
    match = _NUMBER.fullmatch(shown)
    if not match or len(shown) > 60:
        return None
    unit = UNIT_WORDS.get(match["unit"]) if match["unit"] else None
    if match["unit"] and unit is None:
        return None
    if not match["digits"]:
        return Number(None) if match["bw"] and not match["sign"] and not unit else None
    if match["bw"] and not match["sign"]:
        return None
    value = _digits(match["digits"].strip(), decimal, is_given, thousands)
    if value is None:
        return None
    return Number(-value if match["sign"] == "-" else value, unit, match["sign"] == "+")


def _digits(digits: str, decimal: Decimal, is_given: bool, thousands: str | None) -> float | None:
    if thousands:
        whole = digits.split(decimal)[0]
        if thousands in whole and not _is_grouped(whole, thousands):
            return None
        digits = digits.replace(thousands, "")
    else:
        for mark in ("'", "’", " "):
            whole = re.split(r"[.,]", digits)[0]
            if mark in whole and _is_grouped(whole, mark):
                digits = digits.replace(mark, "")
    other = "," if decimal == "." else "."
    if digits.count(decimal) and digits.count(other):
        last = max(decimal, other, key=digits.rfind)
        if last != decimal and is_given:
            return None
        return _grouped_value(digits, last, other if last == decimal else decimal)
    if digits.count(other):
        if _is_grouped(digits, other):
            return float(digits.replace(other, ""))
        return None if is_given else _plain_value(digits, other)
    if digits.count(decimal) > 1:
        return float(digits.replace(decimal, "")) if _is_grouped(digits, decimal) else None
    return _plain_value(digits, decimal)


def _grouped_value(digits: str, decimal: str, grouping: str) -> float | None:
    whole, _, rest = digits.rpartition(decimal)
    if not _is_grouped(whole, grouping):
        return None
    return _plain_value(f"{whole.replace(grouping, '')}{decimal}{rest}", decimal)


def _is_grouped(digits: str, mark: str) -> bool:
    escaped = re.escape(mark)
    return re.fullmatch(rf"[1-9][0-9]{{0,2}}(?:{escaped}[0-9]{{3}})+", digits) is not None


def _plain_value(digits: str, decimal: str) -> float | None:
    if not re.fullmatch(rf"[0-9]*(?:{re.escape(decimal)}[0-9]*)?", digits) or digits == decimal:
        return None
    return float(digits.replace(decimal, "."))


def detect_decimal(texts: Iterable[str], load_max: float) -> Decimal:
    """The decimal mark of a file, from the distinct texts of its number columns.

    A comma or point before one or two digits, or more than three, is a decimal mark; so is the
    later of two kinds. Where only numbers such as 1,250 are found, the comma groups thousands,
    unless that would put one of them above `load_max`.
    """
    commas = points = 0
    grouped: list[float] = []
    for text in texts:
        match = re.search(r"[0-9][0-9.,]*", text)
        digits = match[0].rstrip(".,") if match else ""
        comma, point = digits.rfind(","), digits.rfind(".")
        if comma >= 0 and point >= 0:
            commas += comma > point
            points += point > comma
        elif comma >= 0 and _is_grouped(digits, ","):
            grouped.append(float(digits.replace(",", "")))
        elif comma >= 0:
            commas += digits.count(",") == 1
        elif point >= 0 and not _is_grouped(digits, "."):
            points += digits.count(".") == 1
    if commas or points:
        return "," if commas > points else "."
    return "," if any(value > load_max for value in grouped) else "."


# Days and times

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
        if pattern in ("epoch", "epoch_ms"):
            seconds = float(text) / (1000 if pattern == "epoch_ms" else 1)
            found = datetime.fromtimestamp(seconds, UTC).replace(tzinfo=None, microsecond=0)
            return Moment(found.date(), found)
        found = datetime.strptime(text, pattern).replace(tzinfo=None)
    except (ValueError, OverflowError, OSError):
        return None
    return Moment(found.date(), found if has_clock(pattern) else None)


def expanded(pattern: str) -> str:
    """A pattern with its short forms written out, which strptime does not know."""
    for short, full in _SHORT_FORMS.items():
        pattern = pattern.replace(short, full)
    return pattern


_SHORT_FORMS = {"%F": "%Y-%m-%d", "%T": "%H:%M:%S", "%R": "%H:%M", "%D": "%m/%d/%y"}


def has_clock(pattern: str) -> bool:
    """Whether a pattern carries a clock time."""
    return any(mark in pattern for mark in ("%H", "%I", "%X", "%c", "epoch"))


def names_a_day(pattern: str) -> bool:
    """Whether a pattern tells year, month and day, so that it gives back the day it writes."""
    if pattern in ("epoch", "epoch_ms"):
        return True
    if not any(mark in pattern for mark in ("%Y", "%y", "%G", "%c", "%x")):
        return False
    trial = datetime(2026, 11, 23, 18, 5, 30)
    try:
        written = trial.strftime(pattern)
        return bool(datetime.strptime(written, pattern).date() == trial.date())
    except ValueError:
        return False
