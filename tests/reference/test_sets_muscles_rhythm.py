"""Sets, muscles, rhythm: the SQL against a plain implementation of the same definitions."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given

from pipeline.settings.rules import Rules
from pipeline.settings.workspace import Client, Guide, Phase
from tests.conftest import Log
from tests.reference.comparison import TABLES, Expected, differences, expected_rows
from tests.reference.logged_rows import Habit, Row
from tests.reference.logs import LONG, QUIET, Lifter, Room, built, exported, habit_of, room, rooms

NewLog = Callable[[], Log]

MIXED = exported(room(date(2026, 6, 14), (habit_of(seed) for seed in (*range(24), 199, 238))))
"""A room in which every rule of these tables matters to somebody."""


@QUIET
@given(room=rooms(lifters=12))
def test_every_cell_is_that_of_the_reference(new_log: NewLog, room: Room) -> None:
    assert differences(built(exported(room), new_log), exported(room)) == []


@pytest.mark.slow
@LONG
@given(room=rooms(longest=400))
def test_every_cell_of_hundreds_of_logs_is_that_of_the_reference(
    new_log: NewLog, room: Room
) -> None:
    assert differences(built(exported(room), new_log), exported(room)) == []


def test_the_logs_hold_what_real_ones_hold(new_log: NewLog) -> None:
    log = built(MIXED, new_log).make(*(f"review.{name}" for name in TABLES))
    for cases in (
        "select count(*) from review.graded_sets where effort_basis = 'recorded' and not is_hard",
        "select count(*) from review.graded_sets where effort_basis = 'estimated' and is_hard",
        "select count(*) from review.graded_sets where effort_basis = 'estimated' and not is_hard",
        "select count(*) from review.graded_sets where effort_basis = 'assumed'",
        "select count(*) from review.graded_sets where is_suspect",
        "select count(*) from review.graded_sets where is_extended",
        "select count(*) from ledger.sets where side = 'right'",
        "select count(*) from ledger.sets where replaced_by is not null",
        "select count(*) from ledger.sets, review.run where performed_on > as_of",
        "select count(*) from review.muscle_status where standing = 'below'",
        "select count(*) from review.muscle_status where standing = 'within'",
        "select count(*) from review.muscle_status where standing = 'above'",
        "select count(*) from review.muscle_status where standing is null",
        "select count(*) from review.rotation where days is null",
        "select count(*) from review.rotation where sessions > 1",
        "select count(*) from review.effort_week where movement = 'unknown'",
        "select count(*) from review.exercise_turnover where is_judged",
    ):
        assert log.one(cases) > 0, cases


def test_a_wrong_cell_is_seen(new_log: NewLog) -> None:
    log = built(MIXED, new_log)
    log.con.execute(
        "update review.effort_week set rir_2 = rir_2 + 1"
        " where week = (select max(week) from review.effort_week)"
    )
    found = differences(log, MIXED)
    assert found
    assert all(line.startswith("effort_week") and "rir_2" in line for line in found)


CHANGED: dict[str, float | int] = {
    "suspect_ratio": 1.2,
    "suspect_repeat_share": 0.6,
    "reference_days": 20,
    "reference_min_sessions": 6,
    "restart_days": 5,
    "hard_rir": 1.5,
    "estimated_slack": 0.5,
    "hard_reps_max": 14,
    "estimated_reps_max": 9,
    "warmup_share": 0.95,
    "e1rm_reps_max": 6.0,
    "index_reps_max": 11.0,
    "reserve_max": 2.0,
    "level_change_share": 0.4,
    "bodyweight_days": 10,
    "indirect_weight": 0.25,
    "guide_week_low": 2.0,
    "guide_week_high": 9.0,
    "guide_session_low": 3.0,
    "guide_session_high": 9.0,
    "rate_days": 14,
    "rate_reach": 0.1,
    "usual_days": 21,
    "standing_silent_days": 2,
    "standing_gap_days": 4,
    "unknown_share_max": 0.0,
    "extended_share_max": 0.05,
    "rest_day_sets": 9,
    "rotation_days": 30,
    "rotation_gap_days": 3,
    "rotation_sessions_max": 2,
    "rotation_days_min": 5,
    "rotation_days_max": 6,
    "rotation_min_pairs": 12,
    "rotation_similarity": 0.97,
    "rotation_slack": 0.0,
    "effort_load_share": 0.95,
    "trackable_weeks": 5,
    "trackable_sessions": 9,
    "not_trained_days": 10,
    "light_share": 0.02,
    "light_run_days": 1,
}
"""Each rule that these tables rest on, with a value far from its default."""


@pytest.fixture(scope="module")
def as_by_default(new_log: NewLog) -> Expected:
    """What the reference makes of the mixed room by the rules as they are."""
    return expected_rows(built(MIXED, new_log), MIXED)


@pytest.mark.slow
@pytest.mark.parametrize("name", CHANGED)
def test_a_changed_rule_changes_both_alike(
    new_log: NewLog, as_by_default: Expected, name: str
) -> None:
    changes: dict[str, Any] = {name: CHANGED[name]}
    log = built(MIXED, new_log, **changes)
    assert differences(log, MIXED, expected_rows(log, MIXED, Rules(**changes))) == []
    assert differences(log, MIXED, as_by_default) != []


# Edge cases ------------------------------------------------------------------------------------

EDGES = (
    date(2024, 2, 29),
    date(2025, 1, 1),
    date(2024, 10, 27),
)
"""Leap day, first day of a year, a day of 25 hours."""


def someone(name: str, rows: list[Row], *phases: Phase, **client: Any) -> Lifter:
    """A lifter whose rows are written out."""
    for order, row in enumerate(rows, 1):
        row.setdefault("day_order", order)
    return Lifter(Habit(seed=0), Client(id=name, name=name, phases=phases, **client), rows)


def bench(on: date, sets: int = 3, **other: Any) -> list[Row]:
    """Some sets of the bench press."""
    return [
        {"performed_on": on, "exercise": "bench press", "load_kg": 80.0, "reps": 8, "rir": 1.0}
        | other
        for _ in range(sets)
    ]


def edge_lifters(as_of: date) -> list[Lifter]:
    """One for each edge."""

    def ago(days: int) -> date:
        return as_of - timedelta(days=days)

    def twice(on: date) -> list[Row]:
        morning = datetime(on.year, on.month, on.day, 7)
        return [
            *bench(on, started_at=morning),
            *bench(on, 2, started_at=morning.replace(hour=19), load_kg=85.0, rir=None),
        ]

    def around_midnight(on: date) -> list[Row]:
        late = datetime(on.year, on.month, on.day, 23, 55)
        return [
            *bench(on, started_at=late),
            *bench(on + timedelta(days=1), started_at=late + timedelta(minutes=10)),
        ]

    every_third = [ago(days) for days in range(60, -1, -3)]
    return [
        someone("single-session", bench(ago(0))),
        someone("single-set-long-ago", bench(ago(200), 1)),
        someone("one-lift-only", [row for on in every_third for row in bench(on)]),
        someone(
            "all-warm-ups",
            [row for on in every_third for row in bench(on, set_kind="warmup", rir=None)],
        ),
        someone("only-after-the-as-of-day", bench(ago(-3))),
        someone("some-after", bench(ago(3)) + bench(ago(-1))),
        someone("two-a-day", [row for on in every_third for row in twice(on)]),
        someone("midnight", [row for on in every_third[:-1] for row in around_midnight(on)]),
        someone(
            "bodyweight-only",
            [
                row
                for on in every_third
                for row in bench(on, exercise="push-up", load_kg=None, reps=20, rir=None)
                + bench(on, exercise="plank", load_kg=None, reps=30, rir=None)
            ],
        ),
        someone("nothing-in-the-window", [row for n in range(90, 120, 2) for row in bench(ago(n))]),
        someone("history-of-27-days", [row for n in range(26, -1, -2) for row in bench(ago(n))]),
        someone("history-of-28-days", [row for n in range(27, -1, -2) for row in bench(ago(n))]),
        someone("silent-for-7-days", [row for n in range(60, 6, -2) for row in bench(ago(n))]),
        someone("silent-for-8-days", [row for n in range(61, 7, -2) for row in bench(ago(n))]),
        someone("gap-of-9-days", [row for n in (40, 34, 27, 18, 9, 0) for row in bench(ago(n))]),
        someone("gap-of-10-days", [row for n in (40, 34, 27, 20, 10, 0) for row in bench(ago(n))]),
        someone(
            "a-month-of-deload",
            [row for on in every_third for row in bench(on)],
            Phase("deload", ago(27), ago(0)),
        ),
        someone(
            "paused-since-yesterday",
            [row for on in every_third[:-1] for row in bench(on)],
            Phase("pause", ago(1)),
        ),
        someone(
            "a-day-of-care-long-over",
            [row for on in every_third for row in bench(on)],
            Phase("care", ago(30), ago(30)),
        ),
        someone(
            "exactly-at-the-low-end",
            [row for n in range(27, -1, -1) for row in bench(ago(n), 1)],
            guide=(Guide("chest", week=(7.0, 7.0)), Guide("triceps", week=(3.5, 4.0))),
        ),
        someone(
            "leap-days",
            [
                row
                for on in (date(2024, 2, 28), date(2024, 2, 29), date(2024, 3, 1))
                for row in bench(on)
            ],
        ),
        someone(
            "ends-of-years",
            [row for n in range(12) for row in bench(date(2023, 12, 26) + timedelta(days=n))],
        ),
    ]


@pytest.mark.parametrize(
    "as_of",
    [EDGES[0], *(pytest.param(each, marks=pytest.mark.slow) for each in EDGES[1:])],
    ids=str,
)
def test_edges_are_those_of_the_reference(new_log: NewLog, as_of: date) -> None:
    edges = Room(as_of, tuple(edge_lifters(as_of)), exported_on=as_of)
    assert differences(built(edges, new_log), edges) == []


def test_an_as_of_day_far_ahead_is_that_of_the_reference(new_log: NewLog) -> None:
    ahead = Room(date(2028, 2, 29), tuple(edge_lifters(date(2026, 6, 14))[:3]))
    assert differences(built(ahead, new_log), ahead) == []


def test_a_build_without_anybody_has_no_rows(new_log: NewLog) -> None:
    nobody = Room(date(2026, 6, 14), (edge_lifters(date(2026, 6, 14))[4],))
    log = built(nobody, new_log).make(*(f"review.{name}" for name in TABLES))
    assert [log.one(f"select count(*) from review.{name}") for name in TABLES] == [0] * len(TABLES)


@pytest.mark.slow
def test_fifteen_years_are_those_of_the_reference(new_log: NewLog) -> None:
    habit = replace(habit_of(15), days=15 * 365 + 4, end=0, split=1, schedule="weekdays")
    years = room(date(2026, 6, 14), [habit])
    assert differences(built(years, new_log), years) == []
