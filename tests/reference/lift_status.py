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
from tests.reference.lift_trend import Rate, Used, follow, rate_of
from tests.reference.lifts import EPS, Kind, Lift, bodyweight, epley, is_carried

RATED = ("progressing", "stalled", "regressing", "unclear")


@dataclass(frozen=True)
class Week:
    """A row of review.lift_trend."""

    week: date
    rate: Rate | None
    status: str | None
    cause: str | None
    weeks_more: int | None

    def cells(self) -> Cells:
        """As in the table, the keys of client and exercise left out."""
        rate = self.rate
        if rate is None:
            return (self.week, 0, *[None] * 4, self.status, self.cause, *[None] * 6)
        return (
            self.week,
            rate.sessions,
            rate.rate,
            rate.low,
            rate.high,
            rate.expected,
            self.status,
            self.cause,
            rate.window_days,
            self.weeks_more,
            rate.end_rate,
            rate.noise,
            rate.correlation,
            rate.until,
        )


def trend(lift: Lift, phases: Sequence[Phase], rules: Rules) -> list[Week]:
    """Every week with a session, as it stood at its last one."""
    used = follow(lift, rules)
    weeks: dict[date, Used] = {}
    for each in used:
        weeks[each.day - timedelta(days=each.day.weekday())] = each
    found = []
    for week, last in weeks.items():
        so_far = [each for each in used if each.run == last.run and each.day <= last.day]
        found.append(_judge(week, last, so_far, rate_of(so_far, rules), phases, rules))
    return found


def _judge(
    week: date,
    last: Used,
    so_far: Sequence[Used],
    rate: Rate | None,
    phases: Sequence[Phase],
    rules: Rules,
) -> Week:
    records = [each.day for each in so_far if each.is_record]
    efforts = [each.day for each in so_far if each.session.has_recorded_effort]
    is_unrecorded = not efforts or (last.day - efforts[-1]).days >= rules.trend_days
    has_record = (
        bool(records) and (last.day - records[-1]).days < rules.new_record_days and is_unrecorded
    )
    is_regaining = (
        (last.day - last.run_from).days <= rules.trend_days
        and last.best_before is not None
        and last.best_in_run is not None
        and last.best_in_run < last.best_before - EPS
    )
    is_cutting = in_phase(last.day, phases, "cut")
    if in_phase(last.day, phases, "pause", "care"):
        return Week(week, rate, None, "led", None)
    if rate is None or rate.rate is None or rate.low is None or rate.high is None:
        return Week(week, rate, "too_little_data", None, None)
    if is_regaining:
        return Week(week, rate, "unclear", "regaining", None)
    is_flat = rate.is_behind and rate.rate < rate.expected / 2
    if rate.high < 0:
        status = ("unclear", "new_record") if has_record else ("regressing", None)
    elif rate.low > 0 and not rate.is_slowing:
        status = ("progressing", None)
    elif is_flat and has_record:
        status = ("unclear", "new_record")
    elif is_flat and is_cutting:
        status = ("unclear", "cut")
    elif is_flat:
        status = ("stalled", None)
    elif rate.low > 0:
        status = ("unclear", "slowing")
    else:
        status = ("unclear", None)
    more = _weeks_more(rate, rules) if status == ("unclear", None) else None
    return Week(week, rate, *status, more)


def _weeks_more(rate: Rate, rules: Rules) -> int | None:
    """Until the standard error, falling with the length to the power 3/2, is small enough."""
    assert rate.rate is not None and rate.se is not None and rate.window_days is not None
    needed = abs(rate.rate) / 1.959964
    if rate.rate < rate.expected / 2:
        needed = max(needed, (rate.expected - rate.rate) / 1.644854)
    if needed <= 0:
        return None
    weeks = max(1, math.ceil(rate.window_days / 7 * ((rate.se / needed) ** (2 / 3) - 1)))
    longest = rules.trend_days + rules.expected_days
    return weeks if rate.window_days + 7 * weeks <= longest else None


@dataclass(frozen=True)
class Standing:
    """A row of review.lift_status."""

    week: Week
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
        rate = self.week.rate
        figures: Cells = (
            (0, None, None, None, None)
            if rate is None
            else (rate.sessions, rate.rate, rate.low, rate.high, rate.expected)
        )
        return (
            self.week.week,
            *figures,
            self.best_e1rm,
            self.best_on,
            self.weeks_since_best,
            self.status,
            self.cause,
            rate.window_days if rate else None,
            self.week.weeks_more,
            rate.noise if rate else None,
            self.last_on,
        )


def stand(
    lift: Lift,
    week: Week,
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
    status, cause = week.status, week.cause
    if is_led:
        status, cause = None, "led"
    elif (last_logged - last.day).days >= rules.not_trained_days:
        status, cause = "too_little_data", "not_trained"
    elif status == "stalled" and in_phase(as_of, phases, "cut"):
        status, cause = "unclear", "cut"
    elif (
        cause is None and status in ("stalled", "unclear") and _is_not_attempted(lift, week, rules)
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
    rate = week.rate
    assert rate is not None and rate.window_days is not None
    exceeded = lift.sessions[-1].day
    best: float | None = None
    exceeded = present(lift)[0].day
    for session in present(lift):
        if best is not None and session.followed is not None and session.followed > best:
            exceeded = session.day
        best = max((each for each in (best, session.followed) if each is not None), default=None)
    since = rate.until - timedelta(days=rate.window_days)
    efforts = [
        one.rir
        for session in lift.sessions
        for one in session.sets
        if session.day > since and one.rir is not None
    ]
    return exceeded <= since and min(efforts, default=rules.hard_rir) >= rules.hard_rir


def _numbers(
    week: Week, status: str | None, cause: str | None, last: Used, rules: Rules
) -> list[str]:
    rate = week.rate
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
    assert rate is not None and rate.rate is not None and rate.window_days is not None
    words = [signed(each) for each in (rate.rate, rate.low, rate.high)]
    words.append(str(round(rate.window_days / 7)))
    expected = f"{rate.expected:.2f}"
    if cause == "slowing":
        return [str(rules.break_days // 7), signed(rate.end_rate), *words, expected]
    if cause == "not_attempted":
        return [f"{rules.hard_rir:.0f}", *words]
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
    rate = standing.week.rate if standing else None
    if standing is None or rate is None or standing.status not in RATED:
        return None, None
    if standing.cause == "regaining" or rate.high is None or rate.low is None or rate.high <= 0:
        return None, None
    horizon = rules.trend_days_max / 7
    fewest = missing / rate.high
    most = missing / rate.low if rate.low > 0 else math.inf
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
