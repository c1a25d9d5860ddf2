"""Statistics of a trend against published examples, and against independent libraries.

The method is SQL; how it errs is measured in tests/simulation.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pymannkendall
import pytest
from scipy import stats

from tests.conftest import Log, day

LIFT = "bench press"
SEN_T, SEN_Y = [1, 2, 3, 4, 10, 12, 18], [9, 15, 19, 20, 45, 55, 78]


def follow(log: Log, days: Sequence[int], log_values: Sequence[float]) -> None:
    """Sessions whose strength index is 100 kg × exp(value / 100): 8 repetitions, 2 in reserve."""
    for offset, value in zip(days, log_values, strict=True):
        log.set(day(offset), LIFT, 100 * math.exp(value / 100) / (1 + 10 / 30), 8, rir=2.0)


def last_trend(log: Log, columns: str) -> tuple[float, ...]:
    """Columns of the latest row of review.lift_trend."""
    return log.ask(f"select {columns} from review.lift_trend order by week desc limit 1")[0]


def test_sen_1968_worked_example_has_slope_4() -> None:
    """Sen 1968, J Am Stat Assoc 63(324):1379–1389."""
    assert stats.theilslopes(SEN_Y, SEN_T).slope == pytest.approx(4.0, abs=1e-12)


def test_tau_a_and_tau_b_differ_where_loads_tie() -> None:
    """100, 102.5 and four times 105: S = 9, tau-a 9/15, tau-b 9/√(9 × 15), by hand."""
    loads = [100.0, 102.5, 105.0, 105.0, 105.0, 105.0]
    assert pymannkendall.original_test(loads).Tau == pytest.approx(0.6)
    assert stats.kendalltau(range(6), loads).statistic == pytest.approx(9 / math.sqrt(9 * 15))


def test_the_rate_of_sens_example_is_4_02(log: Log) -> None:
    """scipy's tests print 4.02 for Sen's data; here its days are weeks and its values per cent."""
    days = [7 * each for each in SEN_T]
    follow(log, days, SEN_Y)
    log.build(
        day(days[-1]),
        clip_scales=99.0,
        level_change_share=9.0,
        not_trained_days=99,
        reps_change=99.0,
    )
    (rate,) = last_trend(log, "change_pct_per_week")
    assert rate == pytest.approx(4.02, abs=0.005)


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
