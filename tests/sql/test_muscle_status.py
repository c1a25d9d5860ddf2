"""Rates, hits and the standing to the guide, with every exception. Rows are by hand."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import pytest

from pipeline.settings.workspace import Client, Guide, Phase
from tests.conftest import Log, day

CHEST = "pec deck"
"""Trains the chest directly and no other muscle."""


def ines(**settings: Any) -> list[Client]:
    """One client with these settings."""
    return [Client(id="ines", name="Ines", **settings)]


def status(log: Log, columns: str, muscle: str = "chest") -> tuple[object, ...]:
    """The row of one muscle."""
    rows = log.ask(f"select {columns} from review.muscle_status where muscle = '{muscle}'")
    assert len(rows) == 1, rows
    return rows[0]


def weeks(log: Log, sets: int, exercise: str = CHEST, days: Iterable[int] = (0, 3)) -> None:
    """Eight weeks with `sets` hard sets on each of the weekdays `days`."""
    for week in range(8):
        for weekday in days:
            log.sets(day(7 * week + weekday), exercise, 50.0, 10, sets, rir=1.0)


def test_rates_and_hits_of_a_muscle(log: Log) -> None:
    # 28 days to day 55 hold weeks 5 to 8: 8 sets each; the month before had 6 a week
    for week in range(8):
        for weekday in (0, 3):
            log.sets(day(7 * week + weekday), CHEST, 50.0, 10, 3 + week // 4, rir=1.0)
    log.build(day(55))
    assert status(
        log,
        "fractional_sets_7d, direct_sets_7d, weekly_rate_28d, weekly_rate_prev_28d,"
        " median_gap_days, median_sets_per_hit, guide_low, guide_high, standing",
    ) == (8.0, 8.0, 8.0, 6.0, 3.0, 3.5, 8.0, 16.0, "within")


def test_seven_days_equal_the_rolling_week_of_the_as_of_day(log: Log) -> None:
    weeks(log, 4, "bench press", (0, 2, 5))
    log.exported(day(57))
    log.build(day(57))
    assert (
        log.ask(
            "select muscle from review.muscle_status as status"
            " join review.rolling_week as week using (client_id, muscle)"
            " where week.day = date '2026-07-28' and ("
            "  status.fractional_sets_7d <> week.fractional_sets_7d"
            "  or status.direct_sets_7d <> week.direct_sets_7d)"
        )
        == []
    )
    assert log.one("select count(*) from review.muscle_status") == 18


@pytest.mark.parametrize(
    ("sets", "standing"),
    # 2 hits a week; the margin is half a usual hit over four weeks: 3 ÷ 8 and 9 ÷ 8
    [(3, "below"), (4, "within"), (8, "within"), (9, "above")],
)
def test_standing_below_within_and_above(log: Log, sets: int, standing: str) -> None:
    weeks(log, sets)
    log.build(day(55))
    assert status(log, "standing") == (standing,)


@pytest.mark.parametrize(("missing", "standing"), [(1, "within"), (3, "below")])
def test_half_a_usual_hit_over_four_weeks_is_no_matter(
    log: Log, missing: int, standing: str
) -> None:
    # 8 sets once a week, margin 1: one set missing leaves 7.75 a week; a hit of none 6
    for week in range(8):
        log.sets(day(7 * week), CHEST, 50.0, 10, 8 - (missing if week >= 6 else 0), rir=1.0)
        log.set(day(7 * week + 4), "leg extension", 50.0, 10)
    log.exported(day(55))
    log.build(day(55))
    # 4 weeks with 2 × 1 or 2 × 3 sets missing: 7.5 and 6.5
    assert status(log, "low_end_rate, standing") == (8 - missing / 2, standing)


def test_lats_and_upper_back_meet_the_low_end_together(log: Log) -> None:
    # 4 sets of pulldowns and 4 of rows a week: 8 for the back, though neither muscle has 8 direct
    for week in range(8):
        log.sets(day(7 * week), "lat pulldown", 50.0, 10, 4, rir=1.0)
        log.sets(day(7 * week + 3), "barbell row", 50.0, 10, 4, rir=1.0)
    log.build(day(55))
    assert status(log, "low_end_rate, standing", "lats") == (8.0, "within")
    assert status(log, "low_end_rate, standing", "upper_back") == (8.0, "within")


@pytest.mark.parametrize("written", ["upper_back", "Upper back"])
def test_a_guide_of_the_clients_own_holds_for_the_muscle_alone(log: Log, written: str) -> None:
    weeks(log, 4, "lat pulldown", (0,))
    log.build(day(55), clients=ines(guide=(Guide(written, week=(6.0, 10.0)),)))
    rate = log.one("select weekly_rate_28d from review.muscle_status where muscle = 'upper_back'")
    assert rate < 5
    assert status(log, "guide_low, guide_high, standing", "upper_back") == (6.0, 10.0, "below")


def test_muscles_without_a_low_end_are_never_below(log: Log) -> None:
    weeks(log, 4)
    log.build(day(55))
    assert status(log, "weekly_rate_28d, guide_low, standing", "calves") == (0.0, None, "within")


@pytest.mark.parametrize(("last", "standing"), [(27, "below"), (26, None)])
def test_no_standing_under_28_days_of_history(log: Log, last: int, standing: str | None) -> None:
    for offset in range(0, 27, 3):
        log.set(day(offset), CHEST, 50.0, 10, rir=1.0)
    log.set(day(last), CHEST, 50.0, 10, rir=1.0)
    log.build(day(last))
    assert status(log, "standing") == (standing,)


@pytest.mark.parametrize(("as_of", "standing"), [(59, "below"), (60, None)])
def test_no_standing_when_nothing_was_logged_for_over_a_week(
    log: Log, as_of: int, standing: str | None
) -> None:
    weeks(log, 2)
    log.exported(day(as_of))
    log.build(day(as_of))
    assert status(log, "standing") == (standing,)


@pytest.mark.parametrize(
    ("covered", "as_of", "rate"),
    # 8 a week to day 52; the 28 days to day 59 hold three weeks of it
    [(52, 59, 8.0), (59, 59, 6.0), (70, 59, 6.0), (59, 80, 6.0)],
)
def test_all_is_judged_at_the_last_day_that_the_export_covers(
    log: Log, covered: int, as_of: int, rate: float
) -> None:
    weeks(log, 4)
    log.exported(day(covered))
    log.build(day(as_of))
    sets = 8.0 if covered == 52 else 0.0
    assert status(log, "weekly_rate, weekly_rate_28d, fractional_sets_7d") == (rate, rate, sets)
    assert log.ask("select last_on, covered_on from review.coverage") == [
        (day(52), day(min(covered, as_of)))
    ]
    for series in ("rolling_week", "rhythm"):
        assert log.one(f"select max(day) from review.{series}") == day(as_of)


def test_a_later_version_of_a_file_covers_those_without_a_new_set(log: Log) -> None:
    weeks(log, 4)
    log.exported(day(52))
    log.con.execute("insert into ledger.loads from ledger.loads")
    log.con.execute("update ledger.loads set load_id = 2, last_on = ? where rowid = 1", [day(59)])
    log.build(day(70))
    assert log.one("select covered_on from review.coverage") == day(59)


@pytest.mark.parametrize(
    ("every", "rate_days", "rate"),
    # 8 sets a round; 28 days hold 5 or 6 rounds of 5 days: 10 or 12 a week for 11.2
    [(4, 28, 14.0), (5, 30, 11.2), (6, 30, 56 / 6), (8, 24, 7.0), (9, 27, 56 / 9)],
)
@pytest.mark.parametrize("last", [0, 1, 2, 3])
def test_a_strict_rotation_reads_its_own_rate_on_any_day(
    log: Log, every: int, rate_days: int, rate: float, last: int
) -> None:
    for offset in range(0, 100, every):
        log.sets(day(offset), CHEST, 50.0, 10, 8, rir=1.0)
        log.sets(day(offset + every // 2), "leg extension", 50.0, 10, 8, rir=1.0)
    log.exported(day(99 - last))
    log.build(day(99 - last))
    assert status(log, "weekly_rate, weekly_rate_before, rate_days") == (
        pytest.approx(rate),
        pytest.approx(rate),
        rate_days,
    )


def test_never_below_with_ten_days_between_two_sessions(log: Log) -> None:
    for offset in [*range(0, 40, 2), 50, 52]:
        log.set(day(offset), CHEST, 50.0, 10, rir=1.0)
    log.build(day(52))
    # 38 to 50 is twelve days
    assert status(log, "standing") == (None,)


@pytest.mark.parametrize(("unread", "standing"), [(50, "below"), (51, None)])
def test_never_below_when_over_a_twentieth_of_the_lines_could_not_be_read(
    log: Log, unread: int, standing: str | None
) -> None:
    weeks(log, 2)
    log.exported(day(55), lines_read=1000, unread_lines=unread)
    log.build(day(55))
    assert status(log, "standing") == (standing,)


def test_lines_set_aside_and_unknown_exercises_count_together(log: Log) -> None:
    # 1 of 33 sets unknown and 3 % unread: 0.03 + 0.97 ÷ 33 = 0.059
    for week in range(8):
        for weekday in (0, 2, 4, 6):
            log.sets(day(7 * week + weekday), CHEST, 50.0, 10, 2, rir=4.0)
    log.set(day(50), "zzz machine thing", 50.0, 10, rir=1.0)
    log.exported(day(55), lines_read=1000, unread_lines=30)
    log.build(day(55))
    assert status(log, "weekly_rate, standing") == (0.0, None)


def test_never_below_with_unknown_exercises(log: Log) -> None:
    weeks(log, 2)
    for week in range(8):
        log.set(day(7 * week), "zzz machine thing", 50.0, 10, rir=1.0)
    log.build(day(55))
    # 1 of 5 sets a week counts for no muscle
    assert status(log, "standing") == (None,)


@pytest.mark.parametrize(("extended", "standing"), [(1, "below"), (2, None)])
def test_never_below_when_over_a_quarter_of_the_sets_is_extended(
    log: Log, extended: int, standing: str | None
) -> None:
    for week in range(8):
        for nth in range(4):
            log.set(
                day(7 * week + 3 * (nth % 2)),
                CHEST,
                50.0,
                10,
                rir=0.0,
                partial_reps=3 if nth < extended else None,
            )
    log.build(day(55))
    assert status(log, "standing") == (standing,)


@pytest.mark.parametrize("kind", ["pause", "care"])
def test_no_standing_in_a_phase_of_pause_or_care(log: Log, kind: str) -> None:
    weeks(log, 2)
    log.build(day(55), clients=ines(phases=(Phase(kind, day(50), None),)))
    assert status(log, "weekly_rate_28d, standing") == (4.0, None)


def test_a_pause_that_is_over_does_not_silence(log: Log) -> None:
    weeks(log, 2)
    log.build(day(55), clients=ines(phases=(Phase("pause", day(10), day(20)),)))
    assert status(log, "standing") == ("below",)


def test_deload_days_stay_out_of_rates(log: Log) -> None:
    # 8 sets a week, in the deload week 2: three weeks count
    for week in range(8):
        for weekday in (0, 3):
            log.sets(day(7 * week + weekday), CHEST, 50.0, 10, 1 if week == 6 else 4, rir=1.0)
    log.build(day(55), clients=ines(phases=(Phase("deload", day(42), day(48)),)))
    assert status(log, "weekly_rate_28d, standing") == (8.0, "within")


def test_clients_are_counted_apart(log: Log) -> None:
    log.sets(day(0), CHEST, 50.0, 10, 3, rir=1.0)
    log.sets(day(0), CHEST, 50.0, 10, 5, rir=1.0, client_id="kofi")
    log.build(day(0))
    assert log.ask(
        "select client_id, direct_sets from review.muscle_day where muscle = 'chest' order by all"
    ) == [
        ("ines", 3.0),
        ("kofi", 5.0),
    ]


def test_sets_on_unknown_exercises_count_for_no_muscle(log: Log) -> None:
    log.set(day(0), "zzz machine thing", 50.0, 10, rir=1.0)
    log.build(day(0))
    assert log.one("select count(*) from review.muscle_day") == 0
    assert log.one("select hard_sets from review.lift_session") == 1


def test_a_muscle_never_trained_has_zeros_in_every_rolling_week(log: Log) -> None:
    log.set(day(0), CHEST, 50.0, 10, rir=1.0)
    log.build(day(2))
    assert log.ask(
        "select day, all_sets_7d, hits_7d, days_since_hit from review.rolling_week"
        " where muscle = 'calves' order by day"
    ) == [(day(number), 0.0, 0, None) for number in range(3)]


def test_the_catalogue_is_kept_as_used(log: Log) -> None:
    log.set(day(0), "incline barbell press", 60.0, 10, rir=1.0)
    log.build(day(0), indirect_weight=0.25)
    assert log.ask(
        "select role, weight from review.exercise_muscles"
        " where exercise = 'incline barbell press' and muscle in ('chest', 'triceps') order by 1"
    ) == [("direct", 1.0), ("indirect", 0.25)]
    assert log.ask(
        "select movement, load_basis, bodyweight_share from review.exercises"
        " where exercise in ('incline barbell press', 'push-up') order by exercise"
    ) == [("compound", "total", 0.0), ("compound", "added", 0.64)]
    assert log.ask("select body_part, label from review.muscles where muscle = 'lats'") == [
        ("back", "Lats")
    ]
    assert log.one("select fractional_sets from review.muscle_day where muscle = 'triceps'") == 0.25
