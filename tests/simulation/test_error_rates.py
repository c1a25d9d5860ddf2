"""How often a lift's status errs, counted on few lifts: the bounds catch a worse method.

`measure.py` counts on many; its tables are in tests/README.md. Bounds are what it measured plus
about two and a half standard errors of these sample sizes. Seeds are fixed.
"""

from __future__ import annotations

import functools

import pytest
from courses import Course, best_power
from looks import ALARMS, GOOD, Looks, looks_at

LIFTS = 120
SEED = 11
ALONE = {
    course.name: course
    for course in (
        Course("gains 0.5", rate=0.5),
        Course("gains 0.25, noisy", rate=0.25, noise=3.5),
        Course("gains 0.1", rate=0.1),
        Course("bad days", rate=0.25, bad_days=0.03),
        Course("step", rate=0.25, step=-10),
        Course("wave", rate=0.25, wave=1.0),
        Course("flat 8 after 0.5", rate=0.5, end_weeks=8),
        Course("flat 12 after 0.5, noisy", rate=0.5, end_weeks=12, noise=3.5),
        Course("flat 16 after 0.25", rate=0.25, end_weeks=16),
        Course("falls", rate=0.25, end_weeks=8, end_rate=-1.0),
    )
}
ROOMS = {
    course.name: course
    for course in (
        Course("gain", rate=0.25, lifts=10),
        Course("fall", rate=0.25, lifts=10, end_weeks=7, end_rate=-1.0),
    )
}


@functools.cache
def alone() -> Looks:
    """Looks at lifts that are each a client's only one."""
    return looks_at(ALONE.values(), LIFTS, SEED)


@functools.cache
def rooms() -> Looks:
    """Looks at clients with ten lifts."""
    return looks_at(ROOMS.values(), 12, SEED)


@pytest.mark.parametrize(
    "name", ["gains 0.5", "gains 0.25, noisy", "gains 0.1", "bad days", "step", "wave"]
)
def test_who_gains_is_seldom_accused(name: str) -> None:
    assert alone().of(ALONE[name]).share(*ALARMS) <= 0.10


@pytest.mark.parametrize("name", ["gains 0.5", "gains 0.25, noisy"])
def test_looking_every_week_accuses_few_more(name: str) -> None:
    assert alone().of(ALONE[name]).ever() <= 0.22


@pytest.mark.parametrize(
    ("name", "least"),
    [("flat 8 after 0.5", 0.60), ("flat 12 after 0.5, noisy", 0.55), ("flat 16 after 0.25", 0.70)],
)
def test_a_plateau_is_found(name: str, least: float) -> None:
    found = alone().of(ALONE[name]).share(*ALARMS)
    assert found >= least
    assert found <= best_power(ALONE[name], is_known=True) + 0.02


def test_a_long_plateau_is_not_called_a_fall() -> None:
    assert alone().of(ALONE["flat 16 after 0.25"]).share("regressing") <= 0.10


def test_a_step_is_no_fall() -> None:
    assert alone().of(ALONE["step"]).share("regressing") <= 0.12


def test_who_falls_is_told_so() -> None:
    assert alone().of(ALONE["falls"]).share("regressing") >= 0.6


def test_who_gains_much_is_told_so() -> None:
    assert alone().of(ALONE["gains 0.5"]).share(*GOOD) >= 0.8


def test_ten_gaining_lifts_give_no_first_change() -> None:
    looks = rooms().of(ROOMS["gain"])
    assert looks.first_changes() <= 0.5
    assert looks.falls() == 0


def test_ten_falling_lifts_are_asked_about() -> None:
    assert rooms().of(ROOMS["fall"]).falls() >= 0.75
