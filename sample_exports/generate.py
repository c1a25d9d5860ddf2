"""Makes the training logs of Harbour Lane Barbell Room, an invented gym with invented people.

Each lifter is simulated: a strength per lift that grows, stands still or falls; good and bad
days; tiredness inside a session; loads that the plates and dumbbells allow; then what the lifter
notes down, with its gaps and slips. The same seed gives the same bytes. Nothing here knows how
the review computes its figures.

    python sample_exports/generate.py            writes the files beside this one
    python sample_exports/generate.py --check    exits 1 if one of them differs
"""

from __future__ import annotations

import csv
import io
import math
import random
import sys
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from pathlib import Path

HERE = Path(__file__).parent
LAST_DAY = date(2026, 8, 30)
"""The Sunday on which the samples end: `[workspace] as_of`."""

KG_PER_LB = 0.45359237

Rates = tuple[tuple[date, float], ...]
"""Change of strength in % a week, each from its day on."""


class Chance:
    """Repeatable chance; built on random() alone, the one method whose values never change."""

    def __init__(self, seed: str) -> None:
        self._random = random.Random(seed).random

    def happens(self, probability: float) -> bool:
        return self._random() < probability

    def normal(self, spread: float) -> float:
        """About normal: the sum of twelve uniform numbers."""
        return spread * (sum(self._random() for _ in range(12)) - 6.0)

    def pick(self, items: tuple[str, ...]) -> str:
        return items[int(self._random() * len(items))]


# The lifters


@dataclass(frozen=True)
class Lift:
    """One exercise of one lifter."""

    name: str
    best: float
    """True one-repetition maximum on the first day, in kg (with bodyweight lifts: all of it)."""
    step: float
    """Smallest step of the load that the equipment allows, in kg or lb as logged."""
    part: str
    """The muscles that it tires first."""
    helps: tuple[str, ...] = ()
    rates: Rates | None = None
    """None: those of the lifter."""
    carried: float = 0.0
    """Share of bodyweight in the load."""
    spellings: tuple[str, ...] = ()
    """Other ways in which the lifter writes it now and then."""
    sided: bool = False
    """Logged as a left and a right row."""


@dataclass(frozen=True)
class Slot:
    """A lift's place in a session."""

    lift: str
    sets: int
    low: int
    high: int
    reserve: int
    warmups: int = 0
    drops: int = 0
    """How many of the last sets go on with less load."""


@dataclass(frozen=True)
class Layoff:
    """Weeks without training, and what they cost."""

    from_on: date
    to_on: date
    loss: float
    weeks_to_regain: float


@dataclass(frozen=True)
class Lifter:
    """A person, the plan, and the habits of noting it down."""

    id: str
    lifts: tuple[Lift, ...]
    plan: Callable[[date], tuple[Slot, ...]]
    first: date
    last: date
    rates: Rates
    notes_reserve: float = 1.0
    """Share of sets with noted effort."""
    misses: float = 0.05
    """Share of planned sessions that do not take place."""
    deload_every: int = 0
    """Every how many weeks a light week comes; 0: never."""
    layoffs: tuple[Layoff, ...] = ()
    bodyweight: Callable[[date], float] = lambda day: 75.0
    pounds: bool = False
    day_spread: float = 0.009
    lift_spread: float = 0.014
    tires: float = 0.007
    """Share of strength that a set near failure takes from the next ones of its muscles."""
    remarks: tuple[str, ...] = ()

    def lift(self, name: str) -> Lift:
        return next(lift for lift in self.lifts if lift.name == name)


@dataclass(frozen=True)
class Set:
    """One set as it was done; `load` in the lifter's unit, added or less than 0 with bodyweight."""

    day: date
    who: str
    exercise: str
    number: int
    load: float
    reps: int
    reserve: int | None
    """Repetitions in reserve as noted; nobody tells six from five."""
    kind: str
    minute: int
    """Minutes since midnight."""
    side: str = ""
    note: str = ""


# How strength turns into repetitions


def share_of_best(reps: float) -> float:
    """Load for `reps` to failure as a share of the 1RM: Mayhew et al. 1992, bench press."""
    return 0.522 + 0.419 * math.exp(-0.055 * reps)


def reps_to_failure(load: float, best: float) -> float:
    """Repetitions possible with a load, by the same curve; at most 40."""
    share = load / best
    if share <= 0.522 + 0.419 * math.exp(-0.055 * 40):
        return 40.0
    return max(0.0, -math.log((share - 0.522) / 0.419) / 0.055)


def grown(rates: Rates, first: date, day: date) -> float:
    """Factor by which strength has changed since the first day."""
    log_change = 0.0
    for place, (start, rate) in enumerate(rates):
        end = rates[place + 1][0] if place + 1 < len(rates) else day
        days = (min(end, day) - max(start, first)).days
        log_change += max(0, days) / 7 * rate / 100
    return math.exp(log_change)


def after_layoff(layoffs: tuple[Layoff, ...], day: date) -> float:
    """What earlier layoffs still cost: 1 is nothing."""
    factor = 1.0
    for layoff in layoffs:
        weeks = (day - layoff.to_on).days / 7
        if 0 <= weeks < layoff.weeks_to_regain:
            factor -= layoff.loss * (1 - weeks / layoff.weeks_to_regain)
    return factor


class Fatigue:
    """What the sets so far have taken from the muscles, as a share of strength."""

    def __init__(self) -> None:
        self._tired: dict[str, float] = {}

    def of(self, lift: Lift) -> float:
        helping = sum(self._tired.get(part, 0.0) for part in lift.helps)
        return self._tired.get(lift.part, 0.0) + 0.4 * helping

    def add(self, lift: Lift, cost: float) -> None:
        for part, share in ((lift.part, 1.0), *((part, 0.4) for part in lift.helps)):
            self._tired[part] = self._tired.get(part, 0.0) + cost * share


