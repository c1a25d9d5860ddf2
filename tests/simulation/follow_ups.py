"""How often what is said of a change errs: rooms whose lifts shift on the day, and others.

    python tests/simulation/follow_ups.py

Prints the tables of tests/README.md. Beside each share stands what the best test could reach that
knows the noise: generalised least squares on the same sessions, 12 weeks before and all since, one
height and one rate a lift, the bend on the day common to all.
"""

from __future__ import annotations

import argparse
from collections import Counter
from dataclasses import replace
from datetime import date, timedelta
from statistics import NormalDist

import numpy as np
import polars as pl
from courses import FIRST_DAY, Course, days_of, last_day, sets_of
from ledgers import build_tables, share_error

from pipeline.settings.workspace import Change, Client

BEFORE_WEEKS = 12
WEEKS = (4, 8, 12, 16, 26)
"""Since the change."""
ROOM = Course("room", weeks=60, lifts=10)


def changed_on(course: Course) -> date:
    """The Monday on which the end of a course begins."""
    return FIRST_DAY + timedelta(days=7 * (course.weeks - round(course.end_weeks)))


def sets_and_changes(course: Course, clients: int, seed: int) -> tuple[pl.DataFrame, list[Client]]:
    """Sets of so many rooms, and the change that each of them noted."""
    sets = sets_of(course, clients, seed)
    change = Change(changed_on(course), "simulated")
    names = sets["client_id"].unique(maintain_order=True)
    return sets, [Client(id=name, name=name, changes=(change,)) for name in names]


def verdicts(course: Course, clients: int, seed: int, as_of: date | None = None) -> list[str]:
    """What is said of the change in each room, in the order of the rooms."""
    sets, people = sets_and_changes(course, clients, seed)
    con = build_tables(
        sets, as_of or last_day(course), "review.follow_through", clients=tuple(people)
    )
    rows = con.execute("select verdict from review.follow_through order by client_id").fetchall()
    con.close()
    assert len(rows) == clients
    return [verdict for (verdict,) in rows]


def ever(course: Course, clients: int, seed: int) -> float:
    """Share of rooms with a false verdict in any monthly look of 26 weeks, if nothing shifted."""
    first = changed_on(course)
    looks = [
        verdicts(course, clients, seed, first + timedelta(days=7 * weeks - 1))
        for weeks in range(4, 27, 4)
    ]
    told = zip(*looks, strict=True)
    return sum(bool({"worked", "made_worse"} & set(each)) for each in told) / clients


def taken_back(course: Course, clients: int, seed: int) -> float:
    """Share of rooms that are to take back a step, though sets only vary from week to week.

    Sessions hold one to three sets of each lift, drawn anew each week. Nothing is noted.
    """
    sets = sets_of(course, clients, seed)
    nth = pl.col("nth")
    weeks = sets.select("client_id", week=pl.col("day").dt.truncate("1w")).unique(
        maintain_order=True
    )
    drawn = np.random.default_rng(seed).integers(1, 4, weeks.height)
    varied = (
        sets.with_columns(
            week=pl.col("day").dt.truncate("1w"),
            nth=pl.int_range(pl.len()).over("client_id", "day", "exercise"),
        )
        .join(weeks.with_columns(held=pl.Series(drawn)), on=["client_id", "week"])
        .filter(nth < pl.col("held"))
        .select(sets.columns)
    )
    con = build_tables(varied, last_day(course), "review.findings")
    found = con.execute(
        "select count(distinct client_id) from review.findings where code = 'take_back'"
    ).fetchone()
    con.close()
    assert found is not None
    return found[0] / clients


def best_power(course: Course, errors: float = 0.05) -> float:
    """How often the best test with known noise finds the shift, two-sided, at so many errors."""
    end = round(course.end_weeks)
    weeks = (days_of(course) - 7.0 * (course.weeks - end)) / 7
    weeks = weeks[weeks >= -BEFORE_WEEKS]
    line = np.column_stack([np.ones_like(weeks), weeks])
    bend = np.maximum(weeks, 0)
    bend = bend - line @ np.linalg.lstsq(line, bend, rcond=None)[0]
    variance = course.noise**2 * (course.shared + (1 - course.shared) / course.lifts)
    distance = abs(course.end_rate - course.rate) * float(np.sqrt((bend**2).sum() / variance))
    return 1 - NormalDist().cdf(NormalDist().inv_cdf(1 - errors / 2) - distance)


def say(line: str) -> None:
    """One line of a table, as soon as it is known."""
    print(line, flush=True)  # noqa: T201


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rooms", type=int, default=200)
    rooms = parser.parse_args().rooms
    courses = [
        *(
            replace(ROOM, name=f"{rate:g} % a week goes on, {noise:g} %", rate=rate, end_rate=rate,
                    noise=noise)
            for noise in (2.0, 3.5)
            for rate in (0.0, 0.25)
        ),
        replace(ROOM, name="0.25 % goes on, correlation 0.3", rate=0.25, end_rate=0.25,
                correlation=0.3),
        *(
            replace(ROOM, name=f"{rate:g} to {end_rate:g} %, {noise:g} %", rate=rate,
                    end_rate=end_rate, noise=noise)
            for noise in (2.0, 3.5)
            for rate, end_rate in ((0.0, 0.4), (0.4, 0.0))
        ),
        replace(ROOM, name="0.25 to 0 %, 2 %", rate=0.25),
        replace(ROOM, name="beginner: +40 % on a curve of 25 weeks, week 40", weeks=40,
                curve="saturating", rise=40, curve_weeks=25),
    ]  # fmt: skip
    say("| ten lifts, noise | weeks | worked | made worse | no difference | too early | best |")
    say("| --- | ---: | ---: | ---: | ---: | ---: | ---: |")
    for course in courses:
        for weeks in WEEKS:
            ended = replace(course, end_weeks=weeks)
            counts = Counter(verdicts(ended, rooms, 7))
            shares = [
                counts[verdict] / rooms
                for verdict in ("worked", "made_worse", "no_difference", "too_early")
            ]
            is_shift = course.end_rate != course.rate
            best = f"{100 * best_power(ended):.0f} %" if is_shift else ""
            cells = " | ".join(f"{100 * share:.1f} %" for share in shares)
            say(f"| {course.name} | {weeks} | {cells} | {best} |")
    say("")
    for course in courses[:5]:
        share = ever(replace(course, end_weeks=26), rooms, 11)
        say(
            f"In any of six monthly looks, {course.name}: {100 * share:.1f} ± "
            f"{100 * share_error(share, rooms):.1f} %."
        )
    for rate in (0.0, 0.25):
        share = taken_back(replace(ROOM, rate=rate), rooms, 13)
        say(
            f"Take back a step that nobody made, {rate:g} % a week: {100 * share:.1f} ± "
            f"{100 * share_error(share, rooms):.1f} %."
        )


if __name__ == "__main__":
    main()
