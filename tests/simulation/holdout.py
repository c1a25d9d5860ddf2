"""A second simulator, built apart from `lifters.py`: what the thresholds were not set on.

Three lifts a lifter, each with its own plates and repetitions, trained by double progression: the
load stays until the top of the range is reached, then one step more; two poor sessions take it
back. Repetitions come from the lifter's own curve, neither Epley's nor Brzycki's; noise is an AR(1)
of the whole day (Student's t, 4 degrees of freedom) shared in part by the lifts, and a noise of
each set; reserve is logged with an error, or not at all; sessions fall on uneven days and are
missed. The seeds of the published table are used nowhere else.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import numpy.typing as npt
import polars as pl

Floats = npt.NDArray[np.float64]

FIRST_DAY = date(2023, 3, 6)
SETS = 4


@dataclass(frozen=True)
class Lift:
    """A lift and how it is trained."""

    exercise: str
    start_kg: float
    """Usual one-repetition maximum on the first day [kg]."""
    step_kg: float
    """Smallest step of its load [kg]."""
    low: int
    """Repetitions at which a load is begun."""
    high: int
    """Repetitions at which the load is raised."""


LIFTS = (
    Lift("back squat", 120.0, 2.5, 4, 6),
    Lift("bench press", 85.0, 1.25, 6, 9),
    Lift("barbell row", 75.0, 2.0, 8, 11),
)


@dataclass(frozen=True)
class Course:
    """How a group of lifters truly moved, and what befell their logs."""

    name: str
    rate: float = 0.5
    """True gain a week before the end [%]; of a decelerating lifter: in the last week."""
    flat_weeks: float = 0.0
    """Length of the end without gain [weeks]."""
    is_decelerating: bool = False
    """Strength is a + b × ln(weeks of training)."""
    trained_before: tuple[int, int] = (20, 250)
    """Least and greatest weeks of training before the log, for those who decelerate."""
    noise: float = 2.0
    """Standard deviation of the day [%]; sets scatter by a third of it besides."""
    correlation: float = 0.1
    """Of the noise of neighbouring sessions."""
    weeks: tuple[int, int] = (36, 70)
    """Least and greatest length of the log [weeks]."""
    missed: float = 0.06
    effort_logged: float = 0.85
    """Share of sets with logged reserve."""
    deload_every: int = 0
    """Weeks between light weeks; 0: none."""
    bad_days: float = 0.0
    """Share of days at −8 to −15 %."""
    has_other_reps: bool = False
    """Three repetitions more from somewhere in the last 20 weeks on."""
    level: float = 1.0
    """Factor of another machine from somewhere in the last 20 weeks on."""

    @property
    def is_moving(self) -> bool:
        """Whether an alarm at the end of the log would be a false one."""
        return self.rate > 0 and not self.flat_weeks


def sets_of(course: Course, lifters: int, seed: int) -> pl.DataFrame:
    """Sets of `lifters` lifters, all of whose logs end in one week, in three lifts each."""
    rng = np.random.default_rng(np.random.SeedSequence([seed, 77]))
    return pl.concat(list(_lifts(course, lifters, rng))).sort("lifter", "day", "exercise", "set_no")


def last_day(course: Course) -> date:
    """A day not earlier than any of the logs' last ones."""
    return FIRST_DAY + timedelta(weeks=course.weeks[1])


def _lifts(course: Course, lifters: int, rng: np.random.Generator) -> list[pl.DataFrame]:
    total = course.weeks[1]
    begun = total - rng.integers(course.weeks[0], total + 1, lifters)
    # two days a week, the second two to four days after the first
    days = np.empty((lifters, 2 * total))
    days[:, ::2] = 7 * np.arange(total) + rng.integers(0, 3, (lifters, total))
    days[:, 1::2] = days[:, ::2] + rng.integers(2, 5, (lifters, total))
    shared = _ar1(course.correlation, days.shape, rng)
    bad = np.where(rng.random(days.shape) < course.bad_days, rng.uniform(8, 15, days.shape), 0.0)
    light = np.zeros(days.shape, bool)
    if course.deload_every:
        phase = rng.integers(0, course.deload_every, lifters)[:, None]
        light = (np.floor(days / 7).astype(int) + phase) % course.deload_every == 0
    least, most = course.trained_before
    age = np.exp(rng.uniform(np.log(least), np.log(most), lifters))
    frames = []
    for lift in LIFTS:
        own = _ar1(course.correlation, days.shape, rng)
        day_noise = course.noise * (np.sqrt(0.3) * shared + np.sqrt(0.7) * own)
        there = rng.random(days.shape) >= course.missed
        there &= days >= 7 * begun[:, None]
        gain = _gain(course, days, 7 * begun.astype(float), age)
        strength = lift.start_kg * np.exp(rng.normal(0, 0.2, lifters))[:, None] * np.exp(gain / 100)
        frames.append(_log(course, lift, days, strength, day_noise - bad, there, light, rng))
    return frames


