"""How far a target is: gap by hand from Epley's index, weeks from both ends of the interval."""

from __future__ import annotations

import math

import pytest

from pipeline.settings.workspace import Client, Target
from tests.conftest import Log, day

LIFT = "bench press"
COLUMNS = "current_index, target_index, gap_pct, weeks_low, weeks_high, reason"


def with_target(load_kg: float, reps: int, exercise: str = LIFT) -> Client:
    """A client with one target."""
    return Client(id="ines", name="Ines", targets=(Target(exercise, load_kg, reps),))


def rising(log: Log, rate: float = 1.0) -> int:
    """Twenty-four weeks of 8 repetitions with 2 in reserve, rising by `rate` % a week; last day."""
    days = [7 * week + each for week in range(24) for each in (0, 3)]
    for offset in days:
        log.set(day(offset), LIFT, 75 * math.exp(rate * offset / 700), 8, rir=2.0)
    return days[-1]


def test_gap_and_weeks_follow_from_index_and_rate(log: Log) -> None:
    last = rising(log)
    log.build(day(last), clients=[with_target(100.0, 8)])
    current, target, gap, low, high, reason = log.ask(
        f"select {COLUMNS} from review.target_progress"
    )[0]
    assert current == pytest.approx(75 * math.exp(last / 700) * (1 + 10 / 30))
    assert target == pytest.approx(100 * (1 + 8 / 30))
    assert gap == pytest.approx(100 * (target / current - 1))
    slow, fast = log.ask("select change_low, change_high from review.lift_status")[0]
    missing = 100 * math.log(target / current)
    assert (low, high) == (math.ceil(missing / fast), math.ceil(missing / slow))
    assert reason == f"{low} to {high} weeks at the present rate"


def test_a_target_beyond_half_a_year_is_too_far_to_tell(log: Log) -> None:
    last = rising(log)
    log.build(day(last), clients=[with_target(160.0, 8)])
    row = log.ask("select weeks_low, weeks_high, reason from review.target_progress")[0]
    assert row == (None, None, "too far to tell at the present rate")


def test_a_target_that_was_done_is_reached(log: Log) -> None:
    last = rising(log)
    log.set(day(last), LIFT, 90.0, 10, rir=0.0)
    log.build(day(last), clients=[with_target(90.0, 9)])
    row = log.ask("select weeks_low, weeks_high, reason from review.target_progress")[0]
    assert row == (0, 0, f"reached on {day(last)}")


def test_a_lift_never_trained_has_no_index_yet(log: Log) -> None:
    last = rising(log)
    log.build(day(last), clients=[with_target(60.0, 5, "back squat")])
    row = log.ask("select current_index, weeks_low, reason from review.target_progress")[0]
    assert row == (None, None, "the lift has no strength index yet")


def test_a_bodyweight_lift_counts_bodyweight_on_both_sides(log: Log) -> None:
    """Pull-ups: the whole bodyweight, 80 kg, and the load added to it."""
    log.bodyweight(80.0)
    for offset in range(0, 56, 7):
        log.set(day(offset), "pull-up", 10.0, 8, rir=2.0)
    log.build(day(49), clients=[with_target(20.0, 8, "pull-up")])
    current, target = log.ask("select current_index, target_index from review.target_progress")[0]
    assert current == pytest.approx(90 * (1 + 10 / 30))
    assert target == pytest.approx(100 * (1 + 8 / 30))


def test_reached_is_the_first_day_not_that_of_the_heaviest_load(log: Log) -> None:
    for number, load in enumerate((95.0, 100.0, 102.5, 105.0)):
        log.set(day(7 * number), LIFT, load, 5, rir=2.0)
    log.build(day(21), clients=[with_target(100.0, 5)])
    assert log.one("select reason from review.target_progress") == f"reached on {day(7)}"


def test_a_target_of_more_than_thirty_repetitions_can_be_reached(log: Log) -> None:
    log.bodyweight(80.0)
    log.set(day(0), "push-up", 0.0, 42)
    log.build(day(0), clients=[with_target(0.0, 40, "push-up")])
    assert log.one("select reason from review.target_progress") == f"reached on {day(0)}"


def test_the_target_of_an_assisted_lift_is_less_assistance(log: Log) -> None:
    """80 kg less 30 kg for 8 with 2 in reserve; the target takes off 15 kg only."""
    log.bodyweight(80.0)
    for offset in range(0, 56, 7):
        log.set(day(offset), "assisted pull-up", 30.0, 8, rir=2.0)
    log.build(day(49), clients=[with_target(15.0, 8, "assisted pull-up")])
    row = log.ask("select current_index, target_index, reason from review.target_progress")[0]
    assert row[:2] == pytest.approx((50 * (1 + 10 / 30), 65 * (1 + 8 / 30)))
    assert not row[2].startswith("reached")


@pytest.mark.parametrize(("bodyweight", "moved"), [(80.0, 0.88 * 80 + 2 * 24), (None, 24.0)])
def test_a_target_of_a_dumbbell_lunge_is_written_per_hand(
    log: Log, bodyweight: float | None, moved: float
) -> None:
    # both dumbbells and 0.88 of the body; of a client never weighed the dumbbell as written
    if bodyweight is not None:
        log.bodyweight(bodyweight)
    log.set(day(0), "lunge", 20.0, 8, rir=2.0)
    log.build(day(0), clients=[with_target(24.0, 8, "lunge")])
    target = log.ask("select target_index from review.target_progress")[0][0]
    assert target == pytest.approx(moved * (1 + 8 / 30))


@pytest.mark.parametrize("spelling", ["Bankdrücken", "Bench Press", "bennch press"])
def test_a_target_may_be_any_spelling_of_the_log(log: Log, spelling: str) -> None:
    last = rising(log)
    log.set(day(last), LIFT, 90.0, 10, rir=0.0)
    log.build(day(last), clients=[with_target(90.0, 9, spelling)])
    assert log.ask("select exercise, reason from review.target_progress") == [
        (LIFT, f"reached on {day(last)}")
    ]


def test_a_target_on_a_lift_that_no_catalogue_knows_is_met_by_its_sets(log: Log) -> None:
    log.set(day(0), "Harbour  Drag", 60.0, 8, rir=2.0)
    log.build(day(0), clients=[with_target(60.0, 8, "harbour drag")])
    assert log.ask("select exercise, reason from review.target_progress") == [
        ("harbour drag", f"reached on {day(0)}")
    ]
