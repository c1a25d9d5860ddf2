"""Rows to sets: sides, extensions, bodyweight, recorded effort. Expected rows are by hand."""

from __future__ import annotations

from datetime import timedelta

import pytest

from tests.conftest import MONDAY, Log, day

FIGURES = "effective_load_kg, rir_used, effort_basis, is_hard, is_extended, reps_to_failure"


def graded(log: Log, columns: str = FIGURES) -> list[tuple[object, ...]]:
    """All graded sets in the order of logging."""
    return log.ask(
        f"select {columns} from review.graded_sets "
        "order by cast(split_part(set_id, ':', 2) as integer)"
    )


def session(log: Log, columns: str) -> tuple[object, ...]:
    """The only lift session."""
    rows = log.ask(f"select {columns} from review.lift_session")
    assert len(rows) == 1, rows
    return rows[0]


def test_a_warmup_has_a_row_but_no_figures(log: Log) -> None:
    log.set(MONDAY, "bench press", 60.0, 5, set_kind="warmup")
    log.set(MONDAY, "bench press", 100.0, 8, rir=2.0)
    log.build(MONDAY)
    assert graded(log) == [
        (60.0, None, None, False, False, None),
        (100.0, 2.0, "recorded", True, False, 10.0),
    ]


def test_sets_after_the_as_of_day_are_not_counted(log: Log) -> None:
    log.set(MONDAY, "bench press", 100.0, 8, rir=2.0)
    log.set(day(1), "bench press", 100.0, 8, rir=2.0)
    log.build(MONDAY)
    assert log.one("select max(performed_on) from review.graded_sets") == MONDAY


def test_a_drop_extends_the_work_set_before_it_and_is_no_set(log: Log) -> None:
    log.set(MONDAY, "bench press", 100.0, 8)
    log.set(MONDAY, "bench press", 100.0, 6)
    log.set(MONDAY, "bench press", 70.0, 7, set_kind="extension")
    log.build(MONDAY)
    assert graded(log, "rir_used, effort_basis, is_hard, is_extended")[1:] == [
        (0.0, "recorded", True, True),
        (None, None, False, False),
    ]
    assert session(log, "work_sets, hard_sets, reps, tonnage_kg") == (2, 2, 14, 1400.0)


def test_a_drop_and_a_second_side_show_the_load_that_they_moved(log: Log) -> None:
    log.set(MONDAY, "single-leg leg press", 60.0, 10, side="left")
    log.set(MONDAY, "single-leg leg press", 55.0, 9, side="right")
    log.set(MONDAY, "single-leg leg press", 40.0, 6, set_kind="extension")
    log.build(MONDAY)
    # the set itself goes by its lighter and lower side
    assert graded(log, "effective_load_kg, reps_to_failure") == [
        (55.0, 9.0),
        (55.0, None),
        (40.0, None),
    ]


def test_a_drop_passes_over_other_exercises_and_warmups(log: Log) -> None:
    log.set(MONDAY, "bench press", 100.0, 8, rir=1.0)
    log.set(MONDAY, "barbell row", 80.0, 8, rir=1.0)
    log.set(MONDAY, "bench press", 40.0, 8, set_kind="warmup")
    log.set(MONDAY, "bench press", 70.0, 7, set_kind="extension")
    log.build(MONDAY)
    assert graded(log, "is_extended") == [(True,), (False,), (False,), (False,)]


def test_partial_repetitions_extend_a_set_and_say_zero_in_reserve(log: Log) -> None:
    log.set(MONDAY, "leg extension", 50.0, 12, partial_reps=4)
    log.build(MONDAY)
    assert graded(log) == [(50.0, 0.0, "recorded", True, True, 12.0)]


@pytest.mark.parametrize(
    ("logged", "expected"),
    [
        ({"rir": 2.0, "rpe": 6.0, "to_failure": True}, 2.0),
        ({"rpe": 8.5, "to_failure": True}, 1.5),
        ({"to_failure": True}, 0.0),
    ],
)
def test_recorded_reserve_is_taken_in_order(
    log: Log, logged: dict[str, object], expected: float
) -> None:
    log.set(MONDAY, "bench press", 100.0, 5, **logged)
    log.build(MONDAY)
    assert graded(log, "rir_used, effort_basis") == [(expected, "recorded")]


