"""Loads that are slips of the pen. The rule is ours; expected rows are by hand."""

from __future__ import annotations

import pytest

from pipeline.units import to_kg
from tests.conftest import Log, day

LIFT = "bench press"


def suspect_days(log: Log) -> list[object]:
    """Days of suspect sets, in order."""
    return [
        row[0]
        for row in log.ask(
            "select performed_on from review.graded_sets where is_suspect order by set_id"
        )
    ]


@pytest.mark.parametrize(("load", "is_suspect"), [(150.0, False), (150.5, True)])
def test_over_one_and_a_half_times_the_best_is_suspect(
    log: Log, load: float, is_suspect: bool
) -> None:
    log.set(day(0), LIFT, 100.0, 8)
    log.set(day(3), LIFT, load, 8)
    log.build(day(3))
    assert suspect_days(log) == ([day(3)] if is_suspect else [])


def test_one_and_a_half_times_the_best_is_not_suspect_in_pounds_either(log: Log) -> None:
    # 240 = 1.5 × 160
    log.set(day(0), LIFT, to_kg(160, "lb"), 8)
    log.set(day(3), LIFT, to_kg(240, "lb"), 8)
    log.build(day(3))
    assert suspect_days(log) == []


def test_a_first_session_has_nothing_to_be_suspect_by(log: Log) -> None:
    log.set(day(0), LIFT, 20.0, 8)
    log.set(day(0), LIFT, 100.0, 8)
    log.build(day(0))
    assert suspect_days(log) == []


def test_a_load_reached_again_later_was_real(log: Log) -> None:
    log.set(day(0), LIFT, 60.0, 8)
    log.set(day(3), LIFT, 100.0, 8)
    log.set(day(6), LIFT, 95.0, 8)
    log.build(day(6))
    assert suspect_days(log) == []


def test_a_load_reached_again_only_the_same_day_is_suspect(log: Log) -> None:
    log.set(day(0), LIFT, 60.0, 8)
    log.sets(day(3), LIFT, 132.0, 8, 2)
    log.set(day(6), LIFT, 60.0, 8)
    log.build(day(6))
    assert suspect_days(log) == [day(3), day(3)]


def test_one_slip_neither_hides_nor_confirms_the_next(log: Log) -> None:
    log.set(day(0), LIFT, 100.0, 8)
    log.set(day(2), LIFT, 220.0, 8)
    log.set(day(4), LIFT, 1000.0, 8)
    log.set(day(8), LIFT, 102.5, 8)
    log.build(day(8))
    assert suspect_days(log) == [day(2), day(4)]


@pytest.mark.parametrize(("gap", "is_suspect"), [(42, True), (43, False)])
def test_the_comparison_reaches_back_42_days(log: Log, gap: int, is_suspect: bool) -> None:
    log.set(day(0), LIFT, 50.0, 8)
    log.set(day(gap), LIFT, 80.0, 8)
    log.build(day(gap))
    assert suspect_days(log) == ([day(gap)] if is_suspect else [])


def test_a_suspect_set_counts_as_a_set_but_not_for_strength(log: Log) -> None:
    log.set(day(0), LIFT, 100.0, 8)
    log.set(day(2), LIFT, 1000.0, 8)
    log.set(day(2), LIFT, 100.0, 8)
    log.set(day(4), LIFT, 100.0, 8)
    log.build(day(4))
    assert log.ask(
        "select top_load_kg, top_reps, hard_sets, reps, tonnage_kg, round(strength_index, 2)"
        " from review.lift_session where day = date '2026-06-03'"
    ) == [(100.0, 8, 2, 16, 800.0, 126.67)]
    assert log.one("select max(load_kg) from review.records") == 100.0
    assert log.one("select bool_and(is_hard) from review.graded_sets") is True


def test_a_day_of_suspect_sets_only_keeps_its_sets(log: Log) -> None:
    log.set(day(0), LIFT, 100.0, 8)
    log.set(day(2), LIFT, 1000.0, 8)
    log.build(day(2))
    assert log.ask(
        "select top_load_kg, strength_index, hard_sets, reps, tonnage_kg"
        " from review.lift_session order by day desc limit 1"
    ) == [(None, None, 1, 8, None)]