@dataclass
class Loads:
    """The loads a lifter works with, and when they go up or down."""

    pounds: bool
    in_use: dict[str, float] = field(default_factory=dict)

    def kg(self, load: float) -> float:
        return load * KG_PER_LB if self.pounds else load

    def rounded(self, load: float, lift: Lift) -> float:
        """The nearest load that there is."""
        nearest = round(load / lift.step) * lift.step
        if lift.carried:
            return min(nearest, -lift.step) if "assisted" in lift.name else max(nearest, 0.0)
        return max(lift.step, nearest)

    def choose(self, key: str, slot: Slot, lift: Lift, best: float, carried: float) -> float:
        """The load in use, or one that suits the range if the lift is new or far too heavy."""
        if is_push_up(lift):
            return 0.0
        fitting = best * share_of_best((slot.low + slot.high) / 2 + slot.reserve) - carried
        fitting = fitting / KG_PER_LB if self.pounds else fitting
        load = self.in_use.get(key)
        if load is None or (not lift.carried and load > fitting * 1.09):
            load = self.in_use[key] = self.rounded(fitting, lift)
        return load

    def adjust(self, key: str, slot: Slot, lift: Lift, done: list[int]) -> None:
        """More load once the range is filled, less when its low end is out of reach."""
        if is_push_up(lift) or not done:
            return
        if done[0] >= slot.high and done[-1] >= slot.high - 2:
            self.in_use[key] = self.rounded(self.in_use[key] + lift.step, lift)
        elif done[0] < slot.low:
            self.in_use[key] = self.rounded(self.in_use[key] - lift.step, lift)


def is_push_up(lift: Lift) -> bool:
    """Done without added load: repetitions grow instead."""
    return 0 < lift.carried < 1


@dataclass
class Bout:
    """One exercise of one session, set after set."""

    lifter: Lifter
    lift: Lift
    slot: Slot
    day: date
    name: str
    best: float
    """1RM of the day, before tiredness."""
    load: float
    is_deload: bool
    minute: int
    chance: Chance
    loads: Loads
    fatigue: Fatigue
    number: int = 0
    done: list[int] = field(default_factory=list)

    def sets(self) -> Iterator[Set]:
        for reps, share in ((8, 0.5), (5, 0.7), (3, 0.85))[: self.slot.warmups]:
            self.minute += 2
            yield self._row(self.loads.rounded(self.load * share, self.lift), reps, None, "warmup")
        planned = self.slot.sets - (1 if self.is_deload else 0)
        for nth in range(planned):
            goes_on = nth >= planned - self.slot.drops and not self.is_deload
            yield from self._work_set(nth, goes_on)

    def _row(self, load: float, reps: int, noted: int | None, kind: str) -> Set:
        self.number += 1
        return Set(
            self.day, self.lifter.id, self.name, self.number, load, reps, noted, kind, self.minute
        )

    def _work_set(self, nth: int, goes_on: bool) -> Iterator[Set]:
        self.minute += 3
        carried = self.lift.carried * self.lifter.bodyweight(self.day)
        now = self.best * (1 - self.fatigue.of(self.lift) - 0.005 * nth)
        can = math.floor(reps_to_failure(self.loads.kg(self.load) + carried, now))
        if can < 1:
            return
        reps = can if goes_on else self._stops_at(can)
        self.done.append(reps)
        left = max(0, can - reps + round(self.chance.normal(0.35))) if can > reps else 0
        noted = min(left, 5) if self.chance.happens(self.lifter.notes_reserve) else None
        row = replace(self._row(self.load, reps, noted, "work"), note=self._remark())
        if self.lift.sided:
            yield from self._both_sides(row)
        else:
            yield row
        self.fatigue.add(self.lift, self.lifter.tires * (1.0 if left <= 2 else 0.7))
        if goes_on:
            yield self._drop(now, noted)
        if reps < self.slot.low - 2 and not self.lift.carried and not self.is_deload:
            lighter = self.loads.rounded(self.load * 0.93, self.lift)
            self.load = max(self.lift.step, min(self.load - self.lift.step, lighter))

    def _stops_at(self, can: int) -> int:
        reserve = 4 if self.is_deload else self.slot.reserve
        felt = can - reserve + round(self.chance.normal(0.45))
        return max(1, min(felt, can, self.slot.low if self.is_deload else self.slot.high))

    def _remark(self) -> str:
        remarks = self.lifter.remarks
        return self.chance.pick(remarks) if remarks and self.chance.happens(0.012) else ""

    def _both_sides(self, row: Set) -> Iterator[Set]:
        yield replace(row, side="left")
        self.minute += 1
        reps = row.reps + (1 if self.chance.happens(0.25) else 0)
        yield replace(row, side="right", reps=reps, minute=self.minute, note="")

    def _drop(self, now: float, noted: int | None) -> Set:
        less = self.loads.rounded(self.load * 0.8, self.lift)
        reps = math.floor(reps_to_failure(self.loads.kg(less), now * 0.78))
        self.fatigue.add(self.lift, self.lifter.tires)
        return self._row(less, max(3, min(reps, 12)), None if noted is None else 0, "drop")


@dataclass
class Diary:
    """One lifter's way through all days, one session after the other."""

    lifter: Lifter
    chance: Chance
    loads: Loads
    form: float = 0.0
    """Good or bad day; a part of it lasts to the next."""

    def sets(self) -> Iterator[Set]:
        day = self.lifter.first
        while day <= self.lifter.last:
            slots = self.lifter.plan(day)
            if slots and not self._is_off(day):
                yield from self._session(day, slots)
            day += timedelta(days=1)

    def _is_off(self, day: date) -> bool:
        in_layoff = any(each.from_on <= day < each.to_on for each in self.lifter.layoffs)
        is_recent = (LAST_DAY - day).days < 28  # complete, so that each story stands out
        return in_layoff or (self.chance.happens(self.lifter.misses) and not is_recent)

    def _is_deload(self, day: date) -> bool:
        every = self.lifter.deload_every
        return every > 0 and (LAST_DAY - day).days // 7 % every == every - 3

    def _session(self, day: date, slots: tuple[Slot, ...]) -> Iterator[Set]:
        self.form = 0.6 * self.form + self.chance.normal(0.8 * self.lifter.day_spread)
        fatigue = Fatigue()
        minute = 17 * 60 + 30 + round(abs(self.chance.normal(40)))
        for place, slot in enumerate(slots):
            key = f"{slot.lift}/{slot.low}/{place}"
            bout = self._bout(day, slot, key, fatigue, minute)
            yield from bout.sets()
            if not bout.is_deload:
                self.loads.adjust(key, slot, bout.lift, bout.done)
            minute = bout.minute + 3

    def _bout(self, day: date, slot: Slot, key: str, fatigue: Fatigue, minute: int) -> Bout:
        lifter, chance = self.lifter, self.chance
        lift = lifter.lift(slot.lift)
        best = self._best(lift, day)
        name = chance.pick(lift.spellings) if lift.spellings and chance.happens(0.2) else lift.name
        carried = lift.carried * lifter.bodyweight(day)
        load = self.loads.choose(key, slot, lift, best * (1 - fatigue.of(lift)), carried)
        deload = self._is_deload(day)
        if deload and not lift.carried:
            load = self.loads.rounded(load * 0.86, lift)
        return Bout(
            lifter, lift, slot, day, name, best, load, deload, minute, chance, self.loads, fatigue
        )

    def _best(self, lift: Lift, day: date) -> float:
        """The 1RM of the day: the curve, what a layoff still costs, the day's form, chance."""
        best = lift.best * grown(lift.rates or self.lifter.rates, self.lifter.first, day)
        best *= after_layoff(self.lifter.layoffs, day)
        return best * (1 + self.form + self.chance.normal(self.lifter.lift_spread))


