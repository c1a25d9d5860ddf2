"""How hard a set was: recorded, estimated from the lift's own recent sets, or assumed.

Expected values are by hand; the definitions are ours, hard sets after Baz-Valle et al. 2021.
"""

from __future__ import annotations

import pytest

from pipeline.units import to_kg
from tests.conftest import MONDAY, Log, day

LIFT = "bench press"


def last_set(log: Log, columns: str) -> tuple[object, ...]:
    """Columns of the set logged last."""
    return log.ask(
        f"select {columns} from review.graded_sets "
        "order by cast(split_part(set_id, ':', 2) as integer) desc limit 1"
    )[0]


@pytest.mark.parametrize(("rir", "is_hard"), [(0.0, True), (3.0, True), (3.5, False), (4.0, False)])
def test_a_recorded_set_is_hard_up_to_three_in_reserve(log: Log, rir: float, is_hard: bool) -> None:
    log.set(MONDAY, LIFT, 100.0, 8, rir=rir)
    log.build(MONDAY)
    assert last_set(log, "rir_used, is_hard") == (rir, is_hard)


@pytest.mark.parametrize(("reps", "is_hard"), [(0, False), (1, True), (30, True), (31, False)])
def test_hard_sets_have_1_to_30_repetitions(log: Log, reps: int, is_hard: bool) -> None:
    log.set(MONDAY, LIFT, 40.0, reps, rir=0.0)
    log.build(MONDAY)
    assert last_set(log, "is_hard") == (is_hard,)


def test_a_recorded_easy_set_stays_easy_after_a_hard_one(log: Log) -> None:
    log.set(MONDAY, LIFT, 100.0, 8, rir=1.0)
    log.set(MONDAY, LIFT, 100.0, 5, rir=4.0)
    log.build(MONDAY)
    assert last_set(log, "is_hard") == (False,)


def three_sessions(log: Log) -> None:
    """Index 133.33 on day 0, 126.67 on day 2, 130 on day 4; second-best 130."""
    log.set(day(0), LIFT, 100.0, 10)
    log.set(day(2), LIFT, 100.0, 8)
    log.set(day(4), LIFT, 100.0, 9)


def test_the_estimate_rests_on_the_second_best_session(log: Log) -> None:
    # 30 × (130 / 80 − 1) − 10 = 8.75
    three_sessions(log)
    log.set(day(4), LIFT, 80.0, 10)
    log.build(day(4))
    assert last_set(log, "rir_used, effort_basis, is_hard") == (8.75, "estimated", False)


def test_the_estimate_rests_on_the_best_session_of_two(log: Log) -> None:
    # 30 × (133.33 / 80 − 1) − 10 = 10
    log.set(day(0), LIFT, 100.0, 10)
    log.set(day(2), LIFT, 100.0, 8)
    log.set(day(2), LIFT, 80.0, 10)
    log.build(day(2))
    assert last_set(log, "rir_used") == (10.0,)


def test_the_days_own_best_counts_where_it_is_higher(log: Log) -> None:
    # 110 × 10 makes 146.67: 30 × (146.67 / 80 − 1) − 10 = 15
    three_sessions(log)
    log.set(day(6), LIFT, 110.0, 10)
    log.set(day(6), LIFT, 80.0, 10)
    log.build(day(6))
    assert last_set(log, "rir_used") == (15.0,)


@pytest.mark.parametrize(("last", "rir"), [(41, 10.0), (42, 8.0)])
def test_the_reference_reaches_back_41_days(log: Log, last: int, rir: float) -> None:
    # second-best with day 0 (133.33) is 128: 30 × (128 / 80 − 1) − 8 = 10;
    # without it 122.67 (92 × 10): 30 × (122.67 / 80 − 1) − 8 = 8
    log.set(day(0), LIFT, 100.0, 10)
    log.set(day(12), LIFT, 96.0, 10)
    log.set(day(24), LIFT, 90.0, 10)
    log.set(day(36), LIFT, 92.0, 10)
    log.set(day(last), LIFT, 80.0, 8)
    log.build(day(last))
    assert last_set(log, "rir_used") == (rir,)


@pytest.mark.parametrize(("gap", "rir"), [(13, 10.0), (14, 0.0)])
def test_the_reference_does_not_reach_across_a_fortnight_off(
    log: Log, gap: int, rir: float
) -> None:
    log.set(day(0), LIFT, 96.0, 10)
    log.set(day(gap), LIFT, 80.0, 8)
    log.build(day(gap))
    assert last_set(log, "rir_used") == (rir,)


def test_the_reference_does_not_reach_across_a_change_of_level(log: Log) -> None:
    for number in range(6):
        log.set(day(3 * number), LIFT, 100.0, 10)
    for number in range(6, 12):
        log.set(day(3 * number), LIFT, 60.0, 10)
    log.build(day(33))
    # on the old level 30 × (133.33 / 60 − 1) − 10 = 26.67 would be left
    assert last_set(log, "rir_used, is_hard") == (0.0, True)


@pytest.mark.parametrize(("load", "is_hard"), [(96.0, True), (95.0, False)])
def test_an_estimate_is_hard_up_to_five_in_reserve(log: Log, load: float, is_hard: bool) -> None:
    # against 128: 96 kg leaves 10 − 5 = 5; 95 kg leaves 10.42 − 5 = 5.42
    log.set(day(0), LIFT, 96.0, 10)
    log.set(day(2), LIFT, load, 5)
    log.build(day(2))
    assert last_set(log, "effort_basis, is_hard") == ("estimated", is_hard)


