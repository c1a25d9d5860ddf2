"""The lifter's own repetition curve: found where repetitions are planned, nowhere else."""

from __future__ import annotations

import numpy as np
from rep_curves import AS_THE_DAY_GIVES, SPREAD, simulated


def test_a_tilt_is_found_where_repetitions_are_planned_and_steadies_later_days() -> None:
    before, after, off = simulated("fives and tens by turns", 0.02, SPREAD, 200, 7)
    assert np.sqrt((off**2).mean()) < 0.8
    assert after.mean() < 0.85 * before.mean()


def test_who_follows_the_formulas_loses_next_to_nothing() -> None:
    before, after, _ = simulated("three to twelve", 0.02, 0.0, 200, 7)
    assert after.mean() < 1.03 * before.mean()


def test_where_the_day_gives_the_repetitions_the_tilt_is_not_the_lifter_s() -> None:
    """Why no such column is kept: it takes good days for a curve, and smooths them away."""
    before, after, off = simulated(AS_THE_DAY_GIVES, 0.02, 0.0, 200, 7)
    assert after.mean() < 0.5 * before.mean()
    assert np.sqrt((off**2).mean()) > 8
