"""Four weeks before a change beside four weeks after it. Rows are by hand."""

from __future__ import annotations

import math
from typing import Any

import pytest

from pipeline.settings.workspace import Change, Client, Phase
from tests.conftest import Log, day

SQUATS = "leg extension"
"""Trains the quads and no other muscle."""


def ines(*changed: int, **settings: Any) -> list[Client]:
    """One client with changes on these days."""
    changes = tuple(Change(day(offset), "one more set") for offset in changed)
    return [Client(id="ines", name="Ines", changes=changes, **settings)]


def week(log: Log, number: int, sets: int, **other: Any) -> None:
    """One session on the Monday of a week."""
    log.sets(day(7 * number), SQUATS, 50.0, 10, sets, **({"rir": 1.0} | other))


def row(log: Log, measure: str, columns: str = "before, after, difference") -> tuple[Any, ...]:
    """The row of one measure; none: ()."""
    rows = log.ask(f"select {columns} from review.before_after where measure = '{measure}'")
    assert len(rows) <= 1, rows
    return rows[0] if rows else ()


def test_four_weeks_each_side_of_a_change(log: Log) -> None:
    # 4 sets on Monday and Thursday, from week 5 on 6; day 56 completes the four weeks after
    for number in range(9):
        for weekday in (0, 3):
            log.sets(day(7 * number + weekday), SQUATS, 50.0, 10, 4 + 2 * (number > 3), rir=1.0)
    log.build(day(59), clients=ines(28))
    assert log.ask(
        "select measure, before, after, difference, is_usual_variation, days_before, days_after,"
        " other_changes from review.before_after order by measure"
    ) == [
        ("hard_sets_per_session", 4.0, 6.0, 2.0, None, 28, 28, 0),
        ("lift_level", 100.0, 100.0, 0.0, None, 28, 28, 0),
        ("recorded_share", 1.0, 1.0, 0.0, None, 28, 28, 0),
        ("weekly_hard_sets", 8.0, 12.0, 4.0, None, 28, 28, 0),
        ("weekly_rest_days", 5.0, 5.0, 0.0, None, 28, 28, 0),
        ("weekly_sessions", 2.0, 2.0, 0.0, None, 28, 28, 0),
        ("weekly_sets_legs", 8.0, 12.0, 4.0, None, 28, 28, 0),
    ]


