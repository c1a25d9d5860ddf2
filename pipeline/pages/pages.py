"""Tables to page data: what each page shows, in reading order, numbers formatted."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import date
from typing import TYPE_CHECKING

from pipeline import formats
from pipeline.ledger.connection import Row
from pipeline.pages import texts
from pipeline.pages.client_data import Desk, open_desk, read_run
from pipeline.pages.page_data import ClientPage, Figure, RosterPage, Section, trace_command
from pipeline.pages.sections import roster as roster_rows
from pipeline.pages.sections.changes import changes_section
from pipeline.pages.sections.data import data_section, read_loads, read_set_aside
from pipeline.pages.sections.effort import effort_section
from pipeline.pages.sections.inside import inside_section
from pipeline.pages.sections.lead import lead
from pipeline.pages.sections.lifts import lifts_section, read_lifts
from pipeline.pages.sections.month import month_table, roster_months
from pipeline.pages.sections.muscles import muscles_section, read_muscles
from pipeline.pages.sections.rhythm import rhythm_section

if TYPE_CHECKING:
    import duckdb

    from pipeline.settings.workspace import Client, Workspace

_HEAD = """
    select
        min(performed_on) as first_on,
        max(performed_on) as last_on,
        count(distinct performed_on) as sessions,
        count(*) filter (effort_basis is not null) as work_sets,
        count(*) filter (effort_basis = 'recorded') as recorded,
        count(*) filter (effort_basis = 'estimated') as estimated,
        count(*) filter (effort_basis = 'assumed') as assumed,
    from review.graded_sets
    where client_id = ?
"""


def read_client(
    con: duckdb.DuckDBPyConnection,
    workspace: Workspace,
    client_id: str,
    earlier: Sequence[date] = (),
) -> ClientPage:
    """The page of one client; sections without rows are left out.

    `earlier`: days of which a page stands beside it.
    """
    client = workspace.client(client_id)
    run = read_run(con)
    desk = open_desk(con, client, run.as_of)
    head = desk.rows(_HEAD, client_id)[0]
    if head["last_on"] is None:
        return _empty_page(
            client, workspace, run.as_of, _foot(run.tool_version, run.schema_version)
        )
    loads = read_loads(desk)
    set_aside = read_set_aside(desk, loads)
    muscles = read_muscles(desk)
    lifts = read_lifts(desk)
    parts: tuple[Callable[[], Section | None], ...] = (
        lambda: muscles_section(desk, muscles),
        lambda: rhythm_section(desk),
        lambda: effort_section(desk),
        lambda: lifts_section(desk, lifts),
        lambda: inside_section(desk),
        lambda: changes_section(desk),
        lambda: data_section(desk, loads, set_aside),
    )
    return ClientPage(
        client_id=client_id,
        name=client.name,
        workspace_name=workspace.name,
        period=texts.period(head["first_on"], head["last_on"], run.as_of),
        notices=_notices(desk, head["last_on"]),
        rests_on=_rests_on(desk, head, loads, len(set_aside[0])),
        lead=lead(desk, muscles, lifts),
        sections=tuple(section for part in parts if (section := part()) is not None),
        cautions=texts.CAUTIONS,
        foot=_foot(run.tool_version, run.schema_version),
        month=month_table(desk),
        earlier=_links(earlier),
    )


def _links(days: Sequence[date]) -> tuple[Figure, ...]:
    return tuple(Figure(formats.day(day), href=f"{day.isoformat()}.html") for day in days)


def _empty_page(client: Client, workspace: Workspace, as_of: date, foot: str) -> ClientPage:
    return ClientPage(
        client_id=client.id,
        name=client.name,
        workspace_name=workspace.name,
        period=texts.as_of(as_of),
        notices=(texts.NOTHING_LOGGED,),
        rests_on=None,
        lead=None,
        sections=(),
        cautions=texts.CAUTIONS,
        foot=foot,
    )


def _foot(tool_version: str, schema_version: int) -> str:
    return texts.foot(tool_version, schema_version)


def _notices(desk: Desk, last_on: date) -> tuple[str, ...]:
    notices = [
        texts.phase(phase.kind, phase.from_on, phase.to_on)
        for phase in desk.client.phases
        if phase.from_on <= desk.as_of and (phase.to_on is None or desk.as_of <= phase.to_on)
    ]
    if (desk.as_of - last_on).days > desk.rules["standing_silent_days"]:
        notices.append(texts.silent_since(last_on, desk.as_of))
    return tuple(notices)


def _rests_on(desk: Desk, head: Row, loads: list[Row], set_aside: int) -> Figure:
    effort = {basis: head[basis] for basis in texts.EFFORT_BASES}
    exports = sum(row["state"] == "loaded" for row in loads)
    return Figure(
        texts.rests_on(head["work_sets"], head["sessions"], exports, set_aside, effort),
        trace_command("graded_sets.effort_basis", desk.client_id),
    )


def read_roster(
    con: duckdb.DuckDBPyConnection,
    workspace: Workspace,
    failures: Mapping[str, str],
    earlier: Sequence[date] = (),
    page_name: str = "latest.html",
) -> RosterPage:
    """The coach's page: a row a client, those who need a look first.

    `failures`: client id to the reason for which that client's page could not be made. `earlier`:
    days of which a roster stands beside it. `page_name`: the clients' pages that it leads to.
    """
    run = read_run(con)
    table = roster_rows.roster_table(con, workspace, failures, run.as_of, page_name)
    return RosterPage(
        workspace_name=workspace.name,
        as_of=texts.as_of(run.as_of),
        intro=texts.ROSTER_INTRO if table else texts.NO_CLIENTS,
        table=table,
        data=roster_rows.roster_data(con),
        cautions=texts.CAUTIONS,
        foot=_foot(run.tool_version, run.schema_version),
        month=roster_months(con, roster_rows.roster_clients(con, workspace), run.as_of),
        earlier=_links(earlier),
    )
