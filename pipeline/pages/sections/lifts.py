"""Lifts: small multiples of those that need a look first, and the table of all."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from statistics import median

from pipeline.formats import (
    NOTHING,
    capital,
    count,
    counted,
    day,
    heading,
    load,
    load_with_unit,
    number,
    percent,
    sentence,
    short,
    signed,
)
from pipeline.ledger.connection import Row
from pipeline.pages import texts
from pipeline.pages.charts.lifts import LIFT_WEEKS, LiftPanel, LiftPoint, Trend, lift_panels
from pipeline.pages.charts.svg import named
from pipeline.pages.client_data import ClientData
from pipeline.pages.page_data import (
    Column,
    Figure,
    Heading,
    Panel,
    Panels,
    Passage,
    Section,
    Table,
    trace_command,
)
from pipeline.units import Unit, from_kg

DRAWN_MOST = 12


def read_lifts(data: ClientData) -> list[Row]:
    """A row a lift, those that need a look first: its status, its sessions of late, its records."""
    sessions: dict[str, list[Row]] = defaultdict(list)
    for row in data.answer("lift_sessions", since=data.covered_on - timedelta(weeks=LIFT_WEEKS)):
        sessions[row["exercise"]].append(row)
    records: dict[str, set[date]] = defaultdict(set)
    for row in data.of_client("records", "exercise, reps"):
        records[row["exercise"]].add(row["performed_on"])
    statuses = {row["exercise"]: row for row in data.of_client("lift_status", "exercise")}
    rows = [
        (statuses.get(exercise) or {"exercise": exercise, "status": None})
        | {"sessions_of": of_lift, "record_days": records[exercise]}
        for exercise, of_lift in sessions.items()
    ]
    return sorted(rows, key=_place)


def _place(row: Row) -> tuple[int, int, int, str]:
    """Those that need a look first; then what was trained last and most."""
    order = STATUS_ORDER
    status = row["status"]
    last = row["sessions_of"][-1]["day"]
    return (
        order.index(status) if status in order else len(order),
        -last.toordinal() if status not in ("regressing", "stalled") else 0,
        -row["sessions_of"][-1]["sessions"],
        row["exercise"],
    )


def lifts_section(data: ClientData, rows: list[Row]) -> Section | None:
    """The section, or None for a client without a work set."""
    if not rows:
        return None
    since = data.covered_on - timedelta(weeks=LIFT_WEEKS)
    recent = [row for row in rows if _points(data, row, since)]
    drawn = recent[:DRAWN_MOST]
    blocks: list[Panels | Passage | Table | Heading] = [Passage(INTRO)]
    if drawn:
        blocks.append(_panels(data, drawn, since))
    if len(recent) > len(drawn):
        blocks.append(Passage(not_drawn(len(recent) - len(drawn)), is_small=True))
    kept = [row for row in rows if row["sessions_of"][-1]["day"] > since]
    left = [row for row in rows if row["sessions_of"][-1]["day"] <= since]
    if kept:
        blocks.append(_table(data, kept, TABLE_CAPTION))
    if left:
        blocks.append(replace(_table(data, left, left_caption(len(left))), is_folded=True))
    targets = data.of_client("target_progress", "exercise, target_load_kg, target_reps")
    if targets:
        blocks.append(_targets(data, targets))
    return Section("lifts", TITLE, tuple(blocks))


# Small multiples


def _points(data: ClientData, row: Row, since: date) -> tuple[LiftPoint, ...]:
    """Sessions to draw: e1RM in the client's unit; without any, the index in % of its best."""
    sessions = [each for each in row["sessions_of"] if each["day"] > since]
    value = drawn_value(data, sessions)
    return tuple(
        LiftPoint(
            each["day"], shown, each["day"] in row["record_days"], is_light=bool(each["is_light"])
        )
        for each in sessions
        if (shown := value(each)) is not None
    )


def drawn_value(data: ClientData, sessions: list[Row]) -> Callable[[Row], float | None]:
    """What is drawn of a session: e1RM; without any, the index in % of its best, or repetitions."""
    if any(each["e1rm"] is not None for each in sessions):
        return lambda each: None if each["e1rm"] is None else from_kg(each["e1rm"], data.units)
    best = max((each["strength_index"] or 0.0 for each in sessions), default=0.0)
    if best > 0:
        return lambda each: (
            None if each["strength_index"] is None else 100 * each["strength_index"] / best
        )
    return lambda each: float(each["top_reps"]) if each["top_reps"] else None


