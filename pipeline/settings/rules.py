"""Every threshold of the review with its default, its unit and what it rests on.

`[rules]` in setledger.toml overrules single values; a build stores them as the one row of
`review.rules`, and the SQL models read them there: no model carries a bare threshold.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from datetime import date
from typing import Any


def _rule(default: float | int, unit: str, meaning: str, basis: str) -> Any:
    """A field of `Rules` that carries its documentation."""
    return field(default=default, metadata={"unit": unit, "meaning": meaning, "basis": basis})


PRACTICE = "common practice, no source"

FIRST_DAY = date(1950, 1, 1)
"""An earlier day is taken for a slip; no key of [rules]."""

BODYWEIGHT_KG = (20.0, 400.0)
"""A bodyweight outside is taken for a slip; no key of [rules]."""


@dataclass(frozen=True)
class Rules:
    """Thresholds. Whole numbers are stored as integers, the others as doubles."""

    # Reading and loading
    set_aside_share: float = _rule(
        0.02, "share", "a version with a larger share of its lines set aside is held", PRACTICE
    )
    taken_away_share: float = _rule(
        0.20, "share", "a version that takes away more of a client's sets is held", PRACTICE
    )
    reps_max: int = _rule(100, "reps", "more in one set is taken for a slip", PRACTICE)
    load_max_kg: float = _rule(
        700.0, "kg", "more is beyond what a human lifts in a logged set", PRACTICE
    )
    rir_max: float = _rule(20.0, "reps", "repetitions in reserve above this are a slip", PRACTICE)
    fresh_days: int = _rule(
        45, "days", "data older than this at the as-of day is called stale by check", PRACTICE
    )

    # Sets
    suspect_ratio: float = _rule(
        1.5, "ratio", "a load above this times the lift's recent best is suspect", PRACTICE
    )
    suspect_repeat_share: float = _rule(
        0.9,
        "share",
        "of its load reached in a later session: the load was real and is not suspect",
        PRACTICE,
    )
    reference_days: int = _rule(
        42,
        "days",
        "window of the reference index and of a suspect load's comparison",
        "common practice; measured: 28 to 84 days estimate effort alike, tests/README.md",
    )
    reference_min_sessions: int = _rule(
        3, "sessions", "from here on the reference is the second-best session", PRACTICE
    )
    restart_days: int = _rule(
        14, "days", "the reference does not reach across a gap of this many days", PRACTICE
    )
    hard_rir: float = _rule(
        3.0,
        "reps",
        "a set with at most this many reps in reserve is hard",
        "sets to or near failure, Baz-Valle et al. 2021; the cut at 3 is common practice",
    )
    effort_disagreement: float = _rule(
        1.0,
        "reps",
        "reserve and exertion, or reserve and failure, this far apart disagree; less is rounding",
        PRACTICE,
    )
    estimated_slack: float = _rule(
        2.0,
        "reps",
        "allowance for fatigue where effort is estimated from the load",
        "measured: keeps 99 % of truly hard sets, 0 keeps 94 %, tests/README.md",
    )
    hard_reps_max: int = _rule(
        30, "reps", "longer sets are not counted as hard", "Baz-Valle et al. 2021, range of reps"
    )
    estimated_reps_max: int = _rule(
        20, "reps", "above this an estimated effort is judged by load alone", PRACTICE
    )
    warmup_share: float = _rule(
        0.75,
        "share",
        "of the day's top load; below it a set of unknown effort is no hard set",
        PRACTICE,
    )
    e1rm_reps_max: float = _rule(
        12.0,
        "reps",
        "no 1RM is estimated from more repetitions to failure",
        "validity falls with reps: Whisenant et al. 2003, Reynolds et al. 2006",
    )
    index_reps_max: float = _rule(
        20.0, "reps", "no strength index from more repetitions to failure", PRACTICE
    )
    reserve_max: float = _rule(
        4.0,
        "reps",
        "recorded reserve above this gives no repetitions to failure",
        "accuracy of predicted reserve is better near failure: Halperin et al. 2022",
    )
    level_change_share: float = _rule(
        0.15,
        "share",
        "median of three sessions off by this from the three before: a new level",
        PRACTICE,
    )
    bodyweight_days: int = _rule(
        60, "days", "a weigh-in further away gives no bodyweight", PRACTICE
    )

    # Counting muscles
    indirect_weight: float = _rule(
        0.5,
        "sets",
        "what a set counts for a muscle trained indirectly",
        "fractional counting, Pelland et al. 2025",
    )
    guide_week_low: float = _rule(8.0, "sets", "low end of the guide a week", PRACTICE)
    guide_week_high: float = _rule(16.0, "sets", "high end of the guide a week", PRACTICE)
    guide_session_low: float = _rule(4.0, "sets", "low end of the guide a session", PRACTICE)
    guide_session_high: float = _rule(8.0, "sets", "high end of the guide a session", PRACTICE)
    rate_days: int = _rule(28, "days", "span of the weekly rate", PRACTICE)
    usual_days: int = _rule(56, "days", "span of the median gap and of sets per hit", PRACTICE)
    standing_silent_days: int = _rule(
        7, "days", "without any set for longer, a muscle has no standing", PRACTICE
    )
    standing_gap_days: int = _rule(
        10, "days", "with two sessions this far apart in the rate's span, never below", PRACTICE
    )
    unknown_share_max: float = _rule(
        0.05,
        "share",
        "of work sets on unknown exercises; above it nothing is called below",
        PRACTICE,
    )
    extended_share_max: float = _rule(
        0.25,
        "share",
        "of a muscle's hard sets extended; above it the muscle is not called below",
        PRACTICE,
    )

    # Rhythm
    rest_day_sets: int = _rule(4, "sets", "a day with fewer hard sets is a rest day", PRACTICE)
    rotation_days: int = _rule(
        56, "days", "span in which a rotation of sessions is looked for", PRACTICE
    )
    rotation_gap_days: int = _rule(
        7, "days", "sessions on two sides of a longer gap are not compared", PRACTICE
    )
    rotation_sessions_max: int = _rule(10, "sessions", "longest rotation in sessions", PRACTICE)
    rotation_days_min: int = _rule(2, "days", "shortest rotation in days", PRACTICE)
    rotation_days_max: int = _rule(14, "days", "longest rotation in days", PRACTICE)
    rotation_min_pairs: int = _rule(6, "pairs", "of sessions that a rotation needs", PRACTICE)
    rotation_similarity: float = _rule(
        0.8, "cosine", "least likeness of sessions one rotation apart", PRACTICE
    )
    rotation_slack: float = _rule(
        0.05,
        "cosine",
        "the shortest rotation this near to the best is taken, and sessions before days",
        "common practice; how often it is right is measured in tests/README.md",
    )

    # Effort
    effort_load_share: float = _rule(
        0.6, "share", "of the day's top load; lighter sets are left out of effort", PRACTICE
    )

    # Quality of work inside a session
    fade_days: int = _rule(182, "days", "span over which fade is measured", PRACTICE)
    fade_load_share: float = _rule(
        0.1, "share", "sets with loads further apart are not compared", PRACTICE
    )
    fade_min_sessions: int = _rule(
        10,
        "sessions",
        "fewer give no fade",
        "indices of small drops are unreliable: Oliver 2009; the number is common practice",
    )
    trackable_weeks: int = _rule(8, "weeks", "span in which a lift is trackable or not", PRACTICE)
    trackable_sessions: int = _rule(
        4, "sessions", "of a lift in that span make it trackable", PRACTICE
    )

    # Lifts
    trend_days: int = _rule(84, "days", "window of a lift's trend", PRACTICE)
    trend_days_max: int = _rule(
        182, "days", "to which the window grows if the data are noisy", PRACTICE
    )
    trend_min_sessions: int = _rule(
        6,
        "sessions",
        "fewer give no trend",
        "four sessions cannot reach p < 0.05 (exact Mann–Kendall), five barely",
    )
    trend_min_days: int = _rule(28, "days", "a shorter span gives no trend", PRACTICE)
    expected_days: int = _rule(
        182, "days", "before the window: the lift's own earlier rate", PRACTICE
    )
    expected_low_pct: float = _rule(0.05, "% a week", "lowest expected rate", PRACTICE)
    expected_high_pct: float = _rule(0.5, "% a week", "highest expected rate", PRACTICE)
    expected_default_pct: float = _rule(
        0.25, "% a week", "expected rate where none is known", PRACTICE
    )
    break_days: int = _rule(
        56,
        "days",
        "the end of a lift's history that is held against its own earlier line",
        "measured: of 6 to 16 weeks it finds most plateaus of 8 weeks, tests/README.md",
    )
    long_break_days: int = _rule(
        140,
        "days",
        "a longer end, for plateaus that the short one has grown used to",
        "measured: of 16 and 20 weeks it finds more plateaus over 12 weeks, tests/README.md",
    )
    break_min_sessions: int = _rule(
        4, "sessions", "fewer in that end are not held against the earlier line", PRACTICE
    )
    curve_weeks: float = _rule(
        12.0,
        "weeks",
        "training before a lift's first session: gains then slow down as logs of weeks",
        "linear in log time: Steele et al. 2022; the weeks are common practice",
    )
    curve_days: int = _rule(
        1095, "days", "by which the course of a lift before its end is told", PRACTICE
    )
    curve_variances: float = _rule(
        4.0,
        "variances",
        "by which logs of weeks must fit the earlier sessions better than weeks",
        "measured in tests/README.md",
    )
    worthwhile_pct: float = _rule(
        0.1,
        "% a week",
        "least rate worth having: where a lift's own rate is unknown, a stall is below this",
        "about 5 % a year; common practice",
    )
    noise_low_pct: float = _rule(
        1.0,
        "%",
        "least variation between sessions that an interval allows for",
        "retest CV 0.5–12.1 %, median 4.2 %: Grgic et al. 2020",
    )
    clip_scales: float = _rule(
        2.5,
        "scales",
        "a session further than this many robust standard deviations off is drawn in to it",
        "usual choice in robust statistics; measured in tests/README.md",
    )
    clip_sessions: int = _rule(
        8, "sessions", "whose median a session is compared with before it is drawn in", PRACTICE
    )
    clip_scale_sessions: int = _rule(
        40, "sessions", "over which the usual distance from that median is taken", PRACTICE
    )
    easy_load_share: float = _rule(
        0.05,
        "share",
        "without recorded effort, so much less load that gives far less is an easy day",
        PRACTICE,
    )
    reps_change: float = _rule(
        2.0,
        "reps",
        "median of three sessions off by this from the three before: other repetitions",
        "measured: 3 leave steps that look like stalls, tests/README.md",
    )
    reps_change_scales: float = _rule(
        3.0,
        "scales",
        "and by so many robust standard deviations of the usual scatter",
        "usual choice in robust statistics",
    )
    correlation_low: float = _rule(
        0.2,
        "share",
        "least correlation from session to session that an interval allows for",
        PRACTICE,
    )
    correlation_sessions: float = _rule(
        5.0,
        "sessions",
        "weight of a correlation of correlation_low beside the one found in the data",
        "measured: keeps false alarms under 7 % at correlations up to 0.5",
    )
    not_trained_days: int = _rule(
        21, "days", "without the lift: no status, and a restart after", PRACTICE
    )
    new_record_days: int = _rule(
        28,
        "days",
        "a record this recent speaks against a stall where effort is unrecorded",
        PRACTICE,
    )
    light_share: float = _rule(
        0.10, "share", "every load this far under the recent median: a light session", PRACTICE
    )
    light_run_days: int = _rule(
        10,
        "days",
        "longest run of light sessions taken for a deload",
        "deloads last 6.4 ± 1.7 days: Rogerson et al. 2024",
    )

    # Findings: what to change first
    silent_days: int = _rule(7, "days", "so long without a set: ask for the log first", PRACTICE)
    assumed_share_max: float = _rule(
        0.5, "share", "of work sets with assumed effort; above it the log comes first", PRACTICE
    )
    drop_share: float = _rule(
        0.05,
        "share",
        "a lift this far under its level in two sessions has dropped",
        "about one retest CV, median 4.2 %: Grgic et al. 2020; twice running and on several lifts",
    )
    drop_lifts: int = _rule(3, "lifts", "that dropped together: ask why", PRACTICE)
    drop_parts: int = _rule(2, "body parts", "that these lifts train at least", PRACTICE)
    drop_reps_slack: float = _rule(
        1.0,
        "reps",
        "more repetitions to failure than usual are other work and no drop",
        PRACTICE,
    )
    return_days: int = _rule(28, "days", "after a layoff in which work is rebuilt", PRACTICE)
    return_share: float = _rule(0.5, "share", "of the usual sets to come back with", PRACTICE)
    attendance_share: float = _rule(
        0.33, "share", "fewer sessions than in the span before: ask why", PRACTICE
    )
    share_min_sets: int = _rule(20, "sets", "a share of fewer sets is no finding", PRACTICE)
    extension_share: float = _rule(
        0.25, "share", "of hard sets that go on after failure; above it less of that", PRACTICE
    )
    extension_compound_weight: float = _rule(
        2.0, "sets", "what a compound set counts for in that share", PRACTICE
    )
    frequent_gap_days: float = _rule(
        4.0, "days", "a muscle hit this often or more is hit often", PRACTICE
    )
    failure_share: float = _rule(
        0.5, "share", "of recorded compound sets with nothing left; above it fewer", PRACTICE
    )
    effort_recorded_share: float = _rule(
        0.5, "share", "of work sets with recorded effort; below it effort is not judged", PRACTICE
    )
    restless_days: int = _rule(
        14, "days", "of the rate's span that end seven days without a rest day", PRACTICE
    )
    large_share: float = _rule(
        0.5, "share", "of a muscle's sessions above the guide's high end: most", PRACTICE
    )
    late_output: float = _rule(
        0.93, "ratio", "output of the sets past the guide against the first; below: fade", PRACTICE
    )
    crammed_gap_days: float = _rule(
        6.0, "days", "a longer usual gap: a week's work in one day", PRACTICE
    )
    easy_rir: float = _rule(
        4.0,
        "reps",
        "a set with so many or more in reserve is far from failure",
        "accuracy of predicted reserve is better near failure: Halperin et al. 2022",
    )
    easy_share: float = _rule(0.5, "share", "of recorded sets far from failure: most", PRACTICE)
    easy_min_sets: int = _rule(
        8, "sets", "of a muscle; fewer in the rate's span say nothing of its effort", PRACTICE
    )
    heavy_reps_max: int = _rule(
        5, "reps", "sets of at most so many may be heavy though far from failure", PRACTICE
    )
    heavy_reps_to_failure: float = _rule(
        10.0, "reps", "heavy: not more to failure, about 75 % of the 1RM by Epley", PRACTICE
    )
    volume_step: float = _rule(2.0, "sets a week", "step by which sets change", PRACTICE)
    trackable_share_min: float = _rule(
        0.6,
        "share",
        "of hard sets on lifts that can be followed; below: too much turnover",
        PRACTICE,
    )
    stall_apart_days: int = _rule(
        21, "days", "between two looks at a lift that stalls on both", PRACTICE
    )
    false_alarm_share: float = _rule(
        0.05,
        "share",
        "of lifts that gain and are called stalled or regressing by chance",
        "measured on simulated lifters, tests/README.md",
    )
    jump_ratio: float = _rule(1.5, "ratio", "a rate above so many times the month before", PRACTICE)
    jump_sets: float = _rule(4.0, "sets a week", "and at least so many sets above it", PRACTICE)
    working_share: float = _rule(
        0.66,
        "share",
        "of lifts with a status that progress, none falling: change nothing",
        PRACTICE,
    )

    # Before and after a change
    change_days: int = _rule(
        28, "days", "span on each side of a noted change, a multiple of 7", PRACTICE
    )
    change_history_days: int = _rule(
        182, "days", "before a change: how much four-week spans usually differ", PRACTICE
    )
    change_min_days: int = _rule(14, "days", "of such a span that give a figure", PRACTICE)
    change_min_sessions: int = _rule(
        2, "sessions", "of a lift in each span that its levels are compared by", PRACTICE
    )
    change_min_pairs: int = _rule(
        8, "pairs", "of neighbouring spans that tell what is usual", PRACTICE
    )
    change_spread: float = _rule(
        2.5,
        "ratio",
        "of the root mean square of usual differences; more is more than usual variation",
        "measured: 2 to 7 % of unchanged spans are called more, tests/README.md",
    )


def rule_names() -> tuple[str, ...]:
    """Names of all rules, in the order in which they are documented."""
    return tuple(rule.name for rule in fields(Rules))
