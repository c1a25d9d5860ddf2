"""How each figure is counted: definitions with the thresholds in force, and their sources."""

from __future__ import annotations

import re
from typing import Any

from pipeline.formats import percent, sentence, short
from pipeline.pages.page_data import Block, Definitions, Items, Passage, Section
from pipeline.settings.rules import all_rules

_PUBLISHED = re.compile(r"[A-Z][\w-]+ (et al\. )?(19|20)\d\d")
"""Names and a year: a basis that is a publication, not a practice or a measurement of ours."""


def counted_blocks(rules: dict[str, Any]) -> list[Block]:
    """Definitions and sources, with every threshold: for the coach."""
    return [
        Definitions("", definitions(rules)),
        Items(SOURCES_HEADING, sources()),
        Passage(PRACTICE_NOTE, is_small=True),
    ]


def counted_section(rules: dict[str, Any]) -> Section:
    """The same in a few lines: for the client."""
    return Section("counted", COUNTED_HEADING, (Definitions("", in_short(rules)),))


def sources() -> tuple[str, ...]:
    """Formulas, and what the thresholds name as their basis."""

    named = (rule.basis for rule in all_rules().values())
    published = dict.fromkeys(basis for basis in named if _PUBLISHED.search(basis))
    return (*SOURCES, *(sentence(basis) for basis in published))


# What it says

COUNTED_HEADING = "How each figure is counted"


def definitions(rules: dict[str, float]) -> tuple[tuple[str, str], ...]:
    """How each figure is counted, with the thresholds in force."""
    value = {name: short(float(threshold), 2) for name, threshold in rules.items()}
    share = {name: percent(float(threshold)) for name, threshold in rules.items()}
    return (
        (
            "Hard set",
            f"A work set of 1 to {value['hard_reps_max']} repetitions with at most "
            f"{value['hard_rir']} repetitions in reserve (left before failure). Where reserve was "
            "not logged it is estimated from the load, with a slack of "
            f"{value['estimated_slack']}; where that is not possible either, a set at "
            f"{share['warmup_share']} or more of the day’s top load counts.",
        ),
        (
            "Sets per muscle",
            f"1 for a muscle trained directly, {value['indirect_weight']} for one trained "
            "indirectly. Direct counts only the first kind.",
        ),
        (
            "7 days, weekly rate",
            "7 days: the last covered day and the six before. Weekly rate: the last "
            f"{value['rate_days']} days divided by {short(rules['rate_days'] / 7, 1)}; a rotation "
            "of four or five days beats against the calendar week, so judgements use the rate.",
        ),
        (
            "Hits, gap, sets per hit",
            "A hit is a day with at least one direct hard set. Gap: days from one hit to the next; "
            f"sets per hit: direct sets. Both are medians over {value['usual_days']} days.",
        ),
        (
            "Standing",
            "Below or above only if the rate is outside the guide by more than half the sets of a "
            "usual hit divided by four. Not judged with under four weeks of history, without a "
            "guide, or after more than "
            f"{value['standing_silent_days']} days without a set. Never below while unknown "
            f"exercises hold over {share['unknown_share_max']} of work sets, when over "
            f"{share['extended_share_max']} of the muscle’s sets are extended, or with a gap of "
            f"{value['standing_gap_days']} days between sessions.",
        ),
        (
            "Estimated 1RM",
            "Epley: load × (1 + repetitions ÷ 30). Brzycki: load × 36 ÷ (37 − repetitions). "
            "Repetitions are those to failure (done plus in reserve), up to "
            f"{value['e1rm_reps_max']}; beyond, no estimate. e1RM is the mean of the two.",
        ),
        (
            "Trend and status",
            f"Change per week, from up to {value['history_weeks']} weeks of sessions: a line, or "
            "the part since it bent where it clearly did, with a 95% interval, from at least "
            f"{value['trend_min_sessions']} sessions. Progressing: the whole interval is above 0. "
            "Slowing: the same, but clearly less than before. Regressing: all below 0. Stalled: "
            f"it left its course, or gains less than {value['useful_rate_pct']}% a week for "
            f"{value['flat_min_weeks']} weeks or more, on strong evidence. Unclear: the data allow "
            "more than one of these.",
        ),
        (
            "Suspect set",
            f"Load above {value['suspect_ratio']} times the lift’s best of the "
            f"{value['reference_days']} days before, unless repeated later.",
        ),
    )


def in_short(rules: dict[str, Any]) -> tuple[tuple[str, str], ...]:
    """What a client needs to read the page."""
    value = {name: short(float(threshold), 2) for name, threshold in rules.items()}
    return (
        (
            "Hard set",
            f"A work set with at most {value['hard_rir']} repetitions in reserve; where that was "
            "not noted, it is estimated from the load. It counts 1 for a muscle trained directly "
            f"and {value['indirect_weight']} for one trained indirectly.",
        ),
        (
            "Weekly rate",
            "Hard sets a week over whole rounds of the rotation, about four weeks; it is what is "
            "held against the guide. 7 days: the last day and the six before.",
        ),
        (
            "Estimated 1RM",
            "What a set with more repetitions suggests could be lifted once: the mean of the "
            f"formulas of Epley (1985) and Brzycki (1993), up to {value['e1rm_reps_max']} "
            "repetitions to failure.",
        ),
        (
            "Status of a lift",
            "Progressing: its whole 95% interval is above 0. Slowing: the same, but clearly less "
            "than before. Regressing: all below 0. Stalled: no progress, on strong evidence. "
            "Unclear: the log allows more than one of these.",
        ),
    )


SOURCES_HEADING = "Sources"
SOURCES = (
    "Epley B. Poundage chart. Boyd Epley Workout. Lincoln: Body Enterprises, 1985.",
    "Brzycki M. Strength testing: predicting a one-rep max from reps-to-fatigue. Journal of "
    "Physical Education, Recreation & Dance 64(1), 1993, 88–90.",
)
"""Formulas that every page uses; thresholds add the sources that settings/rules.py names."""
PRACTICE_NOTE = (
    "Thresholds without a source are common practice; `setledger describe rules` lists all with "
    "their basis, and [rules] in setledger.toml changes them."
)
