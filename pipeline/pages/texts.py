"""Sentences that several pages or sections share; each of the others stands where it is said.

Written for a lifter and a coach: plain words of the trade, one meaning each, singular and plural
right, units named. Nothing here computes a figure; values arrive as the tables hold them.
"""

from __future__ import annotations

from datetime import date

from pipeline.formats import NOTHING, count, day, number, short, weekday
from pipeline.pages.client_data import Run

CAUTIONS = (
    "Estimates are not measurements: an estimated one-repetition maximum is a calculation from a "
    "set with more repetitions, and can be several per cent off.",
    "Sets near the limit need a spotter, or safeties set at the right height.",
    "Pain, illness or a sudden loss of strength is a matter for a licensed professional, not for "
    "a change of programme.",
    "Minors, pregnancy and medical conditions need qualified supervision.",
    "This review describes what was logged. It is no medical advice.",
)


def as_of(value: date) -> str:
    """The day that a review speaks of."""
    return f"As of {weekday(value)}, {day(value)}."


def foot(run: Run) -> str:
    """What made the page."""
    return f"setledger {run.tool_version}, tables version {run.schema_version}"


def times(value: float | None, reps: int | None) -> str:
    """A set: 82.5 × 8."""
    if reps is None:
        return NOTHING
    return count(reps, "rep") if value is None else f"{short(value)} × {reps}"


def ago(weeks: float | None) -> str:
    """How long ago, in weeks."""
    if weeks is None:
        return NOTHING
    return "this week" if weeks < 1 else f"{count(round(weeks), 'week')} ago"


def best_ago(weeks: float | None) -> str:
    """How long ago the best was."""
    return "" if weeks is None else f"best {ago(weeks)}"


def place(path: str | None, line: int | None) -> str:
    """A line of a file."""
    return f"{path or 'unknown file'}:{line}"


def before(value: float | None, digits: int) -> str:
    """The month before."""
    return f"before {number(value, digits)}"
