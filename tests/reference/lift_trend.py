"""Whether a lift moves, with matrices: the method that sql/README.md describes, from scratch.

Each look's courses are fitted anew by least squares on a column a group; nothing is carried from
look to look, so that the SQL's sums have something to be held against.
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
    scatter: float = 1.0
    """Robust standard deviation of sessions so far [%]."""
    previous: Used | None = None
    """The session before in its band."""
    compared_from: date = date.min
    """First session that it was compared with."""
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
        _filter(used, rules)
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


def _filter(used: Sequence[Used], rules: Rules) -> None:
    """Sessions far off the median of themselves and those before, in their band, become it."""
    steps: list[float] = []
    for each in used:
        same = [one for one in used if one.band == each.band]
        place = same.index(each)
        each.previous = same[place - 1] if place else None
    for number, each in enumerate(used):
        same = [one for one in used[: number + 1] if one.band == each.band]
        steps.append(abs(_raw(each) - _raw(each.previous)) if each.previous else math.nan)
        last = [
            step
            for step in steps[max(0, number - rules.clip_scale_sessions) :]
            if not math.isnan(step)
        ]
        scale = 1.4826 * median(last) / math.sqrt(2) if last else 0.0
        each.scatter = max(rules.noise_low_pct, scale)
        last_ones = same[-1 - rules.clip_recent_sessions :]
        each.compared_from = last_ones[0].day
        centre = median(map(_raw, last_ones))
        is_near = abs(_raw(each) - centre) <= rules.clip_scales * each.scatter
        each.log_value = _raw(each) if is_near else centre
        recent = [
            _raw(one) for one in same if 0 <= (each.day - one.day).days < rules.new_record_days
        ]
        earlier = [_raw(one) for one in same if (each.day - one.day).days >= rules.new_record_days]
        if len(recent) > 1 and earlier:
            least = max(earlier) + each.scatter
            each.is_record = sorted(recent)[-2] > least and _raw(each) > least


@dataclass(frozen=True)
class Fit:
    """A course through the sessions of a look."""

    kind: str
    place: int
    sessions: int
    rest: float
    rate: float
    early: float | None
    factor: float
    """Variance of the rate by that of sessions."""

    def se(self, variance: float) -> float:
        """Standard error of the rate."""
        return math.sqrt(self.factor * variance)


def _least_squares(
    columns: Sequence[Floats], groups: Floats, values: Floats, weights: Sequence[float]
) -> tuple[float, Floats, float, float] | None:
    """Residual sum, slopes, weighted sum of the slopes and its variance factor."""
    design = np.column_stack([*columns, groups])
    if np.linalg.matrix_rank(design) < design.shape[1]:
        return None
    found = np.linalg.lstsq(design, values, rcond=None)[0]
    rest = round(float(((values - design @ found) ** 2).sum()), 6)
    inverse = np.linalg.inv(design.T @ design)[: len(columns), : len(columns)]
    by = np.array(weights)
    slopes = found[: len(columns)]
    return rest, slopes, float(by @ slopes), float(by @ inverse @ by)


def _step_at(
    sessions: Sequence[Used], start: Used, until: date, rules: Rules
) -> tuple[float, float] | None:
    """Gain and size of a step from this session on, as known at that day."""
    reach = timedelta(days=7 * rules.step_weeks)
    near = [
        one
        for one in sessions
        if one.band == start.band
        and start.day - reach <= one.day < start.day + reach
        and one.day <= until
    ]
    after = np.array([one.day >= start.day for one in near], dtype=float)
    n, later = len(near), int(after.sum())
    if n - later < rules.step_min_before or later < rules.step_min_after:
        return None
    weeks = np.array([(one.day - start.day).days / 7 for one in near])
    values = np.array([_raw(one) - _raw(start) for one in near])
    ones = np.ones((n, 1))
    line = _least_squares([weeks], ones, values, [1])
    step = _least_squares([weeks, after], ones, values, [0, 1])
    if line is None or step is None:
        return None
    bend = _least_squares([weeks, np.maximum(weeks, 0)], ones, values, [1, 1])
    best = min(line[0], bend[0]) if bend else line[0]
    gain = (best - step[0]) / max(step[0] / (n - 3), start.scatter**2)
    return gain, step[2]


def steps_of(sessions: Sequence[Used], until: date, rules: Rules) -> tuple[list[date], date | None]:
    """First days at another level, and that of the likeliest possible step besides."""
    found: list[tuple[date, float, bool]] = []
    for start in sessions:
        if start.day <= until - timedelta(days=7 * rules.history_weeks) or start.day > until:
            continue
        same = [one for one in sessions if one.band == start.band]
        place = same.index(start)
        before = same[max(0, place - rules.step_min_before) : place]
        after = same[place : place + rules.step_min_after]
        if not before:
            continue
        apart = np.mean([_raw(one) for one in after]) - np.mean([_raw(one) for one in before])
        if abs(apart) < rules.weak_step_pct * 3 / 4:
            continue
        step = _step_at(sessions, start, until, rules)
        if step is None or step[0] <= rules.weak_step_gain or abs(step[1]) < rules.weak_step_pct:
            continue
        least = max(rules.step_low_pct, rules.step_scatters * start.scatter)
        is_certain = step[0] >= rules.step_gain and abs(step[1]) >= least
        found.append((start.day, round(step[0], 7), is_certain))
    apart_days = 7 * rules.step_apart_weeks

    def best_near(day: date) -> float | None:
        return max(
            (gain for on, gain, sure in found if sure and abs((on - day).days) <= apart_days),
            default=None,
        )

    certain = [day for day, gain, sure in found if sure and gain == best_near(day)]
    possible = [(gain, -day.toordinal(), day) for day, gain, _ in found if best_near(day) is None]
    return certain, max(possible)[2] if possible else None


@dataclass
class Look:
    """What the sessions of a lift allow at one of its weeks, before other lifts are asked."""

    week: date
    last: Used
    """The last session up to the week's end."""
    first_on: date
    until: date
    fits: list[Fit]
    groups: int
    sessions: int
    variance: float
    own_variance: float
    correlation: float
    steps: list[date]
    edges: list[date]
    """Those, and the possible step."""
    kind: str = "line"
    gain: float = 0.0
    """Of the best bend down [variances]."""

    def best(self, kind: str) -> Fit | None:
        """The course of a kind that fits best, the latest bend at a tie."""
        own = [fit for fit in self.fits if fit.kind == kind]
        return min(own, key=lambda fit: (fit.rest, fit.place), default=None)

    def rest(self, *kinds: str) -> float:
        """Least sum of squares of these kinds."""
        return min((fit.rest for fit in self.fits if fit.kind in kinds), default=math.inf)

    @property
    def line(self) -> Fit:
        """The line, which every look has."""
        found = self.best("line")
        assert found is not None
        return found

    @property
    def log_weeks(self) -> float:
        """Weeks from the run's first session to the last."""
        return (self.until - self.first_on).days / 7


