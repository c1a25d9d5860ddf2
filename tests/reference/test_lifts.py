"""Every cell of the lift tables against the plain implementation, on invented logs."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date
from typing import Any

import pytest
from hypothesis import given

from pipeline.settings.rules import Rules
from tests.conftest import Log
from tests.reference import lift_tables
from tests.reference.lift_logs import long_rooms
from tests.reference.lift_reference import Known, kinds_of, known
from tests.reference.lift_status import (
    bodyweight_now,
    client_cells,
    numbers_in,
    stand,
    target_rows,
    trends,
)
from tests.reference.lifts import Kind
from tests.reference.logs import LONG, QUIET, Room, built, rooms

NewLog = Callable[[], Log]
Cells = tuple[Any, ...]

GRADED = (
    "set_id, effective_load_kg, rir_used, effort_basis, is_hard, is_extended, is_suspect, is_slip,"
    " reps_to_failure, e1rm_epley, e1rm_brzycki, e1rm, strength_index"
)
SESSION = (
    "client_id, exercise, day, top_load_kg, top_reps, e1rm_epley, e1rm_brzycki, e1rm,"
    " strength_index, hard_sets, reps, tonnage_kg, is_light, light_run_days, work_sets,"
    " extended_sets"
)
RECORD = "client_id, exercise, reps, load_kg, performed_on, set_id"
TREND = (
    "client_id, exercise, week, sessions, change_pct_per_week, change_low, change_high,"
    " expected_pct_per_week, status, cause, window_days, weeks_until_clear, flat_weeks, flag_p,"
    " end_pct_per_week, noise_pct, correlation, last_on"
)
STATUS = (
    "client_id, exercise, week, sessions, change_pct_per_week, change_low, change_high,"
    " expected_pct_per_week, best_e1rm, best_on, weeks_since_best, status, cause, window_days,"
    " weeks_until_clear, flat_weeks, flag_p, noise_pct, last_on"
)
CLIENT = (
    "client_id, lifts, change_pct_per_week, change_low, change_high, window_days, falling_share,"
    " fall_p, is_falling"
)
TARGET = (
    "client_id, exercise, target_load_kg, target_reps, current_index, target_index, gap_pct,"
    " weeks_low, weeks_high"
)
TABLES = (
    "review.exercises",
    "review.exercise_muscles",
    "review.graded_sets",
    "review.lift_session",
    "review.records",
    "review.session_fade",
    "review.lift_trend",
    "review.lift_status",
    "review.target_progress",
)
FADE = "client_id, muscle, kind, nth, sets, relative_output, low, high, is_lower_bound"


def is_equal(one: Any, other: Any, tolerance: float) -> bool:
    """Whether two cells are equal, numbers within the tolerance."""
    if isinstance(one, float) or isinstance(other, float):
        return (
            one is not None
            and other is not None
            and math.isclose(one, other, rel_tol=tolerance, abs_tol=max(tolerance, 2e-6))
        )
    return bool(one == other)


def differences(
    columns: str, keys: int, expected: Iterable[Cells], found: Iterable[Cells], tolerance: float
) -> list[str]:
    """Cells that differ, in words; `keys` columns at the front name a row."""
    names = columns.split(", ")
    wanted = {row[:keys]: row for row in expected}
    got = {row[:keys]: row for row in found}
    lines = [f"{key}: only in the reference" for key in wanted.keys() - got.keys()]
    lines += [f"{key}: only in the SQL" for key in got.keys() - wanted.keys()]
    for key in wanted.keys() & got.keys():
        for name, one, other in zip(names, wanted[key], got[key], strict=True):
            if not is_equal(one, other, tolerance):
                lines.append(f"{key}: {name} is {other}, {one} by the reference")
    return sorted(lines)


def graded_rows(each: Known) -> list[Cells]:
    """Rows of review.graded_sets that carry a work set."""
    return [
        (
            one.set_id,
            one.load,
            one.rir_used,
            one.basis,
            one.is_hard,
            one.is_extended,
            one.is_suspect,
            one.slip is not None,
            one.reps_to_failure,
            one.epley,
            one.brzycki,
            one.e1rm,
            one.index,
        )
        for lift in each.lifts
        for session in lift.sessions
        for one in session.sets
    ]


def all_differences(room: Room, new_log: NewLog) -> list[str]:
    """Differences of all tables of a room."""
    log = built(room, new_log).make(*TABLES)
    clients = known(log, room.as_of, room.clients, Rules())
    return [
        *set_differences(log, clients),
        *fade_differences(log, clients),
        *trend_differences(log, room, clients),
    ]


def set_differences(log: Log, clients: Sequence[Known]) -> list[str]:
    """Sets, sessions and records."""
    lifts = [lift for each in clients for lift in each.lifts]
    sets = [row for each in clients for row in graded_rows(each)]
    carriers = {row[0] for row in sets}
    graded = [
        row
        for row in log.ask(f"select {GRADED} from review.graded_sets")
        if row[0] in carriers or row[3] is not None
    ]
    sessions = [row for lift in lifts for row in lift_tables.lift_session_rows(lift)]
    records = [row for lift in lifts for row in lift_tables.record_rows(lift, Rules())]
    return [
        *differences(GRADED, 1, sets, graded, 1e-8),
        *differences(
            SESSION, 3, sessions, log.ask(f"select {SESSION} from review.lift_session"), 1e-8
        ),
        *differences(RECORD, 3, records, log.ask(f"select {RECORD} from review.records"), 1e-8),
    ]


def fade_differences(log: Log, clients: Sequence[Known]) -> list[str]:
    """Fade; Student's t of the SQL is a series, right to 4 digits at 9 degrees of freedom, and wide
    intervals show more of what it is off."""
    kinds = kinds_of(log)
    expected = []
    for each in clients:
        known_kinds = {lift.exercise: kinds.get(lift.exercise, Kind()) for lift in each.lifts}
        expected += lift_tables.fade_rows(
            each.client.id, each.lifts, known_kinds, each.last, Rules()
        )
    return differences(FADE, 4, expected, log.ask(f"select {FADE} from review.session_fade"), 2e-4)


def trend_differences(log: Log, room: Room, clients: Sequence[Known]) -> list[str]:
    """Trends, statuses, their reasons' numbers, and targets."""
    rules, kinds = Rules(), kinds_of(log)
    weekly, statuses, targets, joint = [], [], [], []
    reasons = {}
    for each in clients:
        phases = each.client.phases
        standings = {}
        by_lift, ends = trends(each.lifts, phases, each.last, rules)
        joint += client_cells(each.client.id, ends, rules)
        for lift in each.lifts:
            key = (lift.client, lift.exercise)
            weeks = by_lift[lift.exercise]
            weekly += [(*key, *week.cells()) for week in weeks]
            latest = weeks[-1] if weeks else None
            standing = stand(lift, latest, phases, each.last, room.as_of, rules)
            statuses.append((*key, *standing.cells()))
            reasons[key] = standing.numbers
            standings[lift.exercise] = standing
        days = [row["performed_on"] for row in each.rows]
        own = bodyweight_now(days, each.weighins, rules)
        targets += target_rows(each.client, each.lifts, standings, own, kinds, rules)
    logged = {each.client.id for each in clients}
    in_ledger = {client_id for (client_id,) in log.ask("select client_id from ledger.sets")}
    for client in room.clients:
        if client.id in in_ledger - logged:
            targets += target_rows(client, [], {}, None, kinds, rules)
    reached = {row[:4]: row[-1] for row in targets}
    return [
        *differences(TREND, 3, weekly, log.ask(f"select {TREND} from review.lift_trend"), 1e-5),
        *differences(
            STATUS, 2, statuses, log.ask(f"select {STATUS} from review.lift_status"), 1e-5
        ),
        *differences(CLIENT, 1, joint, log.ask(f"select {CLIENT} from review.client_trend"), 1e-5),
        *reason_differences(log, reasons),
        *differences(
            TARGET,
            4,
            [row[:-1] for row in targets],
            log.ask(f"select {TARGET} from review.target_progress"),
            1e-6,
        ),
        *reached_differences(log, reached),
    ]


