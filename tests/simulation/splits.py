"""Logs that follow a known rotation, more or less: what a lifter planned and what became of it.

A plan is a round of sessions with their days. Sessions are skipped (their day is lost), postponed
(by a day: whatever is in the way moves too) or swapped with the next one. Sets of an exercise vary
by one, exercises of a body part by turns. Nothing here knows how the models judge.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import polars as pl

FIRST_DAY = date(2026, 1, 5)
WEEKS = 16
SPAN_DAYS = 56
EXERCISES = {
    "chest": ("bench press", "incline dumbbell press", "pec deck"),
    "back": ("barbell row", "lat pulldown", "seated cable row", "pull-up"),
    "legs": ("back squat", "leg press", "romanian deadlift", "leg curl", "standing calf raise"),
    "shoulders": ("overhead press", "lateral raise", "reverse pec deck"),
    "arms": ("barbell curl", "triceps pushdown", "hammer curl", "skull crusher"),
    "trunk": ("cable crunch", "crunch"),
}
Session = dict[str, int]
"""Body part → exercises of three sets."""


@dataclass(frozen=True)
class Plan:
    """A round of sessions: on which days of it what is trained."""

    name: str
    round_days: int
    sessions: tuple[tuple[int, Session], ...]
    repeats: int = 1
    """How often the round repeats itself inside: 2 for upper, lower, upper, lower."""
    is_weekly: bool = True
    """Bound to weekdays: what is postponed does not move the weeks after it."""


PUSH: Session = {"chest": 2, "shoulders": 2, "arms": 1}
PULL: Session = {"back": 3, "arms": 1}
LEGS: Session = {"legs": 4, "trunk": 1}
UPPER: Session = {"chest": 2, "back": 2, "shoulders": 1, "arms": 2}
LOWER: Session = {"legs": 4, "trunk": 1}
FULL: Session = {"legs": 2, "chest": 1, "back": 1, "shoulders": 1, "arms": 1}
FOUR: tuple[Session, ...] = (
    {"chest": 3, "trunk": 1},
    {"back": 4},
    {"legs": 4},
    {"shoulders": 2, "arms": 2},
)
ONE_PART: tuple[Session, ...] = (
    {"chest": 4},
    {"back": 4},
    {"legs": 5},
    {"shoulders": 4},
    {"arms": 4},
)

PLANS = (
    Plan("four days, no rest", 4, tuple(enumerate(FOUR)), is_weekly=False),
    Plan("four on, one off", 5, tuple(enumerate(FOUR)), is_weekly=False),
    Plan("upper/lower, four a week", 7, ((0, UPPER), (1, LOWER), (3, UPPER), (4, LOWER)), 2),
    Plan("full body, three a week", 7, ((0, FULL), (2, FULL), (4, FULL)), 3),
    Plan("one body part a day, once a week", 7, tuple(enumerate(ONE_PART))),
    Plan(
        "push/pull/legs, six a week",
        7,
        tuple(enumerate((PUSH, PULL, LEGS, PUSH, PULL, LEGS))),
        2,
    ),
)
KINDS = ("skipped", "postponed", "swapped")


@dataclass(frozen=True)
class Planted:
    """One log's truth over the span that is judged."""

    client_id: str
    rounds: tuple[tuple[float, float], ...]
    """Sessions and days of the round, and of the shorter one that it repeats, by the calendar and
    by the sessions really done; none: random."""
    training_share: float
    """Share of the span's days with a session."""


@dataclass
class _Done:
    day: int
    session: Session
    round_no: int
    place: int


def planted(
    plan: Plan,
    kind: str,
    share: float,
    client_id: str,
    rng: np.random.Generator,
    before: Plan | None,
) -> tuple[pl.DataFrame, Planted]:
    """A log of 16 weeks; with `before`, that plan rules until the last eight."""
    days = WEEKS * 7
    offset = int(rng.integers(0, 7))
    done: list[_Done] = []
    if before is not None:
        done += _follow(before, kind, share, 0, days - SPAN_DAYS, rng)
    begin = days - SPAN_DAYS if before is not None else 0
    done += _follow(plan, kind, share, begin, days, rng)
    last = max(each.day for each in done)
    span = [each for each in done if last - SPAN_DAYS < each.day <= last and each.day >= begin]
    truth = Planted(
        client_id,
        _true_rounds(plan, span),
        len({each.day for each in span}) / SPAN_DAYS,
    )
    return _sets([(each.day + offset, each.session) for each in done], client_id, rng), truth


