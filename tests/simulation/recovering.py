"""Simulated clients whose strength depends on the place in a run of training days, or does not.

    python tests/simulation/recovering.py

Prints the table of tests/README.md; a minute. Weeks are planned and partly missed, so that the same
lifts fall on different places; days are good or bad for all lifts alike.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

import numpy as np
import polars as pl
from ledgers import build_tables

FIRST_DAY = date(2026, 1, 5)
WEEKS = 30
LIFTS = ("back squat", "bench press", "barbell row", "leg curl", "overhead press", "barbell curl")
SETS = 3


@dataclass(frozen=True)
class Recovering:
    """How a client trains, and what a day further into a run does."""

    name: str
    loss: float = 0.0
    """Share of strength lost with each day of a run; below 0: gained."""
    come: float = 0.65
    """Share of days on which the client trains."""
    lifts_a_day: int = 3
    is_whole_body: bool = False
    """The same lifts each day, not two halves in turn."""
    day_noise: float = 0.012
    set_noise: float = 0.015
    gain: float = 0.0025
    bends_after: int | None = None
    """Week from which strength stands still and the client trains more often."""


SCENARIOS = (
    Recovering("nothing"),
    Recovering("nothing, whole body", is_whole_body=True),
    Recovering("nothing, bad and good days", day_noise=0.025),
    Recovering("nothing, strong gains", gain=0.006),
    Recovering("nothing, plateau and more days at once", come=0.45, bends_after=18),
    Recovering("1 % a day", loss=0.01),
    Recovering("2 % a day", loss=0.02),
    Recovering("1 % a day, whole body", loss=0.01, is_whole_body=True),
    Recovering("−1 % a day: stronger in the run", loss=-0.01),
)


def measured(case: Recovering, clients: int, seed: int) -> dict[str, float]:
    """Shares of clients whose page would say something, rightly and wrongly, and the mean rate."""
    con = build_tables(sets_of(case, clients, seed), _day(7 * WEEKS), "review.recovery")
    rows = con.execute(
        "select difference_pct, low, high, is_told from review.recovery where place = 0"
    ).fetchall()
    truth = -100 * case.loss
    told = [row for row in rows if row[3]]
    right = [row for row in told if truth and (row[0] < 0) == (truth < 0)]
    return {
        "compared": len(rows) / clients,
        "right": len(right) / clients,
        "wrong": (len(told) - len(right)) / clients,
        "mean": float(np.mean([row[0] for row in rows])),
        "covered": float(np.mean([row[1] <= truth <= row[2] for row in rows])),
    }


def sets_of(case: Recovering, clients: int, seed: int) -> pl.DataFrame:
    """The logged sets of so many clients."""
    rng = np.random.default_rng(seed)
    rows = [row for nth in range(clients) for row in _client(case, f"client-{nth}", rng)]
    return pl.DataFrame(
        rows, schema=["client_id", "day", "exercise", "load_kg", "reps", "rir"], orient="row"
    ).with_columns(pl.col("reps").cast(pl.Int32))


def _day(offset: int) -> date:
    return FIRST_DAY + timedelta(days=offset)


def _client(
    case: Recovering, client_id: str, rng: np.random.Generator
) -> Iterator[tuple[Any, ...]]:
    base = {lift: float(rng.uniform(60, 140)) for lift in LIFTS}
    run = turn = 0
    for offset in range(7 * WEEKS):
        week = offset // 7
        is_bent = case.bends_after is not None and week >= case.bends_after
        if rng.random() > (0.8 if is_bent else case.come):
            run = 0
            continue
        run += 1
        gained = case.gain * min(offset / 7, case.bends_after or WEEKS)
        today = gained - case.loss * (min(run, 6) - 1) + case.day_noise * rng.normal()
        half = 0 if case.is_whole_body else turn % 2
        turn += 1
        for lift in LIFTS[half :: 1 if case.is_whole_body else 2][: case.lifts_a_day]:
            load = round(base[lift] * np.exp(gained) * 0.76 / 2.5) * 2.5
            for _ in range(SETS):
                able = 30 * (base[lift] * np.exp(today + case.set_noise * rng.normal()) / load - 1)
                left = int(rng.integers(1, 3))
                reps = max(int(able) - left, 1)
                yield client_id, _day(offset), lift, load, reps, float(max(round(able - reps), 0))


def _table(clients: int) -> Iterator[str]:
    yield "| client | compared | said rightly | said wrongly | mean | interval holds the truth |"
    yield "| --- | ---: | ---: | ---: | ---: | ---: |"
    for nth, case in enumerate(SCENARIOS):
        found = measured(case, clients, 20260601 + nth)
        yield (
            f"| {case.name} | {found['compared']:.0%} | {found['right']:.0%} | "
            f"{found['wrong']:.1%} | {found['mean']:+.2f} % | {found['covered']:.0%} |"
        )


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("--clients", type=int, default=200)
    print("\n".join(_table(parser.parse_args().clients)))  # noqa: T201
