"""What a log says of strength, set by set, in plain Python: from the definitions, not the SQL.

Loops over lists, one lift at a time, so that a reader can hold each step against its definition.
Rounding is left to the comparison.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from statistics import median
from typing import Any

from pipeline.settings.rules import Rules
from tests.reference.slips import Top, slips_of

Row = Mapping[str, Any]
"""A row of ledger.sets, and the `exercise` that its spelling is taken for."""

Weighins = Sequence[tuple[date | None, float]]
"""Days and kilograms of one client; a day of None holds where none is near."""

EPS = 1e-6


@dataclass(frozen=True)
class Kind:
    """What the catalogue says of an exercise."""

    load_basis: str = "total"
    share: float = 0.0
    muscles: Mapping[str, str] = field(default_factory=dict)
    """Muscle to role."""


@dataclass
class WorkSet:
    """A work set: both sides of it, and the drops that belong to it."""

    set_id: str
    day: date
    exercise: str
    order: tuple[Any, ...]
    load: float | None
    """Moved, with the share of bodyweight; None: no load, or bodyweight unknown."""
    record_load: float | None
    reps: int
    tonnage: float | None
    rir: float | None
    is_extended: bool
    is_suspect: bool = False
    slip: float | None = None
    """Factor by which its load looks noted in another unit."""
    rir_used: float | None = None
    basis: str = "assumed"
    is_hard: bool = False
    reps_to_failure: float | None = None
    epley: float | None = None
    brzycki: float | None = None
    index: float | None = None

    @property
    def is_doubted(self) -> bool:
        """Whether its load says nothing of strength."""
        return self.is_suspect or self.slip is not None

    @property
    def is_unloaded(self) -> bool:
        """Whether there is no load at all: an unknown bodyweight with a known belt is a load."""
        return self.load is None and not self.record_load

    @property
    def carried(self) -> float:
        """The load as far as it is known; without one, 0."""
        return self.load if self.load is not None else self.record_load or 0.0

    @property
    def e1rm(self) -> float | None:
        """Mean of both estimates."""
        if self.epley is None or self.brzycki is None:
            return None
        return (self.epley + self.brzycki) / 2


@dataclass
class Session:
    """A lift's day."""

    day: date
    sets: list[WorkSet]
    level: int = 1
    reference: float | None = None
    is_light: bool = False
    is_planned: bool = False
    """Whether it is in a phase of deload."""
    light_run_days: int | None = None

    @property
    def trusted(self) -> list[WorkSet]:
        """Sets with a likely load."""
        return [each for each in self.sets if not each.is_doubted]

    def best(self, name: str) -> float | None:
        """Highest of a figure over trusted sets."""
        return highest(getattr(each, name) for each in self.trusted)

    @property
    def index(self) -> float | None:
        """Best strength index of the day."""
        return self.best("index")

    @property
    def top_load(self) -> float | None:
        """Heaviest load moved."""
        return self.best("load")

    @property
    def top_reps(self) -> int | None:
        """Most repetitions at the heaviest load; without loads most repetitions."""
        top = self.top_load
        return max((each.reps for each in self.trusted if each.load == top), default=None)

    @property
    def best_reps(self) -> int | None:
        """Most repetitions of a set."""
        return max((each.reps for each in self.trusted), default=None)

    @property
    def followed(self) -> float | None:
        """Best load × repetitions, repetitions alone where there is no load."""
        return highest(
            (1.0 if each.load is None else each.load) * each.reps for each in self.trusted
        )

    @property
    def has_recorded_effort(self) -> bool:
        """Whether a set of the day has recorded effort."""
        return any(each.rir is not None for each in self.sets)


@dataclass
class Lift:
    """One exercise of one client."""

    client: str
    exercise: str
    sessions: list[Session]


def highest(values: Iterable[float | None]) -> float | None:
    """Largest value that is there."""
    return max((value for value in values if value is not None), default=None)


def epley(load: float, reps: float) -> float:
    """Epley 1985, running straight from the load itself at one repetition."""
    at_two = load * (1 + 2 / 30)
    return load + (reps - 1) * (at_two - load) if reps < 2 else load * (1 + reps / 30)


def brzycki(load: float, reps: float) -> float:
    """Brzycki 1993."""
    return load * 36 / (37 - reps)


def bodyweight(on: date, weighins: Weighins, rules: Rules) -> float | None:
    """Between two weigh-ins on the straight line, beyond them the nearest, near enough."""
    byday: dict[date, list[float]] = defaultdict(list)
    for weighed, kg in weighins:
        if weighed is not None:
            byday[weighed].append(kg)
    dated = sorted((weighed, sum(each) / len(each)) for weighed, each in byday.items())
    before = [each for each in dated if each[0] <= on]
    after = [each for each in dated if each[0] >= on]
    if any(abs((each[0] - on).days) <= rules.bodyweight_days for each in dated):
        if not before:
            return after[0][1]
        if not after:
            return before[-1][1]
        (one, low), (two, high) = before[-1], after[0]
        share = (on - one).days / (two - one).days if one < two else 0.0
        return low + share * (high - low)
    undated = [kg for weighed, kg in weighins if weighed is None]
    return sum(undated) / len(undated) if undated else None


