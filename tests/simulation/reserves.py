"""Lifters whose repetitions in reserve are known and hidden, set by set, from a log without effort.

Repetitions possible at a load lie on a personal curve between Epley and Brzycki, times a personal
endurance: 14 ± 4 at 70 % (Cooke et al. 2019) and 11.8 ± 2.7 at 80 % (Richens and Cleather 2014) are
a spread of 23 to 29 %. From test to test a person differs by 0.7 (90 %) to 1.1 repetitions (70 %;
Mitter et al. 2022): here 2 % of strength from day to day and 0.6 repetitions from set to set. A set
costs 1 to 3.5 % of strength, a choice of ours near what five sets of the bench press cost (33
repetitions in all with two minutes' rest, 27 with one; Speretta et al. 2012). Loads are 65 to 85 %
of the maximum, by plates; half keep their repetitions, half their reserve. Nothing here knows how
the models judge.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import polars as pl

FIRST_DAY = date(2026, 1, 5)
WEEKS = 16
PLATES_KG = 2.5
ENDURANCE_SPREAD = 0.26
DAY_NOISE = 0.02
SET_NOISE_REPS = 0.6
LIFTS = ("bench press", "leg press", "lat pulldown", "overhead press")


@dataclass(frozen=True)
class Habit:
    """How near to failure somebody trains, in the first set of an exercise."""

    name: str
    reserve: tuple[float, float]
    """Range of the usual reserve between lifters [repetitions]."""


HABITS = (
    Habit("near failure", (0.0, 1.5)),
    Habit("two or three in reserve", (1.5, 3.0)),
    Habit("far from failure", (3.5, 6.0)),
)


def sets_of(habit: Habit, lifters: int, seed: int) -> pl.DataFrame:
    """Sets of many such lifters: what is logged, and the true reserve beside it [repetitions]."""
    rng = np.random.default_rng([seed, HABITS.index(habit)])
    frames = [_lifter(habit, f"{habit.name}-{number}", rng) for number in range(lifters)]
    return pl.concat(frames)


def possible_reps(load_kg: float, strength_kg: float, curve: float, endurance: float) -> float:
    """Repetitions to failure: 0 on the curve is Epley's, 1 is Brzycki's."""
    epley = 30 * (strength_kg / load_kg - 1)
    brzycki = 37 - 36 * load_kg / strength_kg
    return endurance * ((1 - curve) * epley + curve * brzycki)


def _lifter(habit: Habit, client_id: str, rng: np.random.Generator) -> pl.DataFrame:
    exercise = LIFTS[int(rng.integers(0, len(LIFTS)))]
    strength = float(rng.uniform(60, 140))
    curve = float(rng.uniform(0, 1))
    endurance = float(np.exp(ENDURANCE_SPREAD * rng.normal()))
    cost = float(rng.uniform(0.01, 0.035))
    usual = float(rng.uniform(*habit.reserve))
    share = float(rng.uniform(0.65, 0.85))
    able = possible_reps(share, 1.0, curve, endurance)
    target = max(round(able - usual), 3)
    keeps_reps = bool(rng.random() < 0.5)
    is_ascending = bool(rng.random() < 0.2)
    count = int(rng.integers(3, 6))
    rows: list[tuple[int, float, int, int, float]] = []
    # one session in ten is an easy one: a tenth less load, three more in reserve
    for session in range(2 * WEEKS):
        day = 7 * (session // 2) + 3 * (session % 2)
        grown = strength * np.exp(0.0025 * day / 7)
        today = grown * np.exp(DAY_NOISE * rng.normal())
        planned = max(usual + rng.normal(), 0)
        is_easy = rng.random() < 0.1
        if is_easy:
            planned += 3
        wanted = share * grown * (0.9 if is_easy else 1.0)
        top = round(wanted / PLATES_KG) * PLATES_KG
        for nth in range(1, count + 1):
            load = top
            if is_ascending:
                load = max(round(top * (1 - 0.06 * (count - nth)) / PLATES_KG), 1) * PLATES_KG
            able = possible_reps(load, today * np.exp(-cost * (nth - 1)), curve, endurance)
            able = int(max(np.floor(able + SET_NOISE_REPS * rng.normal()), 1))
            wish = target if keeps_reps else able - round(planned)
            done = int(np.clip(wish, 1, able))
            rows.append((day, load, done, nth, float(able - done)))
    return pl.DataFrame(
        rows, schema=["offset", "load_kg", "reps", "nth", "true_rir"], orient="row"
    ).select(
        pl.lit(client_id).alias("client_id"),
        (pl.lit(FIRST_DAY) + pl.duration(days="offset")).cast(pl.Date).alias("day"),
        pl.lit(exercise).alias("exercise"),
        "load_kg",
        pl.col("reps").cast(pl.Int32),
        pl.lit(None, dtype=pl.Float64).alias("rir"),
        "nth",
        "true_rir",
    )


def last_day() -> date:
    """A day after all logs."""
    return FIRST_DAY + timedelta(days=7 * WEEKS)
