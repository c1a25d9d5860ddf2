"""How bodyweight moves, beside the lifts; slopes by hand."""

from __future__ import annotations

from math import log as ln

import pytest

from pipeline.settings.workspace import Client, Phase
from tests.conftest import Log, day

COLUMNS = "weigh_ins, change_pct_per_week, is_cutting, strength"


def weighed(log: Log, *weights: float, days: int = 7) -> None:
    """A weigh-in each `days`, and a lift that stands still twice a week."""
    for nth, weight in enumerate(weights):
        log.bodyweight(weight, day(days * nth))
    for nth in range(24):
        for lift in ("back squat", "bench press", "barbell row"):
            # up and down by a repetition, no way
            log.sets(day(nth * 7 // 2), lift, 80, 8 + nth % 2, 2, rir=1)


def test_the_median_slope_passes_an_odd_weigh_in_by(log: Log) -> None:
    weighed(log, 80.0, 79.2, 78.4, 95.0, 77.6, 76.8)
    log.build(day(84))
    (row,) = log.ask(f"select {COLUMNS} from review.bodyweight_trend")
    weights = [80.0, 79.2, 78.4, 95.0, 77.6, 76.8]
    slopes = sorted(
        100 * ln(weights[j] / weights[i]) / (j - i) for i in range(6) for j in range(i + 1, 6)
    )
    assert row[0] == 6
    assert row[1] == pytest.approx(slopes[7], abs=1e-8)  # the eighth of fifteen
    assert -1.1 < row[1] < -0.7


def test_sens_interval_is_that_of_kendalls_count(log: Log) -> None:
    weighed(log, 80.0, 79.5, 79.3, 78.6, 78.4, 77.9, 77.2, 77.1)
    log.build(day(84))
    (row,) = log.ask("select change_low, change_high from review.bodyweight_trend")
    weights = [80.0, 79.5, 79.3, 78.6, 78.4, 77.9, 77.2, 77.1]
    slopes = sorted(
        100 * ln(weights[j] / weights[i]) / (j - i) for i in range(8) for j in range(i + 1, 8)
    )
    # n = 8: 1.96 × √(8 × 7 × 21 / 18) = 15.84; of 28 slopes the floor(6.08) = 6th and the 23rd
    assert row == pytest.approx((slopes[5], slopes[22]), abs=1e-8)


def test_in_a_cut_only_its_days_count_and_strength_that_holds_is_said(log: Log) -> None:
    weighed(log, 84.0, 84.0, 84.0, 84.0, 84.0, 84.0, 83.5, 83.0, 82.5, 82.0, 81.5, 81.0)
    client = Client("ines", "Ines Duarte", phases=(Phase("cut", day(35), None),))
    log.build(day(83), clients=[client])
    (row,) = log.ask(f"select {COLUMNS} from review.bodyweight_trend")
    assert row[0] == 7
    assert row[1] == pytest.approx(-0.6, abs=0.02)  # half a kilogram of 83 a week
    assert row[2:] == (True, "holds")


def test_three_weigh_ins_or_two_weeks_too_few_say_nothing(log: Log) -> None:
    weighed(log, 80.0, 79.0, 78.0)
    log.build(day(84))
    assert log.ask("from review.bodyweight_trend") == []


def test_weigh_ins_within_two_weeks_say_nothing(log: Log) -> None:
    weighed(log, 80.0, 79.0, 78.0, 79.5, 79.0, days=3)
    log.build(day(84))
    assert log.ask("from review.bodyweight_trend") == []
