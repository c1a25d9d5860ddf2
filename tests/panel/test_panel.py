"""The first change beside what three readers of the same forty logs would change first."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.panel.panel import Judged, agreement, build_panel, judged


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> list[Judged]:
    return judged(build_panel(Path(tmp_path_factory.mktemp("panel")) / "room"))


@pytest.mark.slow
def test_the_first_change_lies_where_a_reader_would_accept_it(found: list[Judged]) -> None:
    """At least 85 in 100, asked for before the panel was held."""
    assert len(found) == 40
    missed = [each for each in found if not each.is_accepted]
    assert len(missed) <= 0.15 * len(found), missed


@pytest.mark.slow
def test_no_first_change_is_one_that_a_reader_calls_harmful(found: list[Judged]) -> None:
    assert [each for each in found if each.is_harmful] == []


def test_how_far_the_readers_agree_is_what_the_readme_says() -> None:
    same, inside, pairs = agreement()
    readme = (Path(__file__).parents[1] / "README.md").read_text(encoding="utf-8")
    assert f"of one mind on {same} of 40" in readme
    assert f"{inside} of {pairs} pairs" in readme
