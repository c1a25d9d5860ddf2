"""Months of training of people whom a coach could describe: sets from a plan, gains and habits.

Every lift has a true strength that rises by `RATE` a week, or stands still for the last twelve
weeks; a session is off it by 1 %, a set costs what `fade` says, loads go by plates. Repetitions and
reserve follow from that. Seeded by the person's name.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from typing import Any

from tests.conftest import Log, day

WEEKS = 30
LAST_DAY = 7 * WEEKS - 1
STILL_FROM = LAST_DAY - 83
RATE = 0.5
"""Gain while a lift moves [%/week]."""

Session = Mapping[str, int]
"""Exercise → sets."""
Dated = Iterable[tuple[int, Session]]

START_KG = {
    "bench press": 100.0,
    "incline dumbbell press": 45.0,
    "pec deck": 80.0,
    "overhead press": 65.0,
    "barbell row": 95.0,
    "lat pulldown": 90.0,
    "lateral raise": 16.0,
    "reverse pec deck": 60.0,
    "barbell curl": 45.0,
    "triceps pushdown": 45.0,
    "back squat": 140.0,
    "leg press": 240.0,
    "deadlift": 180.0,
    "romanian deadlift": 130.0,
    "leg curl": 60.0,
    "standing calf raise": 120.0,
    "cable crunch": 60.0,
}
"""Strength index on the first day [kg]."""

UPPER: Session = {
    "bench press": 4,
    "barbell row": 3,
    "lat pulldown": 3,
    "lateral raise": 4,
    "barbell curl": 2,
    "triceps pushdown": 2,
}
LOWER: Session = {
    "back squat": 4,
    "romanian deadlift": 4,
    "standing calf raise": 3,
    "cable crunch": 2,
}
USUAL: Mapping[int, Session] = {0: UPPER, 1: LOWER, 3: UPPER, 4: LOWER}
"""Upper and lower body twice a week each: every muscle inside the guide."""


def weekly(plan: Mapping[int, Session], weeks: Iterable[int] = range(WEEKS)) -> Iterator[Any]:
    """The plan's sessions by weekday, week after week."""
    for week in weeks:
        for weekday, session in plan.items():
            yield 7 * week + weekday, session


def cycle(sessions: Iterable[Session]) -> Iterator[Any]:
    """One session after the other, every day."""
    order = list(sessions)
    for offset in range(LAST_DAY + 1):
        yield offset, order[offset % len(order)]


def never(_offset: int) -> bool:
    """No day."""
    return False


def train(
    log: Log,
    who: str,
    dated: Dated,
    *,
    rate: float = RATE,
    still: Collection[str] = (),
    reps: int = 8,
    reserve: int = 2,
    is_recorded: bool = True,
    fade: float = 0.015,
    keeps_reps: bool = False,
    extended: int = 0,
    is_easy: Callable[[int], bool] = never,
    level: Callable[[str, int], float] = lambda exercise, offset: 1.0,
) -> None:
    """Log what became of the sessions.

    `keeps_reps`: the planned repetitions, with what reserve is left; else the planned reserve.
    `still`: lifts that stand still for the last twelve weeks, or "all". `extended`: sets of each
    exercise that go on as a drop. `is_easy`: days of half the sets, a tenth less load and more
    reserve. `level`: a factor of strength, of another machine or after illness.
    """
    rng = random.Random(who)
    names = START_KG if still == "all" else still
    for offset, session in dated:
        for exercise, sets in session.items():
            moved = min(offset, STILL_FROM) if exercise in names else offset
            usual = START_KG[exercise] * math.exp(rate * moved / 700) * level(exercise, offset)
            today = usual * (1 + rng.gauss(0, 0.01))
            easy = is_easy(offset)
            plate = 2.5 if usual >= 50 else 1.0
            load = usual / (1 + (reps + reserve) / 30) * (0.9 if easy else 1.0)
            load = max(round(load / plate), 1) * plate
            for nth in range((sets + 1) // 2 if easy else sets):
                able = 30 * (today * math.exp(-fade * nth) / load - 1)
                done = reps if easy or keeps_reps else max(round(able) - reserve, 1)
                rir = max(round(able) - done, 0) if is_recorded else None
                is_drop = nth >= sets - extended and not easy
                log.set(day(offset), exercise, load, done, rir=rir, client_id=who)
                if is_drop:
                    log.set(day(offset), exercise, load / 2, 6, set_kind="extension", client_id=who)
