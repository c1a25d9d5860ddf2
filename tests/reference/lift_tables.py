"""The lift tables other than the trend, in plain Python: written from the definitions, not the SQL."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from statistics import fmean, median, stdev
from typing import Any

from scipy import stats

from pipeline.rules import Rules
from pipeline.workspace import Phase, Target
from tests.reference.lifts import EPS, Kind, Lift, Session, WorkSet, epley

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
        session.is_light = (days is not None and days <= rules.light_run_days) or in_phase(
            session.day, phases, "deload"
        )


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
    log_ratio: float | None
    recorded_log_ratio: float | None


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
        every = [pair.log_ratio for pair in pairs if pair.log_ratio is not None]
        recorded = [
            pair.recorded_log_ratio for pair in pairs if pair.recorded_log_ratio is not None
        ]
        is_bound = len(recorded) < rules.fade_min_sessions
        used = every if is_bound else recorded
        if len(used) < rules.fade_min_sessions:
            continue
        mean, error = fmean(used), stdev(used) / math.sqrt(len(used))
        half = float(stats.t.ppf(0.975, len(used) - 1)) * error
        figures = [math.exp(each) for each in (mean, mean - half, mean + half)]
        found.append((client, muscle, kind, nth, len(used), *figures, is_bound))
    return found


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
                log_ratio = _log_ratio(one, first)
                if log_ratio is None or not _is_near(one, first, rules):
                    continue
                is_recorded = one.rir is not None and first.rir is not None
                found += [
                    Pair(muscle, "within", nth, log_ratio, log_ratio if is_recorded else None)
                    for muscle in _direct(kinds, lift.exercise)
                ]
    return found


def _log_ratio(one: WorkSet, other: WorkSet) -> float | None:
    if one.is_suspect or other.is_suspect or one.index is None or other.index is None:
        return None
    return math.log(one.index / other.index)


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
                if one.index is not None and not one.is_suspect:
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
        found.append(Pair(muscle, "across", nth, _over(one, near), None))
        if one.rir is not None and recorded:
            found.append(Pair(muscle, "across", nth, None, _over(one, recorded)))
    return found


def _over(one: WorkSet, others: Sequence[WorkSet]) -> float:
    """Log of its index over their geometric mean."""
    return math.log(one.index or 0.0) - fmean(math.log(other.index or 0.0) for other in others)


def target_row(
    client: str,
    target: Target,
    lift: Lift | None,
    own: float | None,
    kind: Kind,
    rate: tuple[float, float] | None,
    is_regaining: bool,
    rules: Rules,
) -> Cells:
    """A row of review.target_progress; `own` is the bodyweight now, `rate` the trend's interval."""
    key = (client, target.exercise, target.load_kg, target.reps)
    load: float | None = target.load_kg
    if kind.share > 0 and kind.load_basis != "total":
        extra = -target.load_kg if kind.load_basis == "assisted" else target.load_kg
        load = None if own is None else own * kind.share + extra
    goal = None if load is None or target.reps > rules.index_reps_max else epley(load, target.reps)
    current = lift.sessions[-1].reference if lift else None
    gap = 100 * (goal / current - 1) if goal is not None and current is not None else None
    done = _done_on(target, lift)
    if done is not None:
        return (*key, current, goal, gap, 0, 0, f"reached on {done}")
    if gap is None or goal is None or current is None:
        return (*key, current, goal, gap, None, None, None)
    missing = 100 * math.log(goal / current)
    if is_regaining or rate is None or rate[1] <= 0:
        return (*key, current, goal, gap, None, None, None)
    low = math.ceil(missing / rate[1] - EPS)
    high = math.ceil(missing / rate[0] - EPS) if rate[0] > 0 else None
    return (*key, current, goal, gap, low, high, None)


def _done_on(target: Target, lift: Lift | None) -> date | None:
    if lift is None:
        return None
    return min(
        (
            one.day
            for session in present(lift)
            for one in session.trusted
            if one.record_load is not None
            and one.record_load >= target.load_kg - EPS
            and one.reps >= target.reps
        ),
        default=None,
    )
