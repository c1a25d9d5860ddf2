"""Lifts whose true course is known, so that the errors of what is said of them can be counted.

A course says how strength really moved and how it was logged; `sets_of` draws the sets of many
clients at once, each with one lift or with ten. Strength is in terms of the strength index; noise
is its standard deviation from session to session, a share of it the day's and common to its lifts.
Nothing here knows how the models judge.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import numpy.typing as npt
import polars as pl

Floats = npt.NDArray[np.float64]

FIRST_DAY = date(2024, 1, 1)
LIFTS = (
    "bench press",
    "back squat",
    "barbell row",
    "romanian deadlift",
    "overhead press",
    "leg press",
    "lat pulldown",
    "leg curl",
    "barbell curl",
    "triceps pushdown",
)
"""Of four body parts."""
WEEKDAYS = {1: (0,), 2: (0, 3), 3: (0, 2, 4)}


@dataclass(frozen=True)
class Course:
    """How a group of clients truly moved, and how they logged it."""

    name: str
    rate: float = 0.0
    """Gain of each lift before the end begins [%/week]."""
    weeks: int = 80
    """Length of the log [weeks]."""
    end_weeks: float = 0.0
    """Length of an end with another rate [weeks]."""
    end_rate: float = 0.0
    """Rate in that end [%/week]."""
    flat_lifts: int = 10
    """Of how many lifts this end is; the others go on at `rate`."""
    curve: str = ""
    """Gains that slow down by themselves: saturating, hyperbolic or log; rise and weeks say how."""
    rise: float = 0.0
    """Of a curve: the whole gain; of log: the gain at e times its weeks [%]."""
    curve_weeks: float = 16.0
    wave: float = 0.0
    """Height of a wave of 26 weeks [%]."""
    step: float = 0.0
    """Lasting step [%]."""
    step_weeks: float = 8.0
    """Before the end of the log."""
    break_at: tuple[float, float] = (0.0, 0.0)
    """Weeks between which nothing moves, the gain going on afterwards."""
    noise: float = 2.0
    """Standard deviation from session to session [%]."""
    shared: float = 0.3
    """Share of the variance that the lifts of a day have in common."""
    tails: int = 0
    """Degrees of freedom of Student's t; 0: normal."""
    correlation: float = 0.0
    """Of the noise of neighbouring sessions."""
    bad_days: float = 0.0
    """Share of sessions at −12 %."""
    per_week: int = 2
    lifts: int = 1
    is_logged: bool = True
    """Whether effort is logged."""
    new_reps: int = 0
    """Repetitions trained in the last six weeks instead of eight."""
    scheme: str = ""
    """How loads are chosen. "": after the usual strength; double: the load stays until all sets
    reach twelve repetitions, then a plate more, and is lowered under six; top: a top set of five
    and two sets at 85 % of it."""
    light_weeks: int = 0
    """Every so many weeks one at 60 % of the load."""
    layoff: tuple[float, float] = (0.0, 0.0)
    """Weeks between which nobody trains; then back at half the load, a tenth more each session."""


def days_of(course: Course) -> Floats:
    """Days of the log, from 0."""
    week = np.arange(course.weeks)[:, None] * 7
    return np.sort((week + np.array(WEEKDAYS[course.per_week])).ravel()).astype(float)


def last_day(course: Course) -> date:
    """Last day of the logs."""
    return FIRST_DAY + timedelta(days=int(days_of(course)[-1]))


def strength(course: Course, days: Floats) -> Floats:
    """100 × natural log of each lift's strength by days, from 0 on the first [%]."""
    weeks = days / 7
    end = weeks[-1] - course.end_weeks
    since = np.maximum(weeks - end, 0)
    gain = course.rate * weeks
    if course.curve == "saturating":
        gain = gain + course.rise * (1 - np.exp(-weeks / course.curve_weeks))
    if course.curve == "hyperbolic":
        gain = gain + course.rise * weeks / (weeks + course.curve_weeks)
    if course.curve == "log":
        gain = gain + course.rise * np.log(1 + weeks / course.curve_weeks)
    begin, stop = course.break_at
    gain = gain - course.rate * (np.clip(weeks, begin, stop) - begin)
    gain = gain + course.wave * np.sin(2 * np.pi * weeks / 26)
    gain = gain + course.step * (weeks > weeks[-1] - course.step_weeks)
    ended = gain + (course.end_rate - course.rate) * since
    is_ended = np.arange(course.lifts) < course.flat_lifts
    return np.where(is_ended[:, None], ended[None, :], gain[None, :])


