"""Lifts: small multiples of those that need a look first, and the table of all."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from datetime import date, timedelta
from statistics import median

from pipeline import formats
from pipeline.ledger.connection import Row
from pipeline.pages import charts, texts
from pipeline.pages.charts import LiftPanel, LiftPoint, Trend
from pipeline.pages.client_data import Desk
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
from pipeline.units import from_kg

DRAWN_MOST = 12


def read_lifts(desk: Desk) -> list[Row]:
    """A row a lift, those that need a look first: its status, its last session, its sessions."""
    sessions: dict[str, list[Row]] = defaultdict(list)
    for row in desk.of_client("lift_session", "exercise, day"):
        sessions[row["exercise"]].append(row)
    records: dict[str, set[date]] = defaultdict(set)
    for row in desk.of_client("records", "exercise, reps"):
        records[row["exercise"]].add(row["performed_on"])
    statuses = {row["exercise"]: row for row in desk.of_client("lift_status", "exercise")}
    rows = [
        (statuses.get(exercise) or {"exercise": exercise, "status": None})
        | {"sessions_of": of_lift, "record_days": records[exercise]}
        for exercise, of_lift in sessions.items()
    ]
    return sorted(rows, key=_place)


def _place(row: Row) -> tuple[int, int, int, str]:
    """Those that need a look first; then what was trained last and most."""
    order = texts.STATUS_ORDER
    status = row["status"]
    last = row["sessions_of"][-1]["day"]
    return (
        order.index(status) if status in order else len(order),
        -last.toordinal() if status not in ("regressing", "stalled") else 0,
        -len(row["sessions_of"]),
        row["exercise"],
    )


def lifts_section(desk: Desk, rows: list[Row]) -> Section | None:
    """The section, or None for a client without a work set."""
    if not rows:
        return None
    since = desk.as_of - timedelta(weeks=charts.LIFT_WEEKS)
    recent = [row for row in rows if _points(desk, row, since)]
    drawn = recent[:DRAWN_MOST]
    blocks: list[Panels | Passage | Table | Heading] = [Passage(texts.LIFTS_INTRO)]
    if drawn:
        blocks.append(_panels(desk, drawn, since))
    if len(recent) > len(drawn):
        blocks.append(Passage(texts.not_drawn(len(recent) - len(drawn)), is_small=True))
    blocks.append(_table(desk, rows))
    targets = desk.of_client("target_progress", "exercise, target_load_kg, target_reps")
    if targets:
        blocks.append(_targets(desk, targets))
    return Section("lifts", texts.SECTIONS["lifts"], tuple(blocks))


# Small multiples


def _points(desk: Desk, row: Row, since: date) -> tuple[LiftPoint, ...]:
    """Sessions to draw: e1RM in the client's unit; without any, the index in % of its best."""
    sessions = [each for each in row["sessions_of"] if each["day"] > since]
    value = _measure(desk, sessions)
    return tuple(
        LiftPoint(
            each["day"], shown, each["day"] in row["record_days"], is_light=bool(each["is_light"])
        )
        for each in sessions
        if (shown := value(each)) is not None
    )


def _measure(desk: Desk, sessions: list[Row]) -> Callable[[Row], float | None]:
    if any(each["e1rm"] is not None for each in sessions):
        return lambda each: (
            None if each["e1rm"] is None else from_kg(each["e1rm"], desk.client.units)
        )
    best = max((each["strength_index"] or 0.0 for each in sessions), default=0.0)
    if best > 0:
        return lambda each: (
            None if each["strength_index"] is None else 100 * each["strength_index"] / best
        )
    return lambda each: float(each["reps"]) if each["reps"] else None


def _axis(desk: Desk, row: Row) -> str:
    if any(each["e1rm"] is not None for each in row["sessions_of"]):
        return texts.e1rm_axis(desk.client.units)
    if any(each["strength_index"] is not None for each in row["sessions_of"]):
        return texts.INDEX_AXIS
    return texts.REPS_AXIS


def _panels(desk: Desk, rows: list[Row], since: date) -> Panels:
    pictures = []
    for row in rows:
        points = _points(desk, row, since)
        pictures.append(LiftPanel(points, _trend(row, points), desk.rules["not_trained_days"]))
    drawings = charts.lift_panels(pictures, desk.as_of)
    panels = []
    for place, (row, svg) in enumerate(zip(rows, drawings, strict=True)):
        reading = _reading(row)
        title = texts.lift_title(row["exercise"], _axis(desk, row))
        panels.append(
            Panel(
                heading=formats.heading(row["exercise"]),
                unit=_axis(desk, row),
                svg=charts.named(svg, f"lift-{place}", title, reading),
                reading=reading,
                word=texts.status_word(row["status"]),
                mark="look" if row["status"] in ("stalled", "regressing") else "",
            )
        )
    return Panels(
        tuple(panels),
        tuple(_session_numbers(desk, row, since) for row in rows),
        texts.LIFT_NUMBERS,
    )


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