def test_failure_logged_as_false_records_nothing(log: Log) -> None:
    log.set(MONDAY, "bench press", 100.0, 5, to_failure=False)
    log.build(MONDAY)
    assert graded(log, "effort_basis") == [("estimated",)]


def test_two_sides_are_one_set_of_the_lower_side(log: Log) -> None:
    # 20 × 10 left, 20 × 8 right: 8 repetitions, reserve 1, 360 kg of work
    log.set(MONDAY, "dumbbell row", 20.0, 10, side="left", rir=2.0)
    log.set(MONDAY, "dumbbell row", 20.0, 8, side="right", rir=1.0)
    log.build(MONDAY)
    assert graded(log, "is_hard, rir_used, reps_to_failure") == [
        (True, 1.0, 9.0),
        (False, None, None),
    ]
    assert session(log, "work_sets, reps, tonnage_kg") == (1, 8, 360.0)


@pytest.mark.parametrize("sides", ["LRLR", "LLRR", "LRRL"])
def test_sides_without_numbers_pair_in_their_order(log: Log, sides: str) -> None:
    for side in sides:
        name = {"L": "left", "R": "right"}[side]
        log.set(MONDAY, "dumbbell row", 20.0, 10, side=name, rir=1.0)
    log.build(MONDAY)
    assert session(log, "work_sets, hard_sets, reps") == (2, 2, 20)


def test_sides_with_one_set_number_pair_by_it(log: Log) -> None:
    for side, number in [("left", 1), ("left", 2), ("left", 3), ("right", 1), ("right", 3)]:
        log.set(MONDAY, "dumbbell row", 20.0, 7 + number, side=side, set_no=number)
    log.build(MONDAY)
    # the second left set stands alone: 8 + 9 + 10 repetitions
    assert session(log, "work_sets, reps, tonnage_kg") == (3, 27, 20.0 * (16 + 9 + 20))


def test_a_drop_after_the_second_side_extends_the_whole_set(log: Log) -> None:
    log.set(MONDAY, "dumbbell row", 20.0, 10, side="left")
    log.set(MONDAY, "dumbbell row", 20.0, 10, side="right")
    log.set(MONDAY, "dumbbell row", 12.5, 6, side="right", set_kind="extension")
    log.build(MONDAY)
    assert graded(log, "is_hard, is_extended") == [(True, True), (False, False), (False, False)]


def test_loads_per_hand_count_once_for_strength_and_twice_for_tonnage(log: Log) -> None:
    log.set(MONDAY, "dumbbell bench press", 30.0, 10, rir=0.0)
    log.build(MONDAY)
    assert session(log, "top_load_kg, e1rm, tonnage_kg") == (30.0, 40.0, 600.0)


def test_dumbbells_of_a_lunge_add_to_the_body(log: Log) -> None:
    # 0.88 × 80 kg = 70.4 kg of body and 2 × 20 kg: 110.4 kg; at ten repetitions × 4 ÷ 3
    log.bodyweight(80.0)
    log.set(MONDAY, "lunge", 20.0, 10, rir=0.0)
    log.build(MONDAY)
    assert session(log, "top_load_kg, e1rm, tonnage_kg") == (110.4, pytest.approx(147.2), 1104.0)


def test_a_lunge_without_a_load_moves_the_body_alone(log: Log) -> None:
    log.bodyweight(80.0)
    log.set(MONDAY, "lunge", None, 10, rir=0.0)
    log.build(MONDAY)
    assert session(log, "top_load_kg, tonnage_kg") == (70.4, 704.0)


def test_each_leg_of_a_lunge_lifts_both_dumbbells(log: Log) -> None:
    # (70.4 kg + 2 × 20 kg) × (8 + 9) repetitions
    log.bodyweight(80.0)
    log.set(MONDAY, "lunge", 20.0, 8, side="left")
    log.set(MONDAY, "lunge", 20.0, 9, side="right")
    log.build(MONDAY)
    assert session(log, "top_load_kg, tonnage_kg") == (110.4, pytest.approx(1876.8))


