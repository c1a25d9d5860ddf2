"""Sessions in the wrong unit, or of one hand for both: by hand, each hit beside a near miss."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pytest

from pipeline.checks.slips import unit_slips
from pipeline.settings.workspace import Change, Client
from tests.conftest import Log, day

LIFT = "bench press"
POUND = 2.204622622


def trained(
    log: Log,
    loads: Sequence[float],
    exercise: str = LIFT,
    *,
    reps: int | Sequence[int] = 8,
    days: Sequence[int] | None = None,
    **other: Any,
) -> int:
    """A session of two alike sets every third day; gives the last day."""
    at = days or [3 * place for place in range(len(loads))]
    each_reps = [reps] * len(loads) if isinstance(reps, int) else reps
    for offset, load, count in zip(at, loads, each_reps, strict=True):
        log.sets(day(offset), exercise, load, count, 2, **other)
    return at[-1]


def slips(log: Log, last: int, *clients: Client) -> list[tuple[Any, ...]]:
    """(first day, last day, sessions, factor, place) of each slip, days from the log's first."""
    log.build(day(last), clients=clients)
    rows = log.ask(
        "select slipped_from, slipped_to, sessions, factor, place from review.unit_slips"
        " order by slipped_from, exercise"
    )
    return [((a - day(0)).days, (b - day(0)).days, *rest) for a, b, *rest in rows]


@pytest.mark.parametrize("sessions", [1, 2, 6])
def test_pounds_noted_as_kilograms_between_others(log: Log, sessions: int) -> None:
    last = trained(log, [100.0] * 8 + [220.0] * sessions + [102.5] * 7)
    assert slips(log, last) == [(24, 24 + 3 * (sessions - 1), sessions, POUND, "between")]


@pytest.mark.parametrize(
    ("loads", "found"),
    [
        ([60.0] * 8 + [132.5] * 3, [(24, 30, 3, POUND, "last")]),
        ([132.5] * 3 + [60.0] * 8, [(0, 6, 3, POUND, "first")]),
        # which side is wrong is not known: the fewer sessions are named
        ([60.0] * 3 + [132.5] * 8, []),
    ],
)
def test_the_log_ends_or_begins_in_the_wrong_unit(
    log: Log, loads: list[float], found: list[tuple[Any, ...]]
) -> None:
    assert slips(log, trained(log, loads)) == found


def test_a_log_that_begins_in_the_lower_reading_for_long_is_named(log: Log) -> None:
    last = trained(log, [60.0] * 5 + [132.5] * 8)
    assert slips(log, last) == [(0, 12, 5, round(1 / POUND, 9), "first")]


def test_of_two_readings_alike_in_number_the_earlier_is_named(log: Log) -> None:
    assert slips(log, trained(log, [132.5] * 5 + [60.0] * 5)) == [(0, 12, 5, POUND, "first")]


@pytest.mark.parametrize(("load", "factor"), [(40.0, 2.0), (10.0, 0.5), (9.0, 1 / POUND)])
def test_both_dumbbells_or_one_and_kilograms_noted_as_pounds(
    log: Log, load: float, factor: float
) -> None:
    loads = [20.0] * 8 + [load] * 3 + [20.0] * 4
    last = trained(log, loads, "dumbbell bench press", rir=2.0)
    assert slips(log, last) == [(24, 30, 3, round(factor, 9), "between")]


@pytest.mark.parametrize(
    ("load", "is_slip"),
    # within 3 % of 2 or 2.2046
    [(193.5, False), (194.0, True), (206.0, True), (210.0, False), (214.0, True), (228.0, False)],
)
def test_three_percent_is_the_edge(log: Log, load: float, is_slip: bool) -> None:
    assert bool(slips(log, trained(log, [100.0] * 8 + [load] * 2 + [100.0] * 4))) is is_slip


def test_a_plate_off_is_a_slip_where_two_other_lifts_slip(log: Log, new_log: type[Log]) -> None:
    """25 for 11 is 2.27: the next dumbbell in pounds."""
    raises = [10.0] * 8 + [25.0] * 2 + [11.0] * 4
    alone = trained(log, raises, "lateral raise")
    assert slips(log, alone) == []
    both = new_log()
    for exercise, load, pounds in (("bench press", 90.0, 200.0), ("back squat", 110.0, 245.0)):
        trained(both, [load] * 8 + [pounds] * 2 + [load] * 4, exercise)
    last = trained(both, raises, "lateral raise")
    assert slips(both, last) == [(24, 27, 2, POUND, "between")] * 3