def bend_weeks(rules: Rules) -> list[int]:
    """Weeks before the look at which a course may bend."""
    ratio = rules.bend_weeks_high / rules.bend_weeks_low
    return [
        round(rules.bend_weeks_low * ratio ** (place / (rules.bend_days - 1)))
        for place in range(rules.bend_days)
    ]


def is_beside(each: Used, edges: Sequence[date]) -> bool:
    """Whether a step lies among the sessions that it was compared with."""
    return any(each.compared_from < edge <= each.day for edge in edges)


def value_at(each: Used, edges: Sequence[date]) -> float:
    """What a session counts: beside a step those before are no measure for it."""
    return _raw(each) if is_beside(each, edges) else _log(each)


def look_at(week: date, used: Sequence[Used], rules: Rules) -> Look | None:
    """The courses through the sessions of one run so far; None: no line at all."""
    last = used[-1]
    usable = [each for each in used if each.log_value is not None]
    if not usable:
        return None
    until = usable[-1].day
    steps, weak = steps_of(usable, until, rules)

    def level(each: Used) -> int:
        return sum(step <= each.day for step in steps)

    recent = [each for each in usable if (until - each.day).days < 7 * rules.history_weeks]
    keys = [(each.band, level(each)) for each in recent]
    held = sorted(key for key in set(keys) if keys.count(key) >= rules.group_min_sessions)
    kept = [each for each, key in zip(recent, keys, strict=True) if key in held]
    if not kept:
        return None
    weeks = np.array([(each.day - until).days / 7 for each in kept])
    edges = [*steps, *([weak] if weak else [])]
    values = np.array([value_at(each, edges) for each in kept])
    values = values - values[0]
    groups = np.array([[float((each.band, level(each)) == key) for key in held] for each in kept])
    first_on = usable[0].day
    fits = _fits(kept, weeks, values, groups, first_on, until, weak, rules)
    if not any(fit.kind == "line" for fit in fits):
        return None
    n = len(kept)
    freedom = max(n - len(held) - 3, 1)
    own = min(fit.rest for fit in fits if fit.kind != "span") / freedom
    pairs = [
        (_log(each) - _log(each.previous)) ** 2
        for each in kept
        if each.previous and not is_beside(each, edges)
    ]
    found = rules.correlation_low
    if pairs and own > 0:
        found = max(1 - sum(pairs) / len(pairs) / 2 / own, -1.0)
    weight = rules.correlation_sessions
    correlation = (n * found + weight * rules.correlation_low) / (n + weight)
    correlation = min(max(correlation, 0.0), rules.correlation_high)
    variance = max(own, rules.course_noise_low_pct**2) * (1 + correlation) / (1 - correlation)
    look = Look(
        week, last, first_on, until, fits, len(held), n, variance, own, correlation, steps, edges
    )
    _choose(look, rules)
    return look


