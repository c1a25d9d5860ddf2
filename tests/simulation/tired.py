"""Lifters who lose a known share of strength with each set, so that the fade found can be checked.

Strength goes down by `loss` with each hard set of the muscle; repetitions possible follow Epley, or
Brzycki for a lifter with another curve. Noise: 2 % from day to day, 1.5 % from set to set; how much
a set costs varies from day to day. Effort is logged, exactly or off by one. Nothing here knows how
the models judge.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import polars as pl

FIRST_DAY = date(2026, 1, 5)
WEEKS = 24
PLATES_KG = 2.5
SETS = 4


@dataclass(frozen=True)
class Tiring:
    """What a group of lifters loses from set to set, and how they train and log."""

    name: str
    loss: float = 0.0
    """Strength that a set costs the sets after it [share]."""
    loss_spread: float = 0.005
    """Standard deviation of that from day to day [share]."""
    exercises: int = 1
    """Exercises of the muscle in each session; each begins fresh, as if another day."""
    is_across: bool = False
    """An exercise first on some days, after four sets of another on the others."""
    first_share: float = 0.5
    """Share of days on which it is first."""
    day_noise: float = 0.02
    set_noise: float = 0.015
    reserve_off: bool = False
    """Logged reserve is off by up to one repetition."""
    is_brzycki: bool = False
    per_week: int = 2


def sets_of(tiring: Tiring, lifters: int, seed: int) -> pl.DataFrame:
    """Sets of many such lifters, as logged."""
    rng = np.random.default_rng(seed)
    frames = [_lifter(tiring, f"lifter-{number}", rng) for number in range(lifters)]
    return pl.concat(frames)


def true_output(tiring: Tiring, nth: int) -> float:
    """What is left of strength at the nth set."""
    return float(np.exp(-tiring.loss * (nth - 1)))


def last_day() -> date:
    """A day after all logs."""
    return FIRST_DAY + timedelta(days=7 * WEEKS)


def _lifter(tiring: Tiring, client_id: str, rng: np.random.Generator) -> pl.DataFrame:
    strength = float(rng.uniform(60, 140))
    rows: list[tuple[int, str, float, int, float]] = []
    for session in range(tiring.per_week * WEEKS):
        day = 7 * (session // tiring.per_week) + 3 * (session % tiring.per_week)
        today = strength * np.exp(0.0025 * day / 7 + tiring.day_noise * rng.normal())
        loss = tiring.loss + tiring.loss_spread * rng.normal()
        if tiring.is_across:
            is_first = rng.random() < tiring.first_share
            parts = ["pec deck"] if is_first else ["bench press", "pec deck"]
        else:
            parts = ["bench press", "pec deck", "machine chest press"][: tiring.exercises]
        before = 0
        for exercise in parts:
            for nth in range(SETS):
                fresh = today * np.exp(-loss * (before + nth) + tiring.set_noise * rng.normal())
                rows.append((day, exercise, *_one_set(tiring, strength, day, float(fresh), rng)))
            before += SETS if tiring.is_across else 0
    return pl.DataFrame(
        rows, schema=["offset", "exercise", "load_kg", "reps", "rir"], orient="row"
    ).select(
        pl.lit(client_id).alias("client_id"),
        (pl.lit(FIRST_DAY) + pl.duration(days="offset")).cast(pl.Date).alias("day"),
        "exercise",
        "load_kg",
        pl.col("reps").cast(pl.Int32),
        "rir",
    )


def _one_set(
    tiring: Tiring, strength: float, day: int, fresh: float, rng: np.random.Generator
) -> tuple[float, int, float]:
    """Load, repetitions and logged reserve of a set for ten, one or two of them left."""
    load = round(strength * np.exp(0.0025 * day / 7) * 0.74 / PLATES_KG) * PLATES_KG
    able = 37 - 36 * load / fresh if tiring.is_brzycki else 30 * (fresh / load - 1)
    left = int(rng.integers(1, 3))
    reps = max(int(able) - left, 1)
    rir = max(round(able - reps), 0)
    if tiring.reserve_off:
        rir = max(rir + int(rng.integers(-1, 2)), 0)
    return load, reps, float(rir)
