"""Whether a lift moves, with matrices: the method that the SQL's headers describe, from scratch.

Each week's lines are fitted anew by least squares on a column a band; nothing is carried from week
to week, so that the SQL's running sums have something to be held against.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from statistics import median

import numpy as np
import numpy.typing as npt

from pipeline.settings.rules import Rules
from tests.reference.lifts import EPS, Lift, Session

Floats = npt.NDArray[np.float64]


@dataclass
class Used:
    """A session as the trend sees it."""

    session: Session
    run: int
    run_from: date
    value: float | None
    """What is followed: the best index, or load × repetitions."""
    raw: float | None
    """100 × natural log of what the day gives; None: light, easy or nothing to follow."""
    best_before: float | None
    best_in_run: float | None
    usual: float = 0.0
    """Median of the values of the sessions before."""
    band: str = "all"
    log_value: float | None = None
    is_record: bool = False

    @property
    def day(self) -> date:
        """The session's day."""
        return self.session.day


def follow(lift: Lift, rules: Rules) -> list[Used]:
    """The lift's sessions in runs and bands, those far off drawn in."""
    sessions = lift.sessions
    has_index = 2 * sum(each.index is not None for each in sessions) >= len(sessions)
    found: list[Used] = []
    for number, session in enumerate(sessions):
        before = sessions[number - 1] if number else None
        is_restart = before is None or (
            (session.day - before.day).days >= rules.not_trained_days
            or session.level > before.level
        )
        value = session.index if has_index else session.followed
        is_weak = not session.is_planned and any(
            one.rir is not None and one.rir <= rules.hard_rir for one in session.sets
        )
        is_used = value is not None and value > 0 and (is_weak or not session.is_light)
        given = _given(session) if has_index else session.followed
        found.append(
            Used(
                session,
                run=found[-1].run + is_restart if found else 1,
                run_from=session.day if is_restart else found[-1].run_from,
                value=value,
                raw=100 * math.log(given) if is_used and given is not None else None,
                best_before=None,
                best_in_run=None,
            )
        )
    for each in found:
        earlier = [one.value for one in found if one.run < each.run and one.value is not None]
        own = [
            one.value
            for one in found
            if one.run == each.run and one.day <= each.day and one.value is not None
        ]
        each.best_before = max(earlier, default=None)
        each.best_in_run = max(own, default=None)
    for run in {each.run for each in found}:
        used = [each for each in found if each.run == run and each.raw is not None]
        used = _without_easy_days(used, has_index, rules)
        if has_index:
            _band(used, rules)
        _draw_in(used, rules)
    return found


def _given(session: Session) -> float | None:
    """Mean of the two best indices of a day, of one set its own."""
    best = sorted((one.index for one in session.trusted if one.index is not None), reverse=True)[:2]
    return sum(best) / len(best) if best else None


def _load(used: Used) -> float:
    """Load of the set with the best index, the heavier at a tie."""
    best = max(
        (one for one in used.session.trusted if one.index is not None),
        key=lambda one: (round(one.index or 0.0, 9), one.load or 0.0),
    )
    return best.load or 0.0


def _without_easy_days(used: Sequence[Used], has_index: bool, rules: Rules) -> list[Used]:
    """Far less at a lower load, effort unrecorded: an easy day, left out unless they go on."""
    distances: list[float] = []
    kept: list[Used] = []
    last_full: date | None = None
    for number, each in enumerate(used):
        last = used[max(0, number - rules.clip_sessions) : number]
        each.usual = median(map(_value, last)) if last else _value(each)
        distances.append(100 * math.log(_value(each) / each.usual))
        window = distances[max(0, number - rules.clip_scale_sessions) :]
        scale = max(rules.noise_low_pct, 1.4826 * median(map(abs, window)))
        is_easy = (
            has_index
            and not each.session.has_recorded_effort
            and distances[-1] < -scale * rules.clip_scales
            and _load(each) <= (1 - rules.easy_load_share) * median(map(_load, last))
        )
        if not is_easy:
            last_full = each.day
        if is_easy and last_full and (each.day - last_full).days <= rules.light_run_days:
            each.raw = None
        else:
            kept.append(each)
    return kept