def _fits(
    kept: Sequence[Used],
    weeks: Floats,
    values: Floats,
    groups: Floats,
    first_on: date,
    until: date,
    weak: date | None,
    rules: Rules,
) -> list[Fit]:
    found = []
    n = len(kept)
    log_weeks = (until - first_on).days / 7
    line = _least_squares([weeks], groups, values, [1])
    if line is not None:
        found.append(Fit("line", 0, n, line[0], line[2], None, line[3]))
    if weak is not None:
        after = np.array([float(each.day >= weak) for each in kept])
        step = _least_squares([weeks, after], groups, values, [1, 0])
        if step is not None and abs(step[1][1]) >= rules.weak_step_pct:
            found.append(Fit("step", 0, n, step[0], step[2], None, step[3]))
    for place in bend_weeks(rules):
        since = np.maximum(weeks + place, 0)
        later = int((since > EPS).sum())
        if (
            later < rules.bend_min_after
            or n - later < rules.bend_min_before
            or log_weeks < place + rules.bend_min_weeks_before
        ):
            continue
        bend = _least_squares([weeks, since], groups, values, [1, 1])
        if bend is not None:
            kind = "down" if round(bend[1][1], 9) < 0 else "up"
            found.append(Fit(kind, place, later, bend[0], bend[2], float(bend[1][0]), bend[3]))
    if log_weeks >= rules.curve_end_weeks + rules.bend_min_weeks_before:
        found += _curves(kept, weeks, values, groups, until, rules)
    for place in [*bend_weeks(rules), rules.flat_weeks_long]:
        inside = weeks > -place + EPS
        if place < rules.flat_min_weeks or log_weeks < place or inside.sum() < rules.bend_min_after:
            continue
        own = groups[inside][:, groups[inside].any(axis=0)]
        span = _least_squares([weeks[inside]], own, values[inside], [1])
        if span is not None:
            found.append(Fit("span", place, int(inside.sum()), 0.0, span[2], None, span[3]))
    return found


