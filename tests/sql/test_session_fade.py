"""Fade within an exercise and across a session, and the turnover of exercises.

Expected values are by hand; Student's t for the interval is taken from scipy.
"""

from __future__ import annotations

import math

import pytest
from scipy import stats

from tests.conftest import Log, day


def fade(log: Log, muscle: str, kind: str) -> list[tuple[object, ...]]:
    """nth, sets, relative output, low, high and whether it is a lower bound."""
    return log.ask(
        "select nth, sets, relative_output, low, high, is_lower_bound from review.session_fade"
        f" where muscle = '{muscle}' and kind = '{kind}' order by nth"
    )


def test_fade_within_is_the_index_over_that_of_the_first_set(log: Log) -> None:
    # 60 × 12, 10, 9 to failure: indices 84, 80, 78
    for number in range(10):
        for reps in (12, 10, 9):
            log.set(day(3 * number), "pec deck", 60.0, reps, rir=0.0)
    log.build(day(30))
    assert fade(log, "chest", "within") == [
        (2, 10, *[round(80 / 84, 9)] * 3, False),
        (3, 10, *[round(78 / 84, 9)] * 3, False),
    ]


def test_the_interval_is_students_over_sessions(log: Log) -> None:
    second = [10, 11, 9, 10, 12, 8, 10, 11, 9, 10, 10]
    for number, reps in enumerate(second):
        log.set(day(3 * number), "pec deck", 60.0, 12, rir=0.0)
        log.set(day(3 * number), "pec deck", 60.0, reps, rir=0.0)
    log.build(day(30))
    logs = [math.log((1 + reps / 30) / (1 + 12 / 30)) for reps in second]
    mean = sum(logs) / len(logs)
    low, high = stats.t.interval(0.95, len(logs) - 1, loc=mean, scale=stats.sem(logs))
    ((nth, sets, output, got_low, got_high, _),) = fade(log, "chest", "within")
    assert (nth, sets) == (2, 11)
    assert output == pytest.approx(math.exp(mean), abs=1e-8)
    assert got_low == pytest.approx(math.exp(low), rel=1e-5)
    assert got_high == pytest.approx(math.exp(high), rel=1e-5)


def test_nothing_under_ten_sessions(log: Log) -> None:
    for number in range(9):
        log.sets(day(3 * number), "pec deck", 60.0, 10, 2, rir=0.0)
    log.build(day(30))
    assert fade(log, "chest", "within") == []


def test_sets_with_other_loads_are_not_compared(log: Log) -> None:
    for number in range(10):
        for load, reps in [(60.0, 10), (54.0, 11), (53.0, 12)]:
            log.set(day(3 * number), "pec deck", load, reps, rir=0.0)
    log.build(day(30))
    assert [row[0] for row in fade(log, "chest", "within")] == [2]


def test_without_recorded_effort_the_fade_is_a_lower_bound(log: Log) -> None:
    for number in range(10):
        for reps in (12, 10):
            log.set(day(3 * number), "pec deck", 60.0, reps)
    log.build(day(30))
    ((_, sets, output, _, _, is_lower_bound),) = fade(log, "chest", "within")
    assert (sets, output, is_lower_bound) == (10, round(80 / 84, 9), True)


def test_fade_across_compares_an_exercise_with_its_own_days_when_first(log: Log) -> None:
    # pec deck first on even days: 60 × 12 (index 84); after 4 sets of bench on odd: 60 × 9 (78)
    for number in range(24):
        if number % 2:
            log.sets(day(2 * number), "bench press", 80.0, 8, 4, rir=1.0)
        log.set(day(2 * number), "pec deck", 60.0, 9 if number % 2 else 12, rir=0.0)
    log.build(day(47))
    assert fade(log, "chest", "across") == [(5, 12, *[round(78 / 84, 9)] * 3, False)]


def test_an_exercise_that_is_never_first_has_no_fade_across(log: Log) -> None:
    for number in range(24):
        log.sets(day(2 * number), "bench press", 80.0, 8, 4, rir=1.0)
        log.set(day(2 * number), "pec deck", 60.0, 12, rir=0.0)
    log.build(day(47))
    assert fade(log, "chest", "across") == []


