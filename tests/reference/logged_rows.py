"""What a lifter of some habits writes down in a session, row by row."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time
from random import Random
from typing import Any

from pipeline.units import to_kg

Row = dict[str, Any]

SPLITS: tuple[tuple[tuple[str, ...], ...], ...] = (
    (("bench press", "barbell row", "back squat", "barbell curl"),),
    (
        ("bench press", "incline dumbbell press", "overhead press", "lateral raise", "dip"),
        ("deadlift", "pull-up", "barbell row", "face pull", "barbell curl"),
        ("back squat", "romanian deadlift", "leg extension", "leg curl", "bodyweight calf raise"),
    ),
    (
        ("incline barbell press", "overhead press", "dumbbell lateral raise", "front raise"),
        ("lat pulldown", "assisted pull-up", "rear delt fly", "hammer curl"),
        ("bulgarian split squat", "leg press", "hip thrust", "hanging leg raise"),
        (
            "bench press",
            "machine chest press",
            "triceps pushdown",
            "lying triceps extension",
            "chin-up",
        ),
    ),
    (("push-up", "pull-up", "bodyweight squat", "plank"), ("dip", "inverted row", "nordic curl")),
    (("bench press",),),
    (
        ("back squat", "bench press", "barbell row"),
        ("deadlift", "overhead press", "chin-up"),
    ),
)
"""Exercises of each day of a rotation. Some names are aliases or, in odd logs, unknown."""

UNKNOWN = ("rope thing", "Ulm swing", "coach's special")


BODYWEIGHT = (
    "push-up",
    "pull-up",
    "chin-up",
    "dip",
    "bodyweight squat",
    "inverted row",
    "nordic curl",
    "bodyweight calf raise",
)


@dataclass(frozen=True)
class Habit:
    """How one invented lifter trains and keeps the log."""

    seed: int
    days: int = 60
    """Days from the first to the last day of the plan."""
    end: int = 0
    """Last day of the plan, from the as-of day; above 0 some sets lie after it."""
    split: int = 0
    schedule: str = "weekdays"
    effort: str = "some"
    sets: int = 3
    """Usual work sets of an exercise."""
    odd: float = 0.1
    """How often something out of the ordinary stands in the log, 0 to 1."""
    gap: int = 0
    """A layoff of this many days somewhere in the middle."""
    deloads: bool = False
    jump: float = 1.0
    """Ratio of all loads from the middle on: another machine, another unit."""
    phases: tuple[tuple[str, int, int | None], ...] = ()
    """Kind, days before the as-of day at which it starts, its length; None: without an end."""
    bodyweight: str = "none"
    """none, always, dated, sparse or both: weighed rarely, with a usual weight beside."""
    guides: tuple[tuple[str, float, float], ...] = ()
    """Muscle, low and high end a week; a low end of 6: a guide for sessions only."""
    bring_up: tuple[str, ...] = ()
    hold_back: tuple[str, ...] = ()
    is_listed: bool = True
    """Whether setledger.toml knows the client."""
    is_reversed: bool = False
    """Whether the last set of a day stands first in the file."""
    in_pounds: bool = False


def session_rows(
    chance: Random, habit: Habit, on: date, place: int, offset: int, best: dict[str, float]
) -> list[Row]:
    """The rows of one session in the order in which they were done."""
    days = SPLITS[habit.split % len(SPLITS)]
    names = list(days[place % len(days)])
    if chance.random() < habit.odd:
        chance.shuffle(names)
        names = names[: chance.randint(1, len(names))]
    if chance.random() < habit.odd / 3:
        names.append(chance.choice(UNKNOWN))
    if chance.random() < habit.odd / 3:
        names.append(names[0])
    is_deload = habit.deloads and offset % 35 >= 28
    clock = datetime.combine(on, time(chance.choice((0, 6, 12, 18, 23)), chance.randint(0, 59)))
    rows: list[Row] = []
    for name in names:
        level = best.get(name, 30.0) * (1 + 0.0004 * offset) * (0.8 if is_deload else 1.0)
        if offset > habit.days / 2:
            level *= habit.jump
        rows += Exercise(chance, habit, name, level).rows()
    for row in rows:
        row |= {"performed_on": on, "started_at": clock if habit.seed % 2 else None}
        if habit.in_pounds and row["load_kg"] is not None:
            row["load_kg"] = to_kg(row["load_kg"], "lb")
            row["load_unit"] = "lb"
        if chance.random() < habit.odd / 40:
            row["replaced_by"] = 2
    return rows


class Exercise:
    """One exercise of one session."""

    def __init__(self, chance: Random, habit: Habit, name: str, level: float) -> None:
        self.chance, self.habit, self.name = chance, habit, name
        self.reps = chance.choice((1, 2, 3, 5, 6, 8, 8, 10, 12, 12, 15, 20, 25, 32))
        rounded = round(level / (1 + (self.reps + 2) / 30) / 2.5) * 2.5
        self.load: float | None = max(2.5, rounded)
        self.load_basis: str | None = None
        self.made: list[Row] = []
        self._choose_load()

    def seldom(self, share: float) -> bool:
        """Whether something out of the ordinary happens."""
        return self.chance.random() < self.habit.odd * share

    def _choose_load(self) -> None:
        choice = self.chance.choice
        if self.name in BODYWEIGHT:
            self.load = choice((None, None, 0.0, 0.0, 5.0, 10.0, 10.0, 20.0))
            if self.seldom(0.5):
                self.load_basis = choice(("added", "added", "none", "total"))
        elif self.name in ("plank", "hanging leg raise"):
            self.load = 5.0 if self.seldom(0.25) else None
        elif self.name.startswith("assisted"):
            self.load = choice((10.0, 20.0, 35.0, None if self.seldom(0.5) else 20.0))
        elif self.seldom(0.25):
            self.load_basis = choice(("per_hand", "total", "none", "added"))
        elif self.seldom(0.25):
            self.load = None

    def rows(self) -> list[Row]:
        """Warm-ups, work sets and what went on after them."""
        self._warm_up()
        sets = max(1, self.habit.sets + self.chance.randint(-1, 1))
        if self.seldom(0.5):
            self._add_sided_sets(sets)
        else:
            for _ in range(sets):
                self._add_set(self._slipped(), self.reps - self.chance.choice((0, 0, 0, 1, 2)))
                self._go_on()
        if self.seldom(0.05):
            self.made.insert(0, {**self.made[0], "set_kind": "extension"})
        if self.seldom(0.05):
            for row in self.made:
                row["set_kind"] = "warmup"
        return self.made

    def _add(self, load: float | None, reps: int, **other: Any) -> None:
        row = {"exercise": self.name, "load_kg": load, "reps": max(1, min(reps, 100))}
        self.made.append(row | {"load_basis": self.load_basis} | other)

    def _warm_up(self) -> None:
        for share in (0.4, 0.6, 0.8)[: self.chance.randint(0, 3)]:
            kind = "warmup" if self.chance.random() < 0.6 else "work"
            load = None if self.load is None else round(self.load * share / 2.5) * 2.5
            self._add(load, self.chance.randint(3, 10), set_kind=kind)

    def _slipped(self) -> float | None:
        """The load, now and then with a slip of the pen."""
        if self.load and self.seldom(0.25):
            wrong = self.chance.choice((2.2046, 0.4536, 2.0, 0.5, 10.0, 0.9, 1.05, 1.5))
            return round(self.load * wrong, 2)
        return self.load

    def _add_set(self, load: float | None, reps: int, **other: Any) -> None:
        self._add(load, reps, **effort(self.chance, self.habit.effort), **other)
        if self.seldom(0.3):
            self.made[-1]["partial_reps"] = self.chance.choice((0, 2, 5))

    def _go_on(self) -> None:
        if self.seldom(0.5):
            for _ in range(self.chance.randint(1, 2)):
                load = None if self.load is None else round(self.load * 0.8, 1)
                noted = effort(self.chance, self.habit.effort)
                self._add(load, self.chance.randint(2, 8), set_kind="extension", **noted)

    def _add_sided_sets(self, sets: int) -> None:
        """Sides by turns, one after the other, with the number of the set, the row or none."""
        order = self.chance.choice(("by turns", "by turns", "one side first", "one side only"))
        numbering = self.chance.choice(("sets", "sets", "rows", "none", "some"))
        first, second = self.chance.choice((("left", "right"), ("right", "left")))
        both = [(first, n) for n in range(1, sets + 1)], [(second, n) for n in range(1, sets + 1)]
        if order == "one side first":
            sides = [*both[0], *both[1]]
        elif order == "by turns":
            sides = [each for pair in zip(*both, strict=True) for each in pair]
        else:
            sides = both[0]
        if len(sides) > 1 and self.seldom(0.5):
            sides.pop(self.chance.randrange(len(sides)))
        for place, (side, number) in enumerate(sides, 1):
            set_no = {"sets": number, "rows": place}.get(numbering)
            if numbering == "some" and self.chance.random() < 0.5:
                set_no = number
            reps = self.reps - self.chance.choice((0, 0, 1))
            self._add_set(self._slipped(), reps, side=side, set_no=set_no)
            self._go_on()


def effort(chance: Random, how: str) -> Row:
    """What is noted of the effort of one set."""
    rir = chance.choice((0.0, 0.0, 0.5, 1.0, 1.0, 1.5, 2.0, 2.0, 2.3, 3.0, 3.5, 4.0, 4.5, 5.0, 8.0))
    if how == "some":
        how = chance.choice(("none", "none", "rir", "rpe", "failure"))
    if how == "rir":
        return {"rir": rir}
    if how == "rpe":
        return {"rpe": max(round(10 - rir, 1), 1.0)}
    if how == "failure":
        return {"to_failure": chance.choice((None, False, True))}
    if how == "contradictory":
        return {
            "rir": chance.choice((None, rir)),
            "rpe": chance.choice((None, 7.5, 9.0, 10.0)),
            "to_failure": chance.choice((None, False, True)),
        }
    return {}
