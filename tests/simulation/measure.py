"""Count the stall detector's errors on simulated lifters and print the table of tests/README.md.

    python tests/simulation/measure.py

Takes some minutes. `--lifters` changes how many are simulated per row, `--only WORD` the rows,
`--hold-out` prints the tables of the other simulator, on which nothing was set.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import holdout
import polars as pl
from detectors import (
    alarm_share,
    build_trends,
    cut_at_equal_alarms,
    judged,
    statuses,
)
from ledgers import share_error
from lifters import Scenario, last_day, sets_of

SEED = 20260601
HOLD_OUT_SEED = 771_903
"""Used for nothing but the published table."""
NOISES = (1.5, 2.0, 3.5, 5.0)
AS_LOGGED: dict[str, Any] = {"plates_kg": 2.5, "effort": "off"}
UNLOGGED: dict[str, Any] = {"plates_kg": 2.5, "effort": "none", "reserve": 1}


def plain_rows() -> Iterator[Scenario]:
    """What is shown exactly: each session's strength, with noise alone."""
    for noise in NOISES:
        for rate in (0.1, 0.25, 0.5, 1.0):
            yield Scenario(f"gains {rate:g} %/week, noise {noise:g} %", rate=rate, noise=noise)
        for weeks in (4, 6, 8, 10, 12):
            yield Scenario(
                f"flat for {weeks} weeks, noise {noise:g} %", end_weeks=weeks, noise=noise
            )
        yield Scenario(
            f"falling 0.5 %/week for 8 weeks, noise {noise:g} %",
            end_weeks=8,
            end_rate=-0.5,
            noise=noise,
        )


def hard_rows() -> Iterator[Scenario]:
    """What a log brings with it, at 2 % noise."""
    base = Scenario("", rate=0.25)
    flat = Scenario("", end_weeks=8)
    kinds: dict[str, dict[str, Any]] = {
        "loads to 2.5 kg, reserve off by ±1": AS_LOGGED,
        "loads to 2.5 kg, effort not logged": UNLOGGED,
        "correlation 0.3": {"correlation": 0.3},
        "correlation 0.5": {"correlation": 0.5},
        "deloads": AS_LOGGED | {"deloads": True},
        "deloads, effort not logged": UNLOGGED | {"deloads": True},
        "bad days": AS_LOGGED | {"bad_days": 0.03},
        "a mistyped set": AS_LOGGED | {"slip": True},
        "5s to 10s, own curve −4 %": AS_LOGGED | {"reps": 5, "new_reps": 10, "curve": 4.0},
        "5s to 10s, own curve +4 %": AS_LOGGED | {"reps": 5, "new_reps": 10, "curve": -4.0},
        "5s and 10s by turns": AS_LOGGED | {"mixed_reps": True, "curve": 4.0},
        "another machine, −20 %": AS_LOGGED | {"level": 0.8},
        "another machine, +25 %": AS_LOGGED | {"level": 1.25},
        "four weeks off": AS_LOGGED | {"layoff_weeks": 4},
        "six weeks on, six off": AS_LOGGED | {"swap_weeks": 6},
        "one session a week": {"per_week": 1},
        "three sessions a week": {"per_week": 3},
        "20 weeks of history": {"weeks": 20},
        "28 weeks of history": {"weeks": 28},
    }
    for name, changes in kinds.items():
        yield replace(base, name=f"gains 0.25 %/week: {name}", **changes)
        if not {"level", "layoff_weeks", "swap_weeks", "new_reps"} & changes.keys():
            yield replace(flat, name=f"flat for 8 weeks: {name}", **changes)


def held_out_rows() -> Iterator[holdout.Course]:
    """The other simulator: three lifts, double progression, other curves, heavy tails."""
    for noise in NOISES:
        for rate in (0.1, 0.25, 0.5):
            name = f"gains {rate:g} %/week, noise {noise:g} %"
            yield holdout.Course(name, rate=rate, noise=noise)
        yield holdout.Course(f"flat for 8 weeks, noise {noise:g} %", flat_weeks=8, noise=noise)
    kinds: dict[str, dict[str, Any]] = {
        "effort not logged": {"effort_logged": 0.0},
        "light weeks": {"deload_every": 6},
        "light weeks, effort not logged": {"deload_every": 6, "effort_logged": 0.0},
        "bad days": {"bad_days": 0.04},
        "correlation 0.4": {"correlation": 0.4},
        "20 to 28 weeks of history": {"weeks": (20, 28)},
        "80 to 150 weeks of history": {"weeks": (80, 150)},
        "three repetitions more": {"has_other_reps": True},
        "another machine, −20 %": {"level": 0.8},
        "slowing down by themselves": {"is_decelerating": True},
        "the same, beginners": {"is_decelerating": True, "trained_before": (1, 4)},
    }
    for name, changes in kinds.items():
        yield holdout.Course(f"gains 0.25 %/week: {name}", rate=0.25, **changes)
        if not {"has_other_reps", "level", "is_decelerating"} & changes.keys():
            yield holdout.Course(f"flat for 8 weeks: {name}", flat_weeks=8, **changes)