def _band(used: Sequence[Used], rules: Rules) -> None:
    """Repetitions to failure that were usual then; held until three sessions are at others."""
    reps, distances = [], []
    held = 0.0
    for each in used:
        reps.append(round(30 * ((_value(each) + each.usual) / 2 / _load(each) - 1), 5))
        distances.append(round(15 * abs(_value(each) - each.usual) / _load(each), 5))
    for number, each in enumerate(used):
        window = distances[max(0, number - rules.clip_scale_sessions) : number + 1]
        least = max(rules.reps_change, rules.reps_change_scales * 1.4826 * median(window))
        held = _new_reps(reps, number, held, least, rules)
        each.band = str(math.floor((held + 1.5) / rules.reps_change + 1e-6))


def _new_reps(reps: Sequence[float], number: int, held: float, least: float, rules: Rules) -> float:
    own = reps[number]
    after = median(reps[number : number + 3]) if number + 3 <= len(reps) else None
    if number == 0:
        return own if after is None else after
    last = reps[number - 1]
    if number < 3 or after is None:
        return own if abs(own - last) >= least - 1e-5 else held
    before = median(reps[number - 3 : number])
    long_before = median(reps[max(0, number - rules.clip_sessions) : number])
    is_far = max(abs(after - before), abs(after - long_before)) >= least - 1e-5
    middle = (before + after) / 2
    is_between = (last < middle) == (before < after) and (own > middle) == (before < after)
    return after if is_far and is_between else held


def _value(used: Used) -> float:
    assert used.value is not None
    return used.value


def _raw(used: Used) -> float:
    assert used.raw is not None
    return used.raw


def _draw_in(used: Sequence[Used], rules: Rules) -> None:
    """Sessions far off the median of those before, in their band, come to its edge."""
    distances: list[float] = []
    for number, each in enumerate(used):
        same = [one for one in used if one.band == each.band]
        place = same.index(each)
        if place + 1 > rules.trend_min_sessions:
            around = same[max(0, place - rules.clip_sessions) : place]
        else:
            around = same[
                max(0, place - rules.trend_min_sessions) : place + rules.trend_min_sessions
            ]
        centre = median(_raw(one) for one in around)
        distances.append(abs(_raw(each) - centre))
        last = distances[max(0, number - rules.clip_scale_sessions) : number + 1]
        scale = max(rules.noise_low_pct, 1.4826 * median(last))
        reach = rules.clip_scales * scale
        each.log_value = min(max(_raw(each), centre - reach), centre + reach)
        recent = [
            _raw(one) for one in same if 0 <= (each.day - one.day).days < rules.new_record_days
        ]
        earlier = [_raw(one) for one in same if (each.day - one.day).days >= rules.new_record_days]
        if len(recent) > 1 and earlier:
            least = max(earlier) + scale
            each.is_record = sorted(recent)[-2] > least and _raw(each) > least


@dataclass(frozen=True)
class Fit:
    """Least squares with a level a band."""

    slopes: Floats
    covariance: Floats
    """Of the slopes, by the residual variance, without correlation."""
    n: int
    freedom: int
    rest: float


@dataclass(frozen=True)
class Window:
    """Sessions of the days up to the last, in bands held by three or more."""

    used: list[Used]
    weeks: Floats
    """From the lift's last used session, 0 or less."""
    values: Floats
    levels: Floats
    """A column a band."""


def window_of(used: Sequence[Used], until: date, days: int) -> Window:
    """The sessions that a line of so many days rests on."""
    recent = [each for each in used if until - timedelta(days=days) < each.day <= until]
    bands = sorted({each.band for each in recent})
    held = [band for band in bands if sum(each.band == band for each in recent) >= 3]
    kept = [each for each in recent if each.band in held]
    return Window(
        kept,
        np.array([(each.day - until).days / 7 for each in kept]),
        np.array([each.log_value for each in kept], dtype=float),
        np.array([[float(each.band == band) for band in held] for each in kept]),
    )