def axis_of(data: ClientData, row: Row) -> str:
    """The unit in which a lift is drawn."""
    if any(each["e1rm"] is not None for each in row["sessions_of"]):
        return data.units
    if any(each["strength_index"] is not None for each in row["sessions_of"]):
        return INDEX_AXIS
    return REPS_AXIS


def _panels(data: ClientData, rows: list[Row], since: date) -> Panels:
    pictures = [lift_panel(data, row, since) for row in rows]
    drawings = lift_panels(pictures, data.covered_on)
    panels = []
    for place, (row, svg) in enumerate(zip(rows, drawings, strict=True)):
        reading = lift_reading(row)
        title = panel_title(row["exercise"], axis_of(data, row))
        panels.append(
            Panel(
                heading=heading(row["exercise"]),
                unit=axis_of(data, row),
                svg=named(svg, f"lift-{place}", title, reading),
                reading=reading,
                word=status_word(row["status"]),
                mark="look" if row["status"] in ("stalled", "regressing") else "",
            )
        )
    return Panels(
        tuple(panels),
        tuple(_session_numbers(data, row, since) for row in rows),
        NUMBERS_CAPTION,
    )


def lift_panel(data: ClientData, row: Row, since: date) -> LiftPanel:
    """A lift's sessions after a day, with its trend."""
    points = _points(data, row, since)
    return LiftPanel(points, _trend(row, points), data.rules["not_trained_days"])


def _trend(row: Row, points: tuple[LiftPoint, ...]) -> Trend | None:
    """Slope and interval as the table has them, drawn through the middle of the sessions.

    Only the height of the line is found here, by the sessions' medians: the tables hold no level.
    """
    change = row.get("change_pct_per_week")
    if change is None or row.get("change_low") is None or row.get("change_high") is None:
        return None
    last_on = row.get("last_on") or points[-1].day
    first_on = last_on - timedelta(days=int(row.get("window_days") or 84))
    inside = [point for point in points if first_on <= point.day <= last_on and not point.is_light]
    if len(inside) < 2:
        return None
    middle = date.fromordinal(round(median(point.day.toordinal() for point in inside)))
    level = median(
        point.value / (1 + change / 100) ** ((point.day - middle).days / 7) for point in inside
    )
    return Trend(
        first_on,
        middle,
        last_on,
        level,
        change / 100,
        row["change_low"] / 100,
        row["change_high"] / 100,
    )


def lift_reading(row: Row) -> str:
    """How a lift stands, why, and how old its best is."""
    return sentence(
        "; ".join(filter(None, (_why(row), texts.best_ago(row.get("weeks_since_best")))))
    )


def _why(row: Row) -> str:
    return lift_why(
        status=row["status"],
        cause=row.get("cause"),
        reason=row.get("reason"),
        change=(row.get("change_pct_per_week"), row.get("change_low"), row.get("change_high")),
        expected=row.get("expected_pct_per_week"),
        window_days=row.get("window_days"),
        weeks_until_clear=row.get("weeks_until_clear"),
        last_on=row.get("last_on"),
    )


def _session_numbers(data: ClientData, row: Row, since: date) -> Table:
    units = data.units
    columns = (
        Column("Session", is_number=False),
        Column(f"Top set ({units})"),
        Column(f"e1RM ({units})", "mean of Epley and Brzycki"),
    )

    def cells(each: Row) -> tuple[Figure, ...]:
        trace = trace_command(
            "lift_session.e1rm", data.client_id, exercise=row["exercise"], on=each["day"]
        )
        return (
            Figure(day(each["day"])),
            Figure(_top_set(data, each)),
            Figure(load(each["e1rm"], units), trace),
        )

    sessions = [each for each in row["sessions_of"] if each["day"] > since]
    return Table(
        heading(row["exercise"]),
        columns,
        tuple(cells(each) for each in reversed(sessions)),
    )


def _top_set(data: ClientData, session: Row) -> str:
    if session["top_load_kg"] is None:
        return texts.times(None, session["top_reps"])
    return texts.times(from_kg(session["top_load_kg"], data.units), session["top_reps"])


# Table of all lifts