def first_alarm_weeks(scenario: Scenario, lifters: int) -> list[float]:
    """Weeks from a plateau's start to its first alarm, per lifter; infinite: none."""
    sets = sets_of(scenario, lifters, SEED)
    con = build_trends(sets, last_day(scenario))
    begun = (scenario.weeks - scenario.end_weeks) * 7
    rows = con.execute(
        "select min((last_on - date '2024-01-01' - ?) / 7) filter ("
        " where status in ('stalled', 'regressing') and last_on - date '2024-01-01' > ?)"
        " from review.lift_trend group by client_id order by client_id",
        [begun, begun],
    ).fetchall()
    con.close()
    return [float("inf") if weeks is None else float(weeks) for (weeks,) in rows]


def median(values: list[float]) -> float:
    """The middle value, of the greater half where there are two."""
    return sorted(values)[len(values) // 2]


Group = Scenario | holdout.Course


def judged_group(group: Group, lifters: int, seed: int) -> pl.DataFrame:
    """Last statuses of a group, of either simulator; the other has three lifts a lifter."""
    if isinstance(group, Scenario):
        return statuses(group, lifters, seed)
    return judged(holdout.sets_of(group, lifters // 3, seed), holdout.last_day(group))


def moving_twin(group: Group) -> Group:
    """The same logs of lifters who gain 0.5 % a week throughout."""
    if isinstance(group, Scenario):
        return replace(group, name="", rate=0.5, end_weeks=0.0)
    return replace(group, name="", rate=0.5, flat_weeks=0.0, is_decelerating=False)


def table(groups: Iterator[Group], lifters: int, seed: int, only: str) -> Iterator[str]:
    """Lines of the table; a group's moving twins set the common rules' equal thresholds."""
    yield (
        "| lifters | alarms | progressing | no new best for 4 weeks | for 3 sessions"
        " | 4-week rule at 5 % false alarms | sessions rule at 5 % |"
    )
    yield "| --- |" + " ---: |" * 6
    twins: dict[Group, pl.DataFrame] = {}
    for group in groups:
        if only not in group.name:
            continue
        frame = judged_group(group, lifters, seed)
        twin = moving_twin(group)
        if twin not in twins:
            twins[twin] = judged_group(twin, lifters, seed + 1)
        share = alarm_share(frame)
        cells = [
            f"{100 * share:.1f} ± {100 * share_error(share, frame.height):.1f} %",
            f"{100 * alarm_share(frame, ['progressing']):.0f} %",
            f"{100 * mean(frame, pl.col('days_since_best') >= 28):.0f} %",
            f"{100 * mean(frame, pl.col('sessions_since_best') >= 3):.0f} %",
        ]
        for column in ("days_since_best", "sessions_since_best"):
            cut = cut_at_equal_alarms(twins[twin], 0.05, column)
            cells.append(f"{100 * mean(frame, pl.col(column) > cut):.0f} %")
        yield f"| {group.name} | " + " | ".join(cells) + " |"


def mean(frame: pl.DataFrame, condition: pl.Expr) -> float:
    """Share of rows for which a condition holds."""
    return float(frame.select(condition.mean()).item())


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=main.__doc__)
    parser.add_argument("--lifters", type=int, default=2000)
    parser.add_argument("--only", default="")
    parser.add_argument("--hold-out", action="store_true")
    arguments = parser.parse_args()
    tables: tuple[Iterator[Group], ...] = (plain_rows(), hard_rows())
    seed = SEED
    if arguments.hold_out:
        tables, seed = (held_out_rows(),), HOLD_OUT_SEED
    for rows in tables:
        for line in table(rows, arguments.lifters, seed, arguments.only):
            print(line, flush=True)  # noqa: T201
        print()  # noqa: T201
    if arguments.only or arguments.hold_out:
        return
    for noise in (2.0, 3.5):
        scenario = Scenario("", end_weeks=16, weeks=48, noise=noise)
        weeks = median(first_alarm_weeks(scenario, arguments.lifters))
        print(f"Median weeks to the first alarm, noise {noise:g} %: {weeks:.0f}")  # noqa: T201


if __name__ == "__main__":
    main()