def sets_of(course: Course, clients: int, seed: int, group: str = "") -> pl.DataFrame:
    """Sets of so many clients: client_id, day, exercise, load_kg, reps, rir (null: unlogged).

    Plates of 2.5 kg; three sets of eight with nought to three in reserve, each a little weaker than
    the one before. Loads follow the usual strength, repetitions the day's.
    """
    rng = np.random.default_rng(seed)
    days = days_of(course)
    shape = (clients, course.lifts, len(days))
    start = rng.uniform(60, 140, shape[:2])
    usual = start[:, :, None] * np.exp(strength(course, days)[None] / 100)
    today = usual * np.exp(_noise(course, shape, rng) / 100)
    today = today * np.where(rng.random(shape) < course.bad_days, 0.88, 1.0)
    planned = np.where(
        (course.new_reps > 0) & (days / 7 > days[-1] / 7 - 6), course.new_reps or 8, 8
    )
    reserve = rng.integers(0, 4, shape) if course.is_logged else rng.integers(0, 2, shape)
    client, lift, place = np.meshgrid(*(np.arange(length) for length in shape), indexing="ij")
    fades = [np.exp(-0.01 * nth + rng.normal(0, 0.005, shape)) for nth in range(3)]
    most = 100
    if course.scheme == "double":
        most = DOUBLE_MOST
        loads = [_double(usual, [today * fade for fade in fades], reserve)] * 3
    elif course.scheme == "top":
        top = _plates(usual / (1 + (5 + 1.5) / 30))
        loads = [top, _plates(0.85 * top), _plates(0.85 * top)]
    else:
        loads = [_plates(usual / (1 + (planned + 1.5) / 30))] * 3
    eased = _eased(course, days)
    loads = [np.where(eased < 1, _plates(eased * load), load) for load in loads]
    frames = []
    for nth, (fade, load) in enumerate(zip(fades, loads, strict=True)):
        able = np.round(30 * (today * fade / load - 1))
        done = np.clip(able - reserve, 1, most).astype(np.int32)
        done = np.where(eased < 1, np.minimum(done, 8), done).astype(np.int32)
        frames.append(
            pl.DataFrame(
                {
                    "client": client.ravel(),
                    "lift": lift.ravel(),
                    "place": place.ravel(),
                    "nth": np.full(client.size, nth),
                    "load_kg": load.ravel(),
                    "reps": done.ravel(),
                    "rir": np.maximum(able - done, 0).ravel(),
                }
            )
        )
    is_logged = pl.lit(course.is_logged)
    return (
        pl.concat(frames)
        .filter(pl.lit(pl.Series(~np.isnan(eased))).gather(pl.col("place")))
        .sort("client", "place", "lift", "nth")
        .select(
            pl.format("{}{}", pl.lit(group), pl.col("client")).alias("client_id"),
            (pl.lit(FIRST_DAY) + pl.duration(days=pl.lit(pl.Series(days)).gather(pl.col("place"))))
            .cast(pl.Date)
            .alias("day"),
            pl.lit(pl.Series(LIFTS)).gather(pl.col("lift")).alias("exercise"),
            "load_kg",
            "reps",
            pl.when(is_logged).then(pl.col("rir")).alias("rir"),
        )
    )


DOUBLE_LEAST, DOUBLE_MOST = 6, 12
"""Repetitions of double progression: fewer lower the load, so many in each set raise it."""


def _plates(load: Floats) -> Floats:
    """The nearest load of plates."""
    return np.asarray(np.maximum(np.round(load / 2.5), 1) * 2.5)


def _double(usual: Floats, able: list[Floats], reserve: npt.NDArray[np.int64]) -> Floats:
    """Loads of double progression, session by session from ten repetitions on."""
    load = np.empty_like(usual)
    now = _plates(usual[:, :, 0] / (1 + 11.5 / 30))
    for place in range(usual.shape[2]):
        load[:, :, place] = now
        reps = np.stack([np.round(30 * (each[:, :, place] / now - 1)) for each in able])
        reps = reps - reserve[:, :, place]
        up = (reps >= DOUBLE_MOST).all(axis=0)
        down = (reps < DOUBLE_LEAST).any(axis=0)
        now = np.maximum(now + 2.5 * up - 2.5 * down, 2.5)
    return load


def _eased(course: Course, days: Floats) -> Floats:
    """Share of the load by days: less in light weeks and after a layoff; nan: not trained."""
    weeks = days / 7
    eased = np.ones_like(days)
    if course.light_weeks:
        eased[np.floor(weeks).astype(int) % course.light_weeks == course.light_weeks - 1] = 0.6
    begin, stop = course.layoff
    eased[(weeks >= begin) & (weeks < stop)] = np.nan
    if stop > begin:
        back = np.flatnonzero(weeks >= stop)[:5]
        eased[back] = 0.5 + 0.1 * np.arange(len(back))
    return eased


def _noise(course: Course, shape: tuple[int, int, int], rng: np.random.Generator) -> Floats:
    """Noise of each session, in part the day's [%]."""

    def draw(size: tuple[int, int, int]) -> Floats:
        if not course.tails:
            return rng.normal(size=size)
        wide = rng.standard_t(course.tails, size=size)
        return np.asarray(wide / np.sqrt(course.tails / (course.tails - 2)))

    own = np.sqrt(1 - course.shared) * draw(shape)
    noise: Floats = own + np.sqrt(course.shared) * draw((shape[0], 1, shape[2]))
    fresh = np.sqrt(1 - course.correlation**2)
    for place in range(1, shape[2]):
        before = noise[:, :, place - 1]
        noise[:, :, place] = course.correlation * before + fresh * noise[:, :, place]
    return course.noise * noise


def best_power(course: Course, *, is_known: bool, threshold: float = 1.644854) -> float:
    """How often the best test on the same sessions finds an end, at 5 % false alarms.

    Normal noise. `is_known`: level and rate before are known; else both are estimated from the
    course's own sessions.
    """
    from statistics import NormalDist

    weeks = days_of(course) / 7
    weeks = weeks - weeks[-1]
    bend = np.maximum(weeks + course.end_weeks, 0)
    if not is_known:
        before = np.column_stack([np.ones_like(weeks), weeks])
        bend = bend - before @ np.linalg.lstsq(before, bend, rcond=None)[0]
    distance = (course.rate - course.end_rate) * float(np.sqrt((bend**2).sum())) / course.noise
    return 1 - NormalDist().cdf(threshold - distance)
