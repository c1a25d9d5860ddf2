"""What follows from a lift's trend, in plain Python: status, cause, reason's numbers, targets."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from pipeline.settings.rules import Rules
from pipeline.settings.workspace import Client, Phase, Target
from tests.reference.lift_tables import Cells, in_phase, present
from tests.reference.lift_trend import (
    Look,
    Rate,
    Together,
    Used,
    follow,
    look_at,
    mean_of_lines,
    rate_of,
    student,
    tail,
    together,
)
from tests.reference.lifts import EPS, Kind, Lift, bodyweight, epley, is_carried

RATED = ("progressing", "slowing", "stalled", "regressing", "unclear")


@dataclass(frozen=True)
class Week:
    """A row of review.lift_trend."""

    week: date
    until: date | None
    rate: Rate | None
    status: str | None
    cause: str | None
    weeks_more: int | None

    @property
    def span(self) -> tuple[float, float, float, int] | None:
        """Figures of the last weeks alone, where it stalls by them."""
        is_told = self.cause in ("no_progress", "cut", "new_record") and self.is_stalled
        return self.rate.span if self.rate and is_told else None

    is_stalled: bool = False

    def figures(self) -> Cells:
        """Sessions, rate, interval."""
        if self.rate is None:
            return (0, None, None, None)
        if self.span is not None:
            rate, low, high, sessions = self.span
            return (sessions, rate, low, high)
        return (self.rate.sessions, self.rate.rate, self.rate.low, self.rate.high)

    @property
    def window_days(self) -> int | None:
        """Days that the rate rests on."""
        if self.rate is None:
            return None
        if self.span is not None and self.rate.flat_weeks is not None:
            return 7 * self.rate.flat_weeks
        return self.rate.window_days

    @property
    def flag_p(self) -> float | None:
        """Of a flag."""
        if self.rate is None or self.status not in ("stalled", "regressing"):
            return None
        return self.rate.stall_p if self.status == "stalled" else self.rate.fall_p

    @property
    def flat_weeks(self) -> int | None:
        """Of a stall."""
        return self.rate.flat_weeks if self.rate and self.status == "stalled" else None

    def cells(self) -> Cells:
        """As in the table, the keys of client and exercise left out."""
        rate = self.rate
        if rate is None:
            return (self.week, 0, *[None] * 4, self.status, self.cause, *[None] * 7, self.until)
        down = rate.look.best("down")
        return (
            self.week,
            *self.figures(),
            rate.expected,
            self.status,
            self.cause,
            self.window_days,
            self.weeks_more,
            self.flat_weeks,
            self.flag_p,
            None if down is None else down.rate,
            math.sqrt(rate.look.own_variance),
            rate.look.correlation,
            rate.look.until,
        )


def _monday(day: date) -> date:
    return day - timedelta(days=day.weekday())


def trends(
    lifts: Sequence[Lift], phases: Sequence[Phase], last_logged: date, rules: Rules
) -> tuple[dict[str, list[Week]], dict[int, Together]]:
    """The shown weeks of each lift; and all lifts together at the end, by days."""
    used = {lift.exercise: follow(lift, rules) for lift in lifts}
    begin = last_logged - timedelta(days=7 * (rules.look_weeks + rules.stall_memory_weeks))
    lasts: dict[str, dict[date, Used]] = {}
    looks: dict[str, dict[date, Look]] = {}
    regaining: set[tuple[str, date]] = set()
    for exercise, sessions in used.items():
        lasts[exercise] = {}
        looks[exercise] = {}
        for each in sessions:
            if _monday(each.day) > begin:
                lasts[exercise][_monday(each.day)] = each
        for week, last in lasts[exercise].items():
            own = [each for each in sessions if each.run == last.run and each.day <= last.day]
            # a change of repetitions is told by later sessions: the whole run was cleaned at once
            look = look_at(week, own, rules)
            if look is not None:
                looks[exercise][week] = look
            if _is_regaining(last, rules):
                regaining.add((exercise, week))
    found = {}
    for exercise in used:
        rates: dict[date, Rate | None] = {}
        for week in lasts[exercise]:
            look = looks[exercise].get(week)
            rates[week] = None
            if look is not None:
                joint = None
                if (exercise, week) not in regaining:
                    joint = mean_of_lines(
                        [
                            other[week]
                            for name, other in looks.items()
                            if week in other
                            and other[week].kind == "line"
                            and (name, week) not in regaining
                            and rate_of(other[week], None, rules) is not None
                        ],
                        rules,
                    )
                rates[week] = rate_of(look, joint, rules)
        shown = [
            week
            for week in lasts[exercise]
            if week > last_logged - timedelta(days=7 * rules.look_weeks)
        ]
        found[exercise] = [
            _judge(week, lasts[exercise], looks[exercise], rates, used[exercise], phases, rules)
            for week in shown
        ]
    return found, _joined(used, lasts, regaining, last_logged, rules)


def client_cells(client_id: str, ends: Mapping[int, Together], rules: Rules) -> list[Cells]:
    """The row of review.client_trend, if any."""
    row = ends.get(rules.trend_days)
    if row is None:
        return []
    probabilities = {}
    for days, each in ends.items():
        freedom = max(each.days - 2, 1)
        t = -round(each.rate, 9) / max(each.se, 1e-9)
        normal = t * (1 - 1 / (4 * freedom)) / math.sqrt(1 + t * t / (2 * freedom))
        probabilities[days] = tail(normal)
    half = student(1.959964, max(row.days - 2, 1)) * row.se
    is_falling = any(
        probabilities[days] < rules.joint_fall_p
        and each.falling_share >= rules.joint_fall_share
        and each.lifts >= rules.joint_min_lifts
        for days, each in ends.items()
    )
    return [
        (
            client_id,
            row.lifts,
            row.rate,
            row.rate - half,
            row.rate + half,
            rules.trend_days,
            row.falling_share,
            min(probabilities.values()),
            is_falling,
        )
    ]


def _joined(
    used: Mapping[str, Sequence[Used]],
    lasts: Mapping[str, Mapping[date, Used]],
    regaining: set[tuple[str, date]],
    last_logged: date,
    rules: Rules,
) -> dict[int, Together]:
    """All lifts together at the end, by days; one not trained for three weeks is left out."""
    rows = []
    for exercise, sessions in used.items():
        if not lasts[exercise]:
            continue
        week = max(lasts[exercise])
        last = lasts[exercise][week]
        if (last_logged - last.day).days >= rules.not_trained_days or (exercise, week) in regaining:
            continue
        rows.append((sessions, last.run))
    found = {}
    for days in (rules.trend_days, rules.joint_short_days):
        row = together(rows, last_logged, days, rules)
        if row is not None:
            found[days] = row
    return found


def _is_regaining(last: Used, rules: Rules) -> bool:
    return (
        (last.day - last.run_from).days <= rules.trend_days
        and last.best_before is not None
        and last.best_in_run is not None
        and last.best_in_run < last.best_before - EPS
    )


def _is_remembered(
    week: date,
    last: Used,
    lasts: Mapping[date, Used],
    rates: Mapping[date, Rate | None],
    rules: Rules,
) -> bool:
    """Whether a stall that seems so now had strong evidence, and seemed so ever since."""
    for before in sorted(rates, reverse=True):
        rate = rates[before]
        if before > week or rate is None or lasts[before].run != last.run:
            continue
        if (week - before).days > 7 * rules.stall_memory_weeks:
            break
        if not rate.seems_stalled and not rate.is_falling:
            break
        if rate.seems_stalled and round(rate.stall_p, 7) <= rules.stall_p:
            return True
    return False


def _judge(
    week: date,
    lasts: Mapping[date, Used],
    looks: Mapping[date, Look],
    rates: Mapping[date, Rate | None],
    used: Sequence[Used],
    phases: Sequence[Phase],
    rules: Rules,
) -> Week:
    last, rate, look = lasts[week], rates[week], looks.get(week)
    until = look.until if look and rate else None
    so_far = [each for each in used if each.run == last.run and each.day <= last.day]
    records = [each.day for each in so_far if each.is_record]
    efforts = [each.day for each in so_far if each.session.has_recorded_effort]
    is_unrecorded = not efforts or (last.day - efforts[-1]).days >= rules.trend_days
    has_record = (
        bool(records) and (last.day - records[-1]).days < rules.new_record_days and is_unrecorded
    )
    if in_phase(last.day, phases, "pause", "care"):
        return Week(week, until, rate, None, "led", None)
    if rate is None or look is None:
        return Week(week, until, rate, "too_little_data", None, None)
    if _is_regaining(last, rules):
        return Week(week, until, rate, "unclear", "regaining", None)
    if rate.is_falling:
        status = ("unclear", "new_record") if has_record else ("regressing", None)
        return Week(week, until, rate, *status, None)
    if rate.seems_stalled and _is_remembered(week, last, lasts, rates, rules):
        stalled: tuple[str, str | None] = ("stalled", None if rate.is_bent else "no_progress")
        if has_record:
            stalled = ("unclear", "new_record")
        elif in_phase(last.day, phases, "cut"):
            stalled = ("unclear", "cut")
        return Week(week, until, rate, *stalled, None, is_stalled=True)
    down = look.best("down")
    bend = math.inf if down is None else down.rate
    is_halved = down is not None and down.rate < rules.halved_share * (down.early or 0.0)
    is_gaining = rate.low > 0 and rate.rate >= rules.useful_rate_pct
    if look.kind == "curve" and look.gain > 0 and bend < rules.useful_rate_pct:
        return Week(week, until, rate, "unclear", "flattening", None)
    if (
        is_gaining
        and look.kind in ("curve", "down")
        and rate.early is not None
        and rate.rate < rules.slowing_share * rate.early
    ):
        return Week(week, until, rate, "slowing", None, None)
    if rate.low > 0 and look.gain >= rules.doubt_gain and is_halved:
        return Week(week, until, rate, "unclear", "flattening", None)
    if rate.low > 0:
        return Week(week, until, rate, "progressing", None, None)
    return Week(week, until, rate, "unclear", None, _weeks_more(rate, rules))


def _weeks_more(rate: Rate, rules: Rules) -> int | None:
    """Until the standard error, falling with the length to the power 3/2, is small enough."""
    needed = max(abs(rate.rate) / 1.959964, (rules.useful_rate_pct - rate.rate) / rules.flat_z)
    if needed <= 0:
        return None
    se = (rate.high - rate.low) / 2 / 1.959964
    weeks = max(1, math.ceil(rate.window_days / 7 * ((se / needed) ** (2 / 3) - 1)))
    return weeks if 7 * weeks <= rules.trend_days_max else None


@dataclass(frozen=True)
class Standing:
    """A row of review.lift_status."""

    week: Week | None
    """The latest of review.lift_trend; None: not trained in its weeks."""
    best_e1rm: float | None
    best_on: date | None
    weeks_since_best: int | None
    status: str | None
    cause: str | None
    last_on: date
    numbers: list[str]
    """Of the reason, in order."""

    def cells(self) -> Cells:
        """As in the table, the keys of client and exercise and the reason's words left out."""
        if self.week is None:
            figures: Cells = (0, None, None, None, None)
            rest: Cells = (None, None, None, None, None)
        else:
            rate = self.week.rate
            figures = (*self.week.figures(), rate.expected if rate else None)
            rest = (
                self.week.window_days,
                self.week.weeks_more,
                self.week.flat_weeks,
                self.week.flag_p,
                math.sqrt(rate.look.own_variance) if rate else None,
            )
        return (
            _monday(self.last_on),
            *figures,
            self.best_e1rm,
            self.best_on,
            self.weeks_since_best,
            self.status,
            self.cause,
            *rest,
            self.last_on,
        )


