"""Session fade against a loss that is known, on few lifters: the bounds catch a worse interval.

`fades.py` counts on many; its table is in tests/README.md. A 95 % interval holds the truth in 95 %
of lifters; bounds are that less about two and a half standard errors. Seeds are fixed.
"""

from __future__ import annotations

from typing import Any

import pytest
from fades import ACROSS, measured
from tired import Tiring

LIFTERS = 100
SEED = 11


def slowly(tiring: Tiring) -> Any:
    """A case of the slow run."""
    return pytest.param(tiring, marks=pytest.mark.slow)


@pytest.mark.parametrize(
    "tiring",
    [
        Tiring("within", loss=0.03),
        slowly(Tiring("three exercises, cost varies", loss=0.03, loss_spread=0.015, exercises=3)),
        Tiring("across", loss=0.01, **ACROSS),
        slowly(Tiring("across, seldom first", loss=0.03, first_share=0.25, **ACROSS)),
    ],
    ids=lambda each: each.name,
)
def test_a_loss_is_found_and_its_interval_holds_the_truth(tiring: Tiring) -> None:
    for fade in measured(tiring, LIFTERS, SEED):
        assert fade.lifters >= 0.9 * LIFTERS
        assert fade.covered >= 0.89, fade
        assert fade.mean_output == pytest.approx(fade.true_output, abs=0.004)
        assert fade.called_loss >= 0.9, fade


@pytest.mark.parametrize(
    "tiring",
    [
        Tiring("within", exercises=2, reserve_off=True),
        slowly(Tiring("across, seldom first", first_share=0.25, **ACROSS)),
    ],
    ids=lambda each: each.name,
)
def test_where_nothing_is_lost_a_loss_is_seldom_called(tiring: Tiring) -> None:
    for fade in measured(tiring, LIFTERS, SEED):
        assert fade.called_loss <= 0.075, fade
        assert fade.called_gain <= 0.075, fade