@pytest.mark.parametrize(("more", "is_usual"), [(6, True), (7, False), (-6, True), (-7, False)])
def test_usual_is_what_spans_of_the_half_year_before_differ_by(
    log: Log, more: int, is_usual: bool
) -> None:
    # 8 sets a week for 26 weeks, 12 in the 13th: of the 19 pairs of neighbouring spans 4 differ
    # by +1 a week and 4 by −1; 2.5 × √(8 ÷ 19) = 1.62. Then 6 or 7 sets more in four weeks
    for number in range(26):
        week(log, number, 12 if number == 12 else 8)
    for number in range(26, 30):
        extra = math.copysign(abs(more) // 4 + (number - 26 < abs(more) % 4), more)
        week(log, number, 8 + int(extra))
    week(log, 30, 8)
    log.build(day(7 * 30), clients=ines(182))
    assert row(log, "weekly_hard_sets") == (8.0, 8 + more / 4, more / 4)
    assert row(log, "weekly_hard_sets", "is_usual_variation, usual_difference") == (
        is_usual,
        pytest.approx(2.5 * math.sqrt(8 / 19), abs=1e-9),
    )


def test_any_difference_is_more_than_usual_where_nothing_ever_varied(log: Log) -> None:
    for number in range(31):
        week(log, number, 9 if number == 26 else 8)
    log.build(day(7 * 30), clients=ines(182))
    assert row(log, "weekly_hard_sets", "difference, is_usual_variation") == (0.25, False)
    assert row(log, "weekly_sessions", "difference, is_usual_variation") == (0.0, True)


@pytest.mark.parametrize(("weeks", "usual"), [(15, 0.0), (14, None)])
def test_eight_pairs_of_spans_tell_what_is_usual(log: Log, weeks: int, usual: float | None) -> None:
    # pairs of eight weeks, one ending each week: 8 of them in 15 weeks
    for number in range(weeks + 5):
        week(log, number, 8)
    log.build(day(7 * (weeks + 4)), clients=ines(7 * weeks))
    assert row(log, "weekly_hard_sets", "usual_difference") == (usual,)


def test_an_unfinished_span_goes_by_its_days_so_far_and_is_not_judged(log: Log) -> None:
    # sessions on the days 0, 7 and 14 of the span: 24 sets in 15 days
    for number in range(29):
        week(log, number, 8)
    log.build(day(7 * 28 + 3), clients=ines(182))
    columns = "before, after, difference, is_usual_variation, usual_difference, days_after"
    assert row(log, "weekly_hard_sets", columns) == (8.0, 11.2, 3.2, None, 0.0, 15)


def test_under_two_weeks_after_a_change_give_no_figure(log: Log) -> None:
    for number in range(28):
        week(log, number, 8)
    log.build(day(7 * 27), clients=ines(182))
    columns = "before, after, difference, is_usual_variation, days_after"
    assert row(log, "weekly_hard_sets", columns) == (8.0, None, None, None, 8)


def test_days_before_the_first_log_are_no_days_without_training(log: Log) -> None:
    # logged since day 14 only: two sessions in 14 days before the change on day 28
    for number in range(2, 9):
        week(log, number, 8)
    log.build(day(56), clients=ines(28))
    columns = "before, after, is_usual_variation, days_before"
    assert row(log, "weekly_hard_sets", columns) == (8.0, 8.0, None, 14)


def test_deload_days_stay_out_of_rates(log: Log) -> None:
    # the third week, with 2 sets, is a deload: 24 sets in 21 days, not 26 in 28
    for number in range(9):
        week(log, number, 2 if number == 2 else 8)
    deload = Phase("deload", day(14), day(20))
    log.build(day(56), clients=ines(28, phases=(deload,)))
    assert row(log, "weekly_hard_sets", "before, after, days_before") == (8.0, 8.0, 21)


def test_in_care_there_are_figures_and_no_judgement(log: Log) -> None:
    for number in range(31):
        week(log, number, 8 if number < 26 else 2)
    care = Phase("care", day(190), day(200))
    log.build(day(210), clients=ines(182, phases=(care,)))
    columns = "before, after, is_usual_variation, usual_difference"
    assert row(log, "weekly_hard_sets", columns) == (8.0, 2.0, None, 0.0)


def test_shares_of_effort_where_half_the_sets_are_recorded(log: Log) -> None:
    # before: 2 of 8 sets recorded, too few; after: 6 of 8, of them 3 to failure and 1 easy;
    # 2 of 8 go on in partials. A set goes on: nothing was left
    for number in range(9):
        if number < 4:
            week(log, number, 2)
            week(log, number, 6, rir=None)
        else:
            week(log, number, 1, rir=0.0)
            week(log, number, 2, rir=0.0, partial_reps=3)
            week(log, number, 1, rir=5.0)
            week(log, number, 2, rir=2.0)
            week(log, number, 2, rir=None)
    log.build(day(56), clients=ines(28))
    assert row(log, "recorded_share") == (0.25, 0.75, 0.5)
    assert row(log, "failure_share") == (None, 0.5, None)
    assert row(log, "easy_share") == (None, pytest.approx(1 / 6, abs=1e-9), None)
    # the easy set is no hard set: 2 of 7
    two_of_seven = pytest.approx(2 / 7, abs=1e-9)
    assert row(log, "extended_share") == (0.0, two_of_seven, two_of_seven)


def test_the_level_of_lifts_is_the_mean_of_what_each_moved(log: Log) -> None:
    # one lift 50 → 51 kg, the other unchanged, at equal repetitions: the root of 1.02 × 1
    for number in range(9):
        log.sets(day(7 * number), SQUATS, 51.0 if number > 3 else 50.0, 10, 3, rir=0.0)
        log.sets(day(7 * number), "leg curl", 40.0, 10, 3, rir=0.0)
    log.build(day(56), clients=ines(28))
    after = 100 * math.sqrt(1.02)
    assert row(log, "lift_level") == (
        100.0,
        pytest.approx(after, abs=1e-6),
        pytest.approx(after - 100, abs=1e-6),
    )


def test_a_lift_of_one_side_only_is_not_compared(log: Log) -> None:
    for number in range(9):
        log.sets(day(7 * number), SQUATS if number < 4 else "leg press", 50.0, 10, 3, rir=0.0)
    log.build(day(56), clients=ines(28))
    assert row(log, "lift_level") == ()
    assert row(log, "weekly_sets_legs") == (3.0, 3.0, 0.0)


def test_changes_within_four_weeks_of_each_other_are_told(log: Log) -> None:
    for number in range(16):
        week(log, number, 8)
    log.build(day(105), clients=ines(28, 42, 70))
    assert log.ask(
        "select changed_on, other_changes from review.before_after"
        " where measure = 'weekly_hard_sets' order by changed_on"
    ) == [(day(28), 1), (day(42), 1), (day(70), 0)]


def test_a_change_still_to_come_has_no_row(log: Log) -> None:
    for number in range(9):
        week(log, number, 8)
    log.build(day(56), clients=ines(57))
    assert log.one("select count(*) from review.before_after") == 0
