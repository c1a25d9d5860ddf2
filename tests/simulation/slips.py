"""Print how often sessions in the wrong unit are named, and how often others are by mistake.

    python tests/simulation/slips.py

Simulated logs as of `courses.py`; slips are put in where they are looked for, plates rounded as a
person would load them.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

import polars as pl
from courses import FIRST_DAY, Course, last_day, sets_of
from ledgers import build_tables

POUND = 1 / 0.45359237
CLIENTS = 40
CLEAN = (
    Course("gaining 0.5", rate=0.5),
    Course("gaining 0.25, effort not logged", rate=0.25, is_logged=False, noise=3.5),
    Course("double progression", rate=0.25, scheme="double"),
    Course("double progression, effort not logged", rate=0.25, scheme="double", is_logged=False),
    Course("top set and back-offs", rate=0.25, scheme="top", noise=3.5),
    Course("a light week in five", rate=0.25, light_weeks=5, is_logged=False),
    Course("back from eight weeks off with half", rate=0.25, layoff=(50.0, 58.0)),
    Course("back from five weeks off, effort not logged", layoff=(70.0, 75.0), is_logged=False),
    Course("bad days", rate=0.25, bad_days=0.05),
    Course("beginners", curve="saturating", rise=60.0),
    Course("steps of −14 %", step=-14.0),
    Course("falling 1 % a week", end_weeks=12, end_rate=-1.0),
)
"""Where no session is in the wrong unit."""
WRONG: dict[str, tuple[float, int, int]] = {
    "pounds, one session between": (POUND, 40, 0),
    "pounds, two weeks between": (POUND, 40, 2),
    "pounds, ten weeks between": (POUND, 40, 10),
    "pounds, the last three weeks": (POUND, 77, 3),
    "pounds, the first three weeks": (POUND, 0, 3),
    "both hands for one, two weeks": (2.0, 40, 2),
    "one hand for both, two weeks": (0.5, 40, 2),
    "one hand for both, the last four weeks": (0.5, 76, 4),
    "kilograms for pounds, two weeks": (1 / POUND, 40, 2),
}
"""Factor, first week and weeks (0: one session) of what is in the wrong unit."""


def slipped(course: Course, factor: float, first: int, weeks: int) -> pl.DataFrame:
    """Logs with sessions in the wrong unit, to whole steps of five pounds or two and a half kg."""
    sets = sets_of(course, CLIENTS, 5)
    begin = FIRST_DAY + timedelta(weeks=first)
    end = begin + (timedelta(weeks=weeks) if weeks else timedelta(days=1))
    step = 5.0 if factor == POUND else 1.25
    wrong = (pl.col("load_kg") * factor / step).round() * step
    is_wrong = (pl.col("day") >= begin) & (pl.col("day") < end)
    return sets.with_columns(
        pl.when(is_wrong).then(wrong).otherwise("load_kg").alias("load_kg"),
        is_wrong.alias("is_wrong"),
    )


def named(sets: pl.DataFrame, course: Course) -> pl.DataFrame:
    """Sessions, with whether they are named."""
    con = build_tables(sets.drop("is_wrong", strict=False), last_day(course), "review.graded_sets")
    rows = con.sql(
        "select client_id, exercise, performed_on as day, bool_or(is_slip) as is_named"
        " from review.graded_sets group by all"
    )
    found = pl.DataFrame(pl.from_arrow(rows.to_arrow_table()))
    con.close()
    return found


def mistakes(course: Course) -> tuple[int, int]:
    """Lifts of a clean course with a session named, of how many."""
    lifts = named(sets_of(course, CLIENTS, 5), course).group_by("client_id", "exercise")
    found = lifts.agg(pl.col("is_named").any())["is_named"]
    return int(found.sum()), len(found)


def hits(course: Course, factor: float, first: int, weeks: int) -> tuple[float, float]:
    """Share of wrong sessions that are named, and of right ones that are."""
    sets = slipped(course, factor, first, weeks)
    truth = sets.group_by("client_id", "exercise", "day").agg(pl.col("is_wrong").any())
    both = truth.join(named(sets, course), on=["client_id", "exercise", "day"])
    wrong = both.filter("is_wrong")["is_named"].mean()
    right = both.filter(~pl.col("is_wrong"))["is_named"].mean()
    return float(wrong), float(right)  # type: ignore[arg-type]


def table() -> Iterator[str]:
    """Both tables."""
    yield "| no session in the wrong unit | lifts with one named |"
    yield "| --- | ---: |"
    for course in CLEAN:
        found, lifts = mistakes(course)
        yield f"| {course.name} | {found} of {lifts} |"
    yield ""
    yield "| in the wrong unit | named, effort logged | not logged | right sessions named |"
    yield "| --- | ---: | ---: | ---: |"
    for name, wrong in WRONG.items():
        logged = hits(Course("", rate=0.25), *wrong)
        unlogged = hits(Course("", rate=0.25, is_logged=False), *wrong)
        yield (
            f"| {name} | {100 * logged[0]:.0f} % | {100 * unlogged[0]:.0f} % |"
            f" {100 * max(logged[1], unlogged[1]):.1f} % |"
        )


if __name__ == "__main__":
    for line in table():
        print(line, flush=True)  # noqa: T201
