"""The lift tables other than the trend, in plain Python: from the definitions, not the SQL."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from statistics import fmean, median
from typing import Any

from scipy import stats

from pipeline.settings.rules import Rules
from pipeline.settings.workspace import Phase
from tests.reference.lifts import EPS, Kind, Lift, Session, WorkSet

Cells = tuple[Any, ...]


def in_phase(day: date, phases: Sequence[Phase], *kinds: str) -> bool:
    """Whether the day is in a phase of these kinds."""
    return any(
        phase.kind in kinds and phase.from_on <= day <= (phase.to_on or date.max)
        for phase in phases
    )


def mark_light(lift: Lift, phases: Sequence[Phase], rules: Rules) -> None:
    """Light sessions, the length of their runs, and whether they are taken for a deload."""
    levels: dict[int, list[Session]] = defaultdict(list)
    for session in lift.sessions:
        session.light_run_days = None
        levels[session.level].append(session)
    for sessions in levels.values():
        _measure_runs(sessions, _second_look(sessions, rules))
    for session in lift.sessions:
        days = session.light_run_days
        session.is_planned = in_phase(session.day, phases, "deload")
        session.is_light = session.is_planned or (days is not None and days <= rules.light_run_days)


def _second_look(sessions: Sequence[Session], rules: Rules) -> list[bool]:
    """Light against the last three sessions; then against the last three that were not so."""
    first = [
        number >= 3 and _looks_light(session, sessions[number - 3 : number], rules)
        for number, session in enumerate(sessions)
    ]
    found = []
    for number, session in enumerate(sessions):
        full = [sessions[place] for place in range(max(0, number - 12), number) if not first[place]]
        found.append(number >= 3 and _looks_light(session, full[-3:], rules))
    return found


def _measure_runs(sessions: Sequence[Session], light: Sequence[bool]) -> None:
    run: list[Session] = []
    for session, is_light in zip(sessions, light, strict=True):
        run = [*run, session] if is_light else []
        for each in run:
            each.light_run_days = (run[-1].day - run[0].day).days + 1


def _looks_light(session: Session, last: Sequence[Session], rules: Rules) -> bool:
    if not any(one.is_hard for one in session.sets):
        return True
    loads = [each.top_load for each in last if each.top_load is not None]
    reps = [each.best_reps for each in last if each.best_reps is not None]
    if not loads or session.top_load is None:
        return False
    under = (1 - rules.light_share) * median(loads) + EPS
    return all(
        (one.load is None or one.load <= under) and one.reps <= median(reps)
        for one in session.trusted
    )


def lift_session_rows(lift: Lift) -> list[Cells]:
    """Rows of review.lift_session."""
    found = []
    for session in lift.sessions:
        loaded = [one for one in session.trusted if one.load is not None]
        found.append(
            (
                lift.client,
                lift.exercise,
                session.day,
                session.top_load,
                session.top_reps,
                session.best("epley"),
                session.best("brzycki"),
                session.best("e1rm"),
                session.index,
                sum(one.is_hard for one in session.sets),
                sum(one.reps for one in session.sets),
                sum(one.tonnage or 0.0 for one in loaded) if loaded else None,
                session.is_light,
                session.light_run_days,
                len(session.sets),
                sum(one.is_hard and one.is_extended for one in session.sets),
            )
        )
    return found


def present(lift: Lift) -> list[Session]:
    """Sessions of the lift's present level."""
    return [each for each in lift.sessions if each.level == lift.sessions[-1].level]


def record_rows(lift: Lift, rules: Rules) -> list[Cells]:
    """Rows of review.records: the heaviest load for at least so many repetitions."""
    sets = [
        one
        for session in present(lift)
        for one in session.trusted
        if one.record_load is not None and one.reps >= 1
    ]
    found = []
    most = max((one.reps for one in sets), default=0)
    for reps in range(1, min(most, rules.hard_reps_max) + 1):
        best = min(
            (one for one in sets if one.reps >= reps),
            key=lambda one: (-(one.record_load or 0.0), one.day, one.set_id),
        )
        found.append((lift.client, lift.exercise, reps, best.record_load, best.day, best.set_id))
    return found


@dataclass(frozen=True)
class Pair:
    """A set over the one that it is compared with."""

    muscle: str
    kind: str
    nth: int
    one: WorkSet
    others: Sequence[WorkSet]
    is_recorded: bool
    """Whether all of them have recorded effort."""

    @property
    def log_ratio(self) -> float:
        """Of its index over the geometric mean of theirs."""
        return _over(self.one, self.others)


