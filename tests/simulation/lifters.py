"""Lifters whose truth is known, so that the stall detector's errors can be counted.

A scenario says how strength really moved and how it was logged; `sets_of` draws the sets of many
such lifters at once. Strength is in terms of the strength index; noise is its standard deviation
from session to session. Nothing here knows how the models judge.

Deloads: 6.4 ± 1.7 days every 5.6 ± 2.3 weeks, half the sets, lower load, more reps in reserve
(survey of 246 lifters, Rogerson et al. 2024, Sports Med Open).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import numpy.typing as npt
import polars as pl

Floats = npt.NDArray[np.float64]
Booleans = npt.NDArray[np.bool_]

FIRST_DAY = date(2024, 1, 1)
START_KG = 80.0
"""Mean strength index on the first day; lifters differ by ± 25 %."""


@dataclass(frozen=True)
class Scenario:
    """How a group of lifters truly moved, and how they logged it."""

    name: str
    rate: float = 0.5
    """True gain before the end begins [%/week]."""
    weeks: int = 40
    """Length of the history [weeks]."""
    end_weeks: float = 0.0
    """Length of an end with another rate [weeks]."""
    end_rate: float = 0.0
    """True rate in that end [%/week]."""
    noise: float = 2.0
    """Standard deviation from session to session [%]."""
    per_week: int = 2
    correlation: float = 0.0
    """Of the noise of neighbouring sessions."""
    sets: int = 3
    reps: int = 8
    reserve: int = 2
    plates_kg: float = 0.0
    """Loads are rounded to it; 0: any load, and the best set shows the day's strength exactly."""
    effort: str = "exact"
    """How reserve is logged: exact, off (by up to one repetition) or none."""
    deloads: bool = False
    bad_days: float = 0.0
    """Share of sessions at −12 %."""
    slip: bool = False
    """One set with a digit mistyped: ten times or a tenth of its load."""
    new_reps: int = 0
    """Repetitions trained in the last six weeks instead; 0: no change."""
    curve: float = 0.0
    """How far the lifter's own curve is off at the new repetitions [%]."""
    mixed_reps: bool = False
    """Sessions of 5 and of 10 by turns, the lifter's own curve off by `curve` at 10."""
    level: float = 1.0
    """Factor of another machine, from 12 weeks before the end of the history."""
    layoff_weeks: int = 0
    """Weeks off that end 8 weeks before the history does; 1 % a week is lost, regained in six."""
    swap_weeks: int = 0
    """The lift is trained for so many weeks, then left out for as many."""

    @property
    def is_moving(self) -> bool:
        """Whether an alarm at the end of the history would be a false one."""
        return self.rate > 0 and (not self.end_weeks or self.end_rate > 0)