def sets_of(lifter: Lifter) -> list[Set]:
    """All sets of a lifter, in order."""
    diary = Diary(lifter, Chance(f"harbour-lane/{lifter.id}"), Loads(lifter.pounds))
    return list(diary.sets())


# Ines: four years, one lift that stands still, one that falls


def ines() -> Lifter:
    start = date(2022, 8, 29)
    usual: Rates = (
        (start, 0.55), (date(2023, 5, 1), 0.25), (date(2024, 6, 1), 0.12), (date(2025, 6, 1), 0.16),
        (date(2025, 12, 1), 0.27),
    )  # fmt: skip
    stalled: Rates = (
        (start, 0.50), (date(2023, 5, 1), 0.15), (date(2025, 11, 10), 0.42),
        (date(2026, 5, 18), 0.0),
    )  # fmt: skip
    falling: Rates = (
        (start, 0.55), (date(2023, 5, 1), 0.24), (date(2026, 1, 5), 0.1),
        (date(2026, 5, 18), -0.80),
    )  # fmt: skip
    lifts = (
        Lift("back squat", 52, 2.5, "quads", ("hips",)),
        Lift("deadlift", 66, 2.5, "hips", ("quads",), falling),
        Lift("romanian deadlift", 56, 2.5, "hips"),
        Lift("bench press", 33, 2.5, "chest", ("triceps",)),
        Lift(
            "incline barbell press", 28, 2.5, "chest", ("triceps",),
            spellings=("Incline BB Press", "incline bench press"),
        ),
        Lift("overhead press", 23.5, 1.25, "shoulders", ("triceps",), stalled),
        Lift("barbell row", 37, 2.5, "back", ("biceps",)),
        Lift("seated cable row", 40, 2.5, "back", ("biceps",)),
        Lift("lat pulldown", 41, 2.5, "lats", ("biceps",), spellings=("Lat Pull-down",)),
        Lift("lateral raise", 8.5, 1, "side"),
        Lift("triceps pushdown", 24, 1.25, "triceps"),
        Lift("barbell curl", 21, 1.25, "biceps"),
        Lift("dumbbell curl", 10, 1, "biceps"),
        Lift("leg press", 105, 5, "quads"),
        Lift("leg curl", 32, 2.5, "hams"),
        Lift("leg extension", 38, 2.5, "quads"),
        Lift("bulgarian split squat", 22, 1, "quads", ("hips",)),
        Lift("hip thrust", 78, 2.5, "hips"),
        Lift("standing calf raise", 70, 2.5, "calves"),
        Lift("cable crunch", 38, 2.5, "abs"),
        Lift("harbour drag", 70, 5, "legs"),
    )  # fmt: skip
    full_a = (
        Slot("back squat", 3, 5, 8, 2, 1), Slot("bench press", 3, 6, 10, 2, 1),
        Slot("seated cable row", 3, 8, 12, 2), Slot("dumbbell curl", 2, 10, 15, 2),
    )  # fmt: skip
    full_b = (
        Slot("deadlift", 3, 4, 6, 2, 1), Slot("overhead press", 3, 6, 10, 2),
        Slot("lat pulldown", 3, 8, 12, 2), Slot("lateral raise", 2, 12, 16, 1),
    )  # fmt: skip
    upper_a = (
        Slot("incline barbell press", 4, 7, 10, 2, 1), Slot("seated cable row", 3, 8, 12, 2),
        Slot("overhead press", 3, 6, 9, 2), Slot("lateral raise", 3, 12, 16, 1),
        Slot("triceps pushdown", 3, 10, 14, 1), Slot("dumbbell curl", 2, 10, 14, 1),
    )  # fmt: skip
    lower_a = (
        Slot("back squat", 4, 5, 8, 2, 2), Slot("romanian deadlift", 3, 7, 10, 2),
        Slot("leg curl", 3, 10, 14, 1), Slot("standing calf raise", 3, 10, 15, 1),
        Slot("cable crunch", 2, 10, 15, 2),
    )  # fmt: skip
    upper_b = (
        Slot("overhead press", 4, 6, 9, 2, 1), Slot("barbell row", 3, 7, 10, 2),
        Slot("bench press", 4, 6, 9, 2), Slot("lat pulldown", 2, 8, 12, 2),
        Slot("lateral raise", 3, 12, 16, 1), Slot("barbell curl", 3, 9, 12, 1),
    )  # fmt: skip
    lower_b = (
        Slot("deadlift", 3, 4, 6, 2, 2), Slot("leg press", 3, 9, 12, 2),
        Slot("hip thrust", 3, 8, 12, 2), Slot("leg curl", 3, 10, 14, 1),
    )  # fmt: skip
    early: tuple[Slot, ...] = (Slot("leg extension", 3, 10, 15, 1),)
    late = (Slot("bulgarian split squat", 3, 8, 12, 2),)

    def plan(day: date) -> tuple[Slot, ...]:
        if day < date(2023, 9, 4):
            return {0: full_a, 2: full_b, 4: full_a}.get(day.weekday(), ())
        friday = lower_b + (late if day >= date(2026, 6, 1) else early)
        if day.isocalendar().week % 3 == 0 and day >= date(2025, 9, 1):
            friday += (Slot("harbour drag", 2, 8, 12, 3),)
        return {0: upper_a, 1: lower_a, 3: upper_b, 4: friday}.get(day.weekday(), ())

    return Lifter(
        "ines", lifts, plan, start, date(2026, 8, 28), usual,
        notes_reserve=0.93, misses=0.05, deload_every=9,
        layoffs=(Layoff(date(2024, 11, 18), date(2024, 12, 16), 0.07, 6),),
        bodyweight=lambda day: 64.0, day_spread=0.008, lift_spread=0.011,
        remarks=(
            'felt "snappy", grip fine', "left knee a bit stiff, warmed up longer",
            "Frühstück ausgelassen", "rack was taken,\nswapped the order", "new shoes",
        ),
    )  # fmt: skip


# Kofi: six-day rotation, drop sets, failure, and nothing moves any more


