"""What each set was, again in plain Python from the definitions: the SQL is not looked at here.

Reads the rows of ledger.sets and gives one record per row: load moved, effort, hard or not. Slow
and obvious on purpose; figures are rounded only where a definition says so.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from statistics import fmean
from typing import Any

from pipeline.settings.rules import Rules
from tests.reference.catalogue import EVEN, Catalogue
from tests.reference.levels import level_starts
from tests.reference.slips import Top, slips_of

Row = Mapping[str, Any]
WeighIns = Sequence[tuple[date | None, float]]


@dataclass
class Set:
    """One logged row and, if it carries a work set, what that set was."""

    set_id: str
    client_id: str
    day: date
    exercise: str
    kind: str
    """work, warmup, extension or second side."""
    row: Row
    load: float | None = None
    reps: int = 0
    recorded: float | None = None
    is_extended: bool = False
    is_suspect: bool = False
    slip: float | None = None
    """Factor by which its load looks noted in another unit."""
    is_plain: bool = False
    """Whether no bodyweight is part of its load."""
    to_failure: float | None = None
    epley: float | None = None
    brzycki: float | None = None
    index: float | None = None
    rir_used: float | None = None
    basis: str | None = None
    is_hard: bool = False
    top_load: float | None = None
    """Heaviest load of the exercise that day, suspect ones apart."""
    sides: list[Row] = field(default_factory=list)
    carrier: Set | None = None
    """Of a second side: the row that carries the set."""
    has_logged_load: bool = False
    compared_load: float = 0.0
    """What tells whether a set is as heavy as an earlier one: moved, else added or taken off."""

    @property
    def is_work(self) -> bool:
        return self.kind == "work"

    @property
    def is_doubted(self) -> bool:
        return self.is_suspect or self.slip is not None

    @property
    def e1rm(self) -> float | None:
        if self.epley is None or self.brzycki is None:
            return None
        return (self.epley + self.brzycki) / 2


def graded(
    rows: Iterable[Row],
    weigh_ins: Mapping[str, WeighIns],
    as_of: date,
    catalogue: Catalogue,
    rules: Rules,
) -> list[Set]:
    """Every row that counts on the as-of day, in the order of the log."""
    weighed = {
        client_id: [(on, kg) for on, kg in known if on is None or on <= as_of]
        for client_id, known in weigh_ins.items()
    }
    lifts: dict[tuple[str, str], list[Set]] = defaultdict(list)
    for row in rows:
        if row["replaced_by"] is None and row["performed_on"] <= as_of:
            name = catalogue.known_as.get(row["exercise_raw"], row["exercise_raw"].lower())
            one = Set(
                row["set_id"], row["client_id"], row["performed_on"], name, row["set_kind"], row
            )
            lifts[one.client_id, name].append(one)
    for (client_id, name), sets in lifts.items():
        sets.sort(key=lambda one: (one.day, one.row["day_order"], one.set_id))
        known = catalogue.exercise.get(name, {"load_basis": "total", "bodyweight_share": "0"})
        for day_sets in _by_day(sets).values():
            _pair_sides(day_sets)
            _extend(day_sets)
        for one in sets:
            one.load = _moved(one, known, weighed.get(client_id, []), rules)
            if one.is_work:
                _estimate(one, rules)
    _slip(lifts, rules)
    for sets in lifts.values():
        work = [one for one in sets if one.is_work]
        _suspect(work, rules)
        _grade(work, rules)
    return [one for sets in lifts.values() for one in sets]


def _by_day(sets: Iterable[Set]) -> dict[date, list[Set]]:
    days: dict[date, list[Set]] = defaultdict(list)
    for one in sets:
        days[one.day].append(one)
    return dict(days)


def _pair_sides(day_sets: list[Set]) -> None:
    """Left and right with one set number are one set; else the nth left and the nth right."""
    sided = [one for one in day_sets if one.is_work and one.row["side"]]
    for one in day_sets:
        one.sides = [one.row]
    waiting: dict[tuple[int | None, str], list[Set]] = defaultdict(list)
    numbers = {(one.row["set_no"], one.row["side"]) for one in sided}
    for one in sided:
        number, side = one.row["set_no"], one.row["side"]
        other = "right" if side == "left" else "left"
        if number is not None and (number, other) not in numbers:
            number = None
        if waiting[number, other]:
            one.carrier = waiting[number, other].pop(0)
            one.carrier.sides.append(one.row)
            one.kind = "second side"
        else:
            waiting[number, side].append(one)


def _extend(day_sets: list[Set]) -> None:
    """Drops and partials belong to the work set before; what a set's sides say together."""
    last: Set | None = None
    for one in day_sets:
        if one.is_work or one.carrier is not None:
            last = one.carrier or one
        elif one.kind == "extension" and last is not None:
            last.is_extended = True
    for one in day_sets:
        if not one.is_work:
            continue
        one.reps = min(side["reps"] for side in one.sides)
        one.is_extended |= any(side["partial_reps"] for side in one.sides)
        logged = [
            side["rir"] if side["rir"] is not None else 10 - side["rpe"]
            for side in one.sides
            if side["rir"] is not None or side["rpe"] is not None
        ]
        if logged:
            one.recorded = min(logged)
        elif one.is_extended or any(side["to_failure"] for side in one.sides):
            one.recorded = 0.0


