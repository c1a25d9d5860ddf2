"""The trend's SQL against numpy: the same lines fitted from scratch, with a column a band."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
import pytest

from tests.conftest import Log, day

LIFT = "bench press"
DAYS = [7 * week + each for week in range(38) for each in (0, 3)]


def joined_slopes(
    days: npt.NDArray[np.float64], values: npt.NDArray[np.float64], bands: npt.NDArray[np.int64]
) -> tuple[float, float]:
    """Slopes before and in the last 56 days, the lines meeting there; a level for each band."""
    kept = days > days[-1] - 266
    weeks = (days[kept] - days[-1] + 56) / 7
    levels = [(bands[kept] == band).astype(float) for band in np.unique(bands)]
    design = np.column_stack([np.minimum(weeks, 0), np.maximum(weeks, 0), *levels])
    found, *_ = np.linalg.lstsq(design, values[kept], rcond=None)
    return float(found[0]), float(found[1])


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("by_turns", [False, True], ids=["one range", "5s and 10s by turns"])
def test_lines_that_meet_agree_with_numpy(log: Log, seed: int, by_turns: bool) -> None:
    rng = np.random.default_rng(seed)
    days = np.array(DAYS, dtype=float)
    bands = np.array([place % 2 if by_turns else 0 for place in range(len(days))])
    values = 0.3 * days / 7 - 4.0 * bands + rng.uniform(-1.5, 1.5, len(days))
    for offset, value, band in zip(DAYS, values, bands, strict=True):
        reps = 10 if band else 5
        load = 100 * math.exp(value / 100) / (1 + (reps + 1) / 30)
        log.set(day(offset), LIFT, load, reps, rir=1.0)
    # nothing drawn in: the lines alone are compared
    log.build(day(DAYS[-1]), expected_low_pct=-9.0, expected_high_pct=9.0, clip_scales=99.0)
    earlier, end = log.ask(
        "select expected_pct_per_week, end_pct_per_week from review.lift_trend"
        " order by week desc limit 1"
    )[0]
    assert (earlier, end) == pytest.approx(joined_slopes(days, values, bands), abs=1e-6)


def test_every_week_is_judged_as_it_would_have_been_then(new_log: type[Log]) -> None:
    rng = np.random.default_rng(9)
    values = [0.3 * offset / 7 + rng.normal() * 2 for offset in DAYS]

    def trends(until: int) -> list[tuple[object, ...]]:
        log = new_log()
        for offset, value in zip(DAYS, values, strict=True):
            log.set(day(offset), LIFT, 75 * math.exp(value / 100), 8, rir=2.0)
        log.build(day(until))
        return log.ask(f"select * from review.lift_trend where week <= '{day(130)}' order by week")

    assert len(trends(139)) == 19
    assert trends(139) == trends(DAYS[-1])