def test_a_set_that_cannot_be_compared_keeps_its_place(log: Log) -> None:
    # 25 repetitions have no index: the third set is compared as the third, 78 over 84
    for number in range(10):
        for load, reps in [(60.0, 12), (30.0, 25), (60.0, 9)]:
            log.set(day(3 * number), "pec deck", load, reps, rir=0.0)
    log.build(day(30))
    assert fade(log, "chest", "within") == [(3, 10, *[round(78 / 84, 9)] * 3, False)]


def test_fade_across_counts_the_sets_before_where_exercises_go_by_turns(log: Log) -> None:
    # on odd days bench and pec deck by turns: one set of the chest before the pec deck, not four
    for number in range(24):
        for _ in range(4):
            if number % 2:
                log.set(day(2 * number), "bench press", 80.0, 8, rir=1.0)
            log.set(day(2 * number), "pec deck", 60.0, 9 if number % 2 else 12, rir=0.0)
    log.build(day(47))
    assert fade(log, "chest", "across") == [(2, 12, *[round(78 / 84, 9)] * 3, False)]


def test_fade_across_does_not_compare_two_machines(log: Log) -> None:
    # twelve days first at 60 kg; then another machine, 90 kg, always after four sets of bench
    for number in range(24):
        if number >= 12:
            log.sets(day(2 * number), "bench press", 80.0, 8, 4, rir=1.0)
        log.set(day(2 * number), "pec deck", 90.0 if number >= 12 else 60.0, 12, rir=0.0)
    log.build(day(47))
    assert fade(log, "chest", "across") == []


def test_fade_looks_back_from_the_last_logged_day(log: Log) -> None:
    for number in range(10):
        for reps in (12, 10):
            log.set(day(3 * number), "pec deck", 60.0, reps, rir=0.0)
    log.build(day(27 + 400))
    assert [row[:2] for row in fade(log, "chest", "within")] == [(2, 10)]


def test_fade_leaves_out_what_is_older_than_half_a_year(log: Log) -> None:
    # the tenth session is the 182nd day before the last logged one: nine are left
    for number in [0, *range(173, 182)]:
        for reps in (12, 10):
            log.set(day(number), "pec deck", 60.0, reps, rir=0.0)
    log.set(day(182), "back squat", 60.0, 5, rir=0.0)
    log.build(day(200))
    assert fade(log, "chest", "within") == []


def turnover(log: Log) -> list[tuple[object, ...]]:
    """Rows by week."""
    return log.ask(
        "select week, exercises, kept_share, trackable_share, is_judged"
        " from review.exercise_turnover order by week"
    )


def test_turnover_of_two_fortnights(log: Log) -> None:
    # weeks 1 and 2: press and row; weeks 3 and 4: press and pulldown
    for week in range(4):
        log.sets(day(7 * week), "bench press", 80.0, 8, 3, rir=1.0)
        other = "barbell row" if week < 2 else "lat pulldown"
        log.sets(day(7 * week + 3), other, 60.0, 8, 3, rir=1.0)
    log.build(day(27))
    # in week 4: press done four times holds 12 of 24 sets
    assert turnover(log) == [
        (day(0), 2, None, 0.0, False),
        (day(7), 2, None, 0.0, False),
        (day(14), 3, 1.0, 0.0, False),
        (day(21), 2, 0.5, 0.5, False),
    ]


def test_a_week_that_is_not_over_has_no_row(log: Log) -> None:
    log.set(day(0), "bench press", 80.0, 8, rir=1.0)
    log.set(day(8), "bench press", 80.0, 8, rir=1.0)
    log.build(day(12))
    assert [row[0] for row in turnover(log)] == [day(0)]


def test_turnover_is_judged_with_eight_weeks_and_no_layoff(log: Log) -> None:
    for week in [*range(9), *range(12, 21)]:
        log.set(day(7 * week), "bench press", 80.0, 8, rir=1.0)
    log.build(day(7 * 21))
    judged = [row[0] for row in turnover(log) if row[4]]
    # eight weeks to the Sunday of week 7; then days 56 to 84 are a layoff: 6, 13 and 20 days old on
    # the next Sundays, 27 on that of week 11, and in the eight weeks to a Sunday until week 18
    assert judged == [day(7 * week) for week in (7, 8, 9, 10, 19, 20)]
