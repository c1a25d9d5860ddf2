"""The first screen: what to change first and why, with its picture; what waits; what works."""

from __future__ import annotations

from pipeline.formats import exercise, heading, sentence
from pipeline.ledger.connection import Row
from pipeline.pages import finding_text, texts
from pipeline.pages.client_data import ClientData
from pipeline.pages.page_data import Column, Figure, Finding, Lead, Table, trace_command
from pipeline.pages.sections import loop
from pipeline.pages.sections.lifts import STATUSES, change_pct
from pipeline.pages.sections.picture import lead_picture


def lead(data: ClientData, muscles: list[Row], lifts: list[Row]) -> Lead:
    """What a reader with one minute should know."""
    findings = data.of_client("findings", "is_first_change desc, lever, severity desc, subject")
    first = [row for row in findings if row["is_first_change"]]
    noticed = [row for row in findings if row["is_noticed"] and not row["is_first_change"]]
    return Lead(
        first=_first(data, first, lifts),
        picture=lead_picture(data, first[0] if first else None, muscles, lifts),
        noticed=_noticed(data, noticed, lifts),
        works=_works(data, lifts),
        last=loop.last_change(data),
        plan=loop.plan(data, first[0] if first else None),
    )


def _first(data: ClientData, first: list[Row], lifts: list[Row]) -> Finding:
    if first:
        return _finding(data, first[0])
    statuses = [row["status"] for row in lifts]
    return Finding(*finding_text.nothing_to_change(statuses))


TOLD_MOST = 3
"""More lifts than this are a table: a coach reads names, not paragraphs."""


def _noticed(data: ClientData, rows: list[Row], lifts: list[Row]) -> tuple[Finding, ...]:
    """What waits, each for itself; lifts that stall together, and muscles that jumped."""
    told = [row for row in rows if row["code"] not in TOGETHER]
    findings = [_finding(data, row) for row in told]
    stalls = [row for row in rows if row["code"] == "stall"]
    if len(stalls) == 1:
        findings.append(_finding(data, stalls[0]))
    elif stalls:
        findings.append(_stalls(data, stalls, lifts))
    jumps = [row for row in rows if row["code"] == "jump"]
    if len(jumps) == 1:
        findings.append(_finding(data, jumps[0]))
    elif jumps:
        findings.append(_jumps(data, jumps))
    return tuple(findings)


def _jumps(data: ClientData, rows: list[Row]) -> Finding:
    place = {muscle: rank for rank, muscle in enumerate(data.labels)}
    rows = sorted(rows, key=lambda row: place.get(row["subject"], len(place)))
    lines = [
        (data.spoken(row["subject"]), finding_text.evidence_of(row), _evidence_trace(data, row))
        for row in rows
    ]
    figures = [Figure(finding_text.jump(name, evidence), trace) for name, evidence, trace in lines]
    return Finding(finding_text.JUMPS, tuple(figures), "")


def _stalls(data: ClientData, rows: list[Row], lifts: list[Row]) -> Finding:
    """Lifts that stall in one breath; many of them as a table, in the order of the lifts' table."""
    place = {row["exercise"]: rank for rank, row in enumerate(lifts)}
    rows = sorted(rows, key=lambda row: place.get(row["subject"], len(place)))
    names = [data.subject(row["subject"]) for row in rows]
    is_table = len(rows) > TOLD_MOST
    text = finding_text.stalls(names, finding_text.evidence_of(rows[0]), data.units, not is_table)
    trace = trace_command("findings.evidence", data.client_id, code="stall")
    by_name = {row["exercise"]: row for row in lifts}
    table = None
    if is_table:
        cells = tuple(
            _stall(data, by_name[row["subject"]]) for row in rows if row["subject"] in by_name
        )
        table = Table(text.headline, STALL_COLUMNS, cells)
    return Finding(
        text.headline, tuple(Figure(line, trace) for line in text.evidence), "", table=table
    )


STALL_COLUMNS = (
    Column("Lift", is_number=False),
    Column("Status", is_number=False),
    Column("Change a week", "trend of strength"),
    Column("Best", is_number=False),
)


def _stall(data: ClientData, row: Row) -> tuple[Figure, ...]:
    def traced(column: str, text: str) -> Figure:
        return Figure(
            text,
            trace_command(
                f"lift_status.{column}",
                data.client_id,
                exercise=row["exercise"],
                on=data.covered_on,
            ),
        )

    return (
        Figure(heading(row["exercise"])),
        traced("status", STATUSES[row["status"]]),
        traced("change_pct_per_week", change_pct(row.get("change_pct_per_week"))),
        traced("best_on", texts.ago(row.get("weeks_since_best"))),
    )


def _evidence_trace(data: ClientData, row: Row) -> str:
    return trace_command(
        "findings.evidence", data.client_id, code=row["code"], subject=row["subject"] or None
    )


def _finding(data: ClientData, row: Row) -> Finding:
    evidence = finding_text.evidence_of(row)
    trace = _evidence_trace(data, row)
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


# What it says

TOGETHER = ("stall", "jump")
"""Findings that are told in one breath where there are several."""