def sets_of(scenario: Scenario, lifters: int, seed: int) -> pl.DataFrame:
    """Sets of `lifters` lifters: lifter, day, set_no, load_kg, reps, rir (null: unlogged)."""
    rng = np.random.default_rng(seed)
    days = _days(scenario)
    trained = np.ones((lifters, len(days)), dtype=bool)
    usual = _usual_strength(scenario, days, lifters, rng)
    usual, trained = _interrupt(scenario, days, usual, trained)
    today = usual * np.exp(_noise(scenario, (lifters, len(days)), rng) / 100)
    today *= np.where(rng.random(today.shape) < scenario.bad_days, 0.88, 1.0)
    easy = _deload_days(days, lifters, rng) if scenario.deloads else np.zeros(today.shape, bool)
    reps = _planned_reps(scenario, days, lifters)
    sets = [_one_set(scenario, nth, usual, today, easy, reps, rng) for nth in range(scenario.sets)]
    lifter, place = np.nonzero(trained)
    frames = []
    for nth, (load, done, rir) in enumerate(sets):
        kept = (nth < (scenario.sets + 1) // 2) | ~easy[lifter, place]
        frames.append(
            pl.DataFrame(
                {
                    "lifter": lifter[kept],
                    "offset": days[place[kept]].astype(np.int32),
                    "set_no": np.full(kept.sum(), nth + 1, dtype=np.int32),
                    "load_kg": load[lifter, place][kept],
                    "reps": done[lifter, place][kept].astype(np.int32),
                    "rir": rir[lifter, place][kept],
                }
            )
        )
    frame = pl.concat(frames).filter(pl.col("reps") > 0)
    if scenario.slip:
        frame = _mistype(frame, rng)
    return frame.select(
        "lifter",
        (pl.lit(FIRST_DAY) + pl.duration(days="offset")).cast(pl.Date).alias("day"),
        "set_no",
        pl.col("load_kg").round(4),
        "reps",
        pl.col("rir").fill_nan(None),
    )


def last_day(scenario: Scenario) -> date:
    """Last day of the scenario's logs."""
    return FIRST_DAY + timedelta(days=int(_days(scenario)[-1]))


def _days(scenario: Scenario) -> Floats:
    pattern = {1: [0], 2: [0, 3], 3: [0, 2, 4]}[scenario.per_week]
    return np.array([7 * week + each for week in range(scenario.weeks) for each in pattern], float)


def _usual_strength(
    scenario: Scenario, days: Floats, lifters: int, rng: np.random.Generator
) -> Floats:
    weeks = days / 7
    end = weeks[-1] - scenario.end_weeks
    gain = scenario.rate * np.minimum(weeks, end) + scenario.end_rate * np.maximum(weeks - end, 0)
    start = START_KG * np.exp(rng.uniform(-0.25, 0.25, lifters))
    strength: Floats = start[:, None] * np.exp(gain / 100)[None, :]
    if scenario.level != 1.0:
        strength = strength * np.where(weeks > weeks[-1] - 12, scenario.level, 1.0)
    return strength


def _interrupt(
    scenario: Scenario, days: Floats, usual: Floats, trained: Booleans
) -> tuple[Floats, Booleans]:
    weeks = days / 7
    if scenario.layoff_weeks:
        back = weeks[-1] - 8
        trained = trained & ((weeks >= back) | (weeks < back - scenario.layoff_weeks))[None, :]
        lost = scenario.layoff_weeks * np.clip(1 - (weeks - back) / 6, 0, 1) * (weeks >= back)
        usual = usual * np.exp(-lost / 100)[None, :]
    if scenario.swap_weeks:
        blocks = np.floor((weeks[-1] - weeks) / scenario.swap_weeks)
        trained = trained & (blocks % 2 == 0)[None, :]
    return usual, trained


def _noise(scenario: Scenario, shape: tuple[int, int], rng: np.random.Generator) -> Floats:
    noise: Floats = rng.normal(size=shape)
    fresh = np.sqrt(1 - scenario.correlation**2)
    for place in range(1, shape[1]):
        noise[:, place] = scenario.correlation * noise[:, place - 1] + fresh * noise[:, place]
    return scenario.noise * noise


def _deload_days(days: Floats, lifters: int, rng: np.random.Generator) -> Booleans:
    easy = np.zeros((lifters, len(days)), dtype=bool)
    begin = np.zeros(lifters)
    while (begin < days[-1]).any():
        begin = begin + 7 * np.maximum(rng.normal(5.6, 2.3, lifters), 2)
        length = np.maximum(rng.normal(6.4, 1.7, lifters), 2)
        easy |= (days[None, :] >= begin[:, None]) & (days[None, :] < (begin + length)[:, None])
        begin = begin + length
    return easy


def _planned_reps(scenario: Scenario, days: Floats, lifters: int) -> Floats:
    reps = np.full((lifters, len(days)), float(scenario.reps))
    if scenario.new_reps:
        reps[:, days > days[-1] - 42] = scenario.new_reps
    if scenario.mixed_reps:
        reps[:, ::2] = 5
        reps[:, 1::2] = 10
    return reps


def _one_set(
    scenario: Scenario,
    nth: int,
    usual: Floats,
    today: Floats,
    easy: Booleans,
    reps: Floats,
    rng: np.random.Generator,
) -> tuple[Floats, Floats, Floats]:
    """Load, repetitions and logged reserve of the nth set of every session."""
    changed = (reps == scenario.new_reps) if scenario.new_reps else (reps == 10)
    own = np.where(changed & (scenario.curve != 0), np.exp(-scenario.curve / 100), 1.0)
    fade = np.exp(-0.02 * nth)
    shown = today * own * fade
    if not scenario.plates_kg:
        load = np.where(easy, 0.88, 1.0) * shown / (1 + (reps + scenario.reserve) / 30)
        left = np.where(easy, scenario.reserve + 4.0, scenario.reserve)
        return load, reps, left if scenario.effort != "none" else np.full(load.shape, np.nan)
    planned = usual * own / (1 + (reps + scenario.reserve) / 30)
    load = np.where(easy, 0.88, 1.0) * planned
    load = np.maximum(np.round(load / scenario.plates_kg), 1) * scenario.plates_kg
    possible = 30 * (shown / load - 1)
    # by turns as many as leave the planned reserve, or the planned number if that can be done
    done = np.floor(np.where(easy, np.minimum(reps, possible - 4), possible - scenario.reserve))
    done = np.clip(done, 1, 30)
    left = np.maximum(possible - done, 0)
    if scenario.effort == "none":
        return load, done, np.full(load.shape, np.nan)
    if scenario.effort == "off":
        left = left + rng.integers(-1, 2, left.shape)
    return load, done, np.maximum(np.round(left), 0)


def _mistype(frame: pl.DataFrame, rng: np.random.Generator) -> pl.DataFrame:
    """One set of each lifter ten times too heavy, or a tenth."""
    lifters = frame["lifter"].n_unique()
    slips = pl.DataFrame(
        {
            "lifter": np.arange(lifters),
            "chance": rng.random(lifters),
            "factor": np.where(rng.random(lifters) < 0.5, 10.0, 0.1),
        }
    )
    return (
        frame.with_columns(
            pl.int_range(pl.len()).over("lifter").alias("place"),
            pl.len().over("lifter").alias("count"),
        )
        .join(slips, on="lifter")
        .with_columns(
            pl.when(pl.col("place") == (pl.col("chance") * pl.col("count")).floor())
            .then(pl.col("load_kg") * pl.col("factor"))
            .otherwise("load_kg")
            .alias("load_kg")
        )
        .select(frame.columns)
    )
