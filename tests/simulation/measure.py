"""Print how often what is said of lifts errs, and how much of what can be known it finds.

    python tests/simulation/measure.py             the half on which the constants were chosen
    python tests/simulation/measure.py --held-out  the other half: other seeds, rates and curves,
                                                   run once, when nothing was changed any more

Both print the tables of tests/README.md, in a few minutes on two cores.
"""

from __future__ import annotations

import argparse
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

from courses import Course, best_power
from looks import ALARMS, GOOD, Looks, looks_at

NOISES = (2.0, 3.5)
FLAT_WEEKS = (4, 6, 8, 12, 16)


@dataclass(frozen=True)
class Half:
    """One half of the scenarios: what it is drawn from."""

    seed: int
    rates: Sequence[float]
    alone: Sequence[Course]
    rooms: Sequence[Course]
    common: dict[str, Any]
    """Of each course of the first table."""


def _both(course: Course) -> Iterator[Course]:
    for noise in NOISES:
        yield replace(course, name=f"{course.name}, {noise:g} %", noise=noise)


def _all(*courses: Course) -> tuple[Course, ...]:
    return tuple(each for course in courses for each in _both(course))


TUNING = Half(
    seed=20_260_601,
    rates=(0.5, 0.25, 0.1),
    common={},
    alone=_all(
        Course("saturating +50 %, 16 weeks, at week 24", curve="saturating", rise=50, weeks=24),
        Course(
            "saturating +35 %, 20 weeks, at week 40",
            curve="saturating",
            rise=35,
            curve_weeks=20,
            weeks=40,
        ),
        Course("logarithmic, at week 40", curve="log", rise=12, curve_weeks=6, weeks=40),
        Course("wave of 1 % on 0.25", rate=0.25, wave=1.0),
        Course("step −5 % on 0.25", rate=0.25, step=-5),
        Course("step −14 % on 0.25", rate=0.25, step=-14),
        Course("flat from day one, week 20", weeks=20),
        Course("flat from day one, week 30", weeks=30),
        Course("falling 1 for 8 weeks after 0.25", rate=0.25, end_weeks=8, end_rate=-1.0),
        Course("0.25, effort not logged", rate=0.25, is_logged=False),
        Course("0.25, bad days", rate=0.25, bad_days=0.03),
        Course("0.25, correlation 0.3", rate=0.25, correlation=0.3),
        Course("0.5, flat 8, log of 28 weeks", rate=0.5, end_weeks=8, weeks=28),
        Course("0.25, double progression", rate=0.25, scheme="double"),
        Course("flat 12 after 0.25, double progression", rate=0.25, scheme="double", end_weeks=12),
        Course("0.25, top set and back-offs", rate=0.25, scheme="top"),
        Course("flat 12 after 0.25, top set and back-offs", rate=0.25, scheme="top", end_weeks=12),
    ),
    rooms=_all(
        Course("gaining 0.5", rate=0.5, lifts=10),
        Course("gaining 0.25", rate=0.25, lifts=10),
        Course("gaining 0.1", rate=0.1, lifts=10),
        Course("one of ten flat 16 after 0.25", rate=0.25, lifts=10, end_weeks=16, flat_lifts=1),
        Course("all flat 10 after 0.25", rate=0.25, lifts=10, end_weeks=10),
        Course("falling 1 for 6", rate=0.25, lifts=10, end_weeks=6, end_rate=-1.0),
        Course("falling 0.3 for 12", rate=0.25, lifts=10, end_weeks=12, end_rate=-0.3),
    ),
)
HELD_OUT = Half(
    seed=771_903,
    rates=(0.35, 0.15, 0.1),
    common={"shared": 0.45, "tails": 5},
    alone=_all(
        Course("hyperbolic +60 %, 24 weeks, at week 24", curve="hyperbolic", rise=60,
               curve_weeks=24, weeks=24),
        Course("hyperbolic +60 %, 24 weeks, at week 40", curve="hyperbolic", rise=60,
               curve_weeks=24, weeks=40),
        Course("saturating +40 %, 25 weeks, at week 40", curve="saturating", rise=40,
               curve_weeks=25, weeks=40),
        Course("logarithmic, at week 28", curve="log", rise=15, curve_weeks=10, weeks=28),
        Course("wave of 1.5 % on 0.25", rate=0.25, wave=1.5),
        Course("step −6 % on 0.3", rate=0.3, step=-6),
        Course("step −10 % on 0.3", rate=0.3, step=-10),
        Course("step −10 % on 0.3, 3 weeks ago", rate=0.3, step=-10, step_weeks=3),
        Course("flat from day one, week 24", weeks=24),
        Course("gains, 20 weeks flat, gains", rate=0.35, break_at=(30.0, 50.0)),
        Course("falling 0.7 for 8 weeks after 0.35", rate=0.35, end_weeks=8, end_rate=-0.7),
        Course("0.3, effort not logged", rate=0.3, is_logged=False),
        Course("0.3, bad days", rate=0.3, bad_days=0.05),
        Course("0.3, once a week", rate=0.3, per_week=1),
        Course("0.3, other repetitions 6 weeks ago", rate=0.3, new_reps=5),
        Course("0.35, flat 12, once a week", rate=0.35, end_weeks=12, per_week=1),
        Course("0.35, flat 8, log of 24 weeks", rate=0.35, end_weeks=8, weeks=24),
        Course("0.3, double progression, effort not logged", rate=0.3, scheme="double",
               is_logged=False),
        Course("flat 16 after 0.3, double progression", rate=0.3, scheme="double", end_weeks=16),
        Course("0.3, top set and back-offs, a light week in five", rate=0.3, scheme="top",
               light_weeks=5),
        Course("flat 16 after 0.3, top set and back-offs", rate=0.3, scheme="top", end_weeks=16),
    ),
    rooms=_all(
        Course("gaining 0.4", rate=0.4, lifts=10, tails=5, shared=0.45),
        Course("gaining 0.15", rate=0.15, lifts=10, tails=5, shared=0.45),
        Course("beginners, week 40", curve="saturating", rise=40, curve_weeks=25, weeks=40,
               lifts=10),
        Course("three of ten flat 14 after 0.3", rate=0.3, lifts=10, end_weeks=14, flat_lifts=3),
        Course("all flat 10 after 0.3", rate=0.3, lifts=10, end_weeks=10),
        Course("one of ten steps −8 %", rate=0.3, lifts=10, end_weeks=0.5, flat_lifts=1,
               end_rate=-16.0),
        Course("falling 0.7 for 7", rate=0.3, lifts=10, end_weeks=7, end_rate=-0.7),
    ),
)  # fmt: skip