def _table(data: ClientData, rows: list[Row], caption: str) -> Table:
    units = data.units
    columns = (
        Column("Lift", is_number=False),
        Column("Status", is_number=False),
        Column(f"Last top set ({units})", "heaviest load of the last session and its repetitions"),
        Column("Last session", is_number=False),
        Column(f"Epley ({units})", "estimated one-repetition maximum of the last session"),
        Column(f"Brzycki ({units})", "estimated one-repetition maximum of the last session"),
        Column("Change a week", "trend of strength; below: its 95% interval"),
        Column("Expected", "change a week that was to be expected: the lift’s own earlier rate"),
        Column(f"Best e1RM ({units})", "best session: mean of Epley and Brzycki"),
        Column("Best on", is_number=False),
    )
    return Table(caption, columns, tuple(_cells(data, row) for row in rows))


def _cells(data: ClientData, row: Row) -> tuple[Figure, ...]:
    units = data.units
    exercise = row["exercise"]
    last = row["sessions_of"][-1]

    def session(column: str) -> str:
        return trace_command(
            f"lift_session.{column}", data.client_id, exercise=exercise, on=last["day"]
        )

    def status(column: str) -> str:
        return trace_command(
            f"lift_status.{column}", data.client_id, exercise=exercise, on=data.covered_on
        )

    return (
        Figure(heading(exercise)),
        Figure(
            STATUSES.get(row["status"] or "", NOTHING),
            status("status") if row["status"] else "",
            mark="look" if row["status"] in ("stalled", "regressing") else "",
            note=lift_note(row["status"], row.get("cause"), row.get("reason"), row.get("last_on")),
        ),
        Figure(_top_set(data, last), session("top_load_kg")),
        Figure(day(last["day"])),
        Figure(load(last["e1rm_epley"], units), session("e1rm_epley")),
        Figure(load(last["e1rm_brzycki"], units), session("e1rm_brzycki")),
        Figure(
            change_pct(row.get("change_pct_per_week")),
            status("change_pct_per_week") if row["status"] else "",
            note=interval_pct(row.get("change_low"), row.get("change_high")),
        ),
        Figure(
            change_pct(row.get("expected_pct_per_week")),
            status("expected_pct_per_week") if row["status"] else "",
        ),
        Figure(load(row.get("best_e1rm"), units), status("best_e1rm")),
        Figure(day(row.get("best_on"))),
    )


# Targets


def _targets(data: ClientData, rows: list[Row]) -> Table:
    columns = (
        Column("Target", is_number=False),
        Column("Now", "strength index today, in per cent of the target’s"),
        Column("Still to gain"),
        Column("Weeks", "at the present trend, as a range"),
    )

    def cells(row: Row) -> tuple[Figure, ...]:
        def trace(column: str) -> str:
            return trace_command(
                f"target_progress.{column}",
                data.client_id,
                exercise=row["exercise"],
                on=data.covered_on,
            )

        share = (
            row["current_index"] / row["target_index"]
            if row["current_index"] is not None and row["target_index"]
            else None
        )
        return (
            Figure(target(row["exercise"], row["target_load_kg"], row["target_reps"], data.units)),
            Figure(percent(share), trace("current_index")),
            Figure(gap_pct(row["gap_pct"]), trace("gap_pct")),
            Figure(
                weeks_range(row["weeks_low"], row["weeks_high"], row["reason"]),
                trace("weeks_low"),
            ),
        )

    return Table(TARGETS_CAPTION, columns, tuple(cells(row) for row in rows))


# What it says

TITLE = "Lifts"
STATUSES = {
    "progressing": "progressing",
    "slowing": "slowing",
    "stalled": "stalled",
    "regressing": "regressing",
    "unclear": "unclear",
    "too_little_data": "too little data",
}
STATUS_ORDER = (
    "regressing",
    "stalled",
    "unclear",
    "slowing",
    "progressing",
    "too_little_data",
)
INTRO = (
    "Each dot is a session’s estimated one-repetition maximum (e1RM): what the best set suggests "
    "could be lifted once, the mean of the Epley and Brzycki formulas. The line is the trend with "
    "the range of its 95% interval. A ring marks a session that still holds a record, a tick at "
    "the foot a light session; a layoff breaks the thread. Where no set allows such an estimate, "
    "the dots are a strength index in per cent of its best."
)
TABLE_CAPTION = "Lifts, those that need a look first"
NUMBERS_CAPTION = "Sessions of the last 52 weeks"


