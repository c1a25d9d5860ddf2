"""Lifters for the tests of findings: plain weeks of training, with one thing off."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

from tests.conftest import Log, day

WEEKS = 14
AS_OF = day(7 * WEEKS - 1)
"""A Sunday; the last session of `train` is on the Thursday before."""

PLAN = {
    "bench press": (60.0, 4),
    "barbell row": (55.0, 4),
    "back squat": (80.0, 4),
    "romanian deadlift": (70.0, 4),
    "lateral raise": (10.0, 4),
    "barbell curl": (25.0, 3),
    "triceps pushdown": (30.0, 3),
}
"""Lift to load and sets of a session: on two days a week each guide is met."""

SETS = sum(sets for _, sets in PLAN.values())


def train(
    log: Log,
    client_id: str,
    plan: dict[str, tuple[float, int]] | None = None,
    *,
    weeks: Iterable[int] = range(WEEKS),
    days: Iterable[int] = (0, 3),
    weekly_pct: float = 0.5,
    times: float = 1.0,
    reps: int = 8,
    rir: float | None = 1.0,
    **other: Any,
) -> None:
    """Sessions of a plan; loads rise by `weekly_pct` a week and stand `times` above it."""
    for week in weeks:
        for weekday in days:
            for exercise, (load, sets) in (PLAN if plan is None else plan).items():
                loaded = load * times * (1 + weekly_pct / 100) ** week
                log.sets(
                    day(7 * week + weekday),
                    exercise,
                    loaded,
                    reps,
                    sets,
                    rir=rir,
                    client_id=client_id,
                    **other,
                )


def without(*exercises: str) -> dict[str, tuple[float, int]]:
    """The plan without some of its lifts."""
    return {name: row for name, row in PLAN.items() if name not in exercises}


def only(*exercises: str) -> dict[str, tuple[float, int]]:
    """Some lifts of the plan."""
    return {name: PLAN[name] for name in exercises}


@dataclass(frozen=True)
class Found:
    """A row of review.findings."""

    lever: int
    severity: float
    evidence: dict[str, Any]
    suggestion: str | None
    is_noticed: bool
    is_first_change: bool


def found(log: Log, client_id: str) -> dict[tuple[str, str], Found]:
    """A client's findings by code and subject."""
    rows = log.ask(
        "select code, subject, lever, severity, evidence, suggestion, is_noticed, is_first_change"
        f" from review.findings where client_id = '{client_id}'"
    )
    return {
        (code, subject): Found(lever, severity, json.loads(evidence), *rest)
        for code, subject, lever, severity, evidence, *rest in rows
    }


def first(log: Log, client_id: str) -> tuple[str, str] | None:
    """Code and subject of what to change first."""
    codes = [key for key, row in found(log, client_id).items() if row.is_first_change]
    assert len(codes) <= 1, codes
    return codes[0] if codes else None


def codes(log: Log, client_id: str) -> set[str]:
    """Codes of everything that was found."""
    return {code for code, _ in found(log, client_id)}


def iso(offset: int) -> str:
    """A day as evidence holds it."""
    return as_text(day(offset))


def as_text(value: date) -> str:
    """A day as evidence holds it."""
    return value.isoformat()