def stand(
    lift: Lift,
    week: Week | None,
    phases: Sequence[Phase],
    last_logged: date,
    as_of: date,
    rules: Rules,
) -> Standing:
    """Where the lift stands at the client's last logged day; `week` is its latest."""
    last = follow(lift, rules)[-1]
    is_led = any(
        each.kind in ("pause", "care")
        and each.from_on <= as_of
        and (each.to_on or date.max) >= last_logged
        for each in phases
    )
    status, cause = (week.status, week.cause) if week else ("too_little_data", None)
    if is_led:
        status, cause = None, "led"
    elif (last_logged - last.day).days >= rules.not_trained_days:
        status, cause = "too_little_data", "not_trained"
    elif status == "stalled" and in_phase(as_of, phases, "cut"):
        status, cause = "unclear", "cut"
    elif (
        week is not None
        and cause in (None, "no_progress")
        and status in ("stalled", "unclear")
        and _is_not_attempted(lift, week, rules)
    ):
        cause = "not_attempted"
    estimates = [(each.best("e1rm"), each.day) for each in present(lift)]
    best, best_on = max(
        ((value, day) for value, day in estimates if value is not None),
        key=lambda each: (round(each[0], 9), -each[1].toordinal()),
        default=(None, None),
    )
    return Standing(
        week,
        best,
        best_on,
        None if best_on is None else (last_logged - best_on).days // 7,
        status,
        cause,
        last.day,
        _numbers(week, status, cause, last, rules),
    )