def _curves(
    kept: Sequence[Used],
    weeks: Floats,
    values: Floats,
    groups: Floats,
    until: date,
    rules: Rules,
) -> list[Fit]:
    age = (until - kept[0].run_from).days / 7
    early = min(rules.curve_early_weeks, age - rules.curve_end_weeks)

    def dying(period: float) -> Floats:
        return np.asarray(-np.exp(-weeks / period))

    def logs(at: Floats) -> Floats:
        return np.asarray(np.log(at + age + rules.curve_log_weeks))

    ends = np.array([0.0, -rules.curve_end_weeks, -rules.curve_end_weeks - early])
    shapes = [
        (dying(rules.curve_weeks_short), -np.exp(-ends / rules.curve_weeks_short)),
        (dying(rules.curve_weeks_long), -np.exp(-ends / rules.curve_weeks_long)),
        (logs(weeks), logs(ends)),
    ]
    found = []
    for place, (shape, at) in enumerate(shapes, start=1):
        end = float(at[0] - at[1]) / rules.curve_end_weeks
        curve = _least_squares([shape], groups, values, [end])
        if curve is not None and round(curve[1][0], 9) > 0:
            before = float(curve[1][0] * (at[1] - at[2])) / early
            found.append(Fit("curve", place, len(kept), curve[0], curve[2], before, curve[3]))
    return found


def _choose(look: Look, rules: Rules) -> None:
    """The course that is followed."""
    variance = look.variance
    curve = look.rest("curve") + rules.curve_cost * variance
    others = min(look.rest("line", "up", "step"), curve)
    down = look.rest("down")
    look.gain = round((others - down) / variance, 6) if math.isfinite(down) else 0.0
    plain = look.rest("line", "curve")
    up, step = look.rest("up"), look.rest("step")
    if look.gain >= rules.course_gain:
        look.kind = "down"
    elif round((plain - up) / variance, 6) >= rules.course_gain and up < step:
        look.kind = "up"
    elif round((plain - step) / variance, 6) >= rules.course_gain:
        look.kind = "step"
    elif round((look.line.rest - look.rest("curve")) / variance, 6) >= rules.curve_gain:
        look.kind = "curve"


def student(z: float, freedom: float) -> float:
    """Student's t from the normal quantile, three terms (Abramowitz and Stegun 26.7.5)."""
    first = (z**3 + z) / 4
    second = (5 * z**5 + 16 * z**3 + 3 * z) / 96
    third = (3 * z**7 + 19 * z**5 + 17 * z**3 - 15 * z) / 384
    return z + first / freedom + second / freedom**2 + third / freedom**3


def tail(z: float) -> float:
    """Probability that a standard normal value lies above z."""
    return 0.5 * math.erfc(z / math.sqrt(2))


def _log(used: Used) -> float:
    assert used.log_value is not None
    return used.log_value


@dataclass(frozen=True)
class Joint:
    """The mean of several lifts' rates."""

    rate: float
    se: float
    spread: float


def laird(rates: Sequence[float], variances: Sequence[float]) -> float:
    """Variance between lifts (DerSimonian and Laird 1986)."""
    weights = np.array([1 / each for each in variances])
    mean = float(weights @ np.array(rates) / weights.sum())
    differences = float(weights @ (np.array(rates) - mean) ** 2)
    divisor = float(weights.sum() - (weights**2).sum() / weights.sum())
    return max((differences - len(rates) + 1) / divisor, 0.0) if divisor > 0 else 0.0


def mean_of_lines(looks: Sequence[Look], rules: Rules) -> Joint | None:
    """Of the lifts of a week that keep to a line."""
    if len(looks) < rules.joint_min_lifts:
        return None
    rates = [look.line.rate for look in looks]
    variances = [look.line.factor * look.variance for look in looks]
    spread = laird(rates, variances)
    weights = np.array([1 / each for each in variances])
    weights = weights / weights.sum()
    shared = 1 + rules.shared_noise_share * (len(looks) - 1)
    square = shared * float(weights**2 @ np.array(variances)) + spread * float((weights**2).sum())
    return Joint(float(weights @ np.array(rates)), math.sqrt(square), spread)


