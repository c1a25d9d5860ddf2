"""Rhythm: what was trained on which day of each rotation, or week, over twelve weeks."""

from __future__ import annotations

from datetime import timedelta

from pipeline import wording
from pipeline.figures import Column, Figure, Passage, Section, Table, trace_command
from pipeline.rows import Desk, Row

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
        Column("Days in order", is_number=False),
        Column("Trained", "days with any set logged"),
        Column("Rests", "calendar days without one"),
    )
    return Section(
        "rhythm",
        wording.SECTIONS["rhythm"],
        (
            Passage(wording.rhythm_reading(rotation, [row["rest_days_7d"] for row in days[-28:]])),
            Table(
                wording.rhythm_table(bool(_length(rotation))),
                columns,
                tuple(_cells(desk, line) for line in reversed(lines)),
            ),
        ),
    )


def _length(rotation: Row | None) -> float | None:
    return None if rotation is None else rotation.get("days")


def rotation_lines(days: list[Row], rotation: Row | None) -> list[list[Row]]:
    """The days cut into rotations (by their sessions where the rotation goes by them), else weeks."""
    sessions = (rotation or {}).get("sessions")
    if sessions:
        return _by_sessions(days, int(sessions))
    length = _length(rotation)
    step = round(length) if length else 7
    if length:
        start = len(days) % step
        cuts = [0, *range(start, len(days), step), len(days)] if start else [
            *range(0, len(days), step), len(days)
        ]  # fmt: skip
        return [days[a:b] for a, b in zip(cuts, cuts[1:], strict=False) if a < b]
    lines: list[list[Row]] = []
    for row in days:
        if not lines or row["day"].weekday() == 0:
            lines.append([])
        lines[-1].append(row)
    return lines


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
        Figure(wording.day(line[0]["day"])),
        Figure(wording.days_in_order([_parts(row) for row in line]), trace),
        Figure(wording.number(trained, 0)),
        Figure(wording.number(len(line) - trained, 0)),
    )


def _parts(row: Row) -> tuple[str, ...] | None:
    """Body parts of a trained day; None for a day without training."""
    if not row["trained"]:
        return None
    parts = row["body_parts"] or ()
    if isinstance(parts, str):
        parts = [part.strip() for part in parts.split(",") if part.strip()]
    return tuple(parts)
