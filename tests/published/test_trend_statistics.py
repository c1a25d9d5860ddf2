"""Statistics of a trend against published examples, and against independent libraries.

The methods that were tried are in tests/simulation/methods.py; the one that was kept is SQL.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pymannkendall
import pytest
from scipy import stats
from tests.simulation.methods import slope_of, theil_sen

from tests.conftest import Log, day

LIFT = "bench press"
SEN_T, SEN_Y = [1, 2, 3, 4, 10, 12, 18], [9, 15, 19, 20, 45, 55, 78]
DANIEL_X = [421, 278, 618, 482, 465, 105, 550, 750]
DANIEL_Y = [230, 175, 315, 290, 275, 150, 360, 425]


def follow(log: Log, days: Sequence[int], log_values: Sequence[float]) -> None:
    """Sessions whose strength index is 100 kg × exp(value / 100): 8 repetitions, 2 in reserve."""
    for offset, value in zip(days, log_values, strict=True):
        log.set(day(offset), LIFT, 100 * math.exp(value / 100) / (1 + 10 / 30), 8, rir=2.0)


def last_trend(log: Log, columns: str) -> tuple[float, ...]:
    """Columns of the latest row of review.lift_trend."""
    return log.ask(f"select {columns} from review.lift_trend order by week desc limit 1")[0]


def median_slope(weeks: Sequence[float], values: Sequence[float]) -> float:
    """Theil's slope as tried for the detector; weeks squeezed so that all lie in its window."""
    squeeze = 1000.0
    slope = theil_sen(np.array(weeks) / squeeze, np.array([values], dtype=float))
    return float(slope[0]) / squeeze


def test_sen_1968_worked_example_has_slope_4() -> None:
    """Sen 1968, J Am Stat Assoc 63(324):1379–1389."""
    assert median_slope(SEN_T, SEN_Y) == pytest.approx(4.0, abs=1e-12)


def test_daniel_example_13_11_1_has_slope_0_4878() -> None:
    """Daniel, Biostatistics, example 13.11.1: 28 slopes, S12 = 0.3846, median 0.4878."""
    order = np.argsort(DANIEL_X)
    weeks, values = np.array(DANIEL_X)[order], np.array(DANIEL_Y)[order]
    assert median_slope(weeks, values) == pytest.approx(0.4878, abs=5e-5)
    assert (DANIEL_Y[1] - DANIEL_Y[0]) / (DANIEL_X[1] - DANIEL_X[0]) == pytest.approx(
        0.3846, abs=5e-5
    )


def test_a_missing_session_is_dropped_and_its_place_kept() -> None:
    """scipy's own test: y = 0, 1, (missing), 1 at x = 0 … 3 has Theil's slope 1/3."""
    assert median_slope([0, 1, 3], [0, 1, 1]) == pytest.approx(1 / 3, abs=1e-12)


@pytest.mark.parametrize("seed", range(5))
def test_median_slope_agrees_with_scipy_and_pymannkendall(seed: int) -> None:
    values = np.random.default_rng(seed).normal(size=24).round(1)
    weeks = np.arange(24.0)
    slope = median_slope(list(weeks), list(values))
    assert slope == pytest.approx(stats.theilslopes(values, weeks).slope, abs=1e-12)
    assert slope == pytest.approx(pymannkendall.original_test(values).slope, abs=1e-12)


def test_tau_a_and_tau_b_differ_where_loads_tie() -> None:
    """100, 102.5 and four times 105: S = 9, tau-a 9/15, tau-b 9/√(9 × 15), by hand."""
    loads = [100.0, 102.5, 105.0, 105.0, 105.0, 105.0]
    assert pymannkendall.original_test(loads).Tau == pytest.approx(0.6)
    assert stats.kendalltau(range(6), loads).statistic == pytest.approx(9 / math.sqrt(9 * 15))


def test_least_squares_of_sens_example_is_4_02() -> None:
    """scipy's tests print 4.02 for Sen's data."""
    slope, _ = slope_of(np.array(SEN_T, dtype=float), np.array([SEN_Y], dtype=float))
    assert slope[0] == pytest.approx(4.02, abs=0.005)


@pytest.mark.parametrize("seed", range(3))
def test_the_rate_is_the_least_squares_slope(new_log: type[Log], seed: int) -> None:
    """scipy.stats.linregress on 24 sessions, none drawn in; 100 × ln of the index by weeks.

    Scatter is that about the better of the line and one that bends six weeks before the end, by
    numpy; of 24 degrees of freedom a height and three slopes are taken.
    """
    rng = np.random.default_rng(seed)
    days = [7 * week + each for week in range(12) for each in (0, 3)]
    values = [0.4 * offset / 7 + rng.uniform(-3, 3) for offset in days]
    log = new_log()
    follow(log, days, values)
    log.build(day(days[-1]), expected_default_pct=10.0, clip_scales=99.0)
    line = stats.linregress(np.array(days) / 7, values)
    rate, low, high, correlation, sessions = last_trend(
        log, "change_pct_per_week, change_low, change_high, correlation, sessions"
    )
    assert sessions == 24
    assert rate == pytest.approx(line.slope, abs=1e-6)
    weeks = (np.array(days) - days[-1]) / 7
    design = np.column_stack([np.ones(24), weeks, np.maximum(weeks + 6, 0)])
    bent = float(np.linalg.lstsq(design, np.array(values), rcond=None)[1][0])
    variance = bent / 20 * (1 + correlation) / (1 - correlation)
    half = stats.t.ppf(0.975, 20) * math.sqrt(variance / ((weeks - weeks.mean()) ** 2).sum())
    assert high - rate == pytest.approx(rate - low, abs=1e-8)
    assert high - rate == pytest.approx(half, rel=2e-3)


def test_a_steady_lift_has_its_own_rate_to_the_digit(log: Log) -> None:
    days = list(range(0, 140, 7))
    follow(log, days, [0.5 * offset / 7 for offset in days])
    log.build(day(days[-1]))
    rate, expected = last_trend(log, "change_pct_per_week, expected_pct_per_week")
    assert (rate, expected) == pytest.approx((0.5, 0.5), abs=1e-6)


def test_minimal_detectable_change_of_two_single_tests() -> None:
    """Weir 2005: 1.96 × √2 × CV; with the median CV of 4.2 % (Grgic et al. 2020) 11.64 %."""
    assert stats.norm.ppf(0.975) * math.sqrt(2) * 4.2 == pytest.approx(11.64, abs=0.005)


def test_jitter_within_the_minimal_detectable_change_moves_no_flat_lift(log: Log) -> None:
    """± 2.5 % around a flat lift, far below 11.64 %: neither progress nor loss, whoever's luck."""
    rng = np.random.default_rng(5)
    days = [7 * week + each for week in range(30) for each in (0, 3)]
    for lifter in range(100):
        for offset in days:
            load = 75.0 * (1 + rng.uniform(-0.025, 0.025))
            log.set(day(offset), LIFT, load, 8, rir=2.0, client_id=f"lifter-{lifter}")
    log.build(day(days[-1]))
    moved = log.one(
        "select count(*) from review.lift_status where status in ('progressing', 'regressing')"
    )
    assert moved <= 8