def kofi() -> Lifter:
    start, change = date(2025, 6, 30), date(2026, 5, 25)
    usual: Rates = ((start, 0.15), (date(2025, 11, 10), 0.44), (change, -0.02))
    falling: Rates = ((start, 0.15), (date(2025, 11, 10), 0.40), (change, -0.45))
    lifts = (
        Lift("bench press", 140, 2.5, "chest", ("triceps", "shoulders"), falling),
        Lift("incline dumbbell press", 50, 2, "chest", ("triceps", "shoulders")),
        Lift("cable fly", 32, 1.25, "chest"),
        Lift("overhead press", 88, 2.5, "shoulders", ("triceps",)),
        Lift("dumbbell shoulder press", 42, 2, "shoulders", ("triceps",)),
        Lift("lateral raise", 22, 1, "side"),
        Lift("rear delt fly", 21, 1, "rear"),
        Lift("barbell row", 122, 2.5, "back", ("biceps",)),
        Lift("lat pulldown", 108, 2.5, "back", ("biceps",)),
        Lift("seated cable row", 112, 2.5, "back", ("biceps",)),
        Lift("barbell curl", 58, 2.5, "biceps"),
        Lift("hammer curl", 27, 1, "biceps"),
        Lift("triceps pushdown", 58, 2.5, "triceps"),
        Lift("skull crusher", 55, 2.5, "triceps"),
        Lift("back squat", 178, 2.5, "quads", ("hips",)),
        Lift("hack squat", 170, 5, "quads"),
        Lift("leg press", 340, 10, "quads"),
        Lift("romanian deadlift", 172, 2.5, "hips", ("hams",)),
        Lift("leg curl", 82, 2.5, "hams"),
        Lift("leg extension", 104, 2.5, "quads"),
        Lift("standing calf raise", 170, 5, "calves"),
    )  # fmt: skip
    before = {
        0: (
            Slot("bench press", 4, 6, 9, 2, 1), Slot("barbell row", 4, 7, 10, 2),
            Slot("lateral raise", 3, 10, 15, 2), Slot("barbell curl", 2, 9, 12, 2),
        ),
        1: (
            Slot("back squat", 4, 5, 8, 2, 1), Slot("romanian deadlift", 3, 7, 10, 2),
            Slot("leg curl", 3, 9, 13, 2), Slot("standing calf raise", 3, 9, 13, 2),
        ),
        3: (
            Slot("overhead press", 4, 5, 8, 2, 1), Slot("lat pulldown", 4, 8, 11, 2),
            Slot("incline dumbbell press", 3, 7, 11, 2), Slot("triceps pushdown", 3, 9, 13, 2),
        ),
        4: (
            Slot("hack squat", 3, 8, 11, 2), Slot("leg press", 3, 9, 12, 2),
            Slot("seated cable row", 3, 8, 12, 2), Slot("rear delt fly", 3, 11, 16, 2),
        ),
    }  # fmt: skip
    rotation = (
        (
            Slot("bench press", 4, 6, 9, 0, 1, 2),
            Slot("incline dumbbell press", 3, 7, 11, 0, 0, 1),
            Slot("dumbbell shoulder press", 3, 7, 10, 0, 0, 1),
            Slot("lateral raise", 3, 10, 15, 0, 0, 2), Slot("triceps pushdown", 3, 9, 13, 0, 0, 2),
        ),
        (
            Slot("barbell row", 4, 7, 10, 0, 1, 1), Slot("lat pulldown", 4, 8, 11, 0, 0, 2),
            Slot("barbell curl", 3, 8, 12, 0, 0, 1), Slot("hammer curl", 3, 9, 13, 0, 0, 1),
        ),
        (
            Slot("back squat", 4, 5, 8, 1, 1), Slot("leg press", 3, 9, 12, 0, 0, 2),
            Slot("leg extension", 3, 10, 14, 0, 0, 2), Slot("leg curl", 3, 9, 13, 0, 0, 1),
            Slot("standing calf raise", 3, 9, 13, 0, 0, 1),
        ),
        (
            Slot("bench press", 3, 6, 9, 0, 1, 1), Slot("cable fly", 3, 10, 15, 0, 0, 2),
            Slot("barbell row", 3, 7, 10, 0, 0, 1), Slot("seated cable row", 3, 8, 12, 0, 0, 2),
        ),
        (
            Slot("overhead press", 4, 5, 8, 0, 1, 1), Slot("lateral raise", 3, 10, 15, 0, 0, 2),
            Slot("rear delt fly", 3, 11, 16, 0, 0, 1), Slot("barbell curl", 3, 8, 12, 0, 0, 1),
            Slot("skull crusher", 3, 8, 12, 0, 0, 1),
        ),
        (
            Slot("hack squat", 4, 8, 11, 0, 1, 2), Slot("romanian deadlift", 4, 7, 10, 1, 0, 0),
            Slot("leg curl", 3, 9, 13, 0, 0, 2), Slot("standing calf raise", 3, 9, 13, 0, 0, 1),
        ),
    )  # fmt: skip

    def plan(day: date) -> tuple[Slot, ...]:
        if day < change:
            return before.get(day.weekday(), ())
        rests, place = divmod((day - change).days, 20)
        return () if place == 19 else rotation[(rests * 19 + place) % 6]

    return Lifter(
        "kofi", lifts, plan, start, LAST_DAY, usual,
        notes_reserve=0.9, misses=0.015, bodyweight=lambda day: 92.0,
        day_spread=0.008, lift_spread=0.011,
        remarks=("elbows sore", "slept badly", 'last one was "ugly"', "belt, straps"),
    )  # fmt: skip


# Matthis: each body part once a week, a week's work in one day


