"""Hints name what was probably meant, and nothing where nothing is like it."""

from __future__ import annotations

from pipeline.names.nearest import did_you_mean, nearest


def test_the_nearest_come_best_first_whatever_their_case() -> None:
    assert nearest("QUAD", ["glutes", "Quads", "squads"], 2) == ["Quads", "squads"]
    assert nearest("xyz", ["glutes", "quads"]) == []


def test_a_lower_likeness_finds_a_name_inside_a_longer_one() -> None:
    """Of the 15 letters of both, twice 4 are shared: 8 / 15 = 0.53."""
    assert nearest("ines duarte", ["ines"]) == []
    assert nearest("ines duarte", ["ines"], likeness=0.5) == ["ines"]


def test_a_message_ends_with_the_nearest_or_with_all_there_are() -> None:
    assert did_you_mean("chst", ["back", "chest"]) == "did you mean chest?"
    assert did_you_mean("xyz", ["back", "chest"]) == "there are back, chest."
    assert did_you_mean("xyz", []) == "there are none."