def test_a_lunge_of_a_client_never_weighed_counts_the_dumbbells(log: Log) -> None:
    log.set(MONDAY, "lunge", 20.0, 10, rir=0.0)
    log.build(MONDAY)
    assert session(log, "top_load_kg, tonnage_kg") == (20.0, 400.0)


def test_volume_load_of_three_tens_with_100_kg_is_3000(log: Log) -> None:
    """Volume load: sets × repetitions × load (Haff 2010; Nunes et al. 2021)."""
    log.sets(MONDAY, "bench press", 100.0, 10, 3)
    log.set(MONDAY, "bench press", 60.0, 10, set_kind="warmup")
    log.build(MONDAY)
    assert session(log, "tonnage_kg") == (3000.0,)


def test_bodyweight_is_interpolated_between_weigh_ins(log: Log) -> None:
    # 80 kg on day 0, 84 kg on day 40: 81 kg on day 10; pull-ups move all of it
    log.bodyweight(80.0, day(0))
    log.bodyweight(84.0, day(40))
    log.set(day(10), "pull-up", 20.0, 5, rir=0.0)
    log.build(day(50))
    assert session(log, "top_load_kg, tonnage_kg") == (101.0, 505.0)


def test_a_weigh_in_after_the_as_of_day_is_not_used(log: Log) -> None:
    log.bodyweight(80.0, day(0))
    log.bodyweight(84.0, day(40))
    log.set(day(10), "pull-up", 20.0, 5, rir=0.0)
    log.build(day(30))
    assert session(log, "top_load_kg") == (100.0,)


@pytest.mark.parametrize(("days", "load"), [(60, 100.0), (61, None)])
def test_a_weigh_in_holds_for_60_days(log: Log, days: int, load: float | None) -> None:
    log.bodyweight(80.0, day(0))
    log.set(day(days), "pull-up", 20.0, 5, rir=0.0)
    log.build(day(days))
    assert session(log, "top_load_kg") == (load,)


def test_the_undated_bodyweight_holds_where_no_weigh_in_is_near(log: Log) -> None:
    log.bodyweight(90.0)
    log.bodyweight(80.0, day(0))
    log.set(day(10), "pull-up", 0.0, 5)
    log.set(day(100), "pull-up", 0.0, 5)
    log.build(day(100))
    assert log.ask("select day, top_load_kg from review.lift_session order by day") == [
        (day(10), 80.0),
        (day(100), 90.0),
    ]


def test_assistance_is_taken_off_bodyweight(log: Log) -> None:
    log.bodyweight(80.0)
    log.set(MONDAY, "assisted pull-up", 25.0, 8, rir=0.0)
    log.set(MONDAY, "pull-up", 25.0, 8, rir=0.0, load_basis="assisted")
    log.build(MONDAY)
    assert graded(log, "effective_load_kg") == [(55.0,), (55.0,)]
    assert log.ask("select distinct load_kg from review.records") == [(-25.0,)]


def test_without_bodyweight_a_pullup_has_no_estimate_but_counts(log: Log) -> None:
    log.set(MONDAY, "pull-up", None, 8)
    log.build(MONDAY)
    assert graded(log, "effective_load_kg, e1rm, effort_basis, rir_used, is_hard") == [
        (None, None, "estimated", 0.0, True)
    ]


def test_pushups_move_their_share_of_bodyweight(log: Log) -> None:
    log.bodyweight(100.0)
    log.set(MONDAY, "push-up", None, 20, rir=1.0)
    log.build(MONDAY)
    assert graded(log, "effective_load_kg") == [(64.0,)]


def test_a_correction_changes_the_figures(log: Log) -> None:
    log.set(MONDAY, "bench press", 1000.0, 10, rir=0.0)
    log.con.execute(
        "insert into ledger.corrections values"
        " (2, 'ines', ?, 'bench press', 1, 'load', '100', 'slip')",
        [MONDAY],
    )
    log.build(MONDAY + timedelta(days=1))
    assert session(log, "top_load_kg, tonnage_kg") == (100.0, 1000.0)
