"""The loop in words: what became of a change, and what would make a new one a success."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from pipeline.pages import follow_text
from pipeline.settings.rules import Rules

ROW: dict[str, Any] = {
    "changed_on": date(2026, 8, 1),
    "origin": "sent",
    "is_done": True,
    "done_by": "extended_share",
    "measure_before": 0.41,
    "measure_since": 0.06,
    "rate_before": -0.1,
    "rate_since": 0.3,
    "since_low": 0.1,
    "since_high": 0.5,
    "difference_low": 0.1,
    "difference_high": 0.7,
    "verdict": "worked",
    "look_again_on": None,
}


def test_a_change_that_was_done_and_worked_in_one_breath() -> None:
    assert follow_text.last_change(ROW, "leave the drop sets out", date(2026, 8, 31)) == (
        "Last month: leave the drop sets out. Done: 41% → 6% of the hard sets extended past "
        "failure. Lifts +0.3% a week (+0.1 to +0.5), −0.1 before. It worked: keep it."
    )


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"verdict": "not_done", "is_done": False, "measure_since": 0.4},
         "Not done: 41% → 40% of the hard sets extended past failure. Whether it helps can only "
         "be told once it is done."),
        ({"verdict": "made_worse", "done_by": None},
         "Lifts +0.3% a week (+0.1 to +0.5), −0.1 before. The lifts did worse with it: undo it."),
        ({"verdict": "too_early", "done_by": None, "rate_since": None,
          "look_again_on": date(2026, 9, 26)},
         "Whether it worked can’t be told yet: look again on 26 Sept 2026."),
        ({"verdict": "too_early", "done_by": None, "rate_since": None, "difference_high": None},
         "Whether it worked can’t be told any more."),
        ({"done_by": None, "rate_since": None, "difference_low": -0.2},
         "Strength holds in the cut: keep it."),
        ({"verdict": None, "done_by": None, "rate_since": None},
         "It is not judged during a pause or while in care."),
    ],
)  # fmt: skip
def test_each_verdict_has_its_sentence(changed: dict[str, Any], said: str) -> None:
    assert follow_text.became(ROW | changed) == said


def test_by_how_much_comes_from_the_finding_and_its_rule() -> None:
    rules = vars(Rules())
    below = {"weekly_rate_sets": 6.2, "standing": "below"}
    assert follow_text.aim("volume", below, rules) == "from 6.2 to 8.2 sets a week"
    assert follow_text.aim("failure", {"failed_share": 0.84}, rules) == (
        "from 84% of the compound sets to 50% or less"
    )
    assert follow_text.aim("failure", {}, rules) == ""
    assert follow_text.aim("stall", {"change_a_week_pct": 0.0}, rules) == ""


def test_sessions_are_named_by_weekday_where_they_keep_to_them() -> None:
    def days(*held: tuple[int, int, int]) -> list[dict[str, Any]]:
        names = ("weekday", "sessions", "concerned_sessions")
        return [dict(zip(names, each, strict=True)) for each in held]

    assert follow_text.sessions_line(days((1, 4, 4), (4, 4, 3), (6, 4, 0))) == (
        "On Mondays and Thursdays."
    )
    assert follow_text.sessions_line(days((1, 2, 2), (4, 4, 4))) == "In every session."
    assert follow_text.sessions_line(days((1, 4, 1), (4, 4, 4))) == (
        "In sessions like the 5 of 8 of the last four weeks that held it."
    )


def test_success_is_more_than_now_and_in_a_cut_that_strength_holds() -> None:
    on = date(2026, 10, 25)
    assert follow_text.success(0.2, on, 0.1, is_cutting=False) == (
        "Until 25 Oct 2026: it works if it is done and all lifts together gain +0.3% a week or "
        "more (+0.2 now)."
    )
    assert follow_text.success(-0.3, on, 0.1, is_cutting=True) == (
        "Until 25 Oct 2026: it works if strength holds."
    )
