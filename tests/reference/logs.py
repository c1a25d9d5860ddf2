"""Invented logs that hold what real ones hold: the input on which SQL and reference must agree.

Hypothesis draws *habits* (how somebody trains and keeps the log); a seed in each habit fills in the
cells. Many lifters go into one build, because a build costs about as much for thirty as for one.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from random import Random
from typing import Any

from hypothesis import HealthCheck, settings
from hypothesis import Phase as Step
from hypothesis import strategies as st

from pipeline.settings.workspace import Client, Guide, Phase, Target
from tests.conftest import Log
from tests.reference.logged_rows import SPLITS, Habit, session_rows

QUIET = settings(
    max_examples=2,
    derandomize=True,
    database=None,
    deadline=None,
    suppress_health_check=list(HealthCheck),
    # a room is looked at lifter by lifter: making the seeds smaller would tell nothing
    phases=(Step.explicit, Step.generate),
)
"""The default run: the same few rooms every time."""
LONG = settings(QUIET, max_examples=6)
"""The slow run: 144 logs a test; 25 examples make 600, in some minutes."""

AS_OF_DAYS = (
    date(2026, 6, 14),
    date(2024, 2, 29),
    date(2025, 3, 1),
    date(2026, 1, 1),
    date(2024, 12, 31),
    date(2027, 1, 3),
    date(2026, 10, 26),
)
"""Plain days, leap day and the day after February, ends of years, the end of summer time."""

SPANS = (1, 2, 13, 27, 28, 29, 57, 57, 90, 90, 120, 120, 200, 200, 400)
"""Lengths of a history in days, on both sides of every window of the review."""
EFFORTS = ("none", "rir", "rpe", "failure", "some", "some", "contradictory")
SCHEDULES = ("weekdays", "every few days", "on and off", "by chance", "twice a day", "daily")


@dataclass
class Lifter:
    """A client and the log: rows for `Log.set`, weigh-ins for `Log.bodyweight`."""

    habit: Habit
    client: Client = field(repr=False)
    rows: list[dict[str, Any]] = field(default_factory=list, repr=False)
    weigh_ins: list[tuple[float, date | None]] = field(default_factory=list, repr=False)


@dataclass(frozen=True)
class Room:
    """Everybody who goes into one build, and its as-of day."""

    as_of: date
    lifters: tuple[Lifter, ...]
    exported_on: date | None = None
    """Last day of the one export that holds everybody; None: each log ends with its last set."""

    def _repr_pretty_(self, printer: Any, _cycle: bool) -> None:
        """How Hypothesis shows the room of a failure: its seeds instead of all rows."""
        printer.text(f"room({self.as_of}, {[each.habit.seed for each in self.lifters]})")

    @property
    def clients(self) -> tuple[Client, ...]:
        """The configured clients."""
        return tuple(lifter.client for lifter in self.lifters if lifter.habit.is_listed)

    def only(self, client_id: str) -> Room:
        """The same room with one lifter, to look at a difference."""
        kept = tuple(each for each in self.lifters if each.client.id == client_id)
        return replace(self, lifters=kept)


def built(room: Room, new_log: Callable[[], Log], **rules: Any) -> Log:
    """The models over everybody's rows."""
    log = new_log()
    for lifter in room.lifters:
        for row in lifter.rows:
            log.set(client_id=lifter.client.id, **row)
        for kg, on in lifter.weigh_ins:
            log.bodyweight(kg, on, lifter.client.id)
    if room.exported_on is not None:
        log.exported(room.exported_on)
    return log.build(room.as_of, clients=room.clients, **rules)


def lifter(client_id: str, habit: Habit, as_of: date) -> Lifter:
    """The log that somebody with that habit has kept; the same for the same seed."""
    chance = Random(habit.seed)
    last = as_of + timedelta(days=habit.end)
    made = Lifter(habit, _client(client_id, habit, as_of))
    made.weigh_ins = _weigh_ins(chance, habit, last)
    start = last - timedelta(days=max(habit.days - 1, 0))
    best = {name: chance.choice((20.0, 40.0, 60.0, 92.5, 140.0)) for name in sum(SPLITS, ())}
    for place, offset in enumerate(_training_days(chance, habit)):
        on = start + timedelta(days=offset)
        for session in range(2 if habit.schedule == "twice a day" and chance.random() < 0.5 else 1):
            rows = session_rows(chance, habit, on, place + session, offset, best)
            made.rows += rows
    for order, row in enumerate(made.rows, 1):
        row["day_order"] = order
    if habit.is_reversed:
        made.rows.reverse()
    return made


def _client(client_id: str, habit: Habit, as_of: date) -> Client:
    phases = tuple(
        Phase(
            kind,
            as_of - timedelta(days=before),
            None if length is None else as_of - timedelta(days=before - length),
        )
        for kind, before, length in habit.phases
    )
    if not habit.is_listed:
        return Client(id=client_id, name=client_id)
    return Client(
        id=client_id,
        name=client_id.title(),
        bodyweight_kg=72.5 if habit.bodyweight == "always" else None,
        bring_up=habit.bring_up,
        hold_back=habit.hold_back,
        targets=(Target("bench press", 100.0, 5), Target("back squat", 120.0, 8)),
        phases=phases,
        guide=tuple(
            Guide(
                muscle,
                week=(low, high) if low != 6 else None,
                session=(3.0, 6.0) if high != 10 else None,
            )
            for muscle, low, high in habit.guides
        ),
    )


