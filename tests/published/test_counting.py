"""Counting hard sets per muscle against published weights and worked examples.

Fractional counting: Pelland et al. 2025, Sports Medicine, doi 10.1007/s40279-025-02344-w: a set
counts 1 where a muscle is trained directly, 0.5 indirectly. RIR = 10 − RPE: Zourdos et al. 2016.
ISO weeks: ISO 8601.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.conftest import MONDAY, Log, day, examples


def catalogued(log: Log, roles: dict[str, tuple[list[str], list[str]]]) -> Log:
    """The log with a catalogue of these exercises alone: direct and indirect muscles."""
    template = log.catalogue.exercises["bench press"]
    exercises = {
        name: replace(template, exercise=name, direct=tuple(direct), indirect=tuple(indirect))
        for name, (direct, indirect) in roles.items()
    }
    log.catalogue = replace(log.catalogue, exercises=exercises)
    return log


def test_the_worked_count(log: Log) -> None:
    """Pelland's weights on our log: 10 direct, 15.5 fractional, 21 in all.

    Bench 4 sets (chest; triceps and shoulders indirect), overhead press 3 (shoulders; triceps
    indirect), triceps extension 3. The shoulders are the front delts here.
    """
    log.sets(MONDAY, "bench press", 80.0, 8, 4, rir=1.0)
    log.sets(MONDAY, "overhead press", 50.0, 8, 3, rir=1.0)
    log.sets(MONDAY, "overhead triceps extension", 20.0, 10, 3, rir=1.0)
    catalogued(
        log,
        {
            "bench press": (["chest"], ["triceps", "front_delts"]),
            "overhead press": (["front_delts"], ["triceps"]),
            "overhead triceps extension": (["triceps"], []),
        },
    ).build(MONDAY)
    assert log.ask(
        "select muscle, direct_sets, fractional_sets, all_sets from review.muscle_day order by all"
    ) == [
        ("chest", 4.0, 4.0, 4.0),
        ("front_delts", 3.0, 5.0, 7.0),
        ("triceps", 3.0, 6.5, 10.0),
    ]
    assert log.ask(
        "select sum(direct_sets), sum(fractional_sets), sum(all_sets) from review.muscle_day"
    ) == [(10.0, 15.5, 21.0)]


def test_ten_incline_and_ten_overhead_sets_are_twenty_for_the_front_delts(log: Log) -> None:
    log.sets(MONDAY, "incline barbell press", 60.0, 10, 10, rir=1.0)
    log.sets(MONDAY, "overhead press", 40.0, 10, 10, rir=1.0)
    log.build(MONDAY)
    assert log.ask(
        "select direct_sets, fractional_sets, all_sets from review.muscle_day"
        " where muscle = 'front_delts'"
    ) == [(20.0, 20.0, 20.0)]


def test_fractional_is_the_mean_of_direct_and_all_on_every_row(log: Log) -> None:
    exercises = sorted(log.catalogue.exercises)[::7]
    for number, exercise in enumerate(exercises):
        log.sets(day(number % 9), exercise, 40.0, 8, 1 + number % 4, rir=float(number % 5))
    log.build(day(20))
    for table, columns in [
        ("muscle_day", ("direct_sets", "fractional_sets", "all_sets")),
        ("rolling_week", ("direct_sets_7d", "fractional_sets_7d", "all_sets_7d")),
    ]:
        direct, fractional, every = columns
        assert log.one(f"select count(*) from review.{table}") > 20
        assert (
            log.ask(
                f"select * from review.{table} where {fractional} <> ({direct} + {every}) / 2"
                f" or {direct} > {fractional} or {fractional} > {every}"
            )
            == []
        )


def test_a_muscle_in_both_roles_is_counted_once_and_directly(log: Log) -> None:
    """Nine records of the open free-exercise-db list a muscle in both roles."""
    log.sets(MONDAY, "step-up", 40.0, 10, 3, rir=1.0)
    catalogued(log, {"step-up": (["quads"], ["quads", "glutes"])}).build(MONDAY)
    assert log.ask("select muscle, fractional_sets from review.muscle_day order by muscle") == [
        ("glutes", 1.5),
        ("quads", 3.0),
    ]


@pytest.mark.parametrize(("every", "low", "high", "mean"), [(4, 8, 16, 14.0), (5, 8, 16, 11.2)])
def test_eight_sets_in_a_rotation_beat_against_seven_days(
    log: Log, every: int, low: int, high: int, mean: float
) -> None:
    """8 sets every 4 days read 8 or 16 in 7 days, 14 on average; one rest day more: 11.2."""
    for number in range(30):
        log.sets(day(every * number), "leg extension", 50.0, 10, 8, rir=1.0)
    log.build(day(every * 30 - 1))
    # whole cycles of the rotation against the week, once the first seven days are over
    first, cycles = day(7), every * 7 * 3
    readings = [
        row[0]
        for row in log.ask(
            "select direct_sets_7d from review.rolling_week where muscle = 'quads'"
            f" and day >= date '{first}' order by day limit {cycles}"
        )
    ]
    assert len(readings) == cycles
    assert set(readings) == {low, high}
    assert sum(readings) / cycles == pytest.approx(mean)


@pytest.mark.parametrize(
    ("monday", "days"),
    [
        (date(1996, 12, 30), [date(1997, 1, 1)]),
        (date(2004, 12, 27), [date(2005, 1, 1)]),
        (date(2006, 12, 25), [date(2006, 12, 31)]),
        (date(2008, 12, 29), [date(2008, 12, 29)]),
        (date(2009, 12, 28), [date(2010, 1, 3)]),
        (date(2019, 12, 30), [date(2019, 12, 30)]),
        (date(2026, 12, 28), [date(2026, 12, 31), date(2027, 1, 3)]),
    ],
)
def test_weeks_are_iso_weeks(log: Log, monday: date, days: list[date]) -> None:
    """ISO 8601: weeks start on Monday; days around a new year, known answers."""
    for each in days:
        log.set(each, "bench press", 80.0, 8, rir=1.0)
    log.build(days[-1])
    assert log.ask("select distinct week from review.effort_week") == [(monday,)]


def test_a_calendar_week_is_the_rolling_week_of_its_sunday(log: Log) -> None:
    """2026-W23 runs from Monday 1 to Sunday 7 June."""
    for offset, count in [(-1, 5), (0, 1), (3, 2), (6, 4), (7, 8)]:
        log.sets(day(offset), "leg extension", 50.0, 10, count, rir=1.0)
    log.build(day(8))
    assert (
        log.one(
            "select direct_sets_7d from review.rolling_week"
            " where muscle = 'quads' and day = date '2026-06-07'"
        )
        == 7
    )


@settings(max_examples=examples(40), deadline=None, derandomize=True)
@given(
    st.lists(
        st.tuples(
            st.integers(0, 30),
            st.sampled_from([60.0, 80.0, 100.0]),
            st.integers(1, 14),
            st.integers(0, 8),
            st.integers(0, 3),
        ),
        min_size=1,
        max_size=30,
    )
)
def test_raising_recorded_reserve_never_adds_hard_sets(
    rows: list[tuple[int, float, int, int, int]],
) -> None:
    """People under-predict repetitions to failure (Halperin et al. 2022): more left, fewer hard."""

    log = Log()
    raises = {"as-logged": lambda _: 0, "some": lambda more: more, "all": lambda _: 1}
    for client_id, raised in raises.items():
        for offset, load, reps, rir, more in rows:
            left = float(rir + raised(more))
            log.set(day(offset), "bench press", load, reps, rir=left, client_id=client_id)
    log.build(day(40))
    hard_sets = dict.fromkeys(raises, 0) | dict(
        log.ask("select client_id, count(*) from review.graded_sets where is_hard group by all")
    )
    assert hard_sets["some"] <= hard_sets["as-logged"]
    assert hard_sets["all"] <= hard_sets["as-logged"]


def test_exertion_counts_down_to_reserve(log: Log) -> None:
    """Zourdos et al. 2016: RPE 10 is nothing left, 9 one, 8 two, 7 three."""
    for rpe in (10.0, 9.0, 8.0, 7.0):
        log.set(MONDAY, "bench press", 80.0, 5, rpe=rpe)
    log.build(MONDAY)
    assert [
        row[0] for row in log.ask("select rir_used from review.graded_sets order by set_id")
    ] == [
        0.0,
        1.0,
        2.0,
        3.0,
    ]