def left_caption(amount: int) -> str:
    """Over the lifts that were given up."""
    return f"{capital(counted(amount, 'lift'))} not trained for a year"


INDEX_AXIS = "% of best"
REPS_AXIS = "repetitions of the best set"
TARGETS_CAPTION = "Targets"


def panel_title(name: str, axis: str) -> str:
    """Alternative text of a panel."""
    return f"{heading(name)}, sessions of 52 weeks, {axis}"


def change_pct(value: float | None) -> str:
    """A change a week in per cent."""
    return NOTHING if value is None else f"{signed(value, 2)}%"


def interval_pct(low: float | None, high: float | None) -> str:
    """The range of a change."""
    return "" if low is None or high is None else f"{signed(low, 2)} to {signed(high, 2)}"


def target(name: str, load_kg: float, reps: int, units: Unit) -> str:
    """A target: Bench press 100 kg × 8."""
    return f"{heading(name)} {load_with_unit(load_kg, units)} × {reps}"


def gap_pct(value: float | None) -> str:
    """What is missing to a target."""
    if value is None:
        return NOTHING
    return "reached" if value <= 0 else f"{number(value)}%"


def weeks_range(low: float | None, high: float | None, why: str | None) -> str:
    """Weeks to a target as a range, or why nothing can be told."""
    if low is None and high is None:
        return reason_as_shown(why) or NOTHING
    if low is not None and high is not None:
        return count(low, "week") if low == high else f"{short(low, 0)} to {short(high, 0)}"
    return f"{short(low, 0)} or more" if low is not None else f"up to {short(high, 0)}"


CAUSES = {
    "regaining": "regaining after a break or a change of level, still under the best before it",
    "not_attempted": (
        "not attempted: no session tried more load or more repetitions than before; the step is "
        "one more repetition"
    ),
    "flattening": (
        "may have flattened: it rises over the whole span, but perhaps not in the latest weeks"
    ),
    "no_progress": "no progress, whatever it did before",
    "new_record": "a new record in the last four weeks speaks against a standstill",
    "cut": "in a cut, holding strength is success",
    "led": "led by the licensed professional",
}
_ISO_DAY = re.compile(r"\b\d{4}-\d\d-\d\d\b")


def reason_as_shown(text: str | None) -> str:
    """A reason as the tables word it, with days and per cent as pages write them."""
    if not text:
        return ""
    text = _ISO_DAY.sub(lambda found: day(date.fromisoformat(found[0])), text)
    return text.replace(" %", "%")


def status_word(status: str | None) -> str:
    """A status as the first word of a caption."""
    word = STATUSES.get(status or "", "")
    return word[:1].upper() + word[1:]


def lift_note(status: str | None, cause: str | None, why: str | None, last_on: date | None) -> str:
    """The reason below a status in the table, where numbers beside it do not tell it."""
    if cause == "not_trained" and last_on is not None:
        return f"not trained since {day(last_on)}"
    if cause in CAUSES:
        return CAUSES[cause].split(",")[0].split(":")[0]
    return reason_as_shown(why) if status == "too_little_data" else ""


def lift_why(
    *,
    status: str | None,
    cause: str | None,
    reason: str | None,
    change: tuple[float | None, float | None, float | None],
    expected: float | None,
    window_days: int | None,
    weeks_until_clear: float | None,
    last_on: date | None,
) -> str:
    """Why a lift has its status: the cause in words, then the trend in numbers."""
    if status in (None, "too_little_data"):
        return lift_note(status, cause, reason, last_on) or CAUSES.get(cause or "", "")
    parts = [CAUSES[cause]] if cause in CAUSES else []
    middle, low, high = change
    if middle is not None:
        span = "" if low is None or high is None else f" ({interval_pct(low, high)})"
        over = f" over {count(round(window_days / 7), 'week')}" if window_days else ""
        parts.append(f"{signed(middle, 2)}% a week{span}{over}")
    if status in ("slowing", "stalled", "unclear") and expected is not None:
        parts.append(f"{signed(expected, 2)}% was to be expected")
    if status == "unclear" and weeks_until_clear is not None:
        parts.append(f"about {count(round(weeks_until_clear), 'more week')} would tell")
    return "; ".join(parts)


def not_drawn(amount: int) -> str:
    """When there are more lifts than panels."""
    return f"{capital(counted(amount, 'more lift'))} in the table below, not drawn."
