"""Table by table, cell by cell: what the models built against what the reference makes of the log.

Every column of a table is compared; a column that the reference does not know is a difference.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

from pipeline.settings.rules import Rules
from tests.conftest import Log
from tests.reference.catalogue import Catalogue
from tests.reference.logs import Room
from tests.reference.muscles import Work, muscle_day, muscle_status, rolling_week
from tests.reference.rhythm import effort_week, exercise_turnover, rhythm, rotation
from tests.reference.sets import Set, graded

Cells = tuple[Any, ...]
Expected = dict[str, dict[Cells, Cells]]
"""Table to grain to row."""


@dataclass(frozen=True)
class Table:
    """How the reference makes a table, and its columns in that order, the grain first."""

    rows: Callable[[Work], Iterable[Cells]]
    grain: int
    columns: str


def graded_sets(work: Work) -> list[Cells]:
    """Rows of graded_sets."""
    return [_cells(one) for one in work.sets]


def _cells(one: Set) -> Cells:
    return (
        *(one.set_id, one.client_id, one.day, one.exercise, one.load, one.rir_used, one.basis),
        *(one.is_hard, one.is_extended, one.is_suspect, one.slip is not None, one.to_failure),
        *(one.epley, one.brzycki, one.e1rm, one.index),
    )


TABLES: dict[str, Table] = {
    "graded_sets": Table(
        graded_sets,
        1,
        "set_id client_id performed_on exercise effective_load_kg rir_used effort_basis is_hard"
        " is_extended is_suspect is_slip reps_to_failure e1rm_epley e1rm_brzycki e1rm"
        " strength_index",
    ),
    "muscle_day": Table(
        muscle_day,
        3,
        "client_id muscle day direct_sets fractional_sets all_sets extended_sets",
    ),
    "rolling_week": Table(
        rolling_week,
        3,
        "client_id muscle day direct_sets_7d fractional_sets_7d all_sets_7d hits_7d days_since_hit",
    ),
    "muscle_status": Table(
        muscle_status,
        2,
        "client_id muscle fractional_sets_7d direct_sets_7d weekly_rate weekly_rate_before"
        " rate_days weekly_rate_28d weekly_rate_prev_28d"
        " median_gap_days median_sets_per_hit guide_low guide_high standing low_end_rate"
        " hits_56d extended_share low_end_group session_low session_high may_be_below",
    ),
    "rhythm": Table(
        rhythm,
        2,
        "client_id day trained body_parts rest_days_7d run_of_training_days hard_sets",
    ),
    "rotation": Table(
        lambda work: [rotation(work)], 1, "client_id sessions days rest_days similarity parts"
    ),
    "effort_week": Table(
        effort_week,
        3,
        "client_id week movement work_sets recorded_sets rir_0 rir_1 rir_2 rir_3 rir_4 rir_5_up"
        " extended_sets recorded_share",
    ),
    "exercise_turnover": Table(
        exercise_turnover, 2, "client_id week exercises kept_share trackable_share is_judged"
    ),
}


def works(log: Log, room: Room, rules: Rules) -> list[Work]:
    """Everybody with a set up to the as-of day, as the reference grades them."""
    names, logged = log.table("select * from ledger.sets")
    rows = [dict(zip(names, cells, strict=True)) for cells in logged]
    weigh_ins = {each.client.id: [(on, kg) for kg, on in each.weigh_ins] for each in room.lifters}
    catalogue = Catalogue.read()
    sets: dict[str, list[Set]] = {each.client.id: [] for each in room.lifters}
    for one in graded(rows, weigh_ins, room.as_of, catalogue, rules):
        sets[one.client_id].append(one)
    return [
        Work(
            each.client,
            sets[each.client.id],
            room.as_of,
            catalogue,
            rules,
            room.exported_on,
        )
        for each in room.lifters
        if sets[each.client.id]
    ]


def expected_rows(log: Log, room: Room, rules: Rules | None = None) -> Expected:
    """All tables as the reference makes them from the sets of the ledger."""
    everybody = works(log, room, rules or Rules())
    return {
        name: {row[: table.grain]: row for work in everybody for row in table.rows(work)}
        for name, table in TABLES.items()
    }


def differences(log: Log, room: Room, expected_tables: Expected | None = None) -> list[str]:
    """What differs, a line each with the habit that shows it; nothing if all cells are equal."""
    expected_tables = expected_tables or expected_rows(log, room)
    habits = {each.client.id: each.habit for each in room.lifters}
    log.make(*(f"review.{name}" for name in TABLES))
    found: list[str] = []
    for name, table in TABLES.items():
        columns = table.columns.split()
        expected = expected_tables[name]
        names, stored = log.table(f"select * from review.{name}")
        if set(names) != set(columns):
            found.append(f"{name}: columns {sorted(set(names) ^ set(columns))}")
            continue
        places = [names.index(column) for column in columns]
        built = {
            row[: table.grain]: row
            for row in (tuple(cells[place] for place in places) for cells in stored)
        }
        found += [
            f"{name}: {key} only in the {'reference' if key in expected else 'SQL'}"
            for key in sorted(expected.keys() ^ built.keys(), key=str)
        ]
        for key in expected.keys() & built.keys():
            pairs = zip(columns, expected[key], built[key], strict=True)
            cells = [
                f"{column} {a!r} is {b!r}" for column, a, b in pairs if not alike(column, a, b)
            ]
            if cells:
                owner = expected[key][columns.index("client_id")]
                found.append(
                    f"{name} {key}: {', '.join(cells)} in SQL; as of {room.as_of}, {habits[owner]}"
                )
    return found


def alike(column: str, one: Any, other: Any) -> bool:
    """Whether two cells are the same; figures to the digits that the tables keep."""
    if not isinstance(one, float) and not isinstance(other, float):
        return type(one) is type(other) and bool(one == other)
    # rir_used is kept to six digits: a half at the seventh may round either way
    slack = 1.5e-6 if column == "rir_used" else 2e-9
    return (
        one is not None
        and other is not None
        and math.isclose(one, other, rel_tol=1e-9, abs_tol=slack)
    )
