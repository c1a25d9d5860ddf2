"""Invented histories of lifts: months and years, with what makes a trend hard to read.

Layoffs, changes of machine, deloads, blocks of other repetitions, mistyped loads, effort that is
not noted, loads in steps that tie. Many lifters go into one build.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from random import Random
from typing import Any

from hypothesis import strategies as st

from pipeline.settings.workspace import Client, Phase, Target
from tests.reference.logs import AS_OF_DAYS, Lifter, Room

LIFTS = ("bench press", "back squat", "pull-up", "lateral raise", "barbell row")
REPS: dict[str, tuple[tuple[int, ...], ...]] = {
    "same": ((8,),),
    "by turns": ((5,), (10,)),
    "blocks": ((3,), (8,), (15,)),
    "pyramid": ((12, 10, 8),),
    "singles": ((1, 5),),
    "very many": ((25,),),
    "any": ((2, 4, 6, 9, 11, 14, 18),),
}


@dataclass(frozen=True)
class Course:
    """How a lifter's lifts went over a long time."""

    seed: int
    weeks: int = 40
    per_week: int = 2
    lifts: int = 1
    rate: float = 0.25
    """Gain [%/week], until the flat end."""
    flat_weeks: int = 0
    noise: float = 2.0
    """Of a session [%]."""
    reps: str = "same"
    effort: str = "rir"
    """rir, none, some, easy (5 in reserve)."""
    step: float = 2.5
    """Loads come in steps of this [kg]; large steps make ties."""
    layoffs: tuple[tuple[int, int], ...] = ()
    """Weeks before the end at which they begin, days."""
    jumps: tuple[tuple[int, float], ...] = ()
    """Weeks before the end at which another machine comes, ratio of loads."""
    deload_every: int = 0
    """Weeks; every such week is light."""
    typos: float = 0.0
    end: int = 0
    """Last possible day, from the as-of day."""
    phases: tuple[tuple[str, int, int | None], ...] = ()
    """Kind, days before the as-of day, length."""
    bodyweight: str = "none"
    """none, always, dated."""
    targets: tuple[tuple[float, int], ...] = ()
    is_listed: bool = True
    """Whether the workspace lists the client."""


def history(client_id: str, course: Course, as_of: date) -> Lifter:
    """The log of that course; the same for the same seed."""
    chance = Random(course.seed)
    last = as_of + timedelta(days=course.end)
    names = LIFTS[: course.lifts]
    made = Lifter(course, _client(client_id, course, as_of, names))
    if course.bodyweight == "always":
        made.weigh_ins = [(80.0, None)]
    if course.bodyweight == "dated":
        made.weigh_ins = [
            (round(chance.uniform(76, 82), 1), last - timedelta(days=each))
            for each in range(3, 7 * course.weeks, 45)
        ]
    start = {name: chance.choice((30.0, 60.0, 97.5)) for name in names}
    for offset in _days(course, chance):
        on = last - timedelta(days=offset)
        for name in names:
            if len(names) == 1 or chance.random() < 0.9:
                made.rows += _session(course, chance, name, start[name], on, offset)
    return made


def _client(client_id: str, course: Course, as_of: date, names: tuple[str, ...]) -> Client:
    return Client(
        id=client_id,
        name=client_id.title(),
        targets=tuple(Target(name, load, reps) for name in names for load, reps in course.targets),
        phases=tuple(
            Phase(
                kind,
                as_of - timedelta(days=before),
                None if length is None else as_of - timedelta(days=before - length),
            )
            for kind, before, length in course.phases
        ),
    )


