"""Every threshold of the review with its default, its unit and what it rests on.

`[rules]` in setledger.toml overrules single values; a build stores them as the one row of
`review.rules`, and the SQL models read them there: no model carries a bare threshold.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from typing import Any


def _rule(default: float | int, unit: str, meaning: str, basis: str) -> Any:
    """A field of `Rules` that carries its documentation."""
    return field(default=default, metadata={"unit": unit, "meaning": meaning, "basis": basis})


PRACTICE = "common practice, no source"
SIMULATED = "found by simulation, errors in tests/README.md"


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
    trend_days: int = _rule(84, "days", "over which a client's lifts are judged together", PRACTICE)
    look_weeks: int = _rule(26, "weeks", "of statuses that are shown", PRACTICE)
    history_weeks: int = _rule(
        78,
        "weeks",
        "of a lift's sessions that one look goes back",
        "measured: 40 weeks find a third of what 78 find after slow gains, tests/README.md",
    )
    trend_days_max: int = _rule(182, "days", "beyond which a target is too far to tell", PRACTICE)
    trend_min_sessions: int = _rule(
        6,
        "sessions",
        "fewer give no trend",
        "four sessions cannot reach p < 0.05 (exact Mann–Kendall), five barely",
    )
    group_min_sessions: int = _rule(
        3, "sessions", "of a band of repetitions at one level; fewer are left out", PRACTICE
    )
    trend_min_days: int = _rule(28, "days", "a shorter span gives no trend", PRACTICE)
    expected_low_pct: float = _rule(0.05, "% a week", "lowest expected rate", PRACTICE)
    expected_high_pct: float = _rule(0.5, "% a week", "highest expected rate", PRACTICE)
    expected_default_pct: float = _rule(
        0.25, "% a week", "expected rate where none is known", PRACTICE
    )
    useful_rate_pct: float = _rule(
        0.1,
        "% a week",
        "least rate worth having: a lift that gains it is never flagged",
        "about 5 % a year; common practice",
    )
    step_weeks: int = _rule(
        10, "weeks", "on each side of a session in which a lasting step is looked for", PRACTICE
    )
    step_min_before: int = _rule(5, "sessions", "before a lasting step", PRACTICE)
    step_min_after: int = _rule(3, "sessions", "from a lasting step on", PRACTICE)
    step_gain: float = _rule(
        11.0,
        "variances",
        "by which a step must explain the sessions better than a line or a bend",
        SIMULATED,
    )
    step_low_pct: float = _rule(5.0, "%", "smaller steps give no level of their own", SIMULATED)
    step_scatters: float = _rule(
        2.0, "scatters", "nor do steps smaller than so many robust standard deviations", SIMULATED
    )
    step_apart_weeks: int = _rule(6, "weeks", "between two lasting steps", PRACTICE)
    weak_step_gain: float = _rule(
        4.0, "variances", "by which a step is possible that is not certain", SIMULATED
    )
    weak_step_pct: float = _rule(4.0, "%", "smaller steps are not even possible ones", SIMULATED)
    bend_weeks_low: int = _rule(
        6, "weeks", "before the look: the latest day on which a course may bend", SIMULATED
    )
    bend_weeks_high: int = _rule(
        26, "weeks", "before the look: the earliest day on which a course may bend", SIMULATED
    )
    bend_days: int = _rule(
        5, "days tried", "from the one to the other, evenly by ratio: 6, 9, 12, 18, 26", SIMULATED
    )
    bend_min_after: int = _rule(5, "sessions", "after a bend", PRACTICE)
    bend_min_before: int = _rule(6, "sessions", "before a bend", PRACTICE)
    bend_min_weeks_before: int = _rule(4, "weeks", "before a bend", PRACTICE)
    curve_weeks_short: float = _rule(
        16.0, "weeks", "in which the gains of the quicker curve fall to 37 %", SIMULATED
    )
    curve_weeks_long: float = _rule(
        32.0, "weeks", "in which the gains of the slower curve fall to 37 %", SIMULATED
    )
    curve_log_weeks: float = _rule(
        4.0,
        "weeks",
        "of training before a lift's first session on the curve that follows logs of weeks",
        "linear in log time: Steele et al. 2022; the weeks are common practice",
    )
    curve_end_weeks: int = _rule(
        8, "weeks", "before the look, over which a curve's present rate is taken", PRACTICE
    )
    curve_early_weeks: int = _rule(
        26, "weeks", "before those, over which its earlier rate is taken", PRACTICE
    )
    curve_cost: float = _rule(
        1.0,
        "variances",
        "that a curve is charged beside a bend",
        "measured: 0 leaves plateaus in short logs, 2 accuses beginners, tests/README.md",
    )
    curve_gain: float = _rule(
        2.0, "variances", "by which a curve must explain more than a line", SIMULATED
    )
    course_gain: float = _rule(
        4.0, "variances", "by which a bend or a possible step must explain more", SIMULATED
    )
    reach_gain: float = _rule(
        4.0, "variances", "worse than the best, a line or curve still speaks for a lift", SIMULATED
    )
    fall_gain: float = _rule(
        5.0, "variances", "by which a fall must explain more than every course without", SIMULATED
    )
    doubt_gain: float = _rule(
        2.0, "variances", "by which a bend explains more: a gain may have ended", SIMULATED
    )
    halved_share: float = _rule(
        0.5, "share", "of the earlier rate; a bend to less is a stall", PRACTICE
    )
    slowing_share: float = _rule(
        0.6, "share", "of the earlier rate; gains under it have slowed down", PRACTICE
    )
    flat_z: float = _rule(1.85, "standard errors", "under the useful rate: no progress", SIMULATED)
    flat_span_z: float = _rule(
        3.0, "standard errors", "under it in one of the last spans alone: no progress", SIMULATED
    )
    flat_span_slack: float = _rule(
        0.6, "standard errors", "by which the clearest of several spans is doubted", SIMULATED
    )
    flat_min_weeks: int = _rule(8, "weeks", "fewer without progress are no stall", PRACTICE)
    flat_weeks_long: int = _rule(
        39, "weeks", "longest of the spans that are looked at alone", SIMULATED
    )
    stall_p: float = _rule(
        0.015,
        "probability",
        "evidence at which a stall appears; it stays while its rule holds",
        "measured: false alarms in 26 weekly looks fall to about a half, tests/README.md",
    )
    stall_memory_weeks: int = _rule(8, "weeks", "for which such evidence is remembered", PRACTICE)
    joint_short_days: int = _rule(
        42, "days", "in which lifts that fall together are looked for as well", SIMULATED
    )
    joint_min_lifts: int = _rule(
        3, "lifts", "from which each is drawn towards all together", PRACTICE
    )
    shared_noise_share: float = _rule(
        0.3,
        "share",
        "of the variance of sessions that a client's lifts have in common",
        "assumed; 0.45 changes little in the held-out half of tests/README.md",
    )
    joint_spread_low: float = _rule(
        0.04, "% a week", "least standard deviation of the rates of a client's lifts", PRACTICE
    )
    joint_min_sessions: int = _rule(
        4, "sessions", "of a lift in the span; fewer are not judged together", PRACTICE
    )
    joint_fall_p: float = _rule(
        0.0005, "probability", "one-sided, at which all lifts together clearly fall", SIMULATED
    )
    joint_fall_share: float = _rule(
        0.7, "share", "of the lifts that point down where all together fall", PRACTICE
    )
    joint_few_p: float = _rule(
        0.025,
        "probability",
        "one-sided, at which all together fall where drop_lifts lifts regress",
        SIMULATED,
    )
    noise_low_pct: float = _rule(
        1.0,
        "%",
        "least scatter of sessions by which a session or a step is called far off",
        "retest CV 0.5–12.1 %, median 4.2 %: Grgic et al. 2020",
    )
    course_noise_low_pct: float = _rule(
        0.5, "%", "least scatter of sessions about their course", PRACTICE
    )
    clip_scales: float = _rule(
        3.0,
        "scales",
        "a session further than this many robust standard deviations off counts as the median",
        "usual choice in robust statistics: Hampel 1974",
    )
    clip_recent_sessions: int = _rule(
        4, "sessions", "before, with whose median a session is compared", PRACTICE
    )
    clip_sessions: int = _rule(
        8, "sessions", "before, whose median tells easy days and usual repetitions", PRACTICE
    )
    clip_scale_sessions: int = _rule(
        40, "sessions", "over which the usual scatter is taken", PRACTICE
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
        0.1,
        "share",
        "correlation from session to session, as far as a lift's own sessions do not tell",
        PRACTICE,
    )
    correlation_high: float = _rule(
        0.8, "share", "highest correlation from session to session", PRACTICE
    )
    correlation_sessions: float = _rule(
        30.0, "sessions", "weight of correlation_low beside the lift's own sessions", SIMULATED
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
    chance_p: float = _rule(
        0.0005,
        "probability",
        "of so many flags, or as strong ones, by chance among a client's lifts; above: noticed",
        "measured: under 0.1 false first changes a client-year, tests/README.md",
    )
    chance_few_p: float = _rule(
        0.01, "probability", "the same with up to chance_few_lifts lifts", PRACTICE
    )
    chance_few_lifts: int = _rule(3, "lifts", "that are few", PRACTICE)
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