def _ar1(correlation: float, shape: tuple[int, int], rng: np.random.Generator) -> Floats:
    """Noise of unit variance with heavy tails."""
    fresh: Floats = rng.standard_t(4, shape) / np.sqrt(2) * np.sqrt(1 - correlation**2)
    for place in range(1, shape[1]):
        fresh[:, place] += correlation * fresh[:, place - 1]
    return fresh


def _gain(course: Course, days: Floats, begun: Floats, age: Floats) -> Floats:
    end = 7.0 * course.weeks[1]
    weeks = np.minimum(days, end - 7 * course.flat_weeks) / 7
    if not course.is_decelerating:
        return course.rate * weeks
    trained = weeks - begun[:, None] / 7 + age[:, None]
    last = end / 7 - begun[:, None] / 7 + age[:, None]
    return course.rate * last * np.log(np.maximum(trained, 1))


def _log(
    course: Course,
    lift: Lift,
    days: Floats,
    strength: Floats,
    noise: Floats,
    there: npt.NDArray[np.bool_],
    light: npt.NDArray[np.bool_],
    rng: np.random.Generator,
) -> pl.DataFrame:
    """What the lifters wrote down: they know last time's load and repetitions, not the truth."""
    lifters, sessions = days.shape
    # the share of the maximum that can be done once, …, r times: exp(−k (r − 1)^p), own k and p
    k = np.clip(rng.normal(0.0345, 0.004, lifters), 0.022, 0.048)
    p = rng.normal(0.93, 0.04, lifters)
    change = sessions - rng.integers(8, 40, lifters)
    reserve = rng.integers(1, 3, lifters)
    low = np.full(lifters, float(lift.low))
    load = _rounded(strength[:, 0] * np.exp(-k * (low + reserve) ** p), lift.step_kg)
    poor = np.zeros(lifters)
    started = np.zeros(lifters, bool)
    parts = []
    for place in range(sessions):
        able = strength[:, place] * np.exp(noise[:, place] / 100)
        if course.level != 1.0:
            able = able * np.where(place >= change, course.level, 1.0)
        if course.has_other_reps:
            low = np.where(place >= change, lift.low + 3.0, lift.low)
        anew = ~started | ((place == change) & ((course.level != 1.0) | course.has_other_reps))
        begin = _rounded(able * np.exp(-k * (low + reserve) ** p), lift.step_kg)
        load = np.where(anew & there[:, place], begin, load)
        started |= there[:, place]
        easy = light[:, place]
        used = np.where(easy, _rounded(0.85 * load, lift.step_kg), load)
        best = np.zeros(lifters)
        for nth in range(SETS):
            fresh = able * np.exp(-0.015 * nth + course.noise / 300 * rng.normal(size=lifters))
            possible = 1 + (np.maximum(np.log(np.maximum(fresh / used, 1e-9)), 0) / k) ** (1 / p)
            possible = np.where(fresh < used, 0, possible)
            wanted = np.where(easy, low, low + lift.high - lift.low)
            done = np.minimum(np.floor(possible - reserve * (nth < SETS - 1)), wanted)
            done = np.maximum(done, np.minimum(np.floor(possible), 1))
            best = np.maximum(best, done) if nth else done
            left = np.round(np.maximum(possible - done, 0) + rng.normal(0, 0.7, lifters))
            logged = rng.random(lifters) < course.effort_logged
            kept = there[:, place] & (done >= 1) & ~(easy & (nth >= SETS // 2))
            parts.append(
                pl.DataFrame(
                    {
                        "lifter": np.flatnonzero(kept),
                        "offset": days[kept, place].astype(np.int32),
                        "set_no": np.full(kept.sum(), nth + 1, dtype=np.int32),
                        "load_kg": used[kept],
                        "reps": done[kept].astype(np.int32),
                        "rir": np.where(logged, left.clip(0, 9), np.nan)[kept],
                    }
                )
            )
        full = there[:, place] & ~easy
        poor = np.where(full, np.where(best < low, poor + 1, 0), poor)
        load = np.where(full & (best >= low + lift.high - lift.low), load + lift.step_kg, load)
        load = np.where(poor >= 2, _rounded(0.95 * load, lift.step_kg), load)
        poor = np.where(poor >= 2, 0, poor)
    return pl.concat(parts).select(
        "lifter",
        pl.lit(lift.exercise).alias("exercise"),
        (pl.lit(FIRST_DAY) + pl.duration(days="offset")).cast(pl.Date).alias("day"),
        "set_no",
        pl.col("load_kg").round(4),
        "reps",
        pl.col("rir").fill_nan(None),
    )


def _rounded(load: Floats, step_kg: float) -> Floats:
    """The nearest load that can be loaded."""
    return np.maximum(np.round(load / step_kg), 1) * step_kg
