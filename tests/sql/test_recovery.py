"""Strength by place in a run of training days, on logs that a hand can follow."""

from __future__ import annotations

import pytest

from tests.conftest import Log, day


def runs(log: Log, reps: dict[int, int], *, lifts: tuple[str, ...] = ("bench press",)) -> None:
    """26 weeks of five days: two days in a row, then a day off, then one alone, then one off.

    `reps` by place in the run; a repetition more or less on every other round.
    """
    for nth in range(36):
        for offset, place in ((0, 1), (1, 2), (3, 1)):
            for lift in lifts:
                many = reps[place] + (nth + offset) % 2
                log.sets(day(5 * nth + offset), lift, 100, many, 4, rir=1)


def test_who_is_weaker_on_the_second_day_is_told_so(log: Log) -> None:
    runs(log, {1: 10, 2: 7}, lifts=("bench press", "barbell row"))
    log.build(day(180))
    rows = log.ask(
        "select place, difference_pct, low, high, is_told from review.recovery order by place"
    )
    assert [row[0] for row in rows] == [0, 2]
    # by Epley at one in reserve: 11.5 of 30 repetitions against 8.5: 1.383 / 1.283, 7.5 %
    assert rows[1][1] == pytest.approx(-7.5, abs=0.3)
    assert rows[0][4] is True


def test_who_is_not_is_told_nothing(log: Log) -> None:
    runs(log, {1: 9, 2: 9}, lifts=("bench press", "barbell row"))
    log.build(day(180))
    assert [row for row in log.ask("select is_told from review.recovery") if row[0]] == []


def test_lifts_that_keep_their_place_say_nothing(log: Log) -> None:
    for nth in range(36):
        log.sets(day(5 * nth), "bench press", 100, 10 + nth % 2, 4, rir=1)
        log.sets(day(5 * nth + 1), "back squat", 100, 5 + nth % 2, 4, rir=1)
    log.build(day(180))
    assert log.ask("from review.recovery") == []
