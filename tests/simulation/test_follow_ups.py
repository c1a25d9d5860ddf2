"""Verdicts on changes are right as often as published, counted on few rooms: seeds are fixed.

`follow_ups.py` counts on many; its table is in tests/README.md. Bounds are its shares with about
three standard errors of this sample size.
"""

from __future__ import annotations

from dataclasses import replace

from follow_ups import ROOM, verdicts

ROOMS = 40


def share(verdict: str, rate: float, end_rate: float) -> float:
    """Rooms of which it is said twelve weeks after the change."""
    course = replace(ROOM, rate=rate, end_rate=end_rate, end_weeks=12)
    return verdicts(course, ROOMS, 3).count(verdict) / ROOMS


def test_a_shift_of_two_fifths_of_a_percent_is_told_after_twelve_weeks() -> None:
    # 92 and 92 %, standard error 4.3 points
    assert share("worked", 0.0, 0.4) >= 0.79
    assert share("made_worse", 0.4, 0.0) >= 0.79


def test_where_nothing_shifts_little_is_said() -> None:
    # 3 %, standard error 2.7 points
    assert share("worked", 0.25, 0.25) + share("made_worse", 0.25, 0.25) <= 0.11
