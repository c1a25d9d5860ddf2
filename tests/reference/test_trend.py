"""The trend's SQL against numpy: the same lines fitted from scratch, with a column a band."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
import pytest

from tests.conftest import Log, day

LIFT = "bench press"
DAYS = [7 * week + each for week in range(38) for each in (0, 3)]


def best_bend_down(
    days: npt.NDArray[np.float64], values: npt.NDArray[np.float64], bands: npt.NDArray[np.int64]
) -> float | None:
    """Slope since the bend down that fits best, of five; a height for each band."""
    weeks = (days - days[-1]) / 7
    heights = [(bands == band).astype(float) for band in np.unique(bands)]
    found = []
    for place in (6, 9, 12, 18, 26):
        design = np.column_stack([weeks, np.maximum(weeks + place, 0), *heights])
        slopes, rest, *_ = np.linalg.lstsq(design, values, rcond=None)
        if slopes[1] < 0:
            found.append((float(rest[0]), float(slopes[0] + slopes[1])))
    return min(found)[1] if found else None


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
    # no session filtered, no step: the lines alone are compared
    log.build(day(DAYS[-1]), clip_scales=99.0, step_gain=999.0, weak_step_gain=999.0)
    end = log.one("select end_pct_per_week from review.lift_trend order by week desc limit 1")
    assert end == pytest.approx(best_bend_down(days, values, bands), abs=1e-6)


def test_every_week_is_judged_as_it_would_have_been_then(new_log: type[Log]) -> None:
    rng = np.random.default_rng(9)
    values = [0.3 * offset / 7 + rng.normal() * 2 for offset in DAYS]

    def trends(until: int) -> list[tuple[object, ...]]:
        log = new_log()
        for offset, value in zip(DAYS, values, strict=True):
            log.set(day(offset), LIFT, 75 * math.exp(value / 100), 8, rir=2.0)
        log.build(day(until))
        return log.ask(
            "select * from review.lift_trend"
            f" where week between '{day(84)}' and '{day(130)}' order by week"
        )

    # the weeks that both show: the later one shows its last 26
    assert len(trends(139)) == 7
    assert trends(139) == trends(DAYS[-1])