def matthis() -> Lifter:
    start = date(2025, 8, 25)
    usual: Rates = ((start, 0.30), (date(2026, 2, 1), 0.14))
    falling: Rates = ((start, 0.30), (date(2026, 2, 23), -0.42))
    lifts = (
        Lift(
            "Bankdrücken", 112, 2.5, "chest", ("triceps",), falling, spellings=("Flachbankdrücken",)
        ),
        Lift("Schrägbankdrücken Kurzhantel", 38, 2, "chest", ("triceps",)),
        Lift("Brustpresse", 98, 2.5, "chest", ("triceps",)),
        Lift("Butterfly", 78, 2.5, "chest"),
        Lift("Kreuzheben", 165, 2.5, "hips", ("back",)),
        Lift("Latzug", 86, 2.5, "back", ("biceps",), spellings=("Lat-Ziehen",)),
        Lift("Langhantelrudern", 92, 2.5, "back", ("biceps",)),
        Lift("Rudern am Kabel sitzend", 90, 2.5, "back", ("biceps",)),
        Lift("Kniebeuge", 142, 2.5, "quads", ("hips",)),
        Lift("Beinpresse", 260, 10, "quads"),
        Lift("Beinstrecker", 84, 2.5, "quads"),
        Lift("Beinbeuger", 66, 2.5, "hams"),
        Lift("Wadenheben stehend", 140, 5, "calves"),
        Lift("Schulterdrücken Kurzhantel", 33, 2, "shoulders", ("triceps",)),
        Lift("Seitheben", 16, 1, "side"),
        Lift("Reverse Butterfly", 56, 2.5, "rear"),
        Lift("Schulterheben Kurzhantel", 52, 2, "traps"),
        Lift("Bizepscurl Langhantel", 48, 2.5, "biceps"),
        Lift("Hammercurl", 22, 1, "biceps"),
        Lift("Trizepsdrücken am Kabel", 46, 2.5, "triceps"),
        Lift("Stirndrücken", 44, 2.5, "triceps"),
    )  # fmt: skip
    chest = (
        Slot("Bankdrücken", 4, 6, 9, 1, 2), Slot("Schrägbankdrücken Kurzhantel", 4, 7, 10, 1),
        Slot("Brustpresse", 3, 8, 12, 1), Slot("Butterfly", 3, 10, 15, 1),
    )  # fmt: skip
    others = {
        1: (
            Slot("Kreuzheben", 3, 4, 7, 2, 2), Slot("Latzug", 4, 8, 11, 1),
            Slot("Langhantelrudern", 4, 7, 10, 1), Slot("Rudern am Kabel sitzend", 3, 9, 12, 1),
        ),
        2: (
            Slot("Kniebeuge", 4, 5, 8, 2, 2), Slot("Beinpresse", 4, 9, 12, 1),
            Slot("Beinstrecker", 3, 10, 14, 1), Slot("Beinbeuger", 4, 9, 13, 1),
            Slot("Wadenheben stehend", 4, 9, 14, 1),
        ),
        3: (
            Slot("Schulterdrücken Kurzhantel", 4, 7, 10, 1, 1), Slot("Seitheben", 5, 10, 15, 1),
            Slot("Reverse Butterfly", 4, 11, 15, 1), Slot("Schulterheben Kurzhantel", 3, 9, 13, 2),
        ),
        4: (
            Slot("Bizepscurl Langhantel", 4, 8, 11, 1), Slot("Stirndrücken", 4, 8, 11, 1),
            Slot("Hammercurl", 4, 9, 13, 1, 0, 1),
            Slot("Trizepsdrücken am Kabel", 4, 9, 13, 1, 0, 1),
        ),
    }  # fmt: skip

    def plan(day: date) -> tuple[Slot, ...]:
        if day.weekday() == 0:
            return chest[3:] + chest[:3] if day.isocalendar().week % 3 == 1 else chest
        return others.get(day.weekday(), ())

    return Lifter(
        "matthis", lifts, plan, start, date(2026, 8, 28), usual,
        notes_reserve=0.88, misses=0.04, deload_every=13, bodyweight=lambda day: 88.0,
        tires=0.010, lift_spread=0.012,
        remarks=("Handgelenk zwickt, Bandage", "spät dran; gekürzt", 'Gefühl: "zäh"', "müde"),
    )  # fmt: skip


# Odalys: pounds and RPE, a month away, now coming back


def odalys() -> Lifter:
    start = date(2025, 10, 6)
    usual: Rates = ((start, 0.34),)
    lifts = (
        Lift("bench press", 62, 5, "chest", ("triceps",)),
        Lift(
            "incline dumbbell press", 24, 5, "chest", ("triceps",), spellings=("Incline DB Press",)
        ),
        Lift("dumbbell shoulder press", 21, 5, "shoulders", ("triceps",)),
        Lift("barbell row", 60, 5, "back", ("biceps",)),
        Lift("lat pulldown", 62, 5, "back", ("biceps",)),
        Lift("lateral raise", 10, 2.5, "side"),
        Lift("face pull", 32, 5, "rear"),
        Lift("barbell curl", 32, 5, "biceps"),
        Lift("triceps pushdown", 34, 5, "triceps"),
        Lift("back squat", 96, 5, "quads", ("hips",)),
        Lift("deadlift", 118, 5, "hips", ("quads",)),
        Lift("romanian deadlift", 98, 5, "hips"),
        Lift("bulgarian split squat", 30, 5, "quads", ("hips",), sided=True),
        Lift("leg curl", 52, 5, "hams"),
        Lift("leg extension", 62, 5, "quads"),
        Lift("standing calf raise", 110, 10, "calves"),
    )  # fmt: skip
    week = {
        0: (
            Slot("bench press", 4, 5, 8, 2, 2), Slot("barbell row", 4, 7, 10, 2),
            Slot("lateral raise", 3, 11, 16, 1), Slot("barbell curl", 3, 8, 12, 2),
        ),
        1: (
            Slot("back squat", 4, 5, 8, 2, 2), Slot("romanian deadlift", 3, 7, 10, 2),
            Slot("leg curl", 3, 9, 13, 1), Slot("standing calf raise", 3, 9, 13, 1),
        ),
        3: (
            Slot("dumbbell shoulder press", 3, 7, 11, 2, 1), Slot("lat pulldown", 4, 8, 12, 2),
            Slot("incline dumbbell press", 4, 7, 11, 2), Slot("face pull", 3, 11, 15, 2),
            Slot("triceps pushdown", 3, 9, 13, 1),
        ),
        5: (
            Slot("deadlift", 3, 4, 6, 2, 2), Slot("bulgarian split squat", 3, 7, 11, 2),
            Slot("leg extension", 3, 10, 14, 1), Slot("leg curl", 3, 9, 13, 1),
        ),
    }  # fmt: skip
    eased = {
        weekday: tuple(Slot(s.lift, 2, s.low + 1, s.high, 4, min(1, s.warmups)) for s in slots)
        for weekday, slots in week.items()
    }

    def plan(day: date) -> tuple[Slot, ...]:
        return (eased if day >= date(2026, 8, 13) else week).get(day.weekday(), ())

    return Lifter(
        "odalys", lifts, plan, start, date(2026, 8, 29), usual,
        notes_reserve=0.85, misses=0.05, pounds=True,
        layoffs=(Layoff(date(2026, 7, 12), date(2026, 8, 13), 0.08, 6),),
        bodyweight=lambda day: 71.0,
        remarks=("back from travel", "hips tight, longer ramp", 'coach said "slower down"'),
    )  # fmt: skip


