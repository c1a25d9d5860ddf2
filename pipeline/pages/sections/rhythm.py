"""Rhythm: what was trained on which day of each rotation, or week, over twelve weeks."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from typing import Any

from pipeline.formats import count, counted, day, number, percent, plain
from pipeline.ledger.connection import Row
from pipeline.pages.client_data import ClientData
from pipeline.pages.page_data import Column, Figure, Passage, Section, Table, trace_command

WEEKS = 12


def rhythm_section(data: ClientData) -> Section | None:
    """The section, or None where nothing was trained in the twelve weeks."""
    days = data.rows(
        "from review.rhythm where client_id = ? and day > ? and day <= ? order by day",
        data.client_id,
        data.covered_on - timedelta(weeks=WEEKS),
        data.covered_on,
    )
    if not any(row["trained"] for row in days):
        return None
    rotation = next(iter(data.of_client("rotation", "client_id")), None)
    lines = rotation_lines(days, rotation)
    columns = (
        Column("From", is_number=False),
        Column("Days in order", is_number=False, is_long=True),
        Column("Sessions", "days with any set logged"),
        Column("Rest days", "calendar days with fewer than four hard sets"),
    )
    return Section(
        "rhythm",
        TITLE,
        (
            Passage(rhythm_reading(rotation, [row["rest_days_7d"] for row in days[-28:]])),
            Table(
                table_caption(bool((rotation or {}).get("days"))),
                columns,
                tuple(_cells(data, line) for line in reversed(lines)),
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


def _cells(data: ClientData, line: list[Row]) -> tuple[Figure, ...]:
    trained = sum(bool(row["trained"]) for row in line)
    trace = trace_command("rhythm.body_parts", data.client_id, on=line[0]["day"])
    return (
        Figure(day(line[0]["day"])),
        Figure(days_in_order([_parts(row) for row in line]), trace),
        Figure(number(trained, 0)),
        Figure(number(sum(_is_rest(data, row) for row in line), 0)),
    )


def _is_rest(data: ClientData, row: Row) -> bool:
    hard_sets = row.get("hard_sets")
    if hard_sets is None:
        return not row["trained"]
    return bool(hard_sets < data.rules["rest_day_sets"])


def _parts(row: Row) -> tuple[str, ...] | None:
    """Body parts of a trained day; None for a day without training."""
    if not row["trained"]:
        return None
    parts = row["body_parts"] or ()
    if isinstance(parts, str):
        parts = [part.strip() for part in parts.split(",") if part.strip()]
    return tuple(parts)


# What it says

TITLE = "Rhythm"


def rhythm_reading(rotation: dict[str, Any] | None, rest_days: Sequence[int | None]) -> str:
    """The rotation found, and the rest days of the last 28 seven-day spans."""
    if rotation is None or rotation.get("days") is None:
        text = "No fixed rotation is found in the last 56 days."
    else:
        rounds = [part.strip().replace(", ", " + ") for part in rotation["parts"].split("|")]
        text = (
            f"A rotation of {count(rotation['days'], 'day')} is found, with "
            f"{count(rotation['sessions'], 'session')} and "
            f"{count(rotation['rest_days'] or 0, 'day')} without: {', then '.join(rounds)} "
            f"(likeness of its rounds {percent(rotation['similarity'])})."
        )
    known = [rests for rests in rest_days if rests is not None]
    if known:
        least, most = min(known), max(known)
        rests = count(least, "rest day") if least == most else f"{least} to {most} rest days"
        text += f" Any seven days of the last four weeks held {rests}"
        without = sum(rests == 0 for rests in known)
        text += f"; {counted(without, 'span')} held none." if without else "."
    return text


def table_caption(is_rotation: bool) -> str:
    """Over the lines of twelve weeks."""
    return f"Twelve weeks, a line a {'rotation' if is_rotation else 'week'}, the latest first"


def days_in_order(days: Sequence[Sequence[str] | None]) -> str:
    """Body parts of each day; days without training in a row are one word."""
    words: list[str] = []
    rests = 0
    for parts in (*days, ()):
        if parts is None:
            rests += 1
            continue
        if rests:
            words.append("rest" if rests == 1 else f"{rests} rests")
            rests = 0
        words.append(" + ".join(plain(part) for part in parts) or "light day")
    return "  ·  ".join(words[:-1])
