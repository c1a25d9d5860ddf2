"""One client's page: what a client reads, in reading order, and the sentences at its head."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING

from pipeline.formats import PHASES, count, counted, day, percent
from pipeline.ledger.connection import Row
from pipeline.pages import texts
from pipeline.pages.client_data import ClientData, Run, data_of, read_run
from pipeline.pages.coach_note import read_note
from pipeline.pages.page_data import ClientPage, Figure, links_to, trace_command
from pipeline.pages.sections.bodyweight import bodyweight_section
from pipeline.pages.sections.changes import changes_section
from pipeline.pages.sections.counted import counted_section
from pipeline.pages.sections.days import days_strip
from pipeline.pages.sections.effort import effort_section
from pipeline.pages.sections.exports import read_loads, read_set_aside, unread
from pipeline.pages.sections.inside import inside_section
from pipeline.pages.sections.lead import lead
from pipeline.pages.sections.lifts import lifts_section, read_lifts
from pipeline.pages.sections.month import month_table
from pipeline.pages.sections.muscles import muscles_section, read_muscles
from pipeline.pages.sections.recovery import recovery_section
from pipeline.pages.sections.rhythm import rhythm_section

if TYPE_CHECKING:
    import duckdb

    from pipeline.settings.workspace import Client, Workspace


YEARS = "years.html"
"""Where the page of all years stands beside a client's."""


def read_client(
    con: duckdb.DuckDBPyConnection,
    workspace: Workspace,
    client_id: str,
    earlier: Sequence[date] = (),
) -> ClientPage:
    """The page of one client, as `read_page` says."""
    return read_page(data_of(con, workspace, client_id), workspace, earlier)


def read_page(data: ClientData, workspace: Workspace, earlier: Sequence[date] = ()) -> ClientPage:
    """What a client's page shows; sections without rows are left out.

    `earlier`: days of which a page stands beside it.
    """
    client, run = data.client, read_run(data.con)
    head = data.answer("head")[0]
    if head["last_on"] is None:
        return _empty_page(client, workspace, run)
    set_aside, _ = read_set_aside(data, read_loads(data))
    muscles = read_muscles(data)
    lifts = read_lifts(data)
    sections = (
        muscles_section(data, muscles),
        rhythm_section(data),
        effort_section(data),
        lifts_section(data, lifts),
        bodyweight_section(data),
        inside_section(data),
        recovery_section(data),
        changes_section(data),
        counted_section(data.rules),
    )
    return ClientPage(
        client_id=client.id,
        name=client.name,
        workspace_name=workspace.name,
        period=period(head["first_on"], head["last_on"], data.covered_on, run.as_of),
        notices=_notices(data, head["last_on"]),
        rests_on=_rests_on(data, head, unread(set_aside)),
        lead=lead(data, muscles, lifts),
        sections=tuple(section for section in sections if section is not None),
        cautions=texts.CAUTIONS,
        foot=texts.foot(run),
        month=month_table(data),
        days=days_strip(data),
        years=YEARS,
        earlier=links_to(earlier),
        note=read_note(workspace.root, client.id, data.covered_on),
    )


def _empty_page(client: Client, workspace: Workspace, run: Run) -> ClientPage:
    return ClientPage(
        client_id=client.id,
        name=client.name,
        workspace_name=workspace.name,
        period=texts.as_of(run.as_of),
        notices=(NOTHING_LOGGED,),
        rests_on=None,
        lead=None,
        sections=(),
        cautions=texts.CAUTIONS,
        foot=texts.foot(run),
    )


def _notices(data: ClientData, last_on: date) -> tuple[str, ...]:
    notices = [
        phase_note(phase.kind, phase.from_on, phase.to_on)
        for phase in data.client.phases
        if phase.from_on <= data.as_of and (phase.to_on is None or data.as_of <= phase.to_on)
    ]
    if (data.covered_on - last_on).days > data.rules["standing_silent_days"]:
        notices.append(silent_since(last_on, data.covered_on, data.as_of))
    return tuple(notices)


def _rests_on(data: ClientData, head: Row, unread_lines: int) -> Figure:
    return Figure(
        rests_on_line(head["work_sets"], head["sessions"], unread_lines, head["recorded"]),
        trace_command("graded_sets.effort_basis", data.client_id),
    )


# What it says


def period(first_on: date, last_on: date, covered_on: date, as_of: date) -> str:
    """The logged days, the day that the review speaks of, and where the log stops before it."""
    end = f" The export ends {day(covered_on)}: everything is judged as of that day." * (
        covered_on < as_of
    )
    return f"Logged from {day(first_on)} to {day(last_on)}. {texts.as_of(as_of)}{end}"


def rests_on_line(work_sets: int, sessions: int, unread_lines: int, recorded: int) -> str:
    """One line on what the figures rest on."""
    line = f"Based on {count(work_sets, 'work set')} in {count(sessions, 'session')}"
    if unread_lines:
        line += f"; {counted(unread_lines, 'line')} could not be read"
    if work_sets:
        noted = f"for {percent(recorded / work_sets)} of the sets" if recorded else "for no set"
        line += f"; effort was noted {noted}"
    return f"{line}."


def silent_since(last_on: date, covered_on: date, as_of: date) -> str:
    """For a client who has not trained for a while, by an export that reaches further."""
    end = "this review" if covered_on == as_of else "the export ends"
    return (
        f"The last logged session was {count((covered_on - last_on).days, 'day')} before {end}: "
        "no muscle is judged against its guide."
    )


def phase_note(kind: str, from_on: date, to_on: date | None) -> str:
    """A phase that covers the as-of day."""
    end = f" to {day(to_on)}" if to_on else ""
    return f"{PHASES[kind]} (Since {day(from_on)}{end}.)"


NOTHING_LOGGED = "Nothing has been logged yet."