def _is_not_attempted(lift: Lift, week: Week, rules: Rules) -> bool:
    """Load × repetitions never above an earlier best in the window, effort unrecorded or easy."""
    assert week.rate is not None and week.window_days is not None
    days = min(week.window_days, rules.trend_days)
    exceeded = lift.sessions[-1].day
    best: float | None = None
    exceeded = present(lift)[0].day
    for session in present(lift):
        if best is not None and session.followed is not None and session.followed > best:
            exceeded = session.day
        best = max((each for each in (best, session.followed) if each is not None), default=None)
    since = week.rate.look.until - timedelta(days=days)
    efforts = [
        one.rir
        for session in lift.sessions
        for one in session.sets
        if session.day > since and one.rir is not None
    ]
    return exceeded <= since and min(efforts, default=rules.hard_rir) >= rules.hard_rir


def _numbers(
    week: Week | None, status: str | None, cause: str | None, last: Used, rules: Rules
) -> list[str]:
    rate = week.rate if week else None
    if cause == "led":
        return []
    if cause == "not_trained":
        return numbers_in(str(last.day))
    if status == "too_little_data":
        weeks = rules.trend_min_days // 7
        return [*numbers_in(str(last.run_from)), str(rules.trend_min_sessions), str(weeks)]
    if cause == "regaining":
        assert last.best_in_run is not None and last.best_before is not None
        under = 100 * (1 - last.best_in_run / last.best_before)
        return [*numbers_in(str(last.run_from)), f"{under:.1f}"]
    assert week is not None and rate is not None and week.window_days is not None
    words = [signed(each) for each in week.figures()[1:]]
    words.append(str(round(week.window_days / 7)))
    expected = f"{rate.expected:.2f}"
    if cause == "not_attempted":
        return [f"{rules.hard_rir:.0f}", *words]
    if cause == "no_progress":
        return [str(week.flat_weeks), *words]
    if cause == "flattening" or status == "slowing":
        return [*words, expected]
    if cause is not None or status in ("regressing", "progressing"):
        return words
    if status == "stalled" or week.weeks_more is None:
        return [*words, expected]
    return [*words, expected, str(week.weeks_more)]