def reason_differences(log: Log, reasons: Mapping[Cells, list[str]]) -> list[str]:
    """Reasons whose numbers are not those of the reference."""
    found = log.ask("select client_id, exercise, reason from review.lift_status")
    return [
        f"{(client, exercise)}: '{reason}', {reasons[client, exercise]} by the reference"
        for client, exercise, reason in found
        if not are_alike(numbers_in(reason or ""), reasons[client, exercise])
    ]


def are_alike(ones: Sequence[str], others: Sequence[str]) -> bool:
    """Whether numbers are the same; where a half was rounded the last digit may differ."""
    return len(ones) == len(others) and all(
        one == other
        or ("." in one and abs(float(one) - float(other)) < 1.01 * 10 ** -len(one.split(".")[1]))
        for one, other in zip(ones, others, strict=True)
    )


def reached_differences(log: Log, reached: Mapping[Cells, date | None]) -> list[str]:
    """Targets that are said to be reached on another day."""
    found = log.ask(
        "select client_id, exercise, target_load_kg, target_reps, reason"
        " from review.target_progress"
    )
    lines = []
    for *key, reason in found:
        day = reached[tuple(key)]
        if reason.startswith("reached on") != (day is not None) or (
            day is not None and not reason.endswith(str(day))
        ):
            lines.append(f"{key}: '{reason}', {day} by the reference")
    return lines


@QUIET
@given(room=rooms())
def test_lifts_of_any_log_are_those_of_the_reference(room: Room, new_log: NewLog) -> None:
    assert all_differences(room, new_log) == []


@QUIET
@given(room=long_rooms())
def test_lifts_of_long_histories_are_those_of_the_reference(room: Room, new_log: NewLog) -> None:
    assert all_differences(room, new_log) == []


@pytest.mark.slow
@LONG
@given(room=rooms())
def test_lifts_of_hundreds_of_logs(room: Room, new_log: NewLog) -> None:
    assert all_differences(room, new_log) == []


@pytest.mark.slow
@LONG
@given(room=long_rooms())
def test_lifts_of_hundreds_of_long_histories(room: Room, new_log: NewLog) -> None:
    assert all_differences(room, new_log) == []
