"""What the models say of simulated lifts: the SQL itself, look by look."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import polars as pl
from courses import Course, last_day, sets_of
from ledgers import build_tables

from pipeline.settings.rules import Rules

ALARMS = ("stalled", "regressing")
GOOD = ("progressing", "slowing")


@dataclass(frozen=True)
class Looks:
    """Rows of review.lift_trend and review.client_trend, with the name of the course."""

    lifts: pl.DataFrame
    clients: pl.DataFrame
    bests: pl.DataFrame
    """By lift: whether its last four weeks hold no new best."""

    def of(self, course: Course) -> Looks:
        """The rows of one course."""
        own = pl.col("course") == course.name
        return Looks(self.lifts.filter(own), self.clients.filter(own), self.bests.filter(own))

    def without_best(self) -> float:
        """Share of lifts that the common rule accuses: no new best estimate for four weeks."""
        return float(self.bests["is_without_best"].mean())  # type: ignore[arg-type]

    def last(self) -> pl.DataFrame:
        """The last look at each lift."""
        newest = pl.col("week") == pl.col("week").max().over("client_id", "exercise")
        return self.lifts.filter(newest)

    def share(self, *statuses: str) -> float:
        """Share of lifts with one of these statuses at the last look."""
        found = self.last()["status"].is_in(list(statuses)).fill_null(False)
        return float(found.mean())  # type: ignore[arg-type]

    def ever(self, every: int = 1) -> float:
        """Share of lifts with an alarm in any of the looks, weekly or every so many weeks."""
        shares = [self._ever(every, phase) for phase in range(every)]
        return sum(shares) / len(shares)

    def _ever(self, every: int, phase: int) -> float:
        looks = self.lifts.with_columns(_age(self.lifts)).filter(pl.col("age") % every == phase)
        alarms = looks.group_by("client_id", "exercise").agg(
            pl.col("status").is_in(list(ALARMS)).fill_null(False).any()
        )
        return float(alarms["status"].mean())  # type: ignore[arg-type]

    def first_changes(self, rules: Rules | None = None) -> float:
        """Clients a year with a first change by stalls, at monthly looks; mean of four phases."""
        looks = self.lifts.with_columns(_age(self.lifts))
        found = looks.group_by("client_id", "age").agg(
            pl.struct("status", "flag_p")
            .map_batches(
                lambda rows: pl.Series([is_beyond_chance(rows.to_list(), rules or Rules())]),
                return_dtype=pl.Boolean,
                returns_scalar=True,
            )
            .alias("is_first")
        )
        weeks = looks["age"].max() + 1  # type: ignore[operator]
        shares = []
        for phase in range(4):
            monthly = found.filter(pl.col("age") % 4 == phase)
            clients = monthly.group_by("client_id").agg(pl.col("is_first").any())
            shares.append(float(clients["is_first"].mean()))  # type: ignore[arg-type]
        return sum(shares) / 4 * 52 / float(weeks)

    def falls(self) -> float:
        """Share of clients that are asked about health, by all lifts together or three of them."""
        rules = Rules()
        regressing = (
            self.last()
            .group_by("client_id")
            .agg((pl.col("status") == "regressing").sum().alias("regressing"))
        )
        clients = self.clients.join(regressing, on="client_id")
        is_asked = pl.col("is_falling") | (
            (pl.col("regressing") >= rules.drop_lifts)
            & (pl.col("fall_p") < rules.joint_few_p)
            & (pl.col("falling_share") >= rules.joint_fall_share)
        )
        return float(clients.select(is_asked.mean()).item())


def _age(frame: pl.DataFrame) -> pl.Expr:
    """Whole weeks before the last look of all."""
    return ((pl.col("week").max() - pl.col("week")).dt.total_days() // 7).alias("age")


def is_beyond_chance(rows: Sequence[dict[str, Any]], rules: Rules) -> bool:
    """Whether as many flags, as strong, are rarer than chance: least binomial tail."""
    judged = [row for row in rows if row["status"] not in (None, "too_little_data")]
    flags = sorted(row["flag_p"] for row in judged if row["status"] in ALARMS)
    count = len(judged)
    limit = rules.chance_few_p if count <= rules.chance_few_lifts else rules.chance_p
    return any(
        sum(math.comb(count, k) * p**k * (1 - p) ** (count - k) for k in range(nth, count + 1))
        <= limit
        for nth, p in enumerate(flags, start=1)
    )


def looks_at(
    courses: Iterable[Course], clients: int, seed: int, as_of: date | None = None, **changed: Any
) -> Looks:
    """The looks at so many clients of each course, all in one ledger."""
    courses = list(courses)
    frames = [
        sets_of(course, clients, seed + place, f"{place}-") for place, course in enumerate(courses)
    ]
    names = {str(place): course.name for place, course in enumerate(courses)}
    sets = pl.concat(frames).sort("client_id", "day", maintain_order=True)
    con = build_tables(
        sets,
        as_of or max(last_day(course) for course in courses),
        "review.lift_trend",
        "review.client_trend",
        **changed,
    )
    course_of = pl.col("client_id").str.split("-").list.first().replace_strict(names)
    tables = []
    for table in ("lift_trend", "client_trend"):
        rows = pl.DataFrame(pl.from_arrow(con.sql(f"from review.{table}").to_arrow_table()))
        tables.append(rows.with_columns(course_of.alias("course")))
    con.close()
    return Looks(*tables, _bests(sets).with_columns(course_of.alias("course")))


def _bests(sets: pl.DataFrame) -> pl.DataFrame:
    """By lift: whether no set of the last four weeks beats all before, by Epley as logged."""
    estimate = pl.col("load_kg") * (1 + pl.col("reps") / 30)
    is_recent = pl.col("day") > pl.col("day").max().over("client_id", "exercise") - pl.duration(
        days=28
    )
    return (
        sets.with_columns(estimate.alias("estimate"), is_recent.alias("is_recent"))
        .group_by("client_id", "exercise")
        .agg(
            (
                pl.col("estimate").filter("is_recent").max()
                <= pl.col("estimate").filter(~pl.col("is_recent")).max()
            ).alias("is_without_best")
        )
    )
