"""Fill a ledger with many invented sets, to time the models on a size no hand would type.

Every value comes from DuckDB's hash of its place, so two runs give the same ledger.

    python tests/benchmarks/generate_ledger.py generated.duckdb --sets 3000000
"""

from __future__ import annotations

import argparse
from pathlib import Path

import duckdb

from pipeline.resources import resource

SETS_PER_CLIENT = 3000
EXERCISES_PER_SESSION = 6
SETS_PER_EXERCISE = 4

_FILL = """
insert into ledger.sets by name
with numbered_exercises as (
    select exercise, row_number() over (order by hash(exercise), exercise) - 1 as exercise_no
    from read_csv(getvariable('exercises_csv'))
    where load_basis in ('total', 'per_hand', 'added')
),

places as (
    select
        range as row_no,
        range // getvariable('sets_per_client') as client_no,
        range % getvariable('sets_per_client') // 24 as session_no,
        range % 24 // 4 as slot_no,
        range % 4 as nth,
        hash(range) as dice,
    from range(getvariable('sets'))
),

trained as (
    select
        *,
        -- four rotating sessions of six exercises out of each client's own 24
        hash((client_no * 24 + session_no % 4 * 6 + slot_no)::bigint) % 180 as exercise_no,
        -- three or four sessions a week: gaps of 1, 2, 2 and 2 days
        date '2024-01-01' + (session_no // 4 * 7 + [0, 1, 3, 5][session_no % 4 + 1])::integer
            as performed_on,
    from places
)

select
    '1:' || (trained.row_no + 2) || ':1' as set_id,
    format('client-{:04d}', trained.client_no) as client_id,
    trained.performed_on,
    format('client-{:04d}/{}', trained.client_no, trained.performed_on) as session_id,
    numbered_exercises.exercise as exercise_raw,
    trained.slot_no * 4 + trained.nth + 1 as day_order,
    trained.nth + 1 as set_no,
    round(40 + trained.exercise_no % 60 + trained.session_no * 0.1 + trained.dice % 5, 1)
        as load_kg,
    'kg' as load_unit,
    (6 + trained.exercise_no % 5 + trained.dice // 7 % 3 - trained.nth // 2)::integer as reps,
    case when trained.client_no % 2 = 0 then trained.dice // 31 % 5 end::double as rir,
    case when trained.nth = 0 and trained.slot_no = 0 then 'warmup' else 'work' end as set_kind,
    'generated' as source,
    1 as load_id,
    (trained.row_no + 2)::integer as source_line,
from trained
inner join numbered_exercises on trained.exercise_no = numbered_exercises.exercise_no
"""


def fill(con: duckdb.DuckDBPyConnection, sets: int) -> None:
    """Put about `sets` rows into ledger.sets: a client for every 3,000, two years at most."""
    con.execute("create schema if not exists ledger")
    folder = resource("sql") / "ledger"
    paths = sorted(folder.glob("*.sql"), key=lambda path: path.stem == "current_sets")
    for path in paths:
        con.execute(path.read_text(encoding="utf-8"))
    con.execute("set variable sets = ?", [sets])
    con.execute("set variable sets_per_client = ?", [SETS_PER_CLIENT])
    con.execute("set variable exercises_csv = ?", [str(resource("sql") / "seeds/exercises.csv")])
    con.execute(_FILL)
    con.execute(
        "insert into ledger.exercise_names"
        " select distinct exercise_raw, exercise_raw, 'catalogue', null from ledger.sets"
    )
    con.execute(
        "insert into ledger.bodyweights"
        " select distinct client_id, null::date, 80.0, 'setledger.toml', null, null, null"
        " from ledger.sets"
    )


def main() -> None:
    """Write a ledger file."""
    parser = argparse.ArgumentParser(description=main.__doc__)
    parser.add_argument("path", type=Path)
    parser.add_argument("--sets", type=int, default=1_000_000)
    arguments = parser.parse_args()
    with duckdb.connect(arguments.path) as con:
        fill(con, arguments.sets)


if __name__ == "__main__":
    main()
