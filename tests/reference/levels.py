"""Where a lift goes on at another level: another machine, grip, side or unit."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date
from statistics import median

from pipeline.settings.rules import Rules
from tests.reference.catalogue import EVEN


def level_starts(sessions: Sequence[tuple[date, float]], rules: Rules) -> list[date]:
    """First days of new levels: three sessions in a row off by 15 % from the three before.

    Short dips are passed over; the sharpest of the neighbouring steps is the start.
    """
    steady = _without_dips(sessions, rules)
    seen: list[tuple[date, float]] = []
    for place in range(3, len(steady) - 2):
        before = [value for _, value in steady[place - 3 : place]]
        after = [value for _, value in steady[place : place + 3]]
        change = median(after) / median(before) - 1
        middle = math.sqrt(median(before) * median(after))
        idle = (steady[place][0] - steady[place - 1][0]).days
        if (
            abs(change) >= rules.level_change_share - 1e-9
            and (before[2] < middle) == (change > 0)
            and (after[0] > middle) == (change > 0)
            and (change > 0 or idle < rules.not_trained_days)
        ):
            step = abs(math.log(math.prod(after) / math.prod(before)))
            seen.append((steady[place][0], round(step, 9)))
    changes: list[list[tuple[date, float]]] = []
    for each in seen:
        if changes and (each[0] - changes[-1][-1][0]).days <= rules.not_trained_days:
            changes[-1].append(each)
        else:
            changes.append([each])
    return [max(change, key=lambda each: (each[1], -each[0].toordinal()))[0] for change in changes]


def _without_dips(sessions: Sequence[tuple[date, float]], rules: Rules) -> list[tuple[date, float]]:
    """The sessions without runs of at most ten days that lie a tenth under those before."""
    kept: list[tuple[date, float]] = []
    dip: list[tuple[date, float]] = []

    def end_dip() -> None:
        if dip and (dip[-1][0] - dip[0][0]).days + 1 > rules.light_run_days:
            kept.extend(dip)
        dip.clear()

    for place, (day, value) in enumerate(sessions):
        recent = []
        for on, other in reversed(sessions[:place]):
            if (day - on).days > rules.reference_days:
                break
            recent.append(other)
        if len(recent) >= 3 and value <= (1 - rules.light_share) * median(recent) + EVEN:
            dip.append((day, value))
        else:
            end_dip()
            kept.append((day, value))
    end_dip()
    return kept
