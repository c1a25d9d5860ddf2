"""What is said of days in a row where it is so and where it is not; seeds are fixed.

`recovering.py` counts on many; its table is in tests/README.md.
"""

from __future__ import annotations

import pytest
from recovering import Recovering, measured


@pytest.mark.parametrize("loss", [0.01, pytest.param(-0.01, marks=pytest.mark.slow)])
def test_a_difference_that_is_there_is_said_on_the_right_side(loss: float) -> None:
    found = measured(Recovering("there", loss=loss), 20, 11)
    assert found["right"] >= 0.9
    assert found["wrong"] == 0


@pytest.mark.slow
def test_where_there_is_none_one_is_seldom_said() -> None:
    for case in (Recovering("none"), Recovering("bent", come=0.45, bends_after=18)):
        assert measured(case, 100, 12)["wrong"] <= 0.05