def moved(logged: float | None, basis: str, own: float | None, kind: Kind) -> float | None:
    """The load that a set moves; `own` is the bodyweight."""
    if is_carried(basis, kind):
        load = None if own is None else own * kind.share + _hands(basis) * _extra(logged, basis)
    elif basis in ("assisted", "none"):
        return None
    else:
        load = logged
    return load if load and load > 0 else None


def is_carried(basis: str, kind: Kind) -> bool:
    """Whether bodyweight is part of the load."""
    return kind.share > 0 and basis != "total"


def _hands(basis: str) -> int:
    """Dumbbells beside a bodyweight that is carried."""
    return 2 if basis == "per_hand" else 1


def _extra(load: float | None, basis: str) -> float:
    """What is added to bodyweight; assistance is negative."""
    if basis == "none" or load is None:
        return 0.0
    return -abs(load) if basis == "assisted" else load


def recorded_rir(group: Sequence[Row], is_extended: bool) -> float | None:
    """As logged; else from RPE; else 0 where the set ended in failure. Of two sides the lower."""
    logged = []
    for row in group:
        if row["rir"] is not None:
            logged.append(float(row["rir"]))
        elif row["rpe"] is not None:
            logged.append(10 - float(row["rpe"]))
    if logged:
        return round(min(logged), 6)
    return 0.0 if is_extended or any(row["to_failure"] for row in group) else None


def work_sets(
    rows: Sequence[Row], kinds: Mapping[str, Kind], weighins: Weighins, rules: Rules
) -> list[WorkSet]:
    """The work sets of one client: sides joined, drops given to the set that they go on from."""
    days: dict[tuple[date, str], list[Row]] = defaultdict(list)
    for row in rows:
        if row["set_kind"] != "warmup":
            days[row["performed_on"], row["exercise"]].append(row)
    found = []
    for (day, exercise), each in sorted(days.items()):
        found += _day_sets(day, exercise, each, kinds.get(exercise, Kind()), weighins, rules)
    return found


def _day_sets(
    day: date,
    exercise: str,
    rows: Sequence[Row],
    known: Kind,
    weighins: Weighins,
    rules: Rules,
) -> list[WorkSet]:
    rows = sorted(rows, key=place)
    groups = _with_sides([row for row in rows if row["set_kind"] == "work"])
    carrier = {row["set_id"]: group[0]["set_id"] for group in groups for row in group}
    extended = set()
    last = None
    for row in rows:
        last = carrier.get(row["set_id"], last)
        if row["set_kind"] == "extension" or row["partial_reps"]:
            extended.add(last)
    found = []
    for group in groups:
        first = group[0]
        is_extended = first["set_id"] in extended
        basis = first["load_basis"] or known.load_basis
        # where nothing is known of the body, the dumbbells alone
        kind = replace(known, share=0.0) if basis == "per_hand" and not weighins else known
        loads = [row["load_kg"] for row in group if row["load_kg"] is not None]
        logged = min(loads, default=None)
        own = bodyweight(day, weighins, rules) if is_carried(basis, kind) else 0.0
        load = moved(logged, basis, own, kind)
        found.append(
            WorkSet(
                set_id=first["set_id"],
                day=day,
                exercise=exercise,
                order=place(first),
                load=load,
                record_load=_record_load(logged, basis, kind),
                reps=min(row["reps"] for row in group),
                tonnage=None if load is None else _tonnage(group, basis, own or 0.0, kind),
                rir=recorded_rir(group, is_extended),
                is_extended=is_extended,
            )
        )
    return found


def _with_sides(rows: Sequence[Row]) -> list[list[Row]]:
    """Left and right of one set together: by set number, else in their order."""
    groups: list[list[Row]] = []
    for row in rows:
        side = row["side"]
        numbers = {
            other["side"] for other in rows if other["side"] and _number(other) == _number(row)
        }
        is_numbered = side is not None and row["set_no"] is not None and len(numbers) > 1
        partner = None
        for group in groups:
            other = group[0]
            if side is None or other["side"] in (None, side) or len(group) > 1:
                continue
            if is_numbered == _is_numbered(other, rows) and (
                not is_numbered or other["set_no"] == row["set_no"]
            ):
                partner = group
                break
        if partner is None:
            groups.append([row])
        else:
            partner.append(row)
    return groups


def _number(row: Row) -> int | None:
    return row["set_no"] if row["side"] else None