def random_log(client_id: str, rng: np.random.Generator) -> tuple[pl.DataFrame, Planted]:
    """Three to five sessions a week on random days, each of one to three parts at random."""
    per_week = int(rng.integers(3, 6))
    at_most = int(rng.integers(1, 4))
    done: list[tuple[int, Session]] = []
    for week in range(WEEKS):
        for day in sorted(rng.choice(7, per_week, replace=False)):
            parts = rng.choice(
                list(EXERCISES)[:5], int(rng.integers(1, at_most + 1)), replace=False
            )
            done.append(
                (7 * week + int(day), {str(part): int(rng.integers(1, 4)) for part in parts})
            )
    return _sets(done, client_id, rng), Planted(client_id, (), per_week / 7)


def shuffled_log(client_id: str, rng: np.random.Generator) -> tuple[pl.DataFrame, Planted]:
    """The same sessions in each week, on days and in an order drawn anew: no rotation either."""
    sessions = (ONE_PART, FOUR)[int(rng.integers(0, 2))]
    done: list[tuple[int, Session]] = []
    for week in range(WEEKS):
        days = sorted(int(day) for day in rng.choice(7, len(sessions), replace=False))
        order = rng.permutation(len(sessions))
        done += [(7 * week + day, sessions[each]) for day, each in zip(days, order, strict=True)]
    return _sets(done, client_id, rng), Planted(client_id, (), len(sessions) / 7)


def _follow(
    plan: Plan, kind: str, share: float, begin: int, end: int, rng: np.random.Generator
) -> list[_Done]:
    planned: list[_Done] = []
    for round_no in range((end - begin) // plan.round_days + 1):
        for place, (day, session) in enumerate(plan.sessions):
            planned.append(
                _Done(begin + round_no * plan.round_days + day, session, round_no, place)
            )
    if kind == "swapped":
        _swap(planned, share, rng)
    elif kind == "postponed":
        _postpone(planned, share, plan.is_weekly, rng)
    elif kind == "skipped":
        planned = [each for each in planned if rng.random() >= share]
    return [each for each in planned if each.day < end]


def _swap(planned: list[_Done], share: float, rng: np.random.Generator) -> None:
    """Exchange what is done on two days; `share` of the sessions are done out of turn."""
    number = 0
    while number + 1 < len(planned):
        first, second = planned[number], planned[number + 1]
        if rng.random() < share / 2:
            first.day, second.day = second.day, first.day
            number += 1
        number += 1
    planned.sort(key=lambda each: each.day)


def _postpone(
    planned: list[_Done], share: float, is_weekly: bool, rng: np.random.Generator
) -> None:
    shift = 0
    taken = -1
    for each in planned:
        late = int(rng.random() < share)
        if is_weekly:
            each.day = max(each.day + late, taken + 1)
        else:
            shift += late
            each.day += shift
        taken = each.day


def _true_rounds(plan: Plan, span: list[_Done]) -> tuple[tuple[float, float], ...]:
    """Sessions and mean days of the round as it was really done, and of the one inside it."""
    per_round = len(plan.sessions)
    dates = {(each.round_no, each.place): each.day for each in span}
    apart = [
        day - dates[round_no - 1, place]
        for (round_no, place), day in dates.items()
        if (round_no - 1, place) in dates
    ]
    length = float(np.mean(apart))
    session_days = SPAN_DAYS / len({each.day for each in span})
    sizes = {float(per_round), per_round / plan.repeats}
    return tuple(
        round_
        for size in sorted(sizes)
        for round_ in ((size, length * size / per_round), (size, session_days * size))
    )


def _sets(
    done: list[tuple[int, Session]], client_id: str, rng: np.random.Generator
) -> pl.DataFrame:
    days: list[int] = []
    names: list[str] = []
    for turn, (day, session) in enumerate(done):
        for part, exercises in session.items():
            pool = EXERCISES[part]
            for nth in range(exercises):
                count = int(3 + rng.integers(-1, 2))
                days += [day] * count
                names += [pool[(turn + nth) % len(pool)]] * count
    return pl.DataFrame({"offset": days, "exercise": names}).select(
        pl.lit(client_id).alias("client_id"),
        (pl.lit(FIRST_DAY) + pl.duration(days="offset")).cast(pl.Date).alias("day"),
        "exercise",
        pl.lit(50.0).alias("load_kg"),
        pl.lit(10, dtype=pl.Int32).alias("reps"),
        pl.lit(1.0).alias("rir"),
    )


def last_day() -> date:
    """A day after all logs."""
    return FIRST_DAY + timedelta(days=(WEEKS + 2) * 7)
