"""The loop of a page: what became of the last change, and what makes the new one a success."""

from __future__ import annotations

from datetime import timedelta

from pipeline.formats import sentence
from pipeline.ledger.connection import Row
from pipeline.pages import finding_text, follow_text
from pipeline.pages.client_data import ClientData
from pipeline.pages.page_data import Figure, trace_command

ASKING = ("care", "strength_drop", "pain_note", "return", "log", "attendance")
"""Questions of health and of the log: no success to be measured by lifts."""

TOLD_BY_STEP = ("volume", "take_back")
"""Codes whose step and arithmetic say by how much already."""


def last_change(data: ClientData) -> Figure | None:
    """What became of the last change; None in the first month."""
    rows = data.of_client("follow_through", "changed_on desc, code, subject")
    if rows:
        row = rows[0]
        return Figure(
            follow_text.last_change(row, name_of(data, row), data.covered_on),
            trace_command(
                "follow_through.difference",
                data.client_id,
                on=row["changed_on"],
                code=row["code"],
                subject=row["subject"],
            ),
        )
    sent = data.rows(
        "select code from ledger.mails where client_id = ? and state = 'sent'"
        " and at_moment::date <= ? order by at_moment desc limit 1",
        data.client_id,
        data.as_of,
    )
    if sent and sent[0]["code"] == "":
        return Figure(follow_text.NOTHING_SENT)
    days = data.rows(
        "select covered_on - first_on as days from review.coverage where client_id = ?",
        data.client_id,
    )
    is_young = not days or days[0]["days"] < 2 * data.rules["change_days"]
    return None if is_young else Figure(follow_text.NOTHING_FOLLOWED)


def verdicts(data: ClientData) -> dict[object, list[Row]]:
    """Rows of follow_through by the day of the change."""
    by_day: dict[object, list[Row]] = {}
    for row in data.of_client("follow_through", "changed_on, code, subject"):
        by_day.setdefault(row["changed_on"], []).append(row)
    return by_day


def name_of(data: ClientData, row: Row) -> str:
    """What a change is called: the coach's note, else what the finding asks for."""
    for change in data.client.changes:
        if (change.changed_on, change.code or "", change.subject or "") == (
            row["changed_on"],
            row["code"],
            row["subject"],
        ):
            return change.note
    return follow_text.asked(row["code"], data.subject(row["subject"]))


def plan(data: ClientData, first: Row | None) -> tuple[str, ...]:
    """Of a new first change: by how much, in which sessions, until when, what success would be."""
    if first is None or first["suggestion"] is None or first["code"] in ASKING:
        return ()
    is_told = first["code"] in TOLD_BY_STEP
    evidence = finding_text.evidence_of(first)
    aim = "" if is_told else follow_text.aim(first["code"], evidence, data.rules)
    sessions = data.answer("concerned_sessions", code=first["code"], subject=first["subject"])
    trends = data.of_client("client_trend", "client_id")
    is_cutting = any(
        phase.kind == "cut"
        and phase.from_on <= data.as_of
        and (phase.to_on is None or data.as_of <= phase.to_on)
        for phase in data.client.phases
    )
    return tuple(
        filter(
            None,
            (
                sentence(aim) if aim else "",
                follow_text.sessions_line(sessions),
                follow_text.success(
                    trends[0]["change_pct_per_week"] if trends else None,
                    data.covered_on + timedelta(days=data.rules["follow_first_days"]),
                    data.rules["useful_rate_pct"],
                    is_cutting=is_cutting,
                ),
            ),
        )
    )