# Wren: bodyweight and bar, never a word about effort


def wren_weight(day: date) -> float:
    return 70.4 + 2.1 * min(1.0, (day - date(2025, 4, 1)).days / 420)


def wren() -> Lifter:
    start, alone = date(2025, 4, 1), date(2025, 9, 2)
    usual: Rates = ((start, 0.40), (date(2026, 1, 1), 0.26))
    pulling: Rates = ((start, 0.65), (alone, 0.30))
    lifts = (
        Lift("assisted pull-up", 72, 5, "back", ("biceps",), pulling, carried=1.0),
        Lift(
            "pull-up", 72, 2.5, "back", ("biceps",), pulling, carried=1.0, spellings=("pull ups",)
        ),
        Lift("dip", 92, 2.5, "chest", ("triceps",), carried=1.0),
        Lift("push-up", 63, 2.5, "chest", ("triceps",), ((start, 0.22),), carried=0.64),
        Lift("back squat", 84, 2.5, "quads", ("hips",)),
        Lift("romanian deadlift", 88, 2.5, "hips"),
        Lift("overhead press", 44, 1.25, "shoulders", ("triceps",)),
        Lift("dumbbell row", 34, 2, "back", ("biceps",)),
        Lift("lateral raise", 10, 1, "side"),
        Lift("dumbbell curl", 15, 1, "biceps"),
        Lift("leg curl", 44, 2.5, "hams"),
        Lift("pier lunge", 60, 2.5, "quads"),
    )  # fmt: skip

    def plan(day: date) -> tuple[Slot, ...]:
        pulls = "pull-up" if day >= alone else "assisted pull-up"
        return {
            1: (
                Slot("back squat", 4, 5, 8, 1, 2), Slot("dip", 4, 6, 10, 1),
                Slot(pulls, 4, 5, 9, 1), Slot("lateral raise", 3, 11, 16, 1),
            ),
            3: (
                Slot("overhead press", 4, 5, 8, 1, 1), Slot("dumbbell row", 4, 8, 12, 2),
                Slot("romanian deadlift", 4, 7, 10, 2, 1), Slot("dumbbell curl", 3, 9, 13, 1),
            ),
            5: (
                Slot("back squat", 3, 8, 11, 1, 1), Slot(pulls, 4, 5, 9, 1),
                Slot("push-up", 3, 10, 30, 1), Slot("lateral raise", 3, 11, 16, 1),
                Slot("leg curl", 3, 10, 14, 1),
                *((Slot("pier lunge", 1, 8, 12, 3),) if day.day <= 7 else ()),
            ),
        }.get(day.weekday(), ())  # fmt: skip

    return Lifter(
        "wren", lifts, plan, start, date(2026, 8, 29), usual,
        notes_reserve=0.0, misses=0.07, bodyweight=wren_weight,
        remarks=("windy outside", "rings, not bars", "late, half asleep"),
    )  # fmt: skip


# Sunniva: three full-body days, everything moves


def sunniva() -> Lifter:
    start, to_failure, short_of_it = date(2025, 9, 1), date(2026, 1, 5), date(2026, 5, 4)
    usual: Rates = ((start, 0.48), (to_failure, 0.05), (short_of_it, 0.48))
    lifts = (
        Lift("back squat", 78, 2.5, "quads", ("hips",)),
        Lift("romanian deadlift", 82, 2.5, "hips"),
        Lift("leg curl", 41, 1.25, "hams"),
        Lift("bench press", 46, 1.25, "chest", ("triceps",)),
        Lift("seated cable row", 54, 1.25, "back", ("biceps",)),
        Lift("lat pulldown", 52, 1.25, "back", ("biceps",)),
        Lift("lateral raise", 9.5, 1, "side"),
        Lift("barbell curl", 27, 1.25, "biceps"),
        Lift("triceps pushdown", 28, 1.25, "triceps"),
    )  # fmt: skip
    first = (Slot("back squat", 3, 5, 8, 2, 1), Slot("bench press", 3, 6, 9, 2))
    last = (
        Slot("lateral raise", 3, 10, 15, 1), Slot("barbell curl", 2, 8, 12, 1),
        Slot("triceps pushdown", 2, 9, 12, 1),
    )  # fmt: skip
    pull, hinge = Slot("lat pulldown", 3, 8, 11, 2), Slot("romanian deadlift", 3, 7, 10, 2)
    row, curl = Slot("seated cable row", 3, 8, 11, 2), Slot("leg curl", 3, 9, 12, 1)
    day_a, day_b = (*first, pull, hinge, *last), (*first, row, curl, *last)

    def plan(day: date) -> tuple[Slot, ...]:
        if day.weekday() not in (0, 2, 4):
            return ()
        number = (day - start).days // 7 * 3 + day.weekday() // 2
        slots = day_b if number % 2 else day_a
        if to_failure <= day < short_of_it:
            return tuple(replace(slot, reserve=0) for slot in slots)
        return slots

    return Lifter(
        "sunniva", lifts, plan, start, date(2026, 8, 28), usual,
        notes_reserve=0.95, misses=0.03, bodyweight=lambda day: 67.0,
        day_spread=0.007, lift_spread=0.010,
        remarks=("good one", "windows open, cold bar"),
    )  # fmt: skip


# Petra: a cut, strength holds


def petra_weight(day: date) -> float:
    return 78.6 - 4.8 * max(0, (day - date(2026, 6, 15)).days) / 76