def signed(value: float | None) -> str:
    """Two digits with a sign; no sign at zero."""
    assert value is not None
    text = f"{value:+.2f}"
    return "0.00" if text in ("+0.00", "-0.00") else text


def numbers_in(text: str) -> list[str]:
    """Numbers as written; a typographic minus counts as one, the dashes of a day do not."""
    return re.findall(r"(?:(?<!\d)[+-])?\d+(?:\.\d+)?", text.replace("−", "-"))


def target_rows(
    client: Client,
    lifts: Sequence[Lift],
    standings: Mapping[str, Standing],
    own: float | None,
    kinds: Mapping[str, Kind],
    rules: Rules,
) -> list[Cells]:
    """Rows of review.target_progress; `own` is the bodyweight now, the day it was done last."""
    byname = {lift.exercise: lift for lift in lifts}
    found = []
    for target in sorted(
        set(client.targets), key=lambda each: (each.exercise, each.load_kg, each.reps)
    ):
        lift = byname.get(target.exercise)
        kind = kinds.get(target.exercise, Kind())
        load = _target_load(target, own, kind)
        goal = None
        if load is not None and load > 0 and target.reps <= rules.index_reps_max:
            goal = epley(load, target.reps)
        references = [
            each.reference for each in (lift.sessions if lift else []) if each.reference is not None
        ]
        current = references[-1] if references else None
        gap = None if goal is None or current is None else 100 * (goal / current - 1)
        standing = standings.get(target.exercise)
        low, high = _weeks(goal, current, standing, rules)
        if _done_on(target, lift, kind) is not None:
            low = high = 0
        key = (client.id, target.exercise, target.load_kg, target.reps)
        found.append((*key, current, goal, gap, low, high, _done_on(target, lift, kind)))
    return found


