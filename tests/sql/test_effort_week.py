"""Recorded effort by week and kind of movement. Expected rows are by hand."""

from __future__ import annotations

from pipeline.units import to_kg
from tests.conftest import Log, day

COLUMNS = (
    "week, movement, work_sets, recorded_sets, rir_0, rir_1, rir_2, rir_3, rir_4, rir_5_up,"
    " extended_sets, recorded_share"
)


def test_recorded_sets_fall_into_whole_repetitions_half_steps_down(log: Log) -> None:
    for rir in (0.0, 0.5, 1.0, 1.5, 2.0, 3.5, 4.0, 5.0, 8.0, None):
        log.set(day(1), "bench press", 80.0, 5, rir=rir)
    log.build(day(1))
    assert log.ask(f"select {COLUMNS} from review.effort_week") == [
        (day(0), "compound", 10, 9, 2, 2, 1, 1, 1, 2, 0, 0.9)
    ]


def test_light_sets_and_warmups_are_left_out_and_sets_without_load_are_in(log: Log) -> None:
    log.set(day(0), "bench press", 100.0, 5, rir=2.0)
    log.set(day(0), "bench press", 60.0, 5, rir=5.0)
    log.set(day(0), "bench press", 59.0, 5, rir=8.0)
    log.set(day(0), "bench press", 90.0, 5, rir=5.0, set_kind="warmup")
    log.set(day(0), "plank", None, 20, rir=1.0)
    log.build(day(0))
    assert log.ask(
        "select movement, work_sets, rir_1, rir_2, rir_5_up from review.effort_week order by 1"
    ) == [("compound", 2, 0, 1, 1), ("isolation", 1, 1, 0, 0)]


def test_three_fifths_of_the_top_load_are_in_for_pounds_too(log: Log) -> None:
    # 102 = 0.6 × 170
    for pounds in (170.0, 102.0, 101.0):
        log.set(day(0), "bench press", to_kg(pounds, "lb"), 5, rir=2.0)
    log.build(day(0))
    assert log.one("select work_sets from review.effort_week") == 2


def test_extended_sets_are_counted_among_the_recorded(log: Log) -> None:
    log.set(day(0), "pec deck", 50.0, 10)
    log.set(day(0), "pec deck", 35.0, 8, set_kind="extension")
    log.set(day(0), "pec deck", 50.0, 10)
    log.build(day(0))
    assert log.ask(f"select {COLUMNS} from review.effort_week") == [
        (day(0), "isolation", 2, 1, 1, 0, 0, 0, 0, 0, 1, 0.5)
    ]


def test_estimates_are_never_binned(log: Log) -> None:
    log.sets(day(0), "bench press", 80.0, 5, 3)
    log.build(day(0))
    assert log.ask("select recorded_sets, rir_0, recorded_share from review.effort_week") == [
        (0, 0, 0.0)
    ]


def test_unknown_exercises_have_a_row_of_their_own(log: Log) -> None:
    log.set(day(0), "zzz machine thing", 80.0, 5, rir=1.0)
    log.build(day(0))
    assert log.ask("select movement, rir_1 from review.effort_week") == [("unknown", 1)]
