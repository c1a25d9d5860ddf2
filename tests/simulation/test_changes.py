"""Usual variation is called so, counted on few lifters: the bounds catch a worse method.

`changes.py` counts on many; its table is in tests/README.md. Seeds are fixed; bounds are the
table's shares with about three standard errors of this sample size.
"""

from __future__ import annotations

import numpy as np
from changes import called_more, weekly_sets

LIFTERS = 200
HISTORY = 26


def share(correlation: float, rise: float) -> float:
    """Called more than usual, of lifters with half a year before the change."""
    rng = np.random.default_rng(11)
    return called_more(weekly_sets(rng, LIFTERS, HISTORY, correlation, rise), HISTORY)


def test_where_nothing_changed_few_differences_are_called_more_than_usual() -> None:
    # 2.8 and 3.0 %, standard error 1.2 points
    assert share(0.0, 0.0) <= 0.065
    assert share(0.6, 0.0) <= 0.065


def test_a_rise_of_two_standard_deviations_is_mostly_seen() -> None:
    # 63.7 %, standard error 3.4 points
    assert share(0.0, 6.0) >= 0.53
