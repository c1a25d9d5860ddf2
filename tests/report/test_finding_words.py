"""Findings in words: a sentence for each, resting on figures that the models give."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from pipeline.pages import finding_text
from pipeline.resources import resource

FILES = sorted((resource("sql") / "findings").glob("*.sql"))


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_each_finding_has_a_headline_and_sentences_on_its_own_figures(path: Path) -> None:
    sql = path.read_text(encoding="utf-8")
    assert path.stem in finding_text.HEADLINES
    named = {
        name
        for text in finding_text.EVIDENCE[path.stem]
        for name, _ in re.findall(r"\{(\w+)(?:\|([^}]+))?\}", text)
    }
    missing = {name for name in named if f"'{name}'" not in sql}
    assert missing == set()


def test_there_are_no_words_for_a_finding_that_no_model_makes() -> None:
    codes = {path.stem for path in FILES}
    assert {code.split()[0] for code in finding_text.HEADLINES} == codes
    assert set(finding_text.EVIDENCE) == codes


def test_amounts_have_their_nouns_and_shares_are_per_cent() -> None:
    text = finding_text.finding(
        "failure",
        "",
        {"failed_share": 0.84, "failed_sets": 166, "recorded_sets": 198, "recorded_share": 0.95},
        "kg",
    )
    assert text.headline == "Most compound sets go to failure"
    assert text.evidence == (
        "166 of 198 compound sets with recorded effort went to failure (84%)",
        "Effort is recorded for 95% of the compound sets",
    )


def test_one_is_singular_and_a_missing_figure_leaves_its_sentence_out() -> None:
    text = finding_text.finding(
        "return",
        "",
        {
            "layoff_days": 30,
            "back_since_on": "2026-08-10",
            "sessions_since": 1,
            "weekly_sets_since": None,
            "weekly_sets_before": 40,
        },
        "kg",
    )
    assert text.evidence == ("30 days away; back since 10 Aug 2026, with 1 session so far",)


def test_the_side_of_the_guide_makes_the_headline() -> None:
    figures = {
        "weekly_rate_sets": 19.25,
        "over_days": 30,
        "guide_low_sets": 8,
        "guide_high_sets": 16,
    }
    above = finding_text.finding("volume", "biceps", {"standing": "above", **figures}, "kg")
    below = finding_text.finding("volume", "biceps", {"standing": "below", **figures}, "kg")
    assert above.headline == "More hard sets for biceps than the guide"
    assert below.headline == "Too few hard sets for biceps"
    assert above.evidence == ("19.2 hard sets a week over the last 30 days; the guide is 8–16",)


def test_figures_without_a_sentence_are_listed_under_their_names() -> None:
    text = finding_text.finding("rest", "", {"top_load_kg": 100, "arithmetic": "1 and 1"}, "lb")
    assert text.evidence == ("Top load: 220.5 lb",)
    assert text.arithmetic == "1 and 1."


def test_many_stalled_lifts_are_one_sentence() -> None:
    text = finding_text.stalls(
        ["back squat", "bench press", "barbell row"],
        {"flagged_lifts": 3, "judged_lifts": 21, "flags_by_chance": 1.05, "weeks_since_best": 9},
        "kg",
    )
    assert text.headline == "Three lifts stall or lose strength"
    assert text.evidence == (
        "Back squat, bench press and barbell row",
        "Flagged: 3 of 21 judged lifts; chance alone would flag about 1.1",
    )


def test_muscles_whose_sets_rose_are_told_with_their_numbers() -> None:
    assert finding_text.jump("glutes", {"weekly_rate_sets": 17.5, "month_before_sets": 11.375}) == (
        "Glutes: 17.5 hard sets a week, 11.4 before"
    )


def test_nothing_to_change_says_what_every_judged_lift_does() -> None:
    def step(**counts: int) -> str:
        statuses = [word for word, count in counts.items() for _ in range(count)]
        return finding_text.nothing_to_change(statuses)[2]

    assert step(progressing=3, unclear=9, too_little_data=2) == (
        "Of twelve judged lifts three progress and nine are unclear. Keep going as it is."
    )
    assert step(progressing=2, stalled=1) == (
        "Of three judged lifts two progress and one stalls. Keep going as it is."
    )
    assert step(progressing=7) == "All seven judged lifts progress. Keep going as it is."
    assert step(too_little_data=2).startswith("There is not enough history yet")
