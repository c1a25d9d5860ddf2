"""The first screen: what to change first and why, what is outside the guide, which lifts stall."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

from pipeline import formats
from pipeline.ledger.connection import Row
from pipeline.pages import finding_text, texts
from pipeline.pages.client_data import Desk
from pipeline.pages.page_data import Figure, Finding, Group, Lead, trace_command


def lead(desk: Desk, muscles: list[Row], lifts: list[Row]) -> Lead:
    """What a reader with one minute should know."""
    findings = desk.of_client("findings", "is_first_change desc, lever, severity desc, subject")
    first = [row for row in findings if row["is_first_change"]]
    noticed = [row for row in findings if row["is_noticed"] and not row["is_first_change"]]
    return Lead(
        first=_first(desk, first, muscles, lifts),
        noticed=_noticed(desk, noticed),
        works=_works(desk, lifts),
        muscles=_groups(muscles, "standing", ("below", "above"), lambda row: _outside(desk, row)),
        muscles_else=_muscles_else(muscles),
        lifts=_groups(lifts, "status", ("regressing", "stalled"), lambda row: _lift(desk, row)),
        lifts_else=_lifts_else(lifts),
    )


def _first(desk: Desk, first: list[Row], muscles: list[Row], lifts: list[Row]) -> Finding | None:
    if "findings" not in desk.tables:
        return None
    if first:
        return _finding(desk, first[0])
    statuses = [row["status"] for row in lifts]
    return Finding(*finding_text.nothing_to_change(statuses))


STALLS_MOST = 2
"""More stalled lifts than this are told in one breath: a coach reads names, not paragraphs."""


def _noticed(desk: Desk, rows: list[Row]) -> tuple[Finding, ...]:
    """What waits, each for itself; many stalled lifts together."""
    stalls = [row for row in rows if row["code"] == "stall"]
    if len(stalls) <= STALLS_MOST:
        return tuple(_finding(desk, row) for row in rows)
    names = [_subject(desk, row["subject"]) for row in stalls]
    text = finding_text.stalls(names, _evidence(stalls[0]), desk.client.units)
    trace = trace_command("findings.evidence", desk.client_id, code="stall")
    together = Finding(text.headline, tuple(Figure(line, trace) for line in text.evidence), "")
    return (*(_finding(desk, row) for row in rows if row["code"] != "stall"), together)


def _evidence(row: Row) -> dict[str, Any]:
    evidence = row["evidence"]
    return json.loads(evidence) if isinstance(evidence, str) else evidence or {}


def _finding(desk: Desk, row: Row) -> Finding:
    evidence = _evidence(row)
    trace = trace_command(
        "findings.evidence", desk.client_id, code=row["code"], subject=row["subject"] or None
    )
    subject = _subject(desk, row["subject"])
    text = finding_text.finding(row["code"], subject, evidence, desk.client.units)
    return Finding(
        headline=text.headline,
        evidence=tuple(Figure(line, trace) for line in text.evidence),
        step=formats.sentence(row["suggestion"] or ""),
        arithmetic=text.arithmetic,
    )


def _subject(desk: Desk, subject: str | None) -> str:
    if not subject:
        return ""
    return (
        desk.spoken(subject)
        if subject in desk.labels
        else formats.exercise(subject.replace("_", " "))
    )


def _works(desk: Desk, lifts: list[Row]) -> tuple[Figure, ...]:
    return tuple(
        Figure(
            formats.exercise(row["exercise"]),
            trace_command(
                "lift_status.change_pct_per_week",
                desk.client_id,
                exercise=row["exercise"],
                on=desk.as_of,
            ),
        )
        for row in lifts
        if row["status"] == "progressing"
    )


def _groups(
    rows: list[Row], column: str, values: tuple[str, ...], figure: Callable[[Row], Figure]
) -> tuple[Group, ...]:
    """Rows with each of the values, under its word; values without rows are left out."""
    groups = (
        Group(texts.GLANCE_WORDS[value], tuple(figure(row) for row in rows if row[column] == value))
        for value in values
    )
    return tuple(group for group in groups if group.figures)


def _outside(desk: Desk, row: Row) -> Figure:
    return Figure(
        texts.outside(
            desk.spoken(row["muscle"]), row["weekly_rate_28d"], row["guide_low"], row["guide_high"]
        ),
        trace_command(
            "muscle_status.weekly_rate_28d", desk.client_id, muscle=row["muscle"], on=desk.as_of
        ),
    )


def _muscles_else(muscles: list[Row]) -> str:
    is_judged = any(row["standing"] for row in muscles)
    return texts.ALL_WITHIN if is_judged else texts.NONE_JUDGED


def _lift(desk: Desk, row: Row) -> Figure:
    return Figure(
        texts.glance_lift(row["exercise"], row.get("weeks_since_best")),
        trace_command(
            "lift_status.status", desk.client_id, exercise=row["exercise"], on=desk.as_of
        ),
    )


def _lifts_else(lifts: list[Row]) -> str:
    judged = [row for row in lifts if row["status"] not in (None, "too_little_data")]
    return texts.NO_STALL if judged else texts.NO_STATUS