def _moved(one: Set, known: Mapping[str, str], weigh_ins: WeighIns, rules: Rules) -> float | None:
    """The load moved [kg]; of two sides the lighter. None: none, or bodyweight is not known."""
    basis = one.row["load_basis"] or known["load_basis"]
    share = float(known["bodyweight_share"])
    loads = [side["load_kg"] for side in one.sides if side["load_kg"] is not None]
    logged = min(loads) if loads else 0.0
    if share and basis == "none":
        # what is noted beside a lift with the own weight alone is no load
        logged = 0.0
    one.has_logged_load = logged != 0
    moved: float | None = logged
    one.compared_load = -logged if basis == "assisted" else logged
    if share and basis == "per_hand" and weigh_ins:
        # the legs lift the body and what both hands hold
        weight = bodyweight(weigh_ins, one.day, rules)
        moved = None if weight is None else weight * share + 2 * logged
    elif share and basis in ("added", "assisted", "none"):
        weight = bodyweight(weigh_ins, one.day, rules)
        moved = None if weight is None else weight * share + one.compared_load
    elif basis in ("assisted", "none"):
        moved = None
    else:
        one.is_plain = moved > 0
    if moved is None or moved <= 0:
        return None
    one.compared_load = moved
    return moved


def bodyweight(weigh_ins: WeighIns, day: date, rules: Rules) -> float | None:
    """On the line between the weigh-ins around the day; too far from both, the undated one."""
    of_day: dict[date | None, list[float]] = defaultdict(list)
    for on, kg in weigh_ins:
        of_day[on].append(kg)
    undated = of_day.pop(None, [])
    dated = sorted((on, fmean(kgs)) for on, kgs in of_day.items() if on is not None)
    before = [each for each in dated if each[0] <= day]
    after = [each for each in dated if each[0] >= day]
    near = [*before[-1:], *after[:1]]
    if not any(abs((on - day).days) <= rules.bodyweight_days for on, _ in near):
        return fmean(undated) if undated else None
    if len(near) == 1 or near[0][0] == near[1][0]:
        return near[0][1]
    (start, lighter), (end, heavier) = near
    return lighter + (heavier - lighter) * (day - start).days / (end - start).days


def epley(load: float, reps: float) -> float:
    """Epley 1985; straight from the load at 1 to its value at 2."""
    if reps < 2:
        return load * (1 + (reps - 1) * (2 / 30))
    return load * (1 + reps / 30)


def _estimate(one: Set, rules: Rules) -> None:
    if one.recorded is None:
        one.to_failure = float(one.reps)
    elif one.recorded <= rules.reserve_max:
        one.to_failure = one.reps + one.recorded
    if one.to_failure is None or one.load is None:
        return
    if one.to_failure <= rules.index_reps_max:
        one.index = epley(one.load, one.to_failure)
    if one.to_failure <= rules.e1rm_reps_max:
        one.epley = epley(one.load, one.to_failure)
        one.brzycki = one.load * 36 / (37 - one.to_failure)


def _slip(lifts: Mapping[tuple[str, str], list[Set]], rules: Rules) -> None:
    tops: dict[str, dict[str, list[Top]]] = defaultdict(dict)
    for (client_id, name), sets in lifts.items():
        plain = [one for one in sets if one.is_work and one.is_plain]
        tops[client_id][name] = [
            Top(
                day,
                *max((one.load, one.reps) for one in of_day if one.load is not None),
                any(one.recorded is not None and one.recorded <= rules.hard_rir for one in of_day),
            )
            for day, of_day in _by_day(plain).items()
        ]
    for client_id, own in tops.items():
        for name, days in slips_of(own, rules).items():
            for one in lifts[client_id, name]:
                if one.is_work and one.load is not None:
                    one.slip = days.get(one.day)