def percent(share: float) -> str:
    """A share in whole per cent."""
    return f"{100 * share:.0f}"


def by_rate(half: Half, lifts: int) -> Iterator[str]:
    """Lifts that gain and lifts that stopped: found beside what the best test could find."""
    yield (
        "| earlier rate, noise | alarm at a look | in 26 weekly looks | in 7 monthly |"
        " common rule: at a look | " + " | ".join(f"flat {weeks}" for weeks in FLAT_WEEKS) + " |"
    )
    yield "| --- |" + " ---: |" * (4 + len(FLAT_WEEKS))
    for rate in half.rates:
        for noise in NOISES:
            gaining = Course("gaining", rate=rate, noise=noise, **half.common)
            flats = [
                replace(gaining, name=f"flat {weeks}", end_weeks=weeks) for weeks in FLAT_WEEKS
            ]
            looks = looks_at([gaining, *flats], lifts, half.seed)
            own = looks.of(gaining)
            cells = [percent(own.share(*ALARMS)), percent(own.ever()), percent(own.ever(4))]
            cells.append(percent(own.without_best()))
            for flat in flats:
                found = looks.of(flat)
                cells.append(
                    f"{percent(found.share('stalled'))}/{percent(found.share('regressing'))} of "
                    f"{percent(best_power(flat, is_known=False))}, {percent(found.without_best())}"
                )
            yield f"| {rate:g}, {noise:g} % | " + " | ".join(cells) + " |"


def _looks(courses: Iterable[Course], clients: int, seed: int) -> Iterator[tuple[Course, Looks]]:
    """Each course with its looks; courses of one length share a ledger."""
    groups: dict[int, list[Course]] = defaultdict(list)
    for course in courses:
        groups[course.weeks].append(course)
    for group in groups.values():
        looks = looks_at(group, clients, seed)
        for course in group:
            yield course, looks.of(course)


def alone(half: Half, lifts: int) -> Iterator[str]:
    """Curves, waves, steps and disturbances, each lift alone."""
    yield (
        "| lift alone, noise | stalled | regressing | progressing or slowing | unclear |"
        " common rule |"
    )
    yield "| --- |" + " ---: |" * 5
    for course, looks in _looks(half.alone, lifts, half.seed + 100):
        shares = [
            looks.share("stalled"),
            looks.share("regressing"),
            looks.share(*GOOD),
            looks.share("unclear"),
            looks.without_best(),
        ]
        yield f"| {course.name} | " + " | ".join(map(percent, shares)) + " |"


def rooms(half: Half, clients: int) -> Iterator[str]:
    """Clients with ten lifts: first changes by stalls, and who is asked about health."""
    yield (
        "| ten lifts, noise | stalled | regressing | lifts with an alarm in 26 looks |"
        " first changes by stalls a client-year | asked about health, % |"
    )
    yield "| --- |" + " ---: |" * 5
    for course, looks in _looks(half.rooms, clients, half.seed + 200):
        cells = [
            percent(looks.share("stalled")),
            percent(looks.share("regressing")),
            percent(looks.ever()),
            f"{looks.first_changes():.2f}",
            percent(looks.falls()),
        ]
        yield f"| {course.name} | " + " | ".join(cells) + " |"


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=main.__doc__)
    parser.add_argument("--lifts", type=int, default=200, help="of each row, alone")
    parser.add_argument("--rooms", type=int, default=40, help="clients of each row")
    parser.add_argument("--held-out", action="store_true")
    arguments = parser.parse_args()
    half = HELD_OUT if arguments.held_out else TUNING
    for lines in (
        by_rate(half, arguments.lifts),
        alone(half, arguments.lifts),
        rooms(half, arguments.rooms),
    ):
        for line in lines:
            print(line, flush=True)  # noqa: T201
        print()  # noqa: T201


if __name__ == "__main__":
    main()
