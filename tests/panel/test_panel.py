"""The first change beside what three readers of the same forty logs would change first."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.panel.panel import Judged, agreement, build_panel, judged


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> list[Judged]:
    return judged(build_panel(Path(tmp_path_factory.mktemp("panel")) / "room"))


HARMED: frozenset[str] = frozenset()
"""People to whom we still say what a reader calls harmful; tests/README.md has the reasons."""


@pytest.mark.slow
def test_the_first_change_lies_where_a_reader_would_accept_it(found: list[Judged]) -> None:
    """The goal is 34 of 40; what is reached is held, and no longer blind."""
    assert len(found) == 40
    assert sum(each.is_accepted for each in found) >= 38


@pytest.mark.slow
def test_nobody_else_is_told_what_a_reader_calls_harmful(found: list[Judged]) -> None:
    """The goal is nobody at all."""
    assert {each.person for each in found if each.is_harmful} <= HARMED


def test_how_far_the_readers_agree_is_what_the_readme_says() -> None:
    same, inside, pairs = agreement()
    readme = (Path(__file__).parents[1] / "README.md").read_text(encoding="utf-8")
    assert f"of one mind on {same} of 40" in readme
    assert f"{inside} of {pairs} pairs" in readme
