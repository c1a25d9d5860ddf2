"""Count how well effort is estimated where none is logged, and print the table of tests/README.md.

    python tests/simulation/efforts.py

Half a minute. `--lifters` changes how many are simulated of each habit; `--tune` prints how other
slacks and windows would do instead.
"""

from __future__ import annotations

import argparse
import itertools
from collections.abc import Iterator
from typing import Any

import polars as pl
from ledgers import build_tables
from reserves import HABITS, last_day, sets_of

SEED = 20260601
LINE = 3.0
"""A set is truly hard with at most so many repetitions in reserve."""


def judged(lifters: int, seed: int, **changed: Any) -> pl.DataFrame:
    """One row a set after the first three weeks: habit, place, true and estimated reserve."""
    sets = pl.concat(
        [
            sets_of(habit, lifters, seed).with_columns(pl.lit(habit.name).alias("habit"))
            for habit in HABITS
        ]
    )
    con = build_tables(sets, last_day(), "review.graded_sets", **changed)
    graded = pl.DataFrame(
        con.sql(
            "select set_id, rir_used, effort_basis, is_hard from review.graded_sets"
        ).to_arrow_table()
    )
    con.close()
    return (
        sets.with_row_index("line")
        .with_columns(pl.format("1:{}:1", pl.col("line") + 2).alias("set_id"))
        .join(graded, on="set_id")
        .filter((pl.col("day") - pl.col("day").min().over("client_id")).dt.total_days() >= 21)
        .with_columns(
            (pl.col("rir_used") - pl.col("true_rir")).alias("error"),
            (pl.col("true_rir") <= LINE).alias("truly_hard"),
        )
    )


def summed(frame: pl.DataFrame, *keys: str) -> pl.DataFrame:
    """Bias and spread of the estimate, and how often the hard-set line is right."""
    right = pl.col("is_hard") == pl.col("truly_hard")
    return frame.group_by(*keys, maintain_order=True).agg(
        pl.len().alias("sets"),
        pl.col("error").mean().alias("bias"),
        pl.col("error").std().alias("spread"),
        right.mean().alias("right"),
        pl.col("is_hard").filter("truly_hard").mean().alias("hard_found"),
        pl.col("is_hard").filter(~pl.col("truly_hard")).mean().alias("easy_taken"),
    )


def right_error(frame: pl.DataFrame) -> float:
    """Monte-Carlo error of the share on the right side; sets of one lifter go together."""
    right = (pl.col("is_hard") == pl.col("truly_hard")).mean()
    shares = frame.group_by("client_id").agg(right.alias("right"))["right"]
    return float(shares.std() or 0) / len(shares) ** 0.5  # type: ignore[arg-type]


def percent(share: float | None) -> str:
    """Whole percent, or a dash where there is none."""
    return "–" if share is None else f"{100 * share:.0f} %"


def table(lifters: int, seed: int) -> Iterator[str]:
    """Lines of the table: by habit and place in the exercise."""
    yield (
        "| lifters | set | sets | bias | spread | right side"
        " | hard called hard | easy called hard |"
    )
    yield "| --- | --- | ---: | ---: | ---: | ---: | ---: | ---: |"
    frame = judged(lifters, seed)
    for habit in HABITS:
        own = frame.filter(pl.col("habit") == habit.name).sort("nth")
        for row in summed(own, "nth").iter_rows(named=True):
            error = right_error(own.filter(pl.col("nth") == row["nth"]))
            yield _line(habit.name, f"{row['nth']}.", row, error)
        (row,) = summed(own, "habit").iter_rows(named=True)
        yield _line(habit.name, "all", row, right_error(own))


def _line(name: str, place: str, row: dict[str, Any], error: float) -> str:
    return (
        f"| {name} | {place} | {row['sets']} | {row['bias']:+.1f} | {row['spread']:.1f}"
        f" | {100 * row['right']:.0f} ± {100 * error:.1f} %"
        f" | {percent(row['hard_found'])} | {percent(row['easy_taken'])} |"
    )


def tuning(lifters: int, seed: int) -> Iterator[str]:
    """Lines of a table: slack and window, and the share on the right side by habit."""
    names = [habit.name for habit in HABITS]
    heads = [*names, "mean", "hard called hard", "easy called hard"]
    yield "| slack | window | " + " | ".join(heads) + " |"
    yield "| ---: | ---: |" + " ---: |" * (len(names) + 3)
    for days, slack in itertools.product((28, 42, 56, 84), (0.0, 1.0, 2.0, 3.0)):
        frame = judged(lifters, seed, reference_days=days, estimated_slack=slack)
        right = {row["habit"]: row["right"] for row in summed(frame, "habit").iter_rows(named=True)}
        (row,) = summed(frame.with_columns(pl.lit(0).alias("all")), "all").iter_rows(named=True)
        cells = [percent(right[name]) for name in names]
        mean = sum(right.values()) / len(right)
        yield (
            f"| {slack:g} | {days} | " + " | ".join(cells) + f" | {100 * mean:.1f} %"
            f" | {percent(row['hard_found'])} | {percent(row['easy_taken'])} |"
        )


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=main.__doc__)
    parser.add_argument("--lifters", type=int, default=300)
    parser.add_argument("--tune", action="store_true")
    arguments = parser.parse_args()
    lines = tuning if arguments.tune else table
    for line in lines(arguments.lifters, SEED):
        print(line, flush=True)  # noqa: T201


if __name__ == "__main__":
    main()