@dataclass(frozen=True)
class Together:
    """A row of int_client_span__joined."""

    lifts: int
    falling_share: float
    rate: float
    se: float
    days: int


def together(
    lifts: Sequence[tuple[Sequence[Used], int]], until: date, days: int, rules: Rules
) -> Together | None:
    """All lifts over the same days; what a day gives to all of them is summed first.

    `lifts`: the sessions up to each lift's last look, and the run of that look.
    """
    rates, weights, variances = [], [], []
    errors: list[tuple[date, int, float]] = []
    for used, run in lifts:
        usable = [each for each in used if each.log_value is not None and each.run == run]
        kept = [each for each in usable if 0 <= (until - each.day).days < days]
        if not kept:
            continue
        steps, weak = steps_of(usable, usable[-1].day, rules)
        edges = [*steps, *([weak] if weak else [])]
        keys = [(each.band, sum(step <= each.day for step in steps)) for each in kept]
        freedom = len(kept) - len(set(keys)) - 1
        if len(kept) < rules.joint_min_sessions or freedom <= 0:
            continue
        x = np.array([(each.day - until).days / 7 for each in kept])
        y = np.array([value_at(each, edges) for each in kept])
        for key in set(keys):
            own = np.array([each == key for each in keys])
            x[own] -= x[own].mean()
            y[own] -= y[own].mean()
        weight = float((x**2).sum())
        if weight <= 1e-9:
            continue
        rate = float((x * y).sum()) / weight
        rest = float(((y - rate * x) ** 2).sum())
        errors += [
            (each.day, len(rates), float(a * (b - rate * a)))
            for each, a, b in zip(kept, x, y, strict=True)
        ]
        rates.append(rate)
        weights.append(weight)
        variances.append(max(rest / freedom, rules.course_noise_low_pct**2) / weight)
    trained = {day for day, _, _ in errors}
    if len(trained) <= 3:
        return None
    by = np.array(weights) / sum(weights)
    squares = sum(sum(e for on, _, e in errors if on == day) ** 2 for day in trained)
    day_variance = squares * len(trained) / (len(trained) - 3) / sum(weights) ** 2
    spread = laird(rates, variances)
    return Together(
        len(rates),
        sum(round(rate, 9) < 0 for rate in rates) / len(rates),
        float(by @ np.array(rates)),
        math.sqrt(day_variance + spread * float((by**2).sum())),
        len(trained),
    )


@dataclass(frozen=True)
class Rate:
    """What a look says before any status."""

    look: Look
    window_days: int
    sessions: int
    rate: float
    low: float
    high: float
    early: float | None
    expected: float
    is_falling: bool
    seems_stalled: bool
    is_bent: bool
    flat_weeks: int | None
    span: tuple[float, float, float, int] | None
    """Rate, interval and sessions of the last weeks, where only they tell."""
    stall_p: float
    fall_p: float