def petra() -> Lifter:
    start, cut = date(2025, 12, 1), date(2026, 6, 15)
    usual: Rates = ((start, 0.26), (cut, 0.0))
    lifts = (
        Lift("Kniebeuge", 88, 2.5, "quads", ("hips",)),
        Lift("Bankdrücken", 56, 2.5, "chest", ("triceps",)),
        Lift("Schulterdrücken", 36, 2.5, "shoulders", ("triceps",)),
        Lift("Latzug", 58, 2.5, "back", ("biceps",)),
        Lift("Langhantelrudern", 60, 2.5, "back", ("biceps",)),
        Lift("Hüftheben", 125, 5, "hips"),
        Lift("Beinpresse", 170, 5, "quads"),
        Lift("Beinbeuger", 46, 2.5, "hams"),
        Lift("Seitheben", 9, 1, "side"),
        Lift("Bizepscurl Kurzhantel", 13, 1, "biceps"),
        Lift("Trizepsdrücken", 32, 2.5, "triceps"),
        Lift("Rumänisches Kreuzheben", 92, 2.5, "hips"),
    )  # fmt: skip
    week = {
        0: (
            Slot("Kniebeuge", 4, 5, 8, 2), Slot("Hüftheben", 3, 7, 10, 2),
            Slot("Beinbeuger", 4, 9, 13, 1),
        ),
        1: (
            Slot("Bankdrücken", 4, 6, 9, 2), Slot("Langhantelrudern", 4, 7, 10, 2),
            Slot("Seitheben", 4, 11, 15, 1), Slot("Bizepscurl Kurzhantel", 3, 9, 12, 1),
        ),
        3: (
            Slot("Beinpresse", 4, 8, 12, 2), Slot("Rumänisches Kreuzheben", 4, 7, 10, 2),
            Slot("Beinbeuger", 3, 9, 13, 1),
        ),
        4: (
            Slot("Schulterdrücken", 4, 6, 9, 2), Slot("Latzug", 4, 8, 11, 2),
            Slot("Bankdrücken", 4, 6, 9, 2), Slot("Trizepsdrücken", 3, 9, 12, 1),
            Slot("Seitheben", 3, 11, 15, 1),
        ),
    }  # fmt: skip
    return Lifter(
        "petra", lifts, lambda day: week.get(day.weekday(), ()), start, date(2026, 8, 28), usual,
        notes_reserve=0.9, misses=0.05, bodyweight=petra_weight,
        remarks=("wenig gegessen", "Hitze, Pausen länger"),
    )  # fmt: skip


# Writing the exports, each in a shape of its own


@dataclass(frozen=True)
class Damage:
    """A line put into an export on purpose."""

    file: str
    on: date
    """Stands after the file's records of this day."""
    cells: tuple[str, ...]
    reason: str
    """The short name under which it has to be set aside."""


DUPLICATE = ("=",)
"""Damage that repeats the record before it."""

DAMAGES = (
    Damage(
        "exports/tidy-ines.csv", date(2024, 2, 29),
        ("2024-02-30", "Ines Duarte", "back squat", "1", "65", "6", "2", "work", ""),
        "not_a_date",
    ),
    Damage(
        "exports/tidy-ines.csv", date(2025, 1, 16),
        ("2025-01-16", "Ines Duarte", "overhead press", "9", "32.5", "eight", "2", "work", ""),
        "reps_not_whole",
    ),
    Damage(
        "exports/tidy-ines.csv", date(2026, 1, 8),
        ("2026-01-08", "Ines Duarte", "barbell row", "9", "50", "8", "2", "work", "", "see page 4"),
        "surplus_cells",
    ),
    Damage(
        "exports/tidy-kofi.csv", date(2026, 3, 11), DUPLICATE,
        "duplicate",
    ),
    Damage(
        "exports/heft-matthis.csv", date(2026, 1, 28),
        ("32.01.2026", "Kniebeuge", "3", "W", "110,0", "6", "2", ""),
        "not_a_date",
    ),
    Damage(
        "exports/heft-matthis.csv", date(2026, 5, 18),
        ("18.05.2026", "Bankdrücken", "9", "W", "85,0", "acht", "1", ""),
        "reps_not_whole",
    ),
    Damage(
        "exports/pounds-odalys.csv", date(2026, 2, 10),
        ("2026-02-10 18:22", "back squat", "", "-165", "6", "8", "set", ""),
        "load_negative",
    ),
    Damage(
        "exports/pounds-odalys.csv", date(2026, 7, 4),
        ("2062-07-04 18:05", "bench press", "", "135", "6", "8", "set", ""),
        "date_in_future",
    ),
    Damage(
        "exports/notebook.csv", date(2025, 11, 6),
        ("06/11/2025", "Wren T.", "overhead press", "30x5, 40xsix, 40x6", ""),
        "sets_unreadable",
    ),
    Damage(
        "exports/notebook.csv", date(2026, 5, 15),
        ("15/05/2026", "Sunniva Aas", "", "52.5x8@2, 52.5x8@2, 52.5x7@1", ""),
        "no_exercise",
    ),
    Damage(
        "exports/wide-petra.csv", date(2026, 4, 16),
        ("2026-04-16", "Beinpresse", "sechzig", "10", "2", *[""] * 12, ""),
        "load_not_a_number",
    ),
)  # fmt: skip

SLIP = ("matthis", date(2026, 7, 20), "Bankdrücken")
"""The first work set of that day is written down as 225 kg, far above the bar. It is loaded."""


Record = tuple[date, list[str]]
"""Day and cells of a row to be written."""


def number(value: float, places: int = 2) -> str:
    """A number without needless zeros."""
    return f"{value:.{places}f}".rstrip("0").rstrip(".")


def with_damage(file: str, records: list[Record]) -> list[list[str]]:
    """The cells of the records, in order of day, with the file's damaged lines among them."""
    cells = [record[1] for record in records]
    damages = [each for each in DAMAGES if each.file == file]
    for each in sorted(damages, key=lambda damage: damage.on, reverse=True):
        place = sum(day <= each.on for day, _ in records)
        cells.insert(place, cells[place - 1] if each.cells == DUPLICATE else list(each.cells))
    return cells


def as_csv(header: list[str], records: list[list[str]], delimiter: str = ",") -> str:
    text = io.StringIO()
    csv.writer(text, delimiter=delimiter, lineterminator="\n").writerows([header, *records])
    return text.getvalue()


def tidy(file: str, lifter: Lifter, spellings: tuple[str, ...]) -> bytes:
    """One row a set; UTF-8, commas, ISO days, repetitions in reserve."""
    chance = Chance(file)
    kinds = {"work": "work", "warmup": "warm-up", "drop": "drop"}
    records: list[Record] = []
    name, day = spellings[0], None
    for each in sets_of(lifter):
        if each.day != day:
            name, day = chance.pick(spellings), each.day
        blank = each.kind != "drop" and chance.happens(0.08)
        records.append((each.day, [
            each.day.isoformat(), name, each.exercise, str(each.number), number(each.load),
            str(each.reps), "" if each.reserve is None else str(each.reserve),
            "" if blank else kinds[each.kind], each.note,
        ]))  # fmt: skip
    header = ["day", "lifter", "lift", "nth", "kg", "reps", "in_reserve", "kind", "note"]
    return as_csv(header, with_damage(file, records)).encode()


