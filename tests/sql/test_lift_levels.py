"""A change of level: another machine, grip or unit starts the lift's figures anew."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

import duckdb
import pytest

from pipeline.review.model_files import find_models
from pipeline.settings.rules import Rules

FIRST = date(2026, 1, 5)


def levels_of(
    indices: Sequence[float], days: Sequence[int] | None = None, noted: Sequence[int] = ()
) -> list[Any]:
    """(level, level_from as a place in the list) of each session, by the model itself.

    `noted`: days, from the first session, of noted changes of the lift.
    """
    offsets = list(days or range(0, 3 * len(indices), 3))
    con = duckdb.connect()
    rules = Rules()
    con.execute("create schema review")
    con.execute(
        "create table review.rules as select ? as level_change_share, ? as light_share,"
        " ? as light_run_days, ? as reference_days, ? as not_trained_days",
        [
            rules.level_change_share,
            rules.light_share,
            rules.light_run_days,
            rules.reference_days,
            rules.not_trained_days,
        ],
    )
    con.execute(
        "create temp table int_lift_session__indexed"
        " (client_id varchar, exercise varchar, day date, session_index double)"
    )
    con.executemany(
        "insert into int_lift_session__indexed values ('ines', 'leg press', ?, ?)",
        [(FIRST + timedelta(offset), each) for offset, each in zip(offsets, indices, strict=True)],
    )
    con.execute(
        "create temp table stg_lift_changes"
        " as select 'ines' as client_id, 'leg press' as exercise, ?::date + unnest(?::int[])"
        " as changed_on",
        [FIRST, list(noted)],
    )
    model = next(each for each in find_models() if each.name == "int_lift_session__levelled")
    rows = con.execute(f"select level, level_from from ({model.sql}) order by day").fetchall()
    places = {FIRST + timedelta(offset): place for place, offset in enumerate(offsets)}
    return [(level, places[level_from]) for level, level_from in rows]


def test_another_machine_starts_a_level_at_its_first_session() -> None:
    assert levels_of([100, 101, 102, 101, 80, 81, 82, 81, 80]) == [(1, 0)] * 4 + [(2, 4)] * 5


def test_one_start_per_change_up_and_down() -> None:
    indices = [100] * 6 + [125] * 8 + [100] * 8
    assert levels_of(indices) == [(1, 0)] * 6 + [(2, 6)] * 8 + [(3, 14)] * 8


@pytest.mark.parametrize(("after", "level"), [(114.9, 1), (115.0, 2)])
def test_fifteen_percent_is_the_edge(after: float, level: int) -> None:
    assert levels_of([100.0] * 5 + [after] * 5)[-1][0] == level


def test_steady_progress_changes_no_level() -> None:
    assert {level for level, _ in levels_of([100 * 1.01**place for place in range(40)])} == {1}


def test_a_deload_week_of_three_sessions_is_no_level() -> None:
    assert {level for level, _ in levels_of([100] * 6 + [70, 70, 70] + [100] * 6)} == {1}


def test_one_mistyped_session_is_no_level() -> None:
    assert {level for level, _ in levels_of([100] * 5 + [40, 100, 140] + [100] * 5)} == {1}


def test_weaker_after_a_break_is_no_level() -> None:
    days = [0, 3, 6, 9, 60, 63, 66, 69]
    assert {level for level, _ in levels_of([100] * 4 + [80] * 4, days)} == {1}


def test_two_sessions_at_another_level_are_not_enough() -> None:
    assert {level for level, _ in levels_of([100] * 5 + [130] * 2)} == {1}


def test_no_sessions_before_means_no_change() -> None:
    assert levels_of([100, 100, 130, 130, 130, 130])[-1][0] == 1


def test_a_dip_of_exactly_ten_percent_is_passed_over() -> None:
    """21 is nine tenths of 70/3, but not of 70/3 as stored, with nine decimals.

    Passed over, the three before the change are 70/3, 70/3 and 22.5, and 26 is 11 % above their
    median; with the dip they would be 70/3, 21 and 22.5, and 26 is 15.6 % above.
    """
    third = round(70 / 3, 9)
    assert 0.9 * third < 21.0
    indices = [third, third, third, third, 21.0, 22.5, 26.0, 26.0, 26.0]
    assert {level for level, _ in levels_of(indices)} == {1}


def test_a_noted_change_starts_a_level_whatever_the_loads_say() -> None:
    # noted on a day between the sessions of day 12 and day 15
    assert levels_of([100.0] * 8, noted=[14]) == [(1, 0)] * 5 + [(2, 5)] * 3


def test_a_noted_change_at_the_step_itself_is_the_same_change() -> None:
    indices = [100.0] * 6 + [80.0] * 6
    assert levels_of(indices, noted=[18]) == [(1, 0)] * 6 + [(2, 6)] * 6


def test_a_change_noted_before_the_log_begins_changes_nothing() -> None:
    assert levels_of([100.0] * 4, noted=[-10]) == [(1, 0)] * 4