def _suspect(work: list[Set], rules: Rules) -> None:
    """Above 1.5 × the best of the 42 days before, not reached again; slips do not vouch."""
    loaded = [one for one in work if one.load is not None]
    first = _unlikely(loaded, loaded, rules)
    trusted = [one for one in loaded if one.set_id not in first]
    second = _unlikely(loaded, trusted, rules)
    for one in loaded:
        one.is_suspect = one.set_id in second


def _unlikely(sets: list[Set], others: list[Set], rules: Rules) -> set[str]:
    """Ids of the sets that the other sessions of the lift make unlikely."""
    tops = {
        day: max(one.load for one in day_sets if one.load is not None)
        for day, day_sets in _by_day(others).items()
    }
    found: set[str] = set()
    for day, day_sets in _by_day(sets).items():
        before = [
            tops[on]
            for back in range(1, rules.reference_days + 1)
            if (on := day - timedelta(days=back)) in tops
        ]
        after = max((top for on, top in tops.items() if on > day), default=0.0)
        found.update(
            one.set_id
            for one in day_sets
            if before
            and one.load is not None
            and one.load > rules.suspect_ratio * max(before) + EVEN
            and one.load * rules.suspect_repeat_share > after + EVEN
        )
    return found


def _grade(work: list[Set], rules: Rules) -> None:
    days = _by_day(work)
    best: dict[date, float] = {}
    for day, sets in days.items():
        found = [one.index for one in sets if one.index is not None and not one.is_doubted]
        if found:
            best[day] = max(found)
    starts = level_starts(sorted(best.items()), rules)
    ordered = sorted(days)
    for day, sets in days.items():
        window = _window(ordered, day, starts, rules)
        indices = sorted((best[each] for each in window if each in best), reverse=True)
        reference = None
        if indices:
            second = indices[0] if len(indices) < rules.reference_min_sessions else indices[1]
            reference = max(second, best.get(day, 0.0))
        reps = [
            one.reps
            for each in window
            for one in days[each]
            if one.load is None and not one.has_logged_load
        ]
        top = max(
            (one.load for one in sets if one.load and (one.slip or not one.is_suspect)),
            default=None,
        )
        lightest = math.inf
        for one in sets:
            one.top_load = top
            _grade_set(one, reference, max(reps, default=None), lightest, rules)
            if one.is_hard:
                lightest = min(lightest, one.compared_load)


def _window(ordered: list[date], day: date, starts: list[date], rules: Rules) -> list[date]:
    """The days on which the lift was done that speak for its strength on that day."""
    window = [day]
    for each in reversed(ordered[: bisect_left(ordered, day)]):
        if (window[-1] - each).days >= rules.restart_days:
            break
        if any(each < start <= day for start in starts):
            break
        if (day - each) > timedelta(days=rules.reference_days - 1):
            break
        window.append(each)
    return window


def _grade_set(
    one: Set,
    reference: float | None,
    most_reps: int | None,
    lightest_hard: float,
    rules: Rules,
) -> None:
    if one.recorded is not None:
        one.rir_used, one.basis = one.recorded, "recorded"
    elif one.load is not None and reference is not None:
        meant = one.load / (one.slip or 1)
        one.rir_used = max(0.0, 30 * (reference / meant - 1) - one.reps)
        one.basis = "estimated"
    elif one.load is None and not one.has_logged_load and most_reps is not None:
        one.rir_used, one.basis = float(max(0, most_reps - one.reps)), "estimated"
    else:
        one.basis = "assumed"
    if one.rir_used is not None:
        one.rir_used = round(one.rir_used, 6)
    if not 1 <= one.reps <= rules.hard_reps_max:
        return
    is_near_top = (
        one.load is None
        or one.top_load is None
        or one.load >= rules.warmup_share * one.top_load - EVEN
    )
    if one.basis == "recorded":
        one.is_hard = one.rir_used is not None and one.rir_used <= rules.hard_rir
    elif one.basis == "assumed":
        one.is_hard = is_near_top
    elif one.reps > rules.estimated_reps_max:
        one.is_hard = is_near_top or one.compared_load >= lightest_hard - EVEN
    else:
        assert one.rir_used is not None
        is_near = one.rir_used <= rules.hard_rir + rules.estimated_slack
        one.is_hard = is_near or one.compared_load >= lightest_hard - EVEN
