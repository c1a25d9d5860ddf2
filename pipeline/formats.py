"""Numbers, days, lists and names as every page, mail and terminal line writes them.

One meaning each, singular and plural right, units named. Nothing here computes a figure.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date, timedelta

from pipeline.units import Unit, from_kg

NOTHING = "–"
"""What a cell without a figure shows."""


MINUS = "−"


MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "June", "July", "Aug", "Sept", "Oct", "Nov", "Dec")


WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


SMALL = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten",
         "eleven", "twelve")  # fmt: skip


def number(value: float | None, digits: int = 1) -> str:
    """A number with a true minus sign and thousands apart; nothing for null."""
    if value is None:
        return NOTHING
    text = f"{value:,.{digits}f}".replace(",", "\u202f")
    if text.strip("-0.\u202f") == "":
        text = text.lstrip("-")
    return text.replace("-", MINUS)


def short(value: float | None, digits: int = 1) -> str:
    """A number inside a sentence: no zeros after the point."""
    text = number(value, digits)
    return text.rstrip("0").rstrip(".") if "." in text else text


def signed(value: float | None, digits: int = 1) -> str:
    """A difference, with its sign; zero carries none."""
    text = number(value, digits)
    is_plus = value is not None and not text.startswith(MINUS) and text.strip("0.") != ""
    return f"+{text}" if is_plus else text


def percent(share: float | None, digits: int = 0) -> str:
    """A share of 1 as per cent; what is not all and not nothing is never shown as such."""
    if share is None:
        return NOTHING
    text = number(share * 100, digits)
    least = 10.0**-digits
    if share > 0 and float(text.replace("\u202f", "").replace(MINUS, "-")) == 0:
        return f"<{least:g}%"
    if share < 1 and text == number(100.0, digits):
        return f">{number(100 - least, digits)}%"
    return f"{text}%"


def count(amount: float, one: str, many: str = "") -> str:
    """An amount with its noun: 1 set, 2 sets, 2.5 sets."""
    noun = one if amount == 1 else many or f"{one}s"
    return f"{short(float(amount))} {noun}"


def counted(amount: int, one: str, many: str = "") -> str:
    """An amount in words up to twelve, with its noun: two lifts."""
    noun = one if amount == 1 else many or f"{one}s"
    return f"{SMALL[amount] if amount < len(SMALL) else amount} {noun}"


def load(load_kg: float | None, units: Unit, digits: int = 1) -> str:
    """A load in the client's unit, without its name: for columns that name it."""
    return number(None if load_kg is None else from_kg(load_kg, units), digits)


def load_with_unit(load_kg: float | None, units: Unit) -> str:
    """A load in the client's unit, with its name: for sentences."""
    return NOTHING if load_kg is None else f"{short(from_kg(load_kg, units))} {units}"


def day(value: date | None) -> str:
    """30 Aug 2026."""
    return NOTHING if value is None else f"{value.day} {MONTHS[value.month - 1]} {value.year}"


def day_short(value: date) -> str:
    """30 Aug."""
    return f"{value.day} {MONTHS[value.month - 1]}"


def day_near(value: date, today: date) -> str:
    """A day without its year, where that is plain: 30 Aug; else 30 Aug 2024."""
    return day_short(value) if timedelta(0) <= today - value < timedelta(300) else day(value)


def weekday(value: date) -> str:
    """Sunday."""
    return WEEKDAYS[value.weekday()]


def listing(items: Sequence[str], last: str = "and") -> str:
    """a, b and c."""
    if len(items) < 2:
        return "".join(items)
    return f"{', '.join(items[:-1])} {last} {items[-1]}"


def sentence(text: str) -> str:
    """With a capital first letter and a full stop."""
    return capital(text) + ("" if text.endswith((".", "?", "!")) else ".")


def capital(text: str) -> str:
    """With a capital first letter."""
    return text[:1].upper() + text[1:]


_PROPER = re.compile(
    r"\b(arnold|bulgarian|copenhagen|larsen|meadows|nordic|pallof|pendlay|romanian|smith|turkish"
    r"|zercher|ez|t-bar|l-sit)\b"
)


def exercise(name: str) -> str:
    """An exercise inside a sentence: people and places with their capitals."""
    return _PROPER.sub(lambda word: word[0].upper() if word[0] == "ez" else capital(word[0]), name)


def heading(name: str) -> str:
    """An exercise as a heading."""
    return capital(exercise(name))


def plain(code: str) -> str:
    """A code of the tables as words."""
    return code.replace("_", " ")


PHASES = {
    "cut": "In a cut: holding strength is success here, and nothing is added.",
    "gain": "In a gaining phase.",
    "deload": "In a deload: these days stay out of rates and trends.",
    "pause": (
        "In a pause: figures only, no status, no standing and no suggestion; led by the client’s "
        "licensed professional."
    ),
    "care": (
        "In care: figures only, no status, no standing and no suggestion; led by the client’s "
        "licensed professional."
    ),
}


NOT_JUDGED = "not judged"


def guide(low: float | None, high: float | None) -> str:
    """8–16, to 16, from 8."""
    if low is not None and high is not None:
        return f"{short(low)}–{short(high)}"
    if high is not None:
        return f"to {short(high)}"
    return NOTHING if low is None else f"from {short(low)}"


MONTH_NAMES = ("January", "February", "March", "April", "May", "June", "July", "August",
               "September", "October", "November", "December")  # fmt: skip


def month(value: date) -> str:
    """August 2026."""
    return f"{MONTH_NAMES[value.month - 1]} {value.year}"


def month_short(value: date) -> str:
    """Aug 2026."""
    return f"{MONTHS[value.month - 1]} {value.year}"
