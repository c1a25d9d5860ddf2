"""Rhythm: what was trained on which day of each rotation, or week, over twelve weeks."""

from __future__ import annotations

from datetime import timedelta

from pipeline import formats
from pipeline.ledger.connection import Row
from pipeline.pages import texts
from pipeline.pages.client_data import Desk
from pipeline.pages.page_data import Column, Figure, Passage, Section, Table, trace_command

WEEKS = 12


def rhythm_section(desk: Desk) -> Section | None:
    """The section, or None where nothing was trained in the twelve weeks."""
    if "rhythm" not in desk.tables:
        return None
    days = desk.rows(
        "from review.rhythm where client_id = ? and day > ? order by day",
        desk.client_id,
        desk.as_of - timedelta(weeks=WEEKS),
    )
    if not any(row["trained"] for row in days):
        return None
    rotation = next(iter(desk.of_client("rotation", "client_id")), None)
    lines = rotation_lines(days, rotation)
    columns = (
        Column("From", is_number=False),
        Column("Days in order", is_number=False, is_long=True),
        Column("Sessions", "days with any set logged"),
        Column("Rest days", "calendar days with fewer than four hard sets"),
    )
    return Section(
        "rhythm",
        texts.SECTIONS["rhythm"],
        (
            Passage(texts.rhythm_reading(rotation, [row["rest_days_7d"] for row in days[-28:]])),
            Table(
                texts.rhythm_table(bool((rotation or {}).get("days"))),
                columns,
                tuple(_cells(desk, line) for line in reversed(lines)),
            ),
        ),
    )


def rotation_lines(days: list[Row], rotation: Row | None) -> list[list[Row]]:
    """The days cut into rotations, counted back from the last day; else into calendar weeks.

    A rotation of a whole number of days goes by days, another one by its sessions.
    """
    length = (rotation or {}).get("days")
    sessions = (rotation or {}).get("sessions")
    if length and float(length).is_integer():
        return _by_days(days, int(length))
    if sessions and float(sessions).is_integer():
        return _by_sessions(days, int(sessions))
    lines: list[list[Row]] = []
    for row in days:
        if not lines or row["day"].weekday() == 0:
            lines.append([])
        lines[-1].append(row)
    return lines


def _by_days(days: list[Row], length: int) -> list[list[Row]]:
    first = len(days) % length
    starts = [*([0] if first else []), *range(first, len(days), length)]
    return [days[start:end] for start, end in zip(starts, [*starts[1:], len(days)], strict=True)]


def _by_sessions(days: list[Row], sessions: int) -> list[list[Row]]:
    """A line ends before the session that begins the next round; counted back from the last."""
    lines: list[list[Row]] = [[]]
    trained = 0
    for row in reversed(days):
        lines[-1].append(row)
        trained += bool(row["trained"])
        if row["trained"] and trained % sessions == 0:
            lines.append([])
    return [line[::-1] for line in reversed(lines) if line]


def _cells(desk: Desk, line: list[Row]) -> tuple[Figure, ...]:
    trained = sum(bool(row["trained"]) for row in line)
    trace = trace_command("rhythm.body_parts", desk.client_id, on=line[0]["day"])
    return (
        Figure(formats.day(line[0]["day"])),
        Figure(texts.days_in_order([_parts(row) for row in line]), trace),
        Figure(formats.number(trained, 0)),
        Figure(formats.number(sum(_is_rest(desk, row) for row in line), 0)),
    )


def _is_rest(desk: Desk, row: Row) -> bool:
    hard_sets = row.get("hard_sets")
    if hard_sets is None:
        return not row["trained"]
    return bool(hard_sets < desk.rules["rest_day_sets"])


def _parts(row: Row) -> tuple[str, ...] | None:
    """Body parts of a trained day; None for a day without training."""
    if not row["trained"]:
        return None
    parts = row["body_parts"] or ()
    if isinstance(parts, str):
        parts = [part.strip() for part in parts.split(",") if part.strip()]
    return tuple(parts)