def _weigh_ins(chance: Random, habit: Habit, last: date) -> list[tuple[float, date | None]]:
    if habit.bodyweight == "none":
        return []
    if habit.bodyweight == "always":
        return [(72.5, None)]
    every = 9 if habit.bodyweight == "dated" else 130
    dates = [*range(chance.randint(-15, every), habit.days + 30, every)]
    # two on one day
    dates += dates[:1] if habit.odd else []
    found: list[tuple[float, date | None]] = [
        (round(chance.uniform(68, 76), 1), last - timedelta(days=each)) for each in dates
    ]
    return [*found, (71.5, None)] if habit.bodyweight == "both" else found


def _training_days(chance: Random, habit: Habit) -> list[int]:
    days = range(habit.days)
    if habit.schedule == "weekdays":
        fixed = set(chance.sample(range(7), chance.randint(2, 5)))
        chosen = [each for each in days if each % 7 in fixed]
    elif habit.schedule == "every few days":
        step = chance.randint(2, 5)
        chosen = list(days[::step])
    elif habit.schedule == "on and off":
        on, off = chance.randint(1, 4), chance.randint(1, 3)
        chosen = [each for each in days if each % (on + off) < on]
    elif habit.schedule == "daily":
        chosen = list(days)
    else:
        share = chance.uniform(0.15, 0.7)
        chosen = [each for each in days if chance.random() < share]
    if habit.odd:
        chosen = [each for each in chosen if chance.random() > habit.odd / 4]
    if habit.gap:
        hole = chance.randint(0, max(habit.days - habit.gap, 0))
        chosen = [each for each in chosen if not hole <= each < hole + habit.gap]
    # the first day always holds a session, so that no log is empty by chance
    return sorted({0, *chosen})


MUSCLES = ("chest", "lats", "upper_back", "side_delts", "quads", "biceps", "front_delts", "calves")


def habit_of(seed: int, longest: int = 200) -> Habit:
    """Any way of training and of keeping a log; the same for the same seed."""
    chance = Random(seed)
    kinds = ("cut", "gain", "deload", "pause", "care")
    phases = tuple(
        (chance.choice(kinds), chance.randint(-3, 80), chance.choice((None, 0, 4, 7, 13, 27, 40)))
        for _ in range(chance.choice((0, 0, 0, 1, 2)))
    )
    guided = chance.sample(MUSCLES, chance.choice((0, 0, 1, 2)))
    return Habit(
        seed=seed,
        days=chance.choice([each for each in SPANS if each <= longest]),
        end=chance.choice((*[0] * 12, -1, -3, -6, -7, -8, -20, -40, -90, 1, 5, 30)),
        split=chance.randrange(len(SPLITS)),
        schedule=chance.choice(SCHEDULES),
        effort=chance.choice(EFFORTS),
        sets=chance.choice((1, 2, 3, 4, 5, 6, 8)),
        odd=chance.choice((0.0, 0.05, 0.1, 0.3, 0.6)),
        gap=chance.choice((0, 0, 0, 9, 14, 22, 60)),
        deloads=chance.random() < 0.5,
        jump=chance.choice((1.0, 1.0, 1.0, 0.8, 1.25, 2.2)),
        phases=phases,
        bodyweight=chance.choice(("none", "always", "dated", "sparse", "both")),
        guides=tuple(
            (muscle, chance.choice((4.0, 6.0, 10.0)), chance.choice((10.0, 14.0, 20.0)))
            for muscle in guided
        ),
        bring_up=tuple(chance.sample(MUSCLES[:4], chance.choice((0, 1)))),
        hold_back=tuple(chance.sample(MUSCLES[4:], chance.choice((0, 1)))),
        is_listed=chance.random() < 0.9,
        is_reversed=chance.random() < 0.15,
        in_pounds=chance.random() < 0.2,
    )


def room(as_of: date, habits: Iterable[Habit]) -> Room:
    """A lifter for each habit."""
    return Room(
        as_of, tuple(lifter(f"lifter-{n:02}", habit, as_of) for n, habit in enumerate(habits, 1))
    )


def exported(room: Room) -> Room:
    """The same room with everybody in one export, which reaches to anybody's last set."""
    days = [row["performed_on"] for lifter in room.lifters for row in lifter.rows]
    return replace(room, exported_on=max(days, default=None))


def rooms(*, lifters: int = 24, longest: int = 200) -> st.SearchStrategy[Room]:
    """Rooms of so many lifters with any habits, and an as-of day."""
    seeds = st.lists(st.integers(0, 2**32), min_size=lifters, max_size=lifters, unique=True)
    return st.builds(
        lambda as_of, drawn: room(as_of, (habit_of(seed, longest) for seed in drawn)),
        st.sampled_from(AS_OF_DAYS),
        seeds,
    )