def test_it_is_kept_out_of_figures_but_counts_as_sets(log: Log, new_log: type[Log]) -> None:
    def told(log: Log, loads: list[float]) -> tuple[Any, ...]:
        log.build(day(trained(log, loads)))
        best = log.ask("select best_e1rm, best_on, status, reason from review.lift_status")
        records = log.ask("select reps, load_kg, performed_on from review.records order by reps")
        return best, records

    usual = [75.0] * 9 + [77.5] * 9
    slipped = [*usual[:6], 165.0, 165.0, *usual[8:]]
    best, records = told(log, slipped)
    clean_best, clean_records = told(new_log(), usual)
    assert (best[0][:3], records) == (clean_best[0][:3], clean_records)
    assert log.one("select count(*) from review.graded_sets where is_slip") == 4
    assert log.one("select sum(hard_sets) from review.lift_session") == 36
    assert log.ask(
        "select top_load_kg, e1rm, tonnage_kg, reps from review.lift_session where day = ?".replace(
            "?", f"'{day(18)}'"
        )
    ) == [(None, None, None, 16)]


def test_effort_of_a_slip_is_estimated_from_the_load_that_it_stands_for(log: Log) -> None:
    last = trained(log, [100.0] * 8 + [220.46] * 2 + [100.0] * 4)
    log.build(day(last))
    assert log.ask("select distinct round(rir_used, 2) from review.graded_sets where is_slip") == [
        (0.0,)
    ]
    assert log.one("select count(*) from review.graded_sets where is_hard") == 28


@pytest.mark.parametrize(("noted", "found"), [(24, 0), (22, 0), (21, 1), (25, 1)])
def test_a_noted_change_of_the_lift_settles_it(log: Log, noted: int, found: int) -> None:
    """On a day after the last session before the jump, up to the jump itself."""
    last = trained(log, [60.0] * 8 + [120.0] * 5, "leg press")
    change = Change(day(noted), "other leg press", exercise="Leg Press")
    assert len(slips(log, last, Client("ines", "Ines", changes=(change,)))) == found


def test_a_change_of_another_lift_settles_nothing(log: Log) -> None:
    last = trained(log, [60.0] * 8 + [120.0] * 5, "leg press")
    change = Change(day(24), "other bench", exercise=LIFT)
    assert len(slips(log, last, Client("ines", "Ines", changes=(change,)))) == 1


NO_SLIPS: dict[str, dict[str, Any]] = {
    "twice the load over months": {"loads": [40 + 2.5 * place for place in range(20)]},
    "a first session to find the load": {"loads": [20.0] + [40.0] * 10},
    "two first sessions to find it": {"loads": [20.0, 20.0] + [40.0] * 10},
    "half the load every other session": {"loads": [100.0, 50.0] * 10},
    "a technique session now and then": {"loads": ([100.0] * 5 + [50.0]) * 3 + [100.0] * 4},
    "a light week": {"loads": [100.0] * 8 + [50.0] * 3 + [100.0] * 8},
    "back from a layoff with half": {
        "loads": [100.0] * 8 + [50.0, 60.0, 70.0, 80.0, 90.0],
        "days": [*range(0, 24, 3), *range(60, 75, 3)],
    },
    "few heavy repetitions, many light ones": {
        "loads": [100.0, 100.0, 100.0, 100.0, 50.0, 50.0, 50.0] * 3,
        "reps": [3, 3, 3, 3, 20, 20, 20] * 3,
    },
    "dumbbells a size up": {"loads": [2.0] * 8 + [4.0] * 8, "exercise": "lateral raise"},
    "a machine of other loads": {"loads": [60.0] * 8 + [90.0] * 8, "exercise": "leg press"},
    "chin-ups with twice the plates": {"loads": [10.0] * 8 + [20.0] * 8, "exercise": "chin-up"},
    "load by the day": {"loads": [100.0, 80.0, 65.0] * 6, "reps": [4, 8, 12] * 6},
}


@pytest.mark.parametrize("name", NO_SLIPS)
def test_what_is_no_slip(log: Log, name: str) -> None:
    given = dict(NO_SLIPS[name])
    last = trained(log, given.pop("loads"), given.pop("exercise", LIFT), **given)
    assert slips(log, last) == []


def test_check_asks_with_the_factor_and_says_how_to_settle_it(log: Log) -> None:
    last = trained(log, [60.0] * 8 + [132.5] * 3)
    log.build(day(last)).make("review.unit_slips")
    [remark] = unit_slips(log._con)
    assert (remark.severity, remark.topic) == ("open", "loads")
    assert remark.text == (
        "ines: loads of bench press from 2026-06-25 to 2026-07-01 (three sessions) stand at 2.20 "
        "times those before: pounds noted as kilograms? They are kept out of trends, bests and "
        "records; mend them in corrections.csv, or say what changed: `setledger client change ines "
        "--on 2026-06-25 --exercise 'bench press' \"WHAT CHANGED\"`."
    )


def test_where_the_first_sessions_slip_the_change_is_after_them(log: Log) -> None:
    last = trained(log, [120.0] * 3 + [60.0] * 8)
    log.build(day(last)).make("review.unit_slips")
    [remark] = unit_slips(log._con)
    assert f"--on {day(9)} " in remark.text
    change = Change(day(9), "other press", exercise=LIFT)
    assert slips(log, last, Client("ines", "Ines", changes=(change,))) == []


def test_a_database_without_the_table_asks_nothing(log: Log) -> None:
    assert list(unit_slips(log._con)) == []
