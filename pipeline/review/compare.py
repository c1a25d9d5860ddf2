"""Two spans of a client's log side by side; sql/compare/ computes from the published review."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any

from pipeline.clock import parse_day
from pipeline.errors import UsageError
from pipeline.formats import NOTHING, heading, number, percent, signed
from pipeline.ledger.connection import Row, fetch
from pipeline.review.asked import client_of, make_views, review_of, write_rows
from pipeline.units import Unit, from_kg

if TYPE_CHECKING:
    from pipeline.settings.workspace import Workspace

ASKED = {"asked_spans": "client_id varchar, span varchar, from_on date, to_on date"}
"""Temporary table that says which spans are asked for, with its columns."""

Span = tuple[date, date]


@dataclass(frozen=True)
class Comparison:
    """Two spans side by side: rows of sql/compare/."""

    client_id: str
    units: Unit
    spans: dict[str, Span]
    week: dict[str, Row]
    muscles: tuple[Row, ...]
    lifts: tuple[Row, ...]
    labels: dict[str, str]


def read_span(text: str, option: str) -> Span:
    """FROM..TO as two days; UsageError for anything else."""
    first, dots, last = text.partition("..")
    if not dots:
        raise UsageError(
            f"{option} {text}: write two days with .. between, 2026-01-01..2026-03-31."
        )
    span = parse_day(first, option), parse_day(last, option)
    if span[0] > span[1]:
        raise UsageError(f"{option} {text}: the second day lies before the first.")
    return span


def compare(workspace: Workspace, client_id: str, this: Span, against: Span) -> Comparison:
    """Both spans; UsageError where the log holds nothing of one."""
    spans = {"this": this, "against": against}
    with review_of(workspace, client_id) as con:
        client = client_of(workspace, con, client_id)
        rows = [(client_id, name, *span) for name, span in spans.items()]
        write_rows(con, ASKED, {"asked_spans": list(rows)})
        make_views(con, "compare")
        week = {row.pop("span"): row for row in fetch(con, "from compare_week")}
        for name, (first, last) in spans.items():
            if not week[name]["sessions"]:
                raise UsageError(f"{client_id}: nothing is logged from {first} to {last}.")
        muscles = fetch(con, "from review.muscles order by position")
        labels = {row["muscle"]: row["label"] for row in muscles}
        of_muscle = {row["muscle"]: row for row in fetch(con, "from compare_muscles")}
        return Comparison(
            client_id,
            client.units,
            spans,
            week,
            tuple(of_muscle[muscle] for muscle in labels if muscle in of_muscle),
            tuple(fetch(con, "from compare_lifts order by sessions_this desc, exercise")),
            labels,
        )


def as_json(found: Comparison) -> dict[str, Any]:
    """Everything, for a machine; loads in kg."""
    return {
        "client_id": found.client_id,
        "spans": {
            name: {"from_on": first, "to_on": last, **found.week[name]}
            for name, (first, last) in found.spans.items()
        },
        "muscles": list(found.muscles),
        "lifts": list(found.lifts),
    }


COLUMNS = ["", "This", "Against", "Difference"]


def as_rows(found: Comparison) -> list[tuple[str, ...]]:
    """The table: the week, muscles by sets a week, lifts by the best estimate."""
    this, against = found.week["this"], found.week["against"]
    rows = [_spans(found)]
    for name, label, is_share in WEEK:
        one, other = this[name], against[name]
        if is_share:
            rows.append((label, percent(one), percent(other), ""))
        else:
            digits = 0 if isinstance(one, int) else 1
            rows.append(
                (label, number(one, digits), number(other, digits), signed(one - other, digits))
            )
    rows.append(("Sets a week", "", "", ""))
    for row in found.muscles:
        one, other = row["weekly_sets_this"], row["weekly_sets_against"]
        rows.append(
            (f"  {found.labels[row['muscle']]}", number(one), number(other), signed(one - other))
        )
    rows.append((f"Best estimated 1RM, {found.units}", "", "", ""))
    for row in found.lifts:
        difference = row["difference_pct"]
        rows.append(
            (
                f"  {heading(row['exercise'])}",
                _load(row["e1rm_this"], found.units),
                _load(row["e1rm_against"], found.units),
                NOTHING if difference is None else f"{signed(difference)}%",
            )
        )
    return rows


def _spans(found: Comparison) -> tuple[str, ...]:
    told = [f"{first} to {last}" for first, last in found.spans.values()]
    return ("Days", *told, "")


def _load(load_kg: float | None, units: Unit) -> str:
    return NOTHING if load_kg is None else number(from_kg(load_kg, units))


WEEK = (
    ("weekly_sessions", "Sessions a week", False),
    ("weekly_hard_sets", "Hard sets a week", False),
    ("recorded_share", "Effort recorded", True),
    ("failure_share", "No repetition in reserve", True),
    ("easy_share", "4 or more in reserve", True),
    ("extended_share", "Gone on after failure", True),
    ("records", "Sets that hold a record", False),
)
