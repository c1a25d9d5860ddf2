"""How much work each muscle gets, with pandas, from the definitions: the SQL is not looked at.

Frames have one column a muscle and one line a calendar day, so that every window is a slice.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, timedelta
from itertools import pairwise
from statistics import median

import pandas as pd

from pipeline.settings.rules import Rules
from pipeline.settings.workspace import Client
from tests.reference.catalogue import Catalogue
from tests.reference.sets import Set


@dataclass
class Work:
    """All that one client did up to the as-of day."""

    client: Client
    sets: list[Set]
    as_of: date
    catalogue: Catalogue
    rules: Rules
    exported_on: date | None = None
    days: dict[date, list[Set]] = field(default_factory=lambda: defaultdict(list))
    frames: dict[str, pd.DataFrame] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for one in self.sets:
            self.days[one.day].append(one)

    @property
    def first_on(self) -> date:
        return min(self.days)

    @property
    def last_on(self) -> date:
        return max(self.days)

    @property
    def covered_on(self) -> date:
        """The last day that anything is known of: the day up to which all is judged."""
        return min(self.as_of, max(self.last_on, self.exported_on or self.last_on))

    def has_phase(self, kinds: Iterable[str], day: date, until: date | None = None) -> bool:
        """Whether a phase of these kinds holds on the day, or up to another."""
        return any(
            phase.kind in kinds
            and phase.from_on <= (until or day)
            and (phase.to_on is None or phase.to_on >= day)
            for phase in self.client.phases
        )

    def frame(self, how: str) -> pd.DataFrame:
        """Hard sets of each calendar day and muscle: direct, fractional, all or extended."""
        if how not in self.frames:
            self.frames[how] = self._frame(how)
        return self.frames[how]

    def _frame(self, how: str) -> pd.DataFrame:
        calendar = pd.date_range(self.first_on, self.as_of, freq="D")
        names = [row["muscle"] for row in self.catalogue.muscles]
        counts = {name: [0.0] * len(calendar) for name in names}
        for one in self.sets:
            if not one.is_hard:
                continue
            for muscle, role in self.catalogue.roles.get(one.exercise, {}).items():
                place = (one.day - self.first_on).days
                counts[muscle][place] += self._counted(one, role, how)
        return pd.DataFrame(counts, index=calendar)

    def _counted(self, one: Set, role: str, how: str) -> float:
        if how == "direct":
            return 1.0 if role == "direct" else 0.0
        if how == "all":
            return 1.0
        if how == "extended" and not one.is_extended:
            return 0.0
        return 1.0 if role == "direct" else self.rules.indirect_weight

    def group_sets(self, muscles: Iterable[str], on: date) -> float:
        """Fractional sets of several muscles together: a set counts once, by its larger role."""
        return sum(
            max(
                (
                    self._counted(one, role, "fractional")
                    for muscle, role in self.catalogue.roles.get(one.exercise, {}).items()
                    if muscle in muscles
                ),
                default=0.0,
            )
            for one in self.days.get(on, ())
            if one.is_hard
        )


def span(last: date, days: int) -> list[date]:
    """So many days up to and with the last."""
    return [last - timedelta(days=back) for back in range(days)]


def muscle_day(work: Work) -> list[tuple[object, ...]]:
    """Rows of muscle_day."""
    frames = [work.frame(how) for how in ("direct", "fractional", "all", "extended")]
    return [
        (work.client.id, muscle, on.date(), *figures)
        for muscle in frames[0].columns
        for on, *figures in zip(
            frames[0].index, *(each[muscle].tolist() for each in frames), strict=True
        )
        if figures[2] > 0
    ]


def rolling_week(work: Work) -> list[tuple[object, ...]]:
    """Rows of rolling_week."""
    direct = work.frame("direct")
    sums = [work.frame(how).rolling("7D").sum() for how in ("direct", "fractional", "all")]
    sums.append((direct > 0).astype(float).rolling("7D").sum())
    rows: list[tuple[object, ...]] = []
    for muscle in direct.columns:
        last: date | None = None
        for on, sets, *figures, hits in zip(
            direct.index,
            direct[muscle].tolist(),
            *(each[muscle].tolist() for each in sums),
            strict=True,
        ):
            day = on.date()
            if sets:
                last = day
            since = None if last is None else (day - last).days
            rows.append((work.client.id, muscle, day, *figures, round(hits), since))
    return rows


def muscle_status(work: Work) -> list[tuple[object, ...]]:
    """Rows of muscle_status."""
    return [_status(work, row["muscle"]) for row in work.catalogue.muscles]


def rate_days(work: Work) -> int:
    """Whole rounds of the rotation that come nearest to four weeks, if they come near at all."""
    from tests.reference.rhythm import rotation

    usual, length = work.rules.rate_days, rotation(work)[2]
    if not isinstance(length, float):
        return usual
    length = round(length, 9)
    off = {rounds * length: abs(rounds * length - usual) for rounds in range(1, usual + 1)}
    days = min(off, key=lambda each: (round(off[each], 6), each))
    # half a day more is a day more
    return usual if off[days] > work.rules.rate_reach * usual + 1e-9 else int(round(days, 6) + 0.5)


def _rate(work: Work, daily: dict[date, float], last: date, length: int) -> float | None:
    """Sets a week of so many days to `last`, days of a deload phase left out."""
    days = [on for on in span(last, length) if not work.has_phase(("deload",), on)]
    if not days:
        return None
    return sum(daily.get(on, 0.0) for on in days) / (len(days) / 7)


def _status(work: Work, muscle: str) -> tuple[object, ...]:
    rules, last = work.rules, work.covered_on
    whole, plain = rate_days(work), rules.rate_days
    direct, fractional, extended = (
        {
            on.date(): sets
            for on, sets in zip(work.frame(how).index, work.frame(how)[muscle], strict=True)
            if sets
        }
        for how in ("direct", "fractional", "extended")
    )
    week = span(last, 7)
    usual = [on for on in sorted(span(last, rules.usual_days)) if direct.get(on, 0.0) > 0]
    gaps = [(later - earlier).days for earlier, later in pairwise(usual)]
    sets_per_hit = median(direct[on] for on in usual) if usual else None
    judged_days = [on for on in span(last, whole) if not work.has_phase(("deload",), on)]
    judged_sets = sum(fractional.get(on, 0.0) for on in judged_days)
    extended_sets = sum(extended.get(on, 0.0) for on in judged_days)
    extended_share = extended_sets / judged_sets if judged_sets else None
    low, high, group, group_name = _guide(work, muscle)
    own = _rate(work, fractional, last, whole)
    together = own
    if group:
        totals = {on: work.group_sets(group, on) for on in judged_days}
        together = _rate(work, totals, last, whole)
    return (
        work.client.id,
        muscle,
        sum(fractional.get(on, 0.0) for on in week),
        sum(direct.get(on, 0.0) for on in week),
        own,
        _rate(work, fractional, last - timedelta(days=whole), whole),
        whole,
        _rate(work, fractional, last, plain),
        _rate(work, fractional, last - timedelta(days=plain), plain),
        None if not gaps else float(median(gaps)),
        None if sets_per_hit is None else float(sets_per_hit),
        low,
        high,
        _standing(work, (low, high), own, together, sets_per_hit or 0.0, extended_share or 0.0),
        together,
        len(usual),
        extended_share,
        group_name,
        *_session_guide(work, muscle),
        _may_be_below(work),
    )


def _guide(work: Work, muscle: str) -> tuple[float | None, float, tuple[str, ...], str | None]:
    """Low end, high end, and the muscles whose sets together meet a default low end."""
    for guide in work.client.guide:
        if guide.muscle == muscle and guide.week is not None:
            return (*guide.week, (), None)
    groups = {row["muscle"]: row["low_end_group"] for row in work.catalogue.muscles}
    low = work.rules.guide_week_low if groups[muscle] else None
    members = tuple(name for name, group in groups.items() if group and group == groups[muscle])
    return low, work.rules.guide_week_high, members, groups[muscle] or None


def _session_guide(work: Work, muscle: str) -> tuple[float, float]:
    for guide in work.client.guide:
        if guide.muscle == muscle and guide.session is not None:
            return guide.session
    return work.rules.guide_session_low, work.rules.guide_session_high


def _may_be_below(work: Work) -> bool:
    """Whether the sessions of the rate are close enough, and their exercises known."""
    rules = work.rules
    sessions = sorted(on for on in span(work.covered_on, rate_days(work)) if on in work.days)
    has_gap = any(
        (later - earlier).days >= rules.standing_gap_days for earlier, later in pairwise(sessions)
    )
    sets = [one for on in sessions for one in work.days[on] if one.is_work]
    unknown = [one for one in sets if one.exercise not in work.catalogue.exercise]
    is_unknown = bool(sets) and len(unknown) / len(sets) > rules.unknown_share_max
    return not has_gap and not is_unknown


def _standing(
    work: Work,
    guide: tuple[float | None, float],
    own: float | None,
    together: float | None,
    sets_per_hit: float,
    extended_share: float,
) -> str | None:
    low, high = guide
    rules = work.rules
    if (
        own is None
        or together is None
        or (work.covered_on - work.first_on).days + 1 < rules.rate_days
        or (work.covered_on - work.last_on).days > rules.standing_silent_days
        or work.has_phase(("pause", "care"), work.covered_on, work.as_of)
    ):
        return None
    slack = sets_per_hit / 2 / (rules.rate_days / 7)
    if own > high + slack:
        return "above"
    if low is None or together >= low - slack:
        return "within"
    if extended_share > rules.extended_share_max or not _may_be_below(work):
        return None
    return "below"
