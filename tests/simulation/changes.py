"""How often before and after calls a difference more than usual, where nothing changed and where.

    python tests/simulation/changes.py

Prints the table of tests/README.md: lifters whose weekly sets vary about a mean, week by week alone
or with the week before, go through the SQL models; on a Monday their mean stays or rises.
"""

from __future__ import annotations

import argparse
from datetime import date, timedelta

import numpy as np
import polars as pl
from ledgers import build_tables, share_error

from pipeline.settings.workspace import Change, Client

FIRST_ON = date(2025, 1, 6)
"""A Monday."""
MEAN, SPREAD = 12.0, 3.0
"""Sets a week, and their standard deviation."""
CORRELATIONS = (-0.3, 0.0, 0.3, 0.6)
"""Of a week's sets with those of the week before."""
HISTORIES = (15, 26)
"""Weeks logged before the change: the least that is judged, and the half year."""
RISES = (0.0, 3.0, 6.0)
"""Sets a week that the change adds: none, one standard deviation, two."""


def weekly_sets(
    rng: np.random.Generator, lifters: int, history: int, correlation: float, rise: float
) -> np.ndarray:
    """Sets of each lifter and week; the change comes after `history` weeks."""
    weeks = history + 5
    noise = rng.standard_normal((lifters, weeks))
    swing = noise.copy()
    for week in range(1, weeks):
        swing[:, week] = (
            correlation * swing[:, week - 1] + np.sqrt(1 - correlation**2) * noise[:, week]
        )
    mean = MEAN + rise * (np.arange(weeks) >= history)
    return np.maximum(1, np.round(mean + SPREAD * swing)).astype(int)


def called_more(sets: np.ndarray, history: int) -> float:
    """Share of lifters whose hard sets a week are said to differ by more than usual."""
    lifters, weeks = sets.shape
    names = [f"lifter-{number:05}" for number in range(lifters)]
    grid = pl.DataFrame(
        {
            "client_id": np.repeat(names, weeks),
            "day": [FIRST_ON + timedelta(7 * week) for week in range(weeks)] * lifters,
            "count": sets.ravel(),
        }
    )
    rows = grid.select(
        "client_id",
        "day",
        pl.lit("leg extension").alias("exercise"),
        pl.lit(50.0).alias("load_kg"),
        pl.lit(10).alias("reps"),
        pl.lit(1.0).alias("rir"),
        pl.int_ranges("count").alias("nth"),
    ).explode("nth")
    change = Change(FIRST_ON + timedelta(7 * history), "simulated")
    con = build_tables(
        rows.drop("nth"),
        FIRST_ON + timedelta(7 * (weeks - 1)),
        "review.before_after",
        clients=tuple(Client(id=name, name=name, changes=(change,)) for name in names),
    )
    judged = con.execute(
        "select count(*), count(*) filter (where not is_usual_variation)"
        " from review.before_after"
        " where measure = 'weekly_hard_sets' and is_usual_variation is not null"
    ).fetchone()
    assert judged is not None and judged[0] == lifters, judged
    return judged[1] / lifters


def say(line: str) -> None:
    """One line of the table, as soon as it is known."""
    print(line, flush=True)  # noqa: T201


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--lifters", type=int, default=1000)
    lifters = parser.parse_args().lifters
    say("| weeks before | correlation of weeks | nothing changed | +1 SD | +2 SD |")
    say("| ---: | ---: | ---: | ---: | ---: |")
    for history in HISTORIES:
        for correlation in CORRELATIONS:
            rng = np.random.default_rng(7)
            cells = []
            for rise in RISES:
                share = called_more(weekly_sets(rng, lifters, history, correlation, rise), history)
                cells.append(f"{100 * share:.1f} ± {100 * share_error(share, lifters):.1f} %")
            say(f"| {history} | {correlation:g} | {' | '.join(cells)} |")


if __name__ == "__main__":
    main()
