"""Which sessions of a client's lifts look noted in another unit, in plain Python."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from statistics import median
from typing import NamedTuple

from pipeline.settings.rules import Rules

FACTORS = (1 / 0.45359237, 2.0)


class Top(NamedTuple):
    """A session's heaviest set of a lift that moves no bodyweight."""

    day: date
    load: float
    reps: int
    """The most at that load."""
    is_near_failure: bool
    """Whether a set of the day is recorded near failure."""


@dataclass
class Stretch:
    """Sessions in a row without a jump."""

    tops: list[Top]
    reading: int = 0
    idle: int | None = None
    """Days since the session before; None: it is the lift's first."""

    @property
    def span(self) -> tuple[date, date]:
        return self.tops[0].day, self.tops[-1].day


@dataclass
class Doubt:
    """A stretch that may be a slip."""

    span: tuple[date, date]
    is_up: bool
    misses: list[tuple[float, float]]
    """(miss, factor) of the jumps to right sessions at like repetitions."""

    @property
    def nearest(self) -> tuple[float, float]:
        return min(self.misses, key=lambda each: each[0])


def jump(before: Stretch, after: Stretch, rules: Rules) -> tuple[bool, float, float, bool]:
    """Up or not, miss, factor, and whether the sessions beside it may be compared."""
    few = rules.slip_min_sessions
    last, first = before.tops[-few:], after.tops[:few]
    loads = median(each.load for each in last), median(each.load for each in first)
    reps = median(each.reps for each in last), median(each.reps for each in first)
    size = max(loads) / min(loads)
    factor = min(FACTORS, key=lambda each: abs(size / each - 1))
    allowed = max(rules.slip_reps, rules.slip_reps_share * max(reps))
    is_like = abs(reps[0] - reps[1]) <= allowed and abs(loads[0] - loads[1]) >= rules.slip_min_kg
    return loads[1] > loads[0], round(abs(size / factor - 1), 9), factor, is_like


def _doubts(tops: Sequence[Top], rules: Rules) -> list[Doubt]:
    stretches: list[Stretch] = []
    for top in tops:
        if stretches:
            before = stretches[-1].tops[-1].load
            if max(before, top.load) / min(before, top.load) < rules.slip_jump_ratio:
                stretches[-1].tops.append(top)
                continue
        idle = (top.day - stretches[-1].span[1]).days if stretches else None
        stretches.append(Stretch([top], idle=idle))
    chains: list[list[Stretch]] = [[stretches[0]]] if stretches else []
    for before_it, stretch in pairwise(stretches):
        is_up, miss, _, _ = jump(before_it, stretch, rules)
        if miss > rules.slip_rough:
            chains.append([stretch])
        else:
            stretch.reading = before_it.reading + (1 if is_up else -1)
            chains[-1].append(stretch)
    return [doubt for chain in chains for doubt in _of_chain(chain, rules)]


def _of_chain(chain: list[Stretch], rules: Rules) -> list[Doubt]:
    counts: dict[int, int] = defaultdict(int)
    ends: dict[int, date] = {}
    for stretch in chain:
        counts[stretch.reading] += len(stretch.tops)
        ends[stretch.reading] = stretch.span[1]
    right = max(counts, key=lambda reading: (counts[reading], ends[reading]))
    found = []
    for place, stretch in enumerate(chain):
        side = stretch.reading - right
        if abs(side) != 1:
            continue
        if side < 0 and not _may_be_low(stretch, rules):
            continue
        misses = []
        if place:
            misses += _beside(chain[place - 1], stretch, chain[place - 1], right, rules)
        if place + 1 < len(chain):
            misses += _beside(stretch, chain[place + 1], chain[place + 1], right, rules)
        if misses:
            found.append(Doubt(stretch.span, side > 0, misses))
    return found


def _beside(
    before: Stretch, after: Stretch, other: Stretch, right: int, rules: Rules
) -> list[tuple[float, float]]:
    _, miss, factor, is_like = jump(before, after, rules)
    is_right = other.reading == right and len(other.tops) >= rules.slip_min_sessions
    return [(miss, factor)] if is_right and is_like else []


def _may_be_low(stretch: Stretch, rules: Rules) -> bool:
    """Not what may be a light week, a return, or the first sessions of a lift."""
    first, last = stretch.span
    is_hard = any(each.is_near_failure for each in stretch.tops)
    if not is_hard and (last - first).days + 1 <= rules.light_run_days:
        return False
    if stretch.idle is None:
        return len(stretch.tops) >= rules.slip_min_sessions
    return stretch.idle < rules.not_trained_days


def slips_of(lifts: Mapping[str, Sequence[Top]], rules: Rules) -> dict[str, dict[date, float]]:
    """Of one client's lifts: the days that slip, each with its factor."""
    doubts = {exercise: _doubts(sorted(tops), rules) for exercise, tops in lifts.items()}
    exact = {
        exercise: [each for each in found if each.nearest[0] <= rules.slip_tolerance + 1e-9]
        for exercise, found in doubts.items()
    }
    slipped: dict[str, dict[date, float]] = {}
    for exercise, found in doubts.items():
        slipped[exercise] = {}
        for doubt in found:
            others = sum(
                any(
                    other.is_up == doubt.is_up
                    and other.span[0] <= doubt.span[1]
                    and doubt.span[0] <= other.span[1]
                    for other in exact[name]
                )
                for name in lifts
                if name != exercise
            )
            if doubt in exact[exercise] or others >= rules.slip_lifts:
                factor = doubt.nearest[1] if doubt.is_up else 1 / doubt.nearest[1]
                for top in lifts[exercise]:
                    if doubt.span[0] <= top.day <= doubt.span[1]:
                        slipped[exercise][top.day] = round(factor, 9)
    return slipped
