"""Sessions of a lift: best figures, light sessions, records. Expected rows are by hand."""

from __future__ import annotations

from datetime import date

import pytest

from pipeline.settings.workspace import Client, Phase
from tests.conftest import MONDAY, Log, day

LIFT = "bench press"


def light_days(log: Log) -> list[date]:
    """Days of sessions that are taken for a deload."""
    rows = log.ask("select day from review.lift_session where is_light order by day")
    return [row[0] for row in rows]


def test_each_estimate_is_its_own_maximum(log: Log) -> None:
    # 100 × 5: Epley 116.67, Brzycki 112.5; 80 × 12: Epley 112, Brzycki 115.2
    log.set(MONDAY, LIFT, 100.0, 5, rir=0.0)
    log.set(MONDAY, LIFT, 80.0, 12, rir=0.0)
    log.set(MONDAY, LIFT, 100.0, 3, rir=0.0)
    log.build(MONDAY)
    assert log.ask(
        "select top_load_kg, top_reps, round(e1rm_epley, 2), round(e1rm_brzycki, 2),"
        " round(e1rm, 2), round(strength_index, 2), hard_sets, reps, tonnage_kg, is_light"
        " from review.lift_session"
    ) == [(100.0, 5, 116.67, 115.2, 114.58, 116.67, 3, 20, 1760.0, False)]


def test_the_loaded_side_counts_where_the_other_carries_nothing(log: Log) -> None:
    """Dips, left with 4 kg and right with none: 70 × 18 + 4 × 10, by hand."""
    log.bodyweight(70.0)
    log.set(MONDAY, "dip", 4.0, 10, side="left", set_no=1)
    log.set(MONDAY, "dip", 0.0, 8, side="right", set_no=1)
    log.build(MONDAY)
    assert log.ask("select reps, tonnage_kg from review.lift_session") == [(8, 1300.0)]


def test_a_day_of_warmups_is_no_session_of_the_lift(log: Log) -> None:
    log.set(MONDAY, LIFT, 60.0, 5, set_kind="warmup")
    log.build(MONDAY)
    assert log.one("select count(*) from review.lift_session") == 0


@pytest.mark.parametrize(
    ("load", "reps", "is_light"),
    [(90.0, 8, True), (91.0, 8, False), (90.0, 9, False), (70.0, 5, True)],
)
def test_a_light_session_is_ten_percent_under_at_no_more_repetitions(
    log: Log, load: float, reps: int, is_light: bool
) -> None:
    for number in range(3):
        log.set(day(3 * number), LIFT, 100.0, 8, rir=2.0)
    log.set(day(9), LIFT, load, reps, rir=3.0)
    log.build(day(9))
    assert light_days(log) == ([day(9)] if is_light else [])


def test_a_session_without_a_hard_set_is_light_once_three_exist(log: Log) -> None:
    for number in range(5):
        log.set(day(3 * number), LIFT, 100.0, 8, rir=5.0 if number in (1, 4) else 2.0)
    log.build(day(12))
    assert light_days(log) == [day(12)]


def test_light_sessions_are_not_compared_with_light_ones(log: Log) -> None:
    for number in range(4):
        log.set(day(3 * number), LIFT, 100.0, 8, rir=2.0)
    for offset in (12, 14, 16, 18):
        log.set(day(offset), LIFT, 70.0, 8, rir=5.0)
    log.set(day(24), LIFT, 100.0, 8, rir=2.0)
    log.build(day(24))
    assert light_days(log) == [day(12), day(14), day(16), day(18)]
    assert log.ask("select distinct light_run_days from review.lift_session where is_light") == [
        (7,)
    ]


@pytest.mark.parametrize(("last", "is_deload"), [(21, True), (22, False)])
def test_a_run_of_over_ten_days_counts(log: Log, last: int, is_deload: bool) -> None:
    for number in range(4):
        log.set(day(3 * number), LIFT, 100.0, 8, rir=2.0)
    log.set(day(12), LIFT, 85.0, 8, rir=2.0)
    log.set(day(last), LIFT, 85.0, 8, rir=2.0)
    log.build(day(last))
    assert light_days(log) == ([day(12), day(last)] if is_deload else [])
    assert log.one("select max(light_run_days) from review.lift_session") == last - 12 + 1


def test_sessions_in_a_phase_of_deload_are_taken_out(log: Log) -> None:
    for number in range(4):
        log.set(day(3 * number), LIFT, 100.0, 8, rir=2.0)
    phases = (Phase("deload", day(3), day(6)),)
    log.build(day(9), clients=[Client(id="ines", name="Ines", phases=phases)])
    assert light_days(log) == [day(3), day(6)]


def test_records_are_the_heaviest_load_for_at_least_so_many_repetitions(log: Log) -> None:
    log.set(day(0), LIFT, 100.0, 5)
    log.set(day(2), LIFT, 90.0, 8)
    log.set(day(4), LIFT, 100.0, 3)
    log.set(day(6), LIFT, 95.0, 6)
    log.build(day(6))
    assert log.ask("select reps, load_kg, performed_on, set_id from review.records order by 1") == [
        (1, 100.0, day(0), "1:2:1"),
        (2, 100.0, day(0), "1:2:1"),
        (3, 100.0, day(0), "1:2:1"),
        (4, 100.0, day(0), "1:2:1"),
        (5, 100.0, day(0), "1:2:1"),
        (6, 95.0, day(6), "1:5:1"),
        (7, 90.0, day(2), "1:3:1"),
        (8, 90.0, day(2), "1:3:1"),
    ]


def test_records_start_again_with_a_new_level(log: Log) -> None:
    for number in range(6):
        log.set(day(3 * number), LIFT, 100.0, 8)
    for number in range(6, 12):
        log.set(day(3 * number), LIFT, 60.0, 8)
    log.build(day(33))
    assert log.ask("select distinct load_kg, performed_on from review.records") == [(60.0, day(18))]


def test_records_of_bodyweight_lifts_go_by_added_load(log: Log) -> None:
    log.bodyweight(80.0)
    log.set(day(0), "pull-up", None, 10)
    log.set(day(2), "pull-up", 10.0, 6)
    log.build(day(2))
    assert log.ask("select reps, load_kg from review.records where reps in (6, 10) order by 1") == [
        (6, 10.0),
        (10, 0.0),
    ]


def test_ties_go_to_the_earliest_day_then_the_smallest_set(log: Log) -> None:
    log.set(day(3), LIFT, 100.0, 5)
    log.set(day(1), LIFT, 100.0, 5)
    log.set(day(1), LIFT, 100.0, 5)
    log.build(day(3))
    assert log.ask("select distinct performed_on, set_id from review.records") == [
        (day(1), "1:3:1")
    ]
