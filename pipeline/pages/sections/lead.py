"""The first screen: what to change first and why, what is outside the guide, which lifts stall."""

from __future__ import annotations

from collections.abc import Callable

from pipeline.formats import exercise, guide, number, sentence
from pipeline.ledger.connection import Row
from pipeline.pages import finding_text, texts
from pipeline.pages.client_data import ClientData
from pipeline.pages.page_data import Figure, Finding, Group, Lead, trace_command
from pipeline.pages.sections import loop


def lead(data: ClientData, muscles: list[Row], lifts: list[Row]) -> Lead:
    """What a reader with one minute should know."""
    findings = data.of_client("findings", "is_first_change desc, lever, severity desc, subject")
    first = [row for row in findings if row["is_first_change"]]
    noticed = [row for row in findings if row["is_noticed"] and not row["is_first_change"]]
    return Lead(
        first=_first(data, first, lifts),
        noticed=_noticed(data, noticed),
        works=_works(data, lifts),
        muscles=_groups(muscles, "standing", ("below", "above"), lambda row: _outside(data, row)),
        muscles_else=_muscles_else(muscles),
        lifts=_groups(lifts, "status", ("regressing", "stalled"), lambda row: _lift(data, row)),
        lifts_else=_lifts_else(lifts),
        last=loop.last_change(data),
        plan=loop.plan(data, first[0] if first else None),
    )


def _first(data: ClientData, first: list[Row], lifts: list[Row]) -> Finding:
    if first:
        return _finding(data, first[0])
    statuses = [row["status"] for row in lifts]
    return Finding(*finding_text.nothing_to_change(statuses))


STALLS_MOST = 2
"""More stalled lifts than this are told in one breath: a coach reads names, not paragraphs."""


def _noticed(data: ClientData, rows: list[Row]) -> tuple[Finding, ...]:
    """What waits, each for itself; many stalled lifts together."""
    stalls = [row for row in rows if row["code"] == "stall"]
    if len(stalls) <= STALLS_MOST:
        return tuple(_finding(data, row) for row in rows)
    names = [data.subject(row["subject"]) for row in stalls]
    text = finding_text.stalls(names, finding_text.evidence_of(stalls[0]), data.units)
    trace = trace_command("findings.evidence", data.client_id, code="stall")
    together = Finding(text.headline, tuple(Figure(line, trace) for line in text.evidence), "")
    return (*(_finding(data, row) for row in rows if row["code"] != "stall"), together)


def _finding(data: ClientData, row: Row) -> Finding:
    evidence = finding_text.evidence_of(row)
    trace = trace_command(
        "findings.evidence", data.client_id, code=row["code"], subject=row["subject"] or None
    )
    subject = data.subject(row["subject"])
    text = finding_text.finding(row["code"], subject, evidence, data.units)
    return Finding(
        headline=text.headline,
        evidence=tuple(Figure(line, trace) for line in text.evidence),
        step=sentence(row["suggestion"] or ""),
        arithmetic=text.arithmetic,
        code=row["code"],
        subject=row["subject"],
    )


def _works(data: ClientData, lifts: list[Row]) -> tuple[Figure, ...]:
    return tuple(
        Figure(
            exercise(row["exercise"]),
            trace_command(
                "lift_status.change_pct_per_week",
                data.client_id,
                exercise=row["exercise"],
                on=data.covered_on,
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
        Group(GLANCE_WORDS[value], tuple(figure(row) for row in rows if row[column] == value))
        for value in values
    )
    return tuple(group for group in groups if group.figures)


def _outside(data: ClientData, row: Row) -> Figure:
    return Figure(
        outside_guide(
            data.spoken(row["muscle"]), row["weekly_rate"], row["guide_low"], row["guide_high"]
        ),
        trace_command(
            "muscle_status.weekly_rate", data.client_id, muscle=row["muscle"], on=data.covered_on
        ),
    )


def _muscles_else(muscles: list[Row]) -> str:
    is_judged = any(row["standing"] for row in muscles)
    return ALL_WITHIN if is_judged else NONE_JUDGED


def _lift(data: ClientData, row: Row) -> Figure:
    return Figure(
        glance_lift(row["exercise"], row.get("weeks_since_best")),
        trace_command(
            "lift_status.status", data.client_id, exercise=row["exercise"], on=data.covered_on
        ),
    )


def _lifts_else(lifts: list[Row]) -> str:
    judged = [row for row in lifts if row["status"] not in (None, "too_little_data")]
    return NO_STALL if judged else NO_STATUS


# What it says


def outside_guide(label: str, rate: float | None, low: float | None, high: float | None) -> str:
    """A muscle outside its guide, for the first screen."""
    return f"{label} {number(rate)} (guide {guide(low, high)})"


GLANCE_WORDS = {
    "below": "▼ Below, sets a week",
    "above": "▲ Above, sets a week",
    "regressing": "Regressing",
    "stalled": "Stalled",
}
ALL_WITHIN = "None: each muscle that is judged is within its guide."
NONE_JUDGED = "Not judged at this day."
NO_STALL = "None stalls or regresses."
NO_STATUS = "No lift has enough data for a status yet."


def glance_lift(name: str, weeks_since_best: float | None) -> str:
    """A lift that stalls or regresses, for the first screen."""
    ago_text = texts.best_ago(weeks_since_best)
    return f"{exercise(name)} ({ago_text})" if ago_text else exercise(name)
