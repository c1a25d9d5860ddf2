"""The rolling week against pandas, an independent implementation, on an invented log."""

from __future__ import annotations

import random

import pandas as pd

from tests.conftest import Log, day

EXERCISES = ("bench press", "barbell row", "back squat", "barbell curl")


def test_every_rolling_week_equals_the_one_of_pandas(log: Log) -> None:
    chance = random.Random(20260601)
    counts: dict[tuple[str, int], int] = {}
    for offset in sorted(chance.sample(range(120), 60)):
        for exercise in chance.sample(EXERCISES, 2):
            counts[exercise, offset] = chance.randint(1, 5)
            log.sets(day(offset), exercise, 60.0, 8, counts[exercise, offset], rir=1.0)
    log.build(day(125))
    weights = {
        (exercise, muscle): weight
        for exercise, muscle, weight in log.ask(
            "select exercise, muscle, weight from review.exercise_muscles"
        )
        if exercise in EXERCISES
    }
    first = min(offset for _, offset in counts)
    calendar = pd.date_range(day(first), day(125), freq="D")
    for muscle in {muscle for _, muscle in weights}:
        daily = pd.Series(0.0, index=calendar)
        direct = pd.Series(0.0, index=calendar)
        for (exercise, offset), count in counts.items():
            weight = weights.get((exercise, muscle), 0.0)
            daily[pd.Timestamp(day(offset))] += count * weight
            direct[pd.Timestamp(day(offset))] += count if weight == 1.0 else 0
        hits = (direct > 0).astype(float)
        expected = [
            (on.date(), a, b, int(c))
            for on, a, b, c in zip(
                calendar,
                daily.rolling("7D").sum().round(9),
                direct.rolling("7D").sum().round(9),
                hits.rolling("7D").sum(),
                strict=True,
            )
        ]
        assert expected == log.ask(
            "select day, fractional_sets_7d, direct_sets_7d, hits_7d from review.rolling_week"
            f" where muscle = '{muscle}' order by day"
        )


def test_day_0_and_day_7_share_no_window_but_day_0_and_day_6_do(log: Log) -> None:
    log.sets(day(0), "leg extension", 50.0, 10, 1, rir=1.0)
    log.sets(day(6), "leg extension", 50.0, 10, 2, rir=1.0)
    log.sets(day(7), "leg extension", 50.0, 10, 4, rir=1.0)
    log.build(day(14))
    assert log.ask(
        "select day, direct_sets_7d, hits_7d, days_since_hit from review.rolling_week"
        " where muscle = 'quads' and day >= date '2026-06-06' order by day limit 4"
    ) == [
        (day(5), 1.0, 1, 5),
        (day(6), 3.0, 2, 0),
        (day(7), 6.0, 2, 0),
        (day(8), 6.0, 2, 1),
    ]