def _days(course: Course, chance: Random) -> list[int]:
    """Days of sessions as offsets back from the last possible day, earliest first."""
    found = set()
    for week in range(course.weeks):
        for each in range(course.per_week):
            found.add(7 * week + each * 7 // course.per_week + chance.choice((0, 0, 1)))
    for begins, length in course.layoffs:
        found -= set(range(7 * begins - length + 1, 7 * begins + 1))
    return sorted(found, reverse=True)


def _session(
    course: Course, chance: Random, name: str, start: float, on: date, offset: int
) -> list[dict[str, Any]]:
    ago = offset / 7
    gained = course.rate * (course.weeks - max(ago, course.flat_weeks))
    level = start * (1 + gained / 100) * (1 + course.noise * chance.gauss(0, 1) / 100)
    for begins, ratio in course.jumps:
        level *= ratio if ago < begins else 1.0
    is_deload = course.deload_every and int(ago) % course.deload_every == course.deload_every - 1
    ranges = REPS[course.reps]
    turn = int(ago / 6) if course.reps == "blocks" else offset
    reps_of_day = ranges[turn % len(ranges)]
    rows = []
    for number in range(3):
        reps = (
            chance.choice(reps_of_day)
            if course.reps == "any"
            else reps_of_day[number % len(reps_of_day)]
        )
        rir = 5.0 if course.effort == "easy" else chance.choice((0.0, 1.0, 1.5, 2.0, 3.0))
        allowed = level / (1 + (reps + rir) / 30) * (0.85 if is_deload else 1.0)
        load = max(course.step, round(allowed / course.step) * course.step)
        if chance.random() < course.typos:
            load *= chance.choice((10.0, 2.0, 2.2046, 0.45))
        row: dict[str, Any] = {"performed_on": on, "exercise": name, "load_kg": load, "reps": reps}
        if course.effort in ("rir", "easy") or (course.effort == "some" and chance.random() < 0.5):
            row["rir"] = 6.0 if is_deload else rir
        rows.append(row)
    if chance.random() < 0.1:
        rows.insert(0, {**rows[0], "set_kind": "warmup", "load_kg": rows[0]["load_kg"] / 2})
    return rows


@st.composite
def courses(draw: st.DrawFn) -> Course:
    """Any course of months to years."""
    few = st.sampled_from((1, 2, 4, 6, 8, 12, 16, 25, 33))
    return Course(
        seed=draw(st.integers(0, 2**32)),
        weeks=draw(st.sampled_from((3, 6, 12, 20, 30, 40, 52, 70))),
        per_week=draw(st.sampled_from((1, 2, 2, 3))),
        lifts=draw(st.sampled_from((1, 1, 2, 3, 5))),
        rate=draw(st.sampled_from((-0.6, 0.0, 0.1, 0.25, 0.5, 1.0))),
        flat_weeks=draw(st.sampled_from((0, 0, 6, 8, 12, 20))),
        noise=draw(st.sampled_from((0.0, 0.5, 2.0, 4.0))),
        reps=draw(st.sampled_from(tuple(REPS))),
        effort=draw(st.sampled_from(("rir", "rir", "none", "some", "easy"))),
        step=draw(st.sampled_from((0.01, 2.5, 10.0))),
        layoffs=tuple(
            draw(st.lists(st.tuples(few, st.sampled_from((13, 14, 20, 21, 22, 40))), max_size=2))
        ),
        jumps=tuple(
            draw(
                st.lists(
                    st.tuples(few, st.sampled_from((0.6, 0.8, 0.86, 1.14, 1.16, 1.3, 2.2))),
                    max_size=2,
                )
            )
        ),
        deload_every=draw(st.sampled_from((0, 0, 4, 6))),
        typos=draw(st.sampled_from((0.0, 0.0, 0.01, 0.05))),
        end=draw(st.sampled_from((0, 0, 0, -5, -20, -21, -22, -60, 3))),
        phases=tuple(
            draw(
                st.lists(
                    st.tuples(
                        st.sampled_from(("cut", "gain", "deload", "pause", "care")),
                        st.integers(-2, 120),
                        st.none() | st.integers(0, 60),
                    ),
                    max_size=1,
                )
            )
        ),
        bodyweight=draw(st.sampled_from(("none", "always", "dated"))),
        targets=tuple(
            draw(
                st.lists(
                    st.tuples(
                        st.sampled_from((20.0, 50.0, 60.0, 65.0, 100.0, 120.0)),
                        st.sampled_from((1, 5, 8, 12, 25)),
                    ),
                    max_size=2,
                    unique=True,
                )
            )
        ),
    )


@st.composite
def long_rooms(draw: st.DrawFn, *, lifters: int = 24) -> Room:
    """A room of lifters with long histories."""
    as_of = draw(st.sampled_from(AS_OF_DAYS))
    drawn = draw(st.lists(courses(), min_size=lifters, max_size=lifters))
    return Room(
        as_of, tuple(history(f"lifter-{n:02}", each, as_of) for n, each in enumerate(drawn, 1))
    )