def _is_numbered(row: Row, rows: Sequence[Row]) -> bool:
    """Whether another side carries the row's set number."""
    return row["set_no"] is not None and any(
        other["side"] not in (None, row["side"]) and other["set_no"] == row["set_no"]
        for other in rows
    )


def _tonnage(group: Sequence[Row], basis: str, own: float, kind: Kind) -> float:
    """Load times repetitions; both sides where they are logged apart, else both hands."""
    if is_carried(basis, kind):
        part = own * kind.share
        return sum(
            row["reps"] * (part + _hands(basis) * _extra(row["load_kg"], basis)) for row in group
        )
    hands = 2 if basis == "per_hand" and not group[0]["side"] else 1
    return sum(hands * row["reps"] * (row["load_kg"] or 0.0) for row in group)


def place(row: Row) -> tuple[Any, ...]:
    """Order within a day."""
    return (row["day_order"], row["load_id"], row["source_line"], row["set_id"])


def _record_load(logged: float | None, basis: str, kind: Kind) -> float | None:
    if is_carried(basis, kind):
        return _extra(logged, basis)
    if basis == "assisted" and logged:
        return -abs(logged)
    return logged or None


def lifts_of(client: str, sets: Sequence[WorkSet], rules: Rules) -> list[Lift]:
    """The client's lifts with every set graded."""
    by_lift: dict[str, dict[date, list[WorkSet]]] = defaultdict(lambda: defaultdict(list))
    for each in sorted(sets, key=lambda one: (one.day, one.order)):
        by_lift[each.exercise][each.day].append(each)
    found = []
    slips = slips_of({name: _tops(days, rules) for name, days in by_lift.items()}, rules)
    for exercise, days in sorted(by_lift.items()):
        sessions = [Session(day, ofday) for day, ofday in sorted(days.items())]
        _mark_suspects(sessions, rules)
        for session in sessions:
            for one in session.sets:
                if one.load is not None:
                    one.slip = slips[exercise].get(session.day)
        for session in sessions:
            for one in session.sets:
                _estimate(one, rules)
        mark_levels(sessions, rules)
        _refer(sessions, rules)
        for session in sessions:
            _grade(sessions, session, rules)
        found.append(Lift(client, exercise, sessions))
    return found


def _tops(days: Mapping[date, Sequence[WorkSet]], rules: Rules) -> list[Top]:
    found = []
    for day, sets in days.items():
        plain = [
            (one.load, one.reps, one.rir)
            for one in sets
            if one.load is not None
            and one.record_load is not None
            and abs(one.load - one.record_load) < 1e-6
        ]
        if plain:
            load, reps = max((load, reps) for load, reps, _ in plain)
            is_near = any(rir is not None and rir <= rules.hard_rir for *_, rir in plain)
            found.append(Top(day, load, reps, is_near))
    return found


def _mark_suspects(sessions: Sequence[Session], rules: Rules) -> None:
    """Far above the lift's best of the weeks before, and never reached again.

    Looked for twice: what the first look finds neither hides nor confirms another slip.
    """
    for _ in range(2):
        trusted = {
            session.day: highest(one.load for one in session.trusted) for session in sessions
        }
        for session in sessions:
            since = session.day - timedelta(days=rules.reference_days)
            before = highest(load for day, load in trusted.items() if since <= day < session.day)
            later = highest(load for day, load in trusted.items() if day > session.day) or 0.0
            for one in session.sets:
                one.is_suspect = (
                    one.load is not None
                    and before is not None
                    and one.load > rules.suspect_ratio * before + EPS
                    and rules.suspect_repeat_share * one.load > later + EPS
                )


def _estimate(one: WorkSet, rules: Rules) -> None:
    """Repetitions to failure and what they say of strength."""
    if one.rir is None:
        one.reps_to_failure = float(one.reps)
    elif one.rir <= rules.reserve_max:
        one.reps_to_failure = one.reps + one.rir
    reps = one.reps_to_failure
    if reps is None or reps < 1 or one.load is None or one.load <= 0:
        return
    if reps <= rules.index_reps_max + EPS:
        one.index = epley(one.load, reps)
    if reps <= rules.e1rm_reps_max + EPS:
        one.epley = epley(one.load, reps)
        one.brzycki = brzycki(one.load, reps)


