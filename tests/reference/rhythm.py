"""When somebody trains, in which rotation, how near to failure and with which exercises.

Plain Python from the definitions; the SQL is not looked at.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable
from datetime import date, timedelta
from itertools import pairwise

from tests.reference.catalogue import EVEN
from tests.reference.muscles import Work, span

NO_ROTATION = "no fixed rotation"


def monday(day: date) -> date:
    return day - timedelta(days=day.weekday())


def hard_sets(work: Work, day: date) -> int:
    return sum(one.is_hard for one in work.days.get(day, ()))


def part_counts(work: Work, day: date) -> dict[str, int]:
    """Direct hard sets of each body part, in the order of the muscle table; a set counts once."""
    part_of = {row["muscle"]: row["body_part"] for row in work.catalogue.muscles}
    counts = dict.fromkeys(part_of.values(), 0)
    for one in work.days.get(day, ()):
        roles = work.catalogue.roles.get(one.exercise, {}) if one.is_hard else {}
        for part in {part_of[muscle] for muscle, role in roles.items() if role == "direct"}:
            counts[part] += 1
    return {part: count for part, count in counts.items() if count}


def rhythm(work: Work) -> list[tuple[object, ...]]:
    """Rows of the view rhythm."""
    rows: list[tuple[object, ...]] = []
    run = 0
    rests: list[bool] = []
    for back in reversed(range((work.as_of - work.first_on).days + 1)):
        day = work.as_of - timedelta(days=back)
        is_rest = hard_sets(work, day) < work.rules.rest_day_sets
        rests.append(is_rest)
        run = 0 if is_rest else run + 1
        rows.append(
            (
                work.client.id,
                day,
                day in work.days,
                ", ".join(part_counts(work, day)) or None,
                sum(rests[-7:]) if len(rests) >= 7 else None,
                run,
                hard_sets(work, day),
            )
        )
    return rows


def likeness(one: dict[str, int], other: dict[str, int]) -> float:
    """Cosine similarity of the shares of body parts."""
    product = sum(count * other.get(part, 0) for part, count in one.items())
    lengths = math.hypot(*one.values()) * math.hypot(*other.values())
    return product / lengths


def rotation(work: Work) -> tuple[object, ...]:
    """The row of rotation."""
    rules = work.rules
    window = set(span(work.covered_on, rules.rotation_days))
    sessions = [day for day in sorted(work.days) if day in window and part_counts(work, day)]
    stretch: dict[date, int] = {}
    for place, day in enumerate(sessions):
        before = sessions[place - 1] if place else day
        is_new = (day - before).days > rules.rotation_gap_days
        stretch[day] = stretch.get(before, 0) + is_new

    def pairs(is_apart: Callable[[int, int], bool]) -> list[tuple[int, int]]:
        return [
            (i, j)
            for i in range(len(sessions))
            for j in range(i + 1, len(sessions))
            if is_apart(i, j) and stretch[sessions[i]] == stretch[sessions[j]]
        ]

    def days_between(i: int, j: int) -> int:
        return (sessions[j] - sessions[i]).days

    def mean_likeness(found: list[tuple[int, int]]) -> float:
        parts = [part_counts(work, day) for day in sessions]
        return round(sum(likeness(parts[i], parts[j]) for i, j in found) / len(found), 9)

    by_sessions = {
        lag: found
        for lag in range(1, rules.rotation_sessions_max + 1)
        if len(found := pairs(lambda i, j, lag=lag: j - i == lag)) >= rules.rotation_min_pairs
    }
    by_days = {
        lag: found
        for lag in range(rules.rotation_days_min, rules.rotation_days_max + 1)
        if len(found := pairs(lambda i, j, lag=lag: days_between(i, j) == lag))
        >= rules.rotation_min_pairs
    }
    chosen: list[tuple[float, str, int, list[tuple[int, int]]]] = []
    best_found: float | None = None
    for kind, lags in (("sessions", by_sessions), ("days", by_days)):
        similar = {lag: mean_likeness(found) for lag, found in lags.items()}
        if not similar:
            continue
        best = max(similar.values())
        best_found = max(best, best_found or 0.0)
        enough = max(best - rules.rotation_slack, rules.rotation_similarity)
        near = [lag for lag, value in similar.items() if value >= enough - 1e-9]
        if near:
            chosen.append((similar[min(near)], kind, min(near), lags[min(near)]))
    if not chosen:
        return (work.client.id, None, None, None, best_found, NO_ROTATION)
    # sessions win unless days are better by more than the slack
    similarity, kind, lag, found = max(
        chosen, key=lambda each: each[0] + (rules.rotation_slack + 1e-9) * (each[1] == "sessions")
    )
    if kind == "sessions":
        in_sessions = float(lag)
        in_days = sum(days_between(i, j) for i, j in found) / len(found)
    else:
        in_days = float(lag)
        in_sessions = sum(j - i for i, j in found) / len(found)
    return (
        work.client.id,
        in_sessions,
        in_days,
        in_days - in_sessions,
        similarity,
        _parts_of_last(work, sessions, kind, lag),
    )


def _parts_of_last(work: Work, sessions: list[date], kind: str, lag: int) -> str:
    if kind == "sessions":
        last = sessions[-lag:]
    else:
        last = [day for day in sessions if (sessions[-1] - day).days < lag]
    named = []
    for day in last:
        counts = part_counts(work, day)
        named.append(", ".join(sorted(counts, key=lambda part: (-counts[part], part))))
    return " | ".join(named)


def effort_week(work: Work) -> list[tuple[object, ...]]:
    """Rows of effort_week."""
    kept: dict[tuple[date, str], list[tuple[float | None, bool]]] = defaultdict(list)
    for one in work.sets:
        is_light = (
            one.load is not None
            and one.top_load is not None
            and one.load < work.rules.effort_load_share * one.top_load - EVEN
        )
        if one.is_work and not is_light:
            movement = work.catalogue.exercise.get(one.exercise, {}).get("movement", "unknown")
            kept[monday(one.day), movement].append((one.recorded, one.is_extended))
    rows: list[tuple[object, ...]] = []
    for (week, movement), sets in kept.items():
        recorded = [
            (math.floor(round(rir, 6)), extended) for rir, extended in sets if rir is not None
        ]
        rows.append(
            (
                work.client.id,
                week,
                movement,
                len(sets),
                len(recorded),
                *(sum(rir == whole for rir, _ in recorded) for whole in range(5)),
                sum(rir >= 5 for rir, _ in recorded),
                sum(extended for _, extended in recorded),
                len(recorded) / len(sets),
            )
        )
    return rows


def exercise_turnover(work: Work) -> list[tuple[object, ...]]:
    """Rows of exercise_turnover."""
    rows: list[tuple[object, ...]] = []
    week = monday(work.first_on)
    while week <= monday(work.last_on):
        sunday = week + timedelta(days=6)
        if sunday <= work.as_of:
            rows.append((work.client.id, week, *_turnover(work, sunday)))
        week += timedelta(days=7)
    return rows


def _turnover(work: Work, sunday: date) -> tuple[object, ...]:
    rules = work.rules

    def done(last: date, days: int) -> set[str]:
        return {
            one.exercise for on in span(last, days) for one in work.days.get(on, ()) if one.is_work
        }

    now, before = done(sunday, 14), done(sunday - timedelta(days=14), 14)
    weeks = sorted(on for on in span(sunday, 7 * rules.trackable_weeks) if on in work.days)
    times: dict[str, int] = defaultdict(int)
    hard: dict[str, int] = defaultdict(int)
    for on in weeks:
        for name in {one.exercise for one in work.days[on] if one.is_work}:
            times[name] += 1
        for one in work.days[on]:
            hard[one.exercise] += one.is_hard
    total = sum(hard.values())
    trackable = sum(sets for name, sets in hard.items() if times[name] >= rules.trackable_sessions)
    start = sunday - timedelta(days=7 * rules.trackable_weeks - 1)
    # a layoff may reach into the span from before it, or go on at its end
    trained = [*(on for on in sorted(work.days) if on <= sunday), sunday]
    has_layoff = any(
        (later - earlier).days >= rules.not_trained_days and later > start
        for earlier, later in pairwise(trained)
    )
    return (
        len(now),
        len(now & before) / len(before) if before else None,
        trackable / total if total else None,
        work.first_on <= start and not has_layoff,
    )