def fit(window: Window, columns: Floats, rules: Rules) -> Fit | None:
    """Slopes of the columns beside the bands' levels; None where they cannot be told."""
    if not window.used:
        return None
    design = np.column_stack([columns, window.levels])
    if np.linalg.matrix_rank(design) < design.shape[1]:
        return None
    inverse = np.linalg.inv(design.T @ design)
    found = np.linalg.lstsq(design, window.values - window.values[0], rcond=None)[0]
    rest = round(float(((window.values - window.values[0] - design @ found) ** 2).sum()), 6)
    n, slopes = len(window.used), columns.shape[1]
    freedom = n - design.shape[1]
    variance = max(rest / freedom if freedom > 0 else 0.0, rules.noise_low_pct**2)
    return Fit(found[:slopes], variance * inverse[:slopes, :slopes], n, freedom, rest)


def one_line(used: Sequence[Used], until: date, days: int, rules: Rules) -> Fit | None:
    """One line through the sessions of so many days."""
    window = window_of(used, until, days)
    return fit(window, window.weeks.reshape(-1, 1), rules)


@dataclass(frozen=True)
class Break:
    """Two lines that meet where the end begins."""

    end_sessions: int
    end_slope: float
    end_se: float
    earlier_slope: float
    slope: float
    se: float
    freedom: int
    rest: float
    is_curved: bool
    """Whether the earlier course follows logs of weeks better than weeks."""
    slowed_slope: float
    """What that course against logs would have had in the end."""
    log_ratio: float
    """Difference of the slopes against logs over its standard error."""


def _left(late: float, early: float, cov: Floats) -> tuple[float, float]:
    """Difference of two slopes and its standard error."""
    return late - early, math.sqrt(cov[0, 0] + cov[1, 1] - 2 * cov[0, 1])


def _explained(used: Sequence[Used], times: Sequence[float]) -> float:
    """Sum of squares that one line explains, a level for each band held by three or more."""
    together = square = 0.0
    for band in {each.band for each in used}:
        own = [number for number, each in enumerate(used) if each.band == band]
        if len(own) >= 3:
            time = np.array([times[number] for number in own])
            value = np.array([_log(used[number]) for number in own])
            together += float(((time - time.mean()) * (value - value.mean())).sum())
            square += float(((time - time.mean()) ** 2).sum())
    return together**2 / square if square else 0.0


def two_lines(used: Sequence[Used], until: date, end_days: int, rules: Rules) -> Break | None:
    """The lift's end against its own earlier line; None: too few sessions on one side."""
    if (until - used[0].day).days < end_days + rules.trend_min_days:
        return None
    window = window_of(used, until, rules.trend_days + rules.expected_days)
    weeks = window.weeks + end_days / 7
    in_end = int((weeks > EPS).sum())
    if in_end < rules.break_min_sessions or len(weeks) - in_end < rules.trend_min_sessions:
        return None
    found = fit(window, np.column_stack([np.minimum(weeks, 0), np.maximum(weeks, 0)]), rules)
    if found is None or found.freedom <= 0:
        return None
    (early, late), cov = found.slopes, found.covariance
    slope, se = _left(float(late), float(early), cov)

    def log(weeks: float) -> float:
        return math.log(weeks + rules.curve_weeks)

    def since(each: Used) -> float:
        return (each.day - each.run_from).days / 7

    from_weeks = (until - used[0].run_from).days / 7 - end_days / 7
    logs = np.array([log(since(each)) for each in window.used]) - log(max(from_weeks, 0))
    by_logs = fit(window, np.column_stack([np.minimum(logs, 0), np.maximum(logs, 0)]), rules)
    assert by_logs is not None
    log_early, log_late = map(float, by_logs.slopes)
    log_slope, log_se = _left(log_late, log_early, by_logs.covariance)
    begin = until - timedelta(days=rules.curve_days)
    course = [each for each in used if begin < each.day <= until - timedelta(days=end_days)]
    better = _explained(course, [log(since(each)) for each in course]) - _explained(
        course, [since(each) for each in course]
    )
    variance = max(found.rest / found.freedom, rules.noise_low_pct**2)
    return Break(
        in_end,
        float(late),
        math.sqrt(cov[1, 1]),
        float(early),
        slope,
        se,
        found.freedom,
        found.rest,
        better > rules.curve_variances * variance,
        float(by_logs.slopes[0])
        * (log(from_weeks + end_days / 7) - log(max(from_weeks, 0)))
        / (end_days / 7),
        log_slope / log_se,
    )