def rate_of(look: Look, joint: Joint | None, rules: Rules) -> Rate | None:
    """The rate, its interval and what speaks for a stall or a fall; None: too little data."""
    log_days = (look.until - look.first_on).days
    if look.sessions < rules.trend_min_sessions or log_days < rules.trend_min_days:
        return None
    variance = look.variance
    t = student(1.959964, max(look.sessions - look.groups - 3, 1))
    line_rate, line_square = look.line.rate, look.line.factor * variance
    if joint is not None and look.kind == "line":
        share = line_square / (line_square + max(joint.spread, rules.joint_spread_low**2))
        line_rate = (1 - share) * line_rate + share * joint.rate
        line_square = (1 - share) * line_square + share**2 * joint.se**2
    line_se = math.sqrt(line_square)
    fit = look.best(look.kind)
    assert fit is not None
    rate = line_rate if look.kind == "line" else fit.rate
    se = line_se if look.kind == "line" else fit.se(variance)
    low, high = rate - t * se, rate + t * se
    if look.kind in ("down", "curve"):
        halves = [
            (each.rate, each.factor * (t * t * variance - each.rest + fit.rest))
            for each in look.fits
            if each.kind == look.kind and each.rest - fit.rest <= t * t * variance
        ]
        low = min(middle - math.sqrt(square) for middle, square in halves)
        high = max(middle + math.sqrt(square) for middle, square in halves)
    useful = rules.useful_rate_pct
    z = (rate - useful) / se
    spans = [each for each in look.fits if each.kind == "span"]
    if look.kind in ("line", "curve"):
        plain = look.rest("line", "curve") + rules.reach_gain * variance
        heard = [
            (each.rate - useful) / each.se(variance)
            for each in look.fits
            if each.kind == "curve" and each.rest <= plain
        ]
        if look.line.rest <= plain:
            heard.append((line_rate - useful) / line_se)
        if look.kind == "curve":
            heard += [
                (each.rate - useful) / each.se(variance)
                for each in spans
                if each.place == rules.bend_weeks_high
            ]
        z = max(heard)
    clearest = min(
        spans,
        key=lambda each: (round((each.rate - useful) / each.se(variance), 7), -each.place),
        default=None,
    )
    span_z = math.inf if clearest is None else (clearest.rate - useful) / clearest.se(variance)
    down = look.best("down")
    is_halved = (
        down is not None and down.early is not None and down.rate < rules.halved_share * down.early
    )
    is_bent = is_halved and look.gain >= rules.course_gain
    is_old = look.log_weeks >= rules.flat_min_weeks
    is_flat = is_old and z < -rules.flat_z
    is_flat_since = span_z < -rules.flat_span_z
    held = [
        each.rest + min(each.rate, 0) ** 2 / each.factor
        for each in look.fits
        if each.kind != "span"
    ]
    fallen = [
        each.rest for each in look.fits if each.kind in ("line", "up", "down") and each.rate < 0
    ]
    fall_gain = (min(held) - min(fallen)) / variance if fallen else 0.0
    window = min(7 * rules.history_weeks, log_days + 1)
    span = None
    if clearest is not None and is_flat_since and not is_bent and not is_flat:
        half = t * clearest.se(variance)
        span = (clearest.rate, clearest.rate - half, clearest.rate + half, clearest.sessions)
    flat_weeks = None
    if is_bent and down is not None:
        flat_weeks = down.place
    elif is_flat:
        flat_weeks = window // 7
    elif is_flat_since and clearest is not None:
        flat_weeks = clearest.place
    ps = [1.0]
    if is_halved:
        ps.append(4 * tail(math.sqrt(max(look.gain, 0))))
    if is_old:
        # what follows a bend was chosen by the sessions: it is no fresh test
        least = math.inf if look.kind == "down" else z
        ps.append(2 * tail(-min(least, span_z + rules.flat_span_slack)))
    expected = rules.expected_default_pct
    if window >= rules.trend_days + rules.trend_min_days:
        own = rate if fit.early is None else fit.early
        expected = max(min(own, rules.expected_high_pct), rules.expected_low_pct)
    return Rate(
        look,
        {"down": 7 * fit.place, "up": 7 * fit.place, "curve": 7 * rules.curve_end_weeks}.get(
            look.kind, window
        ),
        fit.sessions,
        rate,
        low,
        high,
        fit.early,
        expected,
        is_falling=high < 0 and round(fall_gain, 6) >= rules.fall_gain,
        seems_stalled=look.kind != "step"
        and not (low > 0 and rate >= useful)
        and (is_bent or is_flat or is_flat_since),
        is_bent=is_bent,
        flat_weeks=flat_weeks,
        span=span,
        stall_p=min(ps),
        fall_p=min(1.0, 4 * tail(math.sqrt(max(fall_gain, 0)))),
    )
