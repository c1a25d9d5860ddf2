"""How often a client whose course does not change reads the same first change in two weeks running.

    python tests/simulation/first_changes.py

Rooms of ten lifts whose course has not changed for months are reviewed on six Sundays running, each
time from the ledger alone; prints the table of tests/README.md.
"""

from __future__ import annotations

import itertools
import sys
from collections.abc import Sequence
from datetime import date, timedelta

import duckdb
import polars as pl
from courses import Course, last_day, sets_of
from ledgers import build_tables

COURSES = tuple(
    Course(
        f"{name}, {noise:g} %",
        rate=rate,
        weeks=weeks,
        end_weeks=flat_weeks,
        flat_lifts=lifts,
        noise=noise,
        lifts=10,
    )
    for name, rate, weeks, flat_weeks, lifts in (
        ("all flat 20 after 0.25", 0.25, 80, 20.0, 10),
        ("all flat 30 after 0.25", 0.25, 80, 30.0, 10),
        ("flat from day one, week 40", 0.0, 40, 0.0, 10),
        ("three of ten flat 30 after 0.25", 0.25, 80, 30.0, 3),
        ("gaining 0.25", 0.25, 80, 0.0, 10),
    )
    for noise in (2.0, 3.5)
)
WEEKS = 6

First = tuple[str, str] | None


def first_changes(
    courses: Sequence[Course], clients: int, seed: int
) -> dict[str, list[list[First]]]:
    """By course: each client's first change on each of the Sundays, the earliest first."""
    end = max(last_day(course) for course in courses)
    sets = pl.concat(
        [
            sets_of(course, clients, seed + nth, f"{nth}-").with_columns(
                pl.col("day") + (end - last_day(course))
            )
            for nth, course in enumerate(courses)
        ]
    ).sort("client_id", "day", maintain_order=True)
    sunday = end
    sunday += timedelta(days=6 - sunday.weekday())
    read = [_first_changes(sets, sunday - timedelta(weeks=ago)) for ago in range(WEEKS - 1, -1, -1)]
    return {
        course.name: [
            [week.get(client) for week in read]
            for client in sets["client_id"].unique(maintain_order=True)
            if client.startswith(f"{nth}-")
        ]
        for nth, course in enumerate(courses)
    }


def _first_changes(sets: pl.DataFrame, as_of: date) -> dict[str, First]:
    con = build_tables(sets.filter(pl.col("day") <= as_of), as_of, "review.findings")
    rows = first_of(con)
    con.close()
    return rows


def first_of(con: duckdb.DuckDBPyConnection) -> dict[str, First]:
    """Client to code and subject of the first change."""
    return {
        client: (code, subject)
        for client, code, subject in con.execute(
            "select client_id, code, subject from review.findings where is_first_change"
        ).fetchall()
    }


def same_share(clients: Sequence[Sequence[First]]) -> float:
    """Of all pairs of weeks running, those in which the same is read."""
    pairs = [before == after for weeks in clients for before, after in itertools.pairwise(weeks)]
    return sum(pairs) / len(pairs)


def main() -> None:
    """Print the table."""
    found = first_changes(COURSES, 24, 7)
    lines = ["| ten lifts, noise | the same in two weeks running |", "| --- | ---: |"]
    lines += [f"| {name} | {100 * same_share(weeks):.0f} % |" for name, weeks in found.items()]
    sys.stdout.write("\n".join(lines) + "\n")


if __name__ == "__main__":
    main()