def best_end(used: Sequence[Used], until: date, rules: Rules) -> tuple[int, Break]:
    """The end that fits the sessions best, the shortest at a tie."""
    lengths = (rules.break_days, rules.trend_days, 2 * rules.break_days, rules.long_break_days)
    found = [(days, two_lines(used, until, days, rules)) for days in lengths]
    return min(
        ((days, line) for days, line in found if line is not None),
        key=lambda each: (each[1].rest, each[0]),
    )


def student(z: float, freedom: float) -> float:
    """Student's t from the normal quantile, two terms (Abramowitz and Stegun 26.7.5)."""
    first = (z**3 + z) / 4
    second = (5 * z**5 + 16 * z**3 + 3 * z) / 96
    return z + first / freedom + second / freedom**2


def noise_of(
    used: Sequence[Used], until: date, short: Break | None, rules: Rules
) -> tuple[float | None, float]:
    """Standard deviation of sessions, and correlation of neighbours by von Neumann's ratio."""
    window = window_of(used, until, rules.trend_days + rules.expected_days)
    wide = fit(window, window.weeks.reshape(-1, 1), rules)
    assert wide is not None
    freedom = short.freedom if short else max(wide.freedom, 0)
    rest = short.rest if short else wide.rest
    steps = []
    for each in window.used:
        same = [one for one in used if one.band == each.band and one.day < each.day]
        if same:
            steps.append(_log(each) - _log(same[-1]))
    step_variance = sum(step**2 for step in steps) / (2 * len(steps))
    first = 0.0
    if freedom > 0 and rest > 0:
        first = min(max(1 - step_variance / (rest / freedom), 0.0), 0.6)
    n = wide.n
    parameters = (n - freedom) * (1 + first) / (1 - first)
    divisor = max(n - parameters, freedom / 2)
    variance = rest / divisor if divisor > 0 else None
    own = 1 - step_variance / variance if variance is not None and variance > 0 else 0.0
    weight = rules.correlation_sessions
    correlation = (len(steps) * own + weight * rules.correlation_low) / (len(steps) + weight)
    noise = None if variance is None else math.sqrt(variance)
    return noise, min(max(correlation, 0.0), 0.8)


def _log(used: Used) -> float:
    assert used.log_value is not None
    return used.log_value


@dataclass(frozen=True)
class Rate:
    """What the data of a week say, before any status."""

    until: date
    window_days: int | None
    sessions: int
    rate: float | None
    se: float | None
    low: float | None
    high: float | None
    expected: float
    is_behind: bool
    is_slowing: bool
    end_rate: float | None
    noise: float | None
    correlation: float


