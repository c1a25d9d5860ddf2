"""Estimated effort, counted on few lifters whose reserve is known: bounds catch a worse method.

`efforts.py` counts on many; its table is in tests/README.md. Bounds are its figures and about two
and a half standard errors of this sample size. Seeds are fixed.
"""

from __future__ import annotations

import functools

import polars as pl
import pytest
from efforts import judged

LIFTERS = 60
SEED = 11


@functools.cache
def sets() -> pl.DataFrame:
    """Judged sets of 60 lifters of each habit."""
    return judged(LIFTERS, SEED)


def of(habit: str) -> pl.DataFrame:
    """The sets of one habit."""
    return sets().filter(pl.col("habit") == habit)


def share(frame: pl.DataFrame, condition: pl.Expr) -> float:
    """Share of sets for which a condition holds."""
    return float(frame.select(condition.mean()).item())


RIGHT = pl.col("is_hard") == pl.col("truly_hard")


def test_each_effort_is_estimated() -> None:
    assert sets()["effort_basis"].unique().to_list() == ["estimated"]


@pytest.mark.parametrize(
    ("habit", "least"), [("near failure", 0.92), ("two or three in reserve", 0.84)]
)
def test_the_hard_set_line_is_right_where_training_is_near_failure(
    habit: str, least: float
) -> None:
    assert share(of(habit), RIGHT) >= least


@pytest.mark.parametrize("habit", ["near failure", "two or three in reserve"])
def test_hard_sets_are_seldom_missed(habit: str) -> None:
    hard = of(habit).filter("truly_hard")
    assert share(hard, pl.col("is_hard")) >= 0.96


def test_most_easy_sets_of_who_trains_near_failure_are_screened_out() -> None:
    first = of("near failure").filter(~pl.col("truly_hard") & (pl.col("nth") == 1))
    assert share(first, pl.col("is_hard")) <= 0.5


def test_first_sets_near_failure_are_estimated_without_bias_and_within_retest_spread() -> None:
    errors = of("near failure").filter(pl.col("nth") == 1)["error"]
    assert abs(float(errors.mean())) <= 0.5  # type: ignore[arg-type]
    # two tests apart by 1.1 repetitions each (Mitter et al. 2022): √2 × 1.1 = 1.6
    assert float(errors.std()) <= 1.6  # type: ignore[arg-type]