def fade_rows(
    client: str, lifts: Sequence[Lift], kinds: Mapping[str, Kind], last: date, rules: Rules
) -> list[Cells]:
    """Rows of review.session_fade."""
    since = last - timedelta(days=rules.fade_days - 1)
    groups: dict[tuple[str, str, int], list[Pair]] = defaultdict(list)
    for pair in [*_within(lifts, kinds, since, rules), *_across(lifts, kinds, since, rules)]:
        groups[pair.muscle, pair.kind, pair.nth].append(pair)
    found = []
    for (muscle, kind, nth), pairs in sorted(groups.items()):
        every = [pair for pair in pairs if not (pair.is_recorded and kind == "across")]
        recorded = [pair for pair in pairs if pair.is_recorded]
        is_bound = len({pair.one.day for pair in recorded}) < rules.fade_min_sessions
        used = every if is_bound else recorded
        sessions = len({pair.one.day for pair in used})
        if sessions < rules.fade_min_sessions:
            continue
        mean, error = fmean(pair.log_ratio for pair in used), _error(used)
        half = float(stats.t.ppf(0.975, sessions - 1)) * error
        figures = [math.exp(each) for each in (mean, mean - half, mean + half)]
        found.append((client, muscle, kind, nth, len(used), *figures, is_bound))
    return found


def _error(pairs: Sequence[Pair]) -> float:
    """Standard error of the mean log ratio: days vary, and so do the first days of `across`."""
    mean = fmean(pair.log_ratio for pair in pairs)
    off: dict[date, float] = defaultdict(float)
    weights: dict[str, float] = defaultdict(float)
    for pair in pairs:
        off[pair.one.day] += pair.log_ratio - mean
        if pair.kind == "across":
            for other in pair.others:
                weights[other.set_id] += 1 / len(pair.others)
    days = len(off)
    if days < 2:
        return math.nan
    of_days = sum(each**2 for each in off.values()) * days / (days - 1)
    of_firsts = sum(each**2 for each in weights.values()) / len(pairs)
    return math.sqrt(of_days * (1 + of_firsts)) / len(pairs)


def _direct(kinds: Mapping[str, Kind], exercise: str) -> list[str]:
    return [muscle for muscle, role in kinds[exercise].muscles.items() if role == "direct"]


def _within(
    lifts: Sequence[Lift], kinds: Mapping[str, Kind], since: date, rules: Rules
) -> list[Pair]:
    found = []
    for lift in lifts:
        for session in lift.sessions:
            hard = [one for one in session.sets if one.is_hard]
            if session.day < since or not hard:
                continue
            first = hard[0]
            for nth, one in enumerate(hard[1:], 2):
                if not (_is_known(one) and _is_known(first) and _is_near(one, first, rules)):
                    continue
                is_recorded = one.rir is not None and first.rir is not None
                found += [
                    Pair(muscle, "within", nth, one, [first], is_recorded)
                    for muscle in _direct(kinds, lift.exercise)
                ]
    return found


def _is_known(one: WorkSet) -> bool:
    return one.index is not None and not one.is_doubted


def _is_near(one: WorkSet, first: WorkSet, rules: Rules) -> bool:
    assert one.load is not None and first.load is not None
    return abs(one.load / first.load - 1) <= rules.fade_load_share + EPS


def _across(
    lifts: Sequence[Lift], kinds: Mapping[str, Kind], since: date, rules: Rules
) -> list[Pair]:
    hard: dict[tuple[str, date], list[WorkSet]] = defaultdict(list)
    for lift in lifts:
        for session in lift.sessions:
            for muscle in _direct(kinds, lift.exercise):
                hard[muscle, session.day] += [one for one in session.sets if one.is_hard]
    found = []
    for lift in lifts:
        for muscle in _direct(kinds, lift.exercise):
            firsts = []
            for session in lift.sessions:
                own = [one for one in session.sets if one.is_hard]
                if session.day < since or not own:
                    continue
                one = own[0]
                before = sum(other.order < one.order for other in hard[muscle, session.day])
                if one.index is not None and not one.is_doubted:
                    firsts.append((before + 1, session.level, one))
            found += _against_own(muscle, firsts, rules)
    return found


def _against_own(
    muscle: str, firsts: Sequence[tuple[int, int, WorkSet]], rules: Rules
) -> list[Pair]:
    found = []
    for nth, level, one in firsts:
        near = [
            other
            for place, same, other in firsts
            if place == 1
            and same == level
            and abs((other.day - one.day).days) <= rules.reference_days
        ]
        if nth == 1 or not near:
            continue
        recorded = [other for other in near if other.rir is not None]
        found.append(Pair(muscle, "across", nth, one, near, is_recorded=False))
        if one.rir is not None and recorded:
            found.append(Pair(muscle, "across", nth, one, recorded, is_recorded=True))
    return found


def _over(one: WorkSet, others: Sequence[WorkSet]) -> float:
    """Log of its index over their geometric mean."""
    return math.log(one.index or 0.0) - fmean(math.log(other.index or 0.0) for other in others)