@pytest.mark.parametrize(
    ("loads", "hard"),
    [
        # 100 × 10 is hard, then 6 repetitions with no less load are too, with less they are not
        ([(100.0, 10), (100.0, 4), (99.0, 2)], [True, True, False]),
        # before it they are a warm-up that was not marked
        ([(100.0, 4), (100.0, 10)], [False, True]),
        # a set that is hard by an earlier one does not lower the bar
        ([(90.0, 12), (100.0, 10), (90.0, 3), (89.0, 3)], [True, True, True, False]),
    ],
)
def test_a_set_as_heavy_as_an_earlier_hard_one_is_hard(
    log: Log, loads: list[tuple[float, int]], hard: list[bool]
) -> None:
    for load, reps in loads:
        log.set(MONDAY, LIFT, load, reps)
    log.build(MONDAY)
    assert [
        row[0] for row in log.ask("select is_hard from review.graded_sets order by set_id")
    ] == (hard)


def test_without_a_reference_effort_is_assumed_from_the_share_of_the_top_load(log: Log) -> None:
    # 25 repetitions give no index; 75 % of 40 kg is 30 kg
    for load in (40.0, 30.0, 29.5):
        log.set(MONDAY, LIFT, load, 25)
    log.build(MONDAY)
    assert log.ask(
        "select rir_used, effort_basis, is_hard from review.graded_sets order by set_id"
    ) == [(None, "assumed", True), (None, "assumed", True), (None, "assumed", False)]


def test_three_quarters_of_the_top_load_are_hard_in_pounds_too(log: Log) -> None:
    # 135 = 0.75 × 180
    for pounds in (180.0, 135.0, 134.0):
        log.set(MONDAY, LIFT, to_kg(pounds, "lb"), 25)
    log.build(MONDAY)
    assert log.ask("select is_hard from review.graded_sets order by set_id") == [
        (True,),
        (True,),
        (False,),
    ]


def test_an_estimate_of_over_20_repetitions_is_judged_by_load_alone(log: Log) -> None:
    # against 133.33, 40 kg × 25 leaves 45 in reserve and is 40 % of the top load
    log.set(MONDAY, LIFT, 100.0, 10)
    log.set(MONDAY, LIFT, 40.0, 25)
    log.set(MONDAY, LIFT, 75.0, 21)
    log.build(MONDAY)
    assert log.ask("select rir_used, is_hard from review.graded_sets order by set_id") == [
        (0.0, True),
        (45.0, False),
        (2.333333, True),
    ]


def test_without_a_load_the_most_repetitions_are_the_reference(log: Log) -> None:
    log.set(day(0), "plank", None, 20)
    log.set(day(2), "plank", None, 14)
    log.set(day(2), "plank", None, 16)
    log.set(day(2), "plank", None, 10)
    log.build(day(2))
    # 6 left: not hard; 4 left: hard; then 10 left, but as heavy as a hard set before it
    assert log.ask(
        "select rir_used, effort_basis, is_hard from review.graded_sets order by set_id"
    ) == [
        (0.0, "estimated", True),
        (6.0, "estimated", False),
        (4.0, "estimated", True),
        (10.0, "estimated", True),
    ]


@pytest.mark.parametrize(
    ("rir", "reps_to_failure", "index"),
    [(4.0, 12.0, 140.0), (4.5, None, None), (None, 8.0, 126.666666667)],
)
def test_repetitions_to_failure_need_a_reserve_of_at_most_four(
    log: Log, rir: float | None, reps_to_failure: float | None, index: float | None
) -> None:
    log.set(MONDAY, LIFT, 100.0, 8, rir=rir)
    log.build(MONDAY)
    assert last_set(log, "reps_to_failure, strength_index") == (reps_to_failure, index)


@pytest.mark.parametrize(
    ("reps", "has_e1rm", "has_index"),
    [
        (12, True, True),
        (13, False, True),
        (20, False, True),
        (21, False, False),
    ],
)
def test_estimates_end_at_12_and_the_index_at_20_repetitions(
    log: Log, reps: int, has_e1rm: bool, has_index: bool
) -> None:
    log.set(MONDAY, LIFT, 60.0, reps)
    log.build(MONDAY)
    assert last_set(log, "e1rm is not null, strength_index is not null") == (has_e1rm, has_index)


def test_an_index_that_ends_earlier_leaves_the_estimates_as_they_are(log: Log) -> None:
    # 100 × (1 + 10/30) = 133.33 by both formulas, which agree at ten
    log.set(MONDAY, LIFT, 100.0, 10, rir=0.0)
    log.build(MONDAY, index_reps_max=8.0)
    assert last_set(log, "e1rm_epley, e1rm_brzycki, strength_index") == (
        133.333333333,
        133.333333333,
        None,
    )


def test_rules_of_the_workspace_reach_the_models(log: Log) -> None:
    log.set(MONDAY, LIFT, 100.0, 8, rir=3.0)
    log.build(MONDAY, hard_rir=2.0)
    assert last_set(log, "is_hard") == (False,)