def heft(file: str, lifter: Lifter) -> bytes:
    """One row a set; Windows-1252, semicolons, decimal commas, two lines before the header."""
    kinds = {"work": "W", "warmup": "A", "drop": "D"}
    records: list[Record] = []
    slipped = False
    for each in sets_of(lifter):
        load = each.load
        if (each.who, each.day, each.exercise) == SLIP and each.kind == "work" and not slipped:
            load, slipped = 225.0, True
        records.append((each.day, [
            each.day.strftime("%d.%m.%Y"), each.exercise, str(each.number), kinds[each.kind],
            f"{load:.1f}".replace(".", ","), str(each.reps),
            "" if each.reserve is None else str(each.reserve), each.note,
        ]))  # fmt: skip
    header = ["Datum", "Übung", "Satz", "Art", "Gewicht", "Wiederholungen", "Reserve", "Bemerkung"]
    preamble = "Trainingsheft Matthis Röwe – Harbour Lane Barbell Room\nAusgabe vom 30.08.2026\n"
    text = preamble + as_csv(header, with_damage(file, records), ";")
    return text.replace("\n", "\r\n").encode("cp1252")


def pounds(file: str, lifter: Lifter) -> bytes:
    """One row a set or side; pounds, clock times, effort as RPE in half steps."""
    chance = Chance(file)
    records: list[Record] = []
    for each in sets_of(lifter):
        clock = f"{each.day.isoformat()} {each.minute // 60:02}:{each.minute % 60:02}"
        half = 0.5 if each.reserve and chance.happens(0.3) else 0.0
        rpe = "" if each.reserve is None else number(10 - each.reserve + half)
        kind = "ramp" if each.kind == "warmup" else "set"
        records.append((each.day, [
            clock, each.exercise, each.side, number(each.load), str(each.reps), rpe, kind, each.note
        ]))  # fmt: skip
    header = ["when", "movement", "leg", "pounds", "count", "effort", "type", "remark"]
    return as_csv(header, with_damage(file, records)).encode()


def grouped(sets: list[Set]) -> list[list[Set]]:
    """Sets of one exercise that follow each other, day by day."""
    groups: list[list[Set]] = []
    for each in sets:
        last = groups[-1][-1] if groups else None
        if last and (last.day, last.exercise) == (each.day, each.exercise):
            groups[-1].append(each)
        else:
            groups.append([each])
    return groups


def set_cell(each: Set, carried: float) -> str:
    """A set as people write it in a notebook: 80x8@2, bw x 12, +20x5, -15x8."""
    effort = "" if each.reserve is None else f"@{each.reserve}"
    if not carried:
        return f"{number(each.load)}x{each.reps}{effort}"
    if each.load == 0:
        return f"bw x {each.reps}{effort}"
    return f"{each.load:+g}x{each.reps}{effort}"


def notebook(file: str, lifters: Mapping[Lifter, tuple[str, ...]]) -> bytes:
    """One row an exercise with its sets in a cell; two people in one book, day first."""
    chance = Chance(file)
    rows: list[tuple[date, str, list[str]]] = []
    for lifter, spellings in lifters.items():
        carried = {s: lift.carried for lift in lifter.lifts for s in (lift.name, *lift.spellings)}
        for group in grouped(sets_of(lifter)):
            first = group[0]
            listed = ", ".join(set_cell(each, carried[each.exercise]) for each in group)
            note = next((each.note for each in group if each.note), "")
            name = spellings[0] if chance.happens(0.7) else chance.pick(spellings)
            shown = first.day.strftime("%d/%m/%Y")
            rows.append((first.day, first.who, [shown, name, first.exercise, listed, note]))
    rows.sort(key=lambda row: row[:2])
    records = [(day, cells) for day, _, cells in rows]
    header = ["date", "who", "exercise", "sets", "remark"]
    return as_csv(header, with_damage(file, records)).encode()


def wide(file: str, lifter: Lifter) -> bytes:
    """One row an exercise with numbered columns for up to five sets."""
    records: list[Record] = []
    for group in grouped(sets_of(lifter)):
        cells = []
        for each in group:
            reserve = "" if each.reserve is None else str(each.reserve)
            cells += [number(each.load), str(each.reps), reserve]
        note = next((each.note for each in group if each.note), "")
        cells += [""] * (15 - len(cells))
        day = group[0].day
        records.append((day, [day.isoformat(), group[0].exercise, *cells, note]))
    numbered = [f"{name}{place}" for place in range(1, 6) for name in ("kg", "wdh", "res")]
    header = ["tag", "uebung", *numbered, "notiz"]
    return as_csv(header, with_damage(file, records)).encode()


def weigh_ins() -> bytes:
    """Bodyweights: Wren about every two weeks, Petra weekly, rounded as the scale shows them."""
    chance = Chance("bodyweight")
    rows = []
    for who, curve, first, every in (
        ("wren", wren_weight, date(2025, 4, 1), 14),
        ("petra", petra_weight, date(2025, 12, 1), 7),
    ):
        day = first
        while day <= LAST_DAY:
            if not chance.happens(0.08):
                rows.append((day, who, f"{curve(day) + chance.normal(0.35):.1f}"))
            day += timedelta(days=every)
    records = [[who, day.isoformat(), weight] for day, who, weight in sorted(rows)]
    return as_csv(["client", "day", "bodyweight_kg"], records).encode()


def generate() -> dict[str, bytes]:
    """Every generated file, by its path beside this one."""
    both = {
        wren(): ("Wren T.", "wren", "W. Talbot"),
        sunniva(): ("Sunniva Aas", "Sunniva", "S. Aas"),
    }
    return {
        "exports/tidy-ines.csv": tidy(
            "exports/tidy-ines.csv", ines(), ("Ines Duarte", "Ines Duarte", "Ines D.")
        ),
        "exports/tidy-kofi.csv": tidy("exports/tidy-kofi.csv", kofi(), ("Kofi Asante",)),
        "exports/heft-matthis.csv": heft("exports/heft-matthis.csv", matthis()),
        "exports/pounds-odalys.csv": pounds("exports/pounds-odalys.csv", odalys()),
        "exports/notebook.csv": notebook("exports/notebook.csv", both),
        "exports/wide-petra.csv": wide("exports/wide-petra.csv", petra()),
        "bodyweight.csv": weigh_ins(),
    }


def main(arguments: list[str]) -> int:
    """Write the files, or with --check say which of them differ."""
    files = generate()
    if arguments == ["--check"]:
        differ = [name for name, data in files.items() if (HERE / name).read_bytes() != data]
        sys.stderr.writelines(f"{name}: differs from a fresh generation\n" for name in differ)
        return 1 if differ else 0
    for name, data in files.items():
        path = HERE / name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(data)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