def _target_load(target: Target, own: float | None, kind: Kind) -> float | None:
    """The load moved at the target; assistance takes away."""
    if not is_carried(kind.load_basis, kind):
        return target.load_kg
    if kind.load_basis == "per_hand":
        return target.load_kg if own is None else own * kind.share + 2 * target.load_kg
    return None if own is None else own * kind.share + _as_recorded(target, kind)


def _as_recorded(target: Target, kind: Kind) -> float:
    return -abs(target.load_kg) if kind.load_basis == "assisted" else target.load_kg


def _done_on(target: Target, lift: Lift | None, kind: Kind) -> date | None:
    """First day on which it was done, at the lift's present level."""
    if lift is None:
        return None
    return min(
        (
            one.day
            for session in present(lift)
            for one in session.trusted
            if one.record_load is not None
            and one.record_load >= _as_recorded(target, kind) - EPS
            and one.reps >= target.reps
        ),
        default=None,
    )


def _weeks(
    goal: float | None, current: float | None, standing: Standing | None, rules: Rules
) -> tuple[int | None, int | None]:
    if goal is None or current is None:
        return None, None
    missing = round(100 * math.log(goal / current), 9)
    if missing <= 0:
        return 0, 0
    if (
        standing is None
        or standing.week is None
        or standing.week.rate is None
        or standing.status not in RATED
        or standing.cause == "regaining"
    ):
        return None, None
    slowest, fastest = standing.week.figures()[2:]
    if fastest <= 0:
        return None, None
    horizon = rules.trend_days_max / 7
    fewest = missing / fastest
    most = missing / slowest if slowest > 0 else math.inf
    if fewest > horizon:
        return None, None
    return math.ceil(fewest), math.ceil(most) if most <= horizon else None


def bodyweight_now(
    days: Sequence[date], weighins: Sequence[tuple[date | None, float]], rules: Rules
) -> float | None:
    """Bodyweight on the last of these days that has one."""
    for day in sorted(days, reverse=True):
        found = bodyweight(day, weighins, rules)
        if found is not None:
            return found
    return None