def _reading(row: Row) -> str:
    return formats.sentence(
        "; ".join(filter(None, (_why(row), texts.best_ago(row.get("weeks_since_best")))))
    )


def _why(row: Row) -> str:
    return texts.lift_why(
        status=row["status"],
        cause=row.get("cause"),
        reason=row.get("reason"),
        change=(row.get("change_pct_per_week"), row.get("change_low"), row.get("change_high")),
        expected=row.get("expected_pct_per_week"),
        window_days=row.get("window_days"),
        weeks_until_clear=row.get("weeks_until_clear"),
        last_on=row.get("last_on"),
    )


def _session_numbers(desk: Desk, row: Row, since: date) -> Table:
    units = desk.client.units
    columns = (
        Column("Session", is_number=False),
        Column(f"Top set ({units})"),
        Column(f"e1RM ({units})", "mean of Epley and Brzycki"),
    )

    def cells(each: Row) -> tuple[Figure, ...]:
        trace = trace_command(
            "lift_session.e1rm", desk.client_id, exercise=row["exercise"], on=each["day"]
        )
        return (
            Figure(formats.day(each["day"])),
            Figure(_top_set(desk, each)),
            Figure(formats.load(each["e1rm"], units), trace),
        )

    sessions = [each for each in row["sessions_of"] if each["day"] > since]
    return Table(
        formats.heading(row["exercise"]),
        columns,
        tuple(cells(each) for each in reversed(sessions)),
    )


def _top_set(desk: Desk, session: Row) -> str:
    if session["top_load_kg"] is None:
        return texts.times(None, session["top_reps"])
    return texts.times(from_kg(session["top_load_kg"], desk.client.units), session["top_reps"])


# Table of all lifts


def _table(desk: Desk, rows: list[Row]) -> Table:
    units = desk.client.units
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
    return Table(texts.LIFTS_TABLE, columns, tuple(_cells(desk, row) for row in rows))


def _cells(desk: Desk, row: Row) -> tuple[Figure, ...]:
    units = desk.client.units
    exercise = row["exercise"]
    last = row["sessions_of"][-1]

    def session(column: str) -> str:
        return trace_command(
            f"lift_session.{column}", desk.client_id, exercise=exercise, on=last["day"]
        )

    def status(column: str) -> str:
        return trace_command(
            f"lift_status.{column}", desk.client_id, exercise=exercise, on=desk.as_of
        )

    return (
        Figure(formats.heading(exercise)),
        Figure(
            texts.STATUSES.get(row["status"] or "", formats.NOTHING),
            status("status") if row["status"] else "",
            mark="look" if row["status"] in ("stalled", "regressing") else "",
            note=texts.lift_note(
                row["status"], row.get("cause"), row.get("reason"), row.get("last_on")
            ),
        ),
        Figure(_top_set(desk, last), session("top_load_kg")),
        Figure(formats.day(last["day"])),
        Figure(formats.load(last["e1rm_epley"], units), session("e1rm_epley")),
        Figure(formats.load(last["e1rm_brzycki"], units), session("e1rm_brzycki")),
        Figure(
            texts.change_pct(row.get("change_pct_per_week")),
            status("change_pct_per_week") if row["status"] else "",
            note=texts.interval_pct(row.get("change_low"), row.get("change_high")),
        ),
        Figure(
            texts.change_pct(row.get("expected_pct_per_week")),
            status("expected_pct_per_week") if row["status"] else "",
        ),
        Figure(formats.load(row.get("best_e1rm"), units), status("best_e1rm")),
        Figure(formats.day(row.get("best_on"))),
    )


# Targets


def _targets(desk: Desk, rows: list[Row]) -> Table:
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
                desk.client_id,
                exercise=row["exercise"],
                on=desk.as_of,
            )

        share = (
            row["current_index"] / row["target_index"]
            if row["current_index"] is not None and row["target_index"]
            else None
        )
        return (
            Figure(
                texts.target(
                    row["exercise"], row["target_load_kg"], row["target_reps"], desk.client.units
                )
            ),
            Figure(formats.percent(share), trace("current_index")),
            Figure(texts.gap_pct(row["gap_pct"]), trace("gap_pct")),
            Figure(
                texts.weeks_range(row["weeks_low"], row["weeks_high"], row["reason"]),
                trace("weeks_low"),
            ),
        )

    return Table(texts.TARGETS_TABLE, columns, tuple(cells(row) for row in rows))
