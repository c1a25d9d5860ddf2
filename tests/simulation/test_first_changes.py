"""A client on an unchanged course reads the same first change from week to week."""

from __future__ import annotations

import pytest
from courses import Course
from first_changes import first_changes, same_share

FLAT = Course("all flat", rate=0.25, end_weeks=30.0, noise=2.0, lifts=10)
GAIN = Course("gaining", rate=0.25, noise=2.0, lifts=10)


@pytest.mark.slow
def test_the_first_change_stays_on_an_unchanged_course() -> None:
    """Bounds: as measured on many, less about two and a half standard errors of this few."""
    found = first_changes([FLAT, GAIN], 12, 5)
    assert same_share(found["all flat"]) >= 0.8
    assert same_share(found["gaining"]) >= 0.85
