"""Sessions in the wrong unit among simulated ones: `slips.py` counts on more."""

from __future__ import annotations

import pytest
from courses import Course
from slips import WRONG, hits, mistakes


@pytest.mark.parametrize(
    "course",
    [
        Course("double", rate=0.25, scheme="double", is_logged=False),
        Course("eased", rate=0.25, light_weeks=5, layoff=(50.0, 58.0), is_logged=False),
    ],
)
def test_no_lift_without_a_slip_is_asked_about(course: Course) -> None:
    assert mistakes(course)[0] == 0


@pytest.mark.parametrize("name", ["pounds, the last three weeks", "one hand for both, two weeks"])
def test_wrong_sessions_are_named_and_no_right_ones(name: str) -> None:
    wrong, right = hits(Course("", rate=0.25, is_logged=False), *WRONG[name])
    assert wrong >= 0.9
    assert right == 0
