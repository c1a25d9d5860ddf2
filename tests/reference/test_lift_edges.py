"""Corners of a calendar and of a log, each in a room of its own build against the reference."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest
from scipy import stats

from pipeline.settings.workspace import Client, Target
from tests.conftest import Log
from tests.reference.lift_logs import Course, history
from tests.reference.lift_trend import student
from tests.reference.logs import Habit, Lifter, Room
from tests.reference.test_lifts import all_differences

LEAP_DAY = date(2024, 2, 29)
NEW_YEAR = date(2026, 1, 1)


def kept(client_id: str, rows: list[dict[str, Any]], kg: float | None = None) -> Lifter:
    """A log written by hand, with a target."""
    client = Client(id=client_id, name=client_id, targets=(Target("pull-up", 20.0, 5),))
    weigh_ins: list[tuple[float, date | None]] = [] if kg is None else [(kg, None)]
    return Lifter(Habit(0), client, rows, weigh_ins)


def row(on: date, exercise: str, load: float | None, reps: int, **other: Any) -> dict[str, Any]:
    """A row for `Log.set`."""
    return {"performed_on": on, "exercise": exercise, "load_kg": load, "reps": reps, **other}


def corners(as_of: date) -> tuple[Lifter, ...]:
    """Lifters with the smallest and the oddest logs that end around the as-of day."""
    days = [as_of - timedelta(days=each) for each in range(60, -1, -3)]
    return (
        kept("one-session", [row(as_of, "bench press", 60.0, 8)] * 3),
        kept("one-set-long-ago", [row(as_of - timedelta(days=800), "bench press", 60.0, 8)]),
        kept(
            "warm-ups-only",
            [row(each, "bench press", 40.0, 8, set_kind="warmup") for each in days],
        ),
        kept("bodyweight-only", [row(each, "pull-up", None, 8) for each in days], 80.0),
        kept("bodyweight-unknown", [row(each, "pull-up", 5.0, 8, rir=1.0) for each in days]),
        kept(
            "twice-a-day",
            [row(each, "back squat", 100.0 + at, 5, rir=1.0) for each in days for at in (0, 9)],
        ),
        kept("all-after", [row(as_of + timedelta(days=1), "bench press", 60.0, 8)]),
        kept("singles", [row(each, "deadlift", 180.0, 1, rir=0.0) for each in days]),
        kept("easy", [row(each, "bench press", 60.0, 8, rir=6.0) for each in days]),
        kept("very-many", [row(each, "leg press", 60.0, 35) for each in days]),
        kept(
            "two-sundays",
            [
                row(each - timedelta(days=each.weekday() + 1), "bench press", 60.0 + n, 8, rir=2.0)
                for n, each in enumerate(days)
            ],
        ),
    )


@pytest.mark.parametrize("as_of", [LEAP_DAY, NEW_YEAR])
def test_corners_are_those_of_the_reference(as_of: date, new_log: Callable[[], Log]) -> None:
    assert all_differences(Room(as_of, corners(as_of)), new_log) == []


@pytest.mark.slow
def test_fifteen_years_are_those_of_the_reference(new_log: Callable[[], Log]) -> None:
    course = Course(
        7, weeks=780, lifts=1, rate=0.05, reps="blocks", layoffs=((300, 40), (20, 25)),
        jumps=((400, 1.3),), deload_every=6, bodyweight="dated",
    )  # fmt: skip
    room = Room(NEW_YEAR, (history("fifteen-years", course, NEW_YEAR),))
    assert all_differences(room, new_log) == []


@pytest.mark.parametrize(
    ("freedom", "within"), [(3, 0.04), (4, 0.02), (10, 0.002), (22, 0.0004), (80, 0.00001)]
)
def test_students_t_of_the_trend_is_that_of_scipy(freedom: int, within: float) -> None:
    """Two terms of a series: the 95 % interval is 3.7 % too narrow at 3 degrees, 1.7 % at 4."""
    exact = stats.t.ppf(0.975, freedom)
    assert 0 <= 1 - student(1.959964, freedom) / exact < within
