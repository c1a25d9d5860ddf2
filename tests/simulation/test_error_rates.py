"""The stall detector's errors, counted on few lifters: the bounds catch a worse detector.

`measure.py` counts them on many; its table is in tests/README.md. Bounds are the promised rate plus
about two and a half standard errors of these sample sizes. Seeds are fixed.
"""

from __future__ import annotations

import functools
from typing import Any

import polars as pl
import pytest
from detectors import alarm_share, cut_at_equal_alarms, statuses
from lifters import Scenario
from measure import AS_LOGGED, UNLOGGED

LIFTERS = 400
SEED = 11


def slowly(*values: object) -> Any:
    """A case of the slow run: each costs a second."""
    return pytest.param(*values, marks=pytest.mark.slow)


@functools.cache
def judged(scenario: Scenario) -> pl.DataFrame:
    """The last status of 400 lifters."""
    return statuses(scenario, LIFTERS, SEED)


def alarms(scenario: Scenario) -> float:
    """Share of 400 lifters called stalled or regressing at the end of their logs."""
    return alarm_share(judged(scenario))


@pytest.mark.parametrize(("rate", "noise"), [(0.5, 2.0), slowly(0.1, 3.5), slowly(0.5, 3.5)])
def test_who_gains_is_seldom_accused(rate: float, noise: float) -> None:
    assert alarms(Scenario("", rate=rate, noise=noise)) <= 0.077


@pytest.mark.parametrize(
    "changes",
    [
        slowly({"correlation": 0.5}),
        slowly(AS_LOGGED | {"deloads": True}),
        UNLOGGED | {"bad_days": 0.03},
        slowly(AS_LOGGED | {"reps": 5, "new_reps": 10, "curve": 4.0}),
        slowly(AS_LOGGED | {"level": 0.8}),
    ],
    ids=["correlated noise", "deloads", "bad days", "other repetitions", "another machine"],
)
def test_hard_logs_accuse_few(changes: dict[str, object]) -> None:
    assert alarms(Scenario("", rate=0.25, **changes)) <= 0.10  # type: ignore[arg-type]


@pytest.mark.parametrize(("noise", "least"), [(2.0, 0.85), slowly(3.5, 0.47)])
def test_a_plateau_of_eight_weeks_is_found(noise: float, least: float) -> None:
    assert alarms(Scenario("", end_weeks=8, noise=noise)) >= least


@pytest.mark.slow
def test_twice_as_many_plateaus_as_the_common_rule_at_equal_false_alarms() -> None:
    moving = judged(Scenario("", rate=0.5, noise=3.5))
    flat = judged(Scenario("", end_weeks=8, noise=3.5))
    days = cut_at_equal_alarms(moving, 0.05, "days_since_best")
    common = float((flat["days_since_best"] > days).mean())  # type: ignore[arg-type]
    assert alarm_share(flat) >= 2 * common


@pytest.mark.slow
@pytest.mark.parametrize("weeks", [12, 16])
def test_a_long_plateau_is_not_called_a_fall(weeks: int) -> None:
    plateau = judged(Scenario("", end_weeks=weeks))
    assert alarm_share(plateau, ["stalled"]) >= 0.85
    assert alarm_share(plateau, ["regressing"]) <= 0.09


def test_who_falls_is_told_so() -> None:
    falling = Scenario("", end_weeks=8, end_rate=-1.0)
    assert alarm_share(judged(falling), ["regressing"]) >= 0.8


@pytest.mark.slow
def test_who_gains_much_is_told_so() -> None:
    assert alarm_share(judged(Scenario("", rate=1.0)), ["progressing"]) >= 0.95