def rate_of(used: Sequence[Used], rules: Rules) -> Rate | None:
    """The rate at the last of these sessions of one run; None: no line at all."""
    used = [each for each in used if each.log_value is not None]
    if not used:
        return None
    until = used[-1].day
    wide = one_line(used, until, rules.trend_days + rules.expected_days, rules)
    if wide is None:
        return None
    short = one_line(used, until, rules.trend_days, rules)
    long = one_line(used, until, rules.trend_days_max, rules)
    end = two_lines(used, until, rules.break_days, rules)
    long_end = two_lines(used, until, rules.long_break_days, rules)
    noise, correlation = noise_of(used, until, end, rules)
    widening = math.sqrt((1 + correlation) / (1 - correlation))
    at_least = max(correlation, rules.correlation_low)
    reported = math.sqrt((1 + at_least) / (1 - at_least))

    def beyond(line: Break | None, z: float) -> int:
        if line is None:
            return 0
        limit = student(z, line.freedom) * widening
        is_left = line.slope < -limit * line.se and (not line.is_curved or line.log_ratio < -limit)
        return (line.slope > limit * line.se) - is_left

    side = beyond(end, 1.750686)
    is_long_break = side == 0 and beyond(long_end, 2.326348) < 0
    expected = rules.expected_default_pct
    if end is not None:
        course = long_end if is_long_break and long_end else end
        own = course.slowed_slope if course.is_curved else course.earlier_slope
        expected = max(min(own, rules.expected_high_pct), rules.expected_low_pct)
    is_long_enough = (until - used[0].day).days >= rules.trend_min_days

    def half(line: Fit, factor: float, z: float = 1.959964) -> float:
        return student(z, line.freedom) * factor * math.sqrt(line.covariance[0, 0])

    def is_usable(line: Fit | None) -> bool:
        return (
            line is not None
            and is_long_enough
            and line.n >= rules.trend_min_sessions
            and line.freedom >= 3
        )

    tops = [
        float(line.slopes[0]) + half(line, widening, 2.326348)
        for line in (long, wide)
        if line is not None and line.freedom > 0
    ]
    least = rules.expected_low_pct if end is not None else rules.worthwhile_pct
    is_flat = bool(tops) and min(tops) < least
    sessions, days, rate, margin, se = (short.n if short else 0), None, None, None, None
    chosen_end = end if side else long_end if is_long_break else None
    if chosen_end is not None:
        days = rules.break_days if side else rules.long_break_days
        is_falling = (
            chosen_end.end_slope
            + reported * chosen_end.end_se * student(1.959964, chosen_end.freedom)
            < 0
        )
        if side < 0 and is_falling:
            days, chosen_end = best_end(used, until, rules)
        margin = student(1.959964, chosen_end.freedom) * chosen_end.end_se * reported
        if side < 0 and chosen_end.end_slope + margin < 0:
            # it seems to fall: the end that fits best
            lengths = (rules.break_days, rules.trend_days, 2 * rules.break_days)
            lines = {
                length: two_lines(used, until, length, rules)
                for length in (*lengths, rules.long_break_days)
            }
            fits = [(one.rest, length, one) for length, one in lines.items() if one is not None]
            _, days, chosen_end = min(fits, key=lambda each: (round(each[0], 6), each[1]))
        sessions, rate = chosen_end.end_sessions, chosen_end.end_slope
        se = chosen_end.end_se * reported
        margin = student(1.959964, chosen_end.freedom) * se
    else:
        line = None
        if is_usable(short) and short is not None and half(short, reported) <= expected:
            line, days = short, rules.trend_days
        elif is_usable(long):
            line, days = long, rules.trend_days_max
        elif is_usable(short):
            line, days = short, rules.trend_days
        if line is not None:
            sessions, rate = line.n, float(line.slopes[0])
            se = math.sqrt(line.covariance[0, 0]) * reported
            margin = half(line, reported)
    if days is not None:
        days = min(days, (until - used[0].day).days + 1)
    return Rate(
        until,
        days,
        sessions,
        rate,
        se,
        None if rate is None or margin is None else rate - margin,
        None if rate is None or margin is None else rate + margin,
        expected,
        is_behind=side < 0 or is_long_break or is_flat,
        is_slowing=end is not None
        and side >= 0
        and beyond(end, 1.036433) < 0
        and end.end_slope < expected / 2,
        end_rate=None if end is None else end.end_slope,
        noise=noise,
        correlation=correlation,
    )