def mark_levels(sessions: Sequence[Session], rules: Rules) -> None:
    """A new level where the median of three sessions is far from that of the three before.

    A dip no longer than a deload may be is passed over; a weaker return after a break is none. The
    sessions around one change all see it: of those within a restart's days the sharpest step is
    its start.
    """
    steady = _without_dips([each for each in sessions if each.index is not None], rules)
    chains: list[list[tuple[float, date]]] = []
    for number in range(3, len(steady) - 2):
        around = steady[number - 3 : number + 3]
        if not _is_change(around, rules):
            continue
        logs = [math.log(index_of(each)) for each in around]
        found = (round(abs(sum(logs[3:]) - sum(logs[:3])), 9), around[3].day)
        is_near = chains and (found[1] - chains[-1][-1][1]).days <= rules.not_trained_days
        if is_near:
            chains[-1].append(found)
        else:
            chains.append([found])
    starts = [min(chain, key=lambda each: (-each[0], each[1]))[1] for chain in chains]
    for session in sessions:
        session.level = 1 + sum(session.day >= each for each in starts)


def index_of(session: Session) -> float:
    """The index of a session that has one."""
    assert session.index is not None
    return session.index


def _is_change(around: Sequence[Session], rules: Rules) -> bool:
    """Whether the fourth of six sessions starts another level."""
    indices = [index_of(each) for each in around]
    before, after = median(indices[:3]), median(indices[3:])
    if abs(after / before - 1) < rules.level_change_share - EPS:
        return False
    middle = math.sqrt(before * after)
    if after > before:
        return indices[2] < middle < indices[3]
    gap = (around[3].day - around[2].day).days
    return indices[3] <= middle <= indices[2] and gap < rules.not_trained_days


def _without_dips(indexed: Sequence[Session], rules: Rules) -> list[Session]:
    """Sessions without runs, short enough for a deload, far under the weeks before."""
    runs: list[list[Session]] = []
    steady: list[Session] = []
    was_low = False
    for session in indexed:
        since = session.day - timedelta(days=rules.reference_days)
        before = [index_of(each) for each in indexed if since <= each.day < session.day]
        under = (1 - rules.light_share) * median(before) + EPS if len(before) >= 3 else 0.0
        is_low = index_of(session) <= under
        if not is_low:
            steady.append(session)
        elif was_low:
            runs[-1].append(session)
        else:
            runs.append([session])
        was_low = is_low
    for run in runs:
        if (run[-1].day - run[0].day).days + 1 > rules.light_run_days:
            steady += run
    return sorted(steady, key=lambda each: each.day)


def _refer(sessions: Sequence[Session], rules: Rules) -> None:
    """The second-best session index of six weeks, not across a pause or a change of level."""
    for number, session in enumerate(sessions):
        window = in_reach(sessions, number, rules)
        indices = sorted((each.index for each in window if each.index is not None), reverse=True)
        if not indices:
            continue
        usual = indices[1] if len(indices) >= rules.reference_min_sessions else indices[0]
        session.reference = max(usual, session.index or 0.0)


def in_reach(sessions: Sequence[Session], number: int, rules: Rules) -> list[Session]:
    """Sessions of the reference's window, back to the last pause or change of level."""
    session = sessions[number]
    since = session.day - timedelta(days=rules.reference_days - 1)
    found = [session]
    for earlier in reversed(sessions[:number]):
        gap = (found[-1].day - earlier.day).days
        if earlier.day < since or gap >= rules.restart_days or earlier.level != session.level:
            break
        found.append(earlier)
    return found


def _grade(sessions: Sequence[Session], session: Session, rules: Rules) -> None:
    """Effort and hardness of the day's sets, in their order."""
    top = highest(one.load for one in session.sets if one.slip or not one.is_suspect)
    number = sessions.index(session)
    most_reps = highest(
        float(one.reps)
        for other in in_reach(sessions, number, rules)
        for one in other.trusted
        if one.is_unloaded
    )
    hard_loads: list[float] = []
    for one in session.sets:
        one.rir_used, one.basis = _effort(one, session.reference, most_reps)
        is_near = top is None or one.load is None or one.load >= rules.warmup_share * top - EPS
        if one.basis == "recorded":
            is_hard = (one.rir_used or 0.0) <= rules.hard_rir
        elif one.basis == "estimated" and one.reps <= rules.estimated_reps_max:
            used = one.rir_used or 0.0
            is_hard = used <= rules.hard_rir + rules.estimated_slack
        else:
            is_hard = is_near
        if one.basis == "estimated":
            is_hard = is_hard or any(one.carried >= load for load in hard_loads)
        one.is_hard = is_hard and 1 <= one.reps <= rules.hard_reps_max
        if one.is_hard:
            hard_loads.append(one.carried)


def _effort(
    one: WorkSet, reference: float | None, most_reps: float | None
) -> tuple[float | None, str]:
    if one.rir is not None:
        return round(one.rir, 6), "recorded"
    if one.load is not None and one.load > 0:
        if reference is None:
            return None, "assumed"
        allowed = 30 * (reference / (one.load / (one.slip or 1)) - 1)
        return round(max(0.0, allowed - one.reps), 6), "estimated"
    if most_reps is None or not one.is_unloaded:
        return None, "assumed"
    return round(max(0.0, most_reps - one.reps), 6), "estimated"
