"""The arithmetic of a change, by hand."""

from __future__ import annotations

from typing import Any

import duckdb
import pytest

from pipeline.review.macros import macro_files, macros
from tests.conftest import Log, day


def changed_rate(arguments: str) -> tuple[Any, ...]:
    """Sets per hit, days between hits and weekly rate, each before and after."""
    con = duckdb.connect()
    with macros(con):
        row = con.execute(f"from changed_rate({arguments})").fetchone()
    assert row is not None
    return row


@pytest.mark.parametrize(
    ("arguments", "row"),
    [
        # 8 sets every 4 days: 7 ÷ 4 × 8; with one rest day every 5 days: 7 ÷ 5 × 8
        ("8, 4", (8, 8, 4, 4, 14, 14)),
        ("8, 4, rest_days := 1", (8, 8, 4, 5, 14, 11.2)),
        # 4 to 8 sets twice a week: 8 to 16
        ("4, 3.5, sets_added := 4", (4, 8, 3.5, 3.5, 8, 16)),
        # two hits in a round of 8 days: one rest day makes it 9, a hit every 4.5
        ("9, 4, rotation_days := 8, rest_days := 1", (9, 9, 4, 4.5, 15.75, 14)),
        # both at once: 10 sets every 5 days
        ("8, 4, rest_days := 1, sets_added := 2", (8, 10, 4, 5, 14, 14)),
        # 16 sets once a week, spread over two days: as many sets
        ("16, 7, split_over := 2", (16, 8, 7, 3.5, 16, 16)),
        # no more sets can be taken away than there are
        ("3, 7, sets_added := -4", (3, 0, 7, 7, 3, 0)),
    ],
)
def test_sets_and_days_before_and_after(arguments: str, row: tuple[float, ...]) -> None:
    assert changed_rate(arguments) == row


def test_a_muscle_that_is_not_hit_has_no_rate() -> None:
    assert changed_rate("null, null, rotation_days := 7, rest_days := 1") == (None,) * 6
    assert changed_rate("0, 0") == (0, 0, None, None, None, None)


@pytest.mark.parametrize(
    ("arguments", "standing"),
    [
        # the margin of a usual hit of 8 sets: half of them over four weeks, 1 a week
        ("6.9, 6.9, 8, 16, 1, true", "below"),
        ("7.0, 7.0, 8, 16, 1, true", "within"),
        ("17.0, 17.0, 8, 16, 1, true", "within"),
        ("17.1, 17.1, 8, 16, 1, true", "above"),
        # lats alone are low, with upper back they are not; together they are never too many
        ("6.0, 9.0, 8, 16, 1, true", "within"),
        ("12.0, 20.0, 8, 16, 1, true", "within"),
        ("6.0, 6.0, 8, 16, 1, false", None),
        ("0.0, 0.0, null, 16, 1, true", "within"),
        ("5.0, 5.0, null, null, 1, true", None),
        ("null, null, 8, 16, 1, true", None),
    ],
)
def test_standing_to_the_guide(arguments: str, standing: str | None) -> None:
    con = duckdb.connect()
    with macros(con):
        assert con.execute(f"select standing_to_guide({arguments})").fetchone() == (standing,)


def test_the_margin_is_half_the_sets_of_a_hit_spread_over_the_weeks() -> None:
    con = duckdb.connect()
    with macros(con):
        margins = con.execute(
            "select standing_margin(8, 28), standing_margin(3, 28), standing_margin(null, 28)"
        ).fetchone()
    assert margins == (1.0, 0.375, 0.0)


def test_the_macros_are_gone_after_a_build(log: Log) -> None:
    log.set(day(0), "bench press", 60.0, 8)
    log.build(day(0))
    names = {path.stem for path in macro_files()}
    known = {name for (name,) in log.ask("select function_name from duckdb_functions()")}
    assert names and not names & known
