"""The month against the month before: for one client, and a row a client on the roster."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import date, timedelta
from typing import TYPE_CHECKING

from pipeline.formats import count, month, number, signed
from pipeline.ledger.connection import Row, fetch
from pipeline.pages import texts
from pipeline.pages.client_data import ClientData
from pipeline.pages.page_data import Column, Figure, Table, trace_command

if TYPE_CHECKING:
    import duckdb

    from pipeline.settings.workspace import Client

MEASURES = (
    ("weekly_sessions", "Sessions a week", 1),
    ("weekly_hard_sets", "Hard sets a week", 1),
    ("weekly_rest_days", "Rest days a week", 1),
    ("new_bests", "Lifts with a new best e1RM", 0),
)
"""Columns of review.training_month that are set side by side, their labels and their digits."""


def month_before(day: date) -> date:
    """First day of the month before that of `day`."""
    return (day.replace(day=1) - timedelta(days=1)).replace(day=1)


def month_table(data: ClientData) -> Table | None:
    """A client's month beside the one before; None without a month to compare."""
    now, before = _pair(
        _read(data.con, data.covered_on, data.client_id)[data.client_id], data.covered_on
    )
    if now is None or before is None:
        return None
    columns = (
        Column("Measure", is_number=False),
        Column(month(now["month"])),
        Column(month(before["month"])),
        Column("Difference"),
    )
    return Table(
        month_caption(now["month"], before["month"], now["days"]),
        columns,
        tuple(_measure(data.client_id, *measure, now, before) for measure in MEASURES),
    )


def _measure(
    client_id: str, name: str, label: str, digits: int, now: Row, before: Row
) -> tuple[Figure, ...]:
    def trace(row: Row) -> str:
        return trace_command(f"training_month.{name}", client_id, on=row["month"])

    return (
        Figure(label),
        Figure(number(now[name], digits), trace(now)),
        Figure(number(before[name], digits), trace(before)),
        Figure(signed(round(now[name], digits) - round(before[name], digits), digits)),
    )


def roster_months(
    con: duckdb.DuckDBPyConnection, clients: Sequence[Client], as_of: date
) -> Table | None:
    """A row a client: each measure of the month, the month before as small print."""
    found = _read(con, as_of)
    rows = []
    for client in sorted(clients, key=lambda each: each.name):
        now, before = _pair(found.get(client.id, []), as_of)
        if now is not None:
            rows.append((Figure(client.name), *_compared(client.id, now, before)))
    if not rows:
        return None
    columns = (
        Column("Client", is_number=False),
        *(Column(label) for _, label, _ in MEASURES),
    )
    day = as_of.replace(day=1)
    return Table(
        month_caption(day, month_before(as_of), as_of.day),
        columns,
        tuple(rows),
        is_sortable=True,
    )


def _compared(client_id: str, now: Row, before: Row | None) -> list[Figure]:
    return [
        Figure(
            number(now[name], digits),
            trace_command(f"training_month.{name}", client_id, on=now["month"])
            if now[name]
            else "",
            order=str(now[name]),
            note=texts.before(before[name] if before else None, digits),
        )
        for name, _, digits in MEASURES
    ]


def _read(
    con: duckdb.DuckDBPyConnection, as_of: date, client_id: str | None = None
) -> dict[str, list[Row]]:
    """The month of the day and the one before, by client: of one, or of all."""
    found: dict[str, list[Row]] = defaultdict(list)
    rows = fetch(
        con,
        "from review.training_month where month in (?, ?) and days > 0"
        " and client_id = coalesce(?, client_id)",
        as_of.replace(day=1),
        month_before(as_of),
        client_id,
    )
    for row in rows:
        found[row["client_id"]].append(row)
    return found


def _pair(rows: list[Row], as_of: date) -> tuple[Row | None, Row | None]:
    """The month of the day, and the one before."""
    by_month = {row["month"]: row for row in rows}
    return by_month.get(as_of.replace(day=1)), by_month.get(month_before(as_of))


# What it says


def month_caption(now: date, before: date, days: int) -> str:
    """Over the comparison; says where the month is not over or began late."""
    text = f"{month(now)} against {month(before)}"
    last = (now.replace(day=28) + timedelta(days=4)).replace(day=1) - timedelta(days=1)
    return text if days == last.day else f"{text} ({count(days, 'day')} so far)"
