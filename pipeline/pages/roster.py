"""The roster: one row a client, those who need a look first; what was read for all of them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import date
from typing import TYPE_CHECKING, Any

from pipeline.formats import (
    NOTHING,
    counted,
    day,
    day_near,
    listing,
    number,
    percent,
    plain,
    short,
)
from pipeline.ledger.connection import Row, fetch
from pipeline.pages import finding_text, follow_text, texts
from pipeline.pages.before_sending import before_sending, is_overdue, month_to_send
from pipeline.pages.charts.sparkline import word_strip
from pipeline.pages.charts.svg import STRIP_WEEKS
from pipeline.pages.client_data import answer, read_run
from pipeline.pages.clients import reported_clients
from pipeline.pages.page_data import (
    Block,
    Column,
    Figure,
    RosterPage,
    Table,
    links_to,
    trace_command,
)
from pipeline.pages.sections.exports import loads_table, set_aside_blocks
from pipeline.pages.sections.month import roster_months
from pipeline.pages.sections.notes import contract_blocks

if TYPE_CHECKING:
    import duckdb

    from pipeline.settings.workspace import Client, Workspace

COLUMNS = (
    Column("Client", is_number=False),
    Column("Change first", "the one thing to change first", is_number=False, is_long=True),
    Column(
        "Last change",
        "what became of the last change that was noted, adopted or sent",
        is_number=False,
        is_long=True,
    ),
    Column("Last session", is_number=False),
    Column("Sessions", "days trained in the 28 days to the last covered one; below: the 28 before"),
    Column("Hard sets a week", "over the 28 days to the last covered one; below: the 28 before"),
    Column("Below", "muscles below their guide"),
    Column("Above", "muscles above their guide"),
    Column("Progressing", "lifts that progress"),
    Column("Stalled", "lifts that stall"),
    Column("Regressing", "lifts that regress"),
    Column("Data", "what to look at in the log itself", is_number=False),
    Column("26 weeks", "hard sets a week, the latest at the right", is_number=False),
)

LATEST, EVIDENCE = "latest.html", "evidence.html"
"""The client's page, and the coach's evidence beside it, which only the latest page has."""

SUMS = (
    "training",
    "standings",
    "lift_statuses",
    "unknown_exercises",
    "first_changes",
    "last_changes",
    "exports",
)
"""Queries of sql/roster/ with a row a client; together they are its row of the roster."""


def read_roster(
    con: duckdb.DuckDBPyConnection,
    workspace: Workspace,
    failures: Mapping[str, str],
    earlier: Sequence[date] = (),
    page_name: str = LATEST,
) -> RosterPage:
    """The coach's page.

    `failures`: client id to the reason for which that client's page could not be made. `earlier`:
    days of which a roster stands beside it. `page_name`: the clients' pages that it leads to.
    """
    run = read_run(con)
    clients = reported_clients(workspace, con)
    return RosterPage(
        workspace_name=workspace.name,
        as_of=texts.as_of(run.as_of),
        intro=INTRO if clients else NO_CLIENTS,
        table=_table(con, clients, failures, run.as_of, page_name),
        data=_data_blocks(con),
        cautions=texts.CAUTIONS,
        foot=texts.foot(run),
        month=roster_months(con, clients, run.as_of),
        earlier=links_to(earlier),
        before=before_sending(
            con,
            workspace,
            clients,
            month_to_send(run.as_of),
            run.as_of,
            is_mailing=workspace.mail is not None,
        ),
    )


def _table(
    con: duckdb.DuckDBPyConnection,
    clients: Sequence[Client],
    failures: Mapping[str, str],
    as_of: date,
    page_name: str,
) -> Table | None:
    """The clients, or None where there is none yet."""
    if not clients:
        return None
    rows = _read(con)
    strips = _read_strips(con)
    ranked = sorted(clients, key=lambda client: _need(client, rows[client.id], failures, as_of))
    cells = tuple(
        _cells(
            client,
            rows[client.id],
            strips.get(client.id, {}),
            failures,
            as_of,
            Figure(
                client.name,
                href=f"{client.id}/{page_name}",
                order=f"{place:04}",
                note=_standing(client, rows[client.id], as_of),
            ),
            leads_to_evidence=page_name == LATEST,
        )
        for place, client in enumerate(ranked)
    )
    return Table(TABLE_CAPTION, COLUMNS, cells, is_sortable=True)


def _standing(client: Client, row: Row, as_of: date) -> str:
    """What sets a client apart from the others: why a row stands last, why no mail goes out."""
    said = []
    if client.has_left(as_of):
        said.append(left(client.until))
    elif is_overdue(client, row if "is_late" in row else None):
        said.append(no_new_export(row["covered_on"], as_of))
    if not client.is_listed:
        said.append(NOT_LISTED)
    return "; ".join(said)


def _data_blocks(con: duckdb.DuckDBPyConnection) -> tuple[Block, ...]:
    """Exports read and lines set aside, over all clients."""
    loads = fetch(con, "from ledger.loads where state in ('loaded', 'held') order by load_id")
    blocks: list[Block] = [loads_table(loads)] if loads else []
    blocks += set_aside_blocks(answer(con, "roster/set_aside"))
    blocks += contract_blocks(con)
    return tuple(blocks)


def _read(con: duckdb.DuckDBPyConnection) -> dict[str, Row]:
    """What the tables say of each client, in one row each."""
    rows: dict[str, Row] = defaultdict(dict)
    for name in SUMS:
        for row in answer(con, f"roster/{name}"):
            rows[row["client_id"]] |= row
    return rows


def _read_strips(con: duckdb.DuckDBPyConnection) -> dict[str, dict[int, int]]:
    strips: dict[str, dict[int, int]] = defaultdict(dict)
    for row in answer(con, "roster/weekly_hard_sets"):
        strips[row["client_id"]][row["weeks_ago"]] = row["hard_sets"]
    return strips


def _need(client: Client, row: Row, failures: Mapping[str, str], as_of: date) -> tuple[Any, ...]:
    """Sorting key: the smaller, the sooner a coach should look.

    By what comes first of all that may be changed, then by how much stands behind it. Last come
    those of whom there is nothing new to say, and those who have left.
    """
    return (
        client.id not in failures,
        client.has_left(as_of),
        row.get("last_on") is None,
        is_overdue(client, row if "is_late" in row else None),
        row.get("lever") or 99,
        -(row.get("regressing", 0) + row.get("stalled", 0)),
        -(row.get("severity") or 0),
        -(row.get("below", 0) + row.get("above", 0)),
        client.name,
    )


def _cells(
    client: Client,
    row: Row,
    strip: dict[int, int],
    failures: Mapping[str, str],
    as_of: date,
    name: Figure,
    *,
    leads_to_evidence: bool,
) -> tuple[Figure, ...]:
    if client.id in failures:
        why = Figure(failed(failures[client.id]), mark="look")
        return (name, why, *(Figure(NOTHING) for _ in COLUMNS[2:]))
    if row.get("last_on") is None:
        why = Figure(NO_SETS_YET, mark="quiet")
        nothing = Figure(NOTHING)
        return (name, nothing, nothing, why, *(nothing for _ in COLUMNS[4:]))
    weeks = [float(strip.get(ago, 0)) for ago in reversed(range(STRIP_WEEKS))]
    days_ago = (as_of - row["last_on"]).days
    return (
        name,
        _change_first(client, row),
        _last_change(client, row, as_of),
        Figure(
            day_near(row["last_on"], as_of),
            order=row["last_on"].isoformat(),
            mark="look" if days_ago > 7 and not client.has_left(as_of) else "",
            note=ago(days_ago),
        ),
        _month_figure(client, row, "sessions", 0),
        _month_figure(client, row, "weekly_sets", 1),
        *(
            _tally(client, row, "muscle_status.standing", standing, "judged")
            for standing in ("below", "above")
        ),
        *(
            _tally(client, row, "lift_status.status", status, "with_status")
            for status in ("progressing", "stalled", "regressing")
        ),
        _data(row, f"{client.id}/{EVIDENCE}" if leads_to_evidence else ""),
        Figure(
            "",
            svg=word_strip(weeks, strip_title(client.name, weeks)),
            order=str(sum(weeks[-4:])),
        ),
    )


def _month_figure(client: Client, row: Row, name: str, digits: int) -> Figure:
    """A figure of the last 28 days, that of the 28 before as small print."""
    return Figure(
        number(row[name], digits),
        trace_command("graded_sets.is_hard", client.id) if row[name] else "",
        order=str(row[name]),
        note=texts.before(row[f"{name}_before"], digits),
    )


def _data(row: Row, evidence: str) -> Figure:
    unknown, suspects, share = row.get("unknown", 0), row["suspects"], row.get("unread_share") or 0
    return Figure(
        data_health(unknown, suspects),
        mark="look" if unknown or suspects else "",
        order=str(unknown + suspects + share),
        note=unread(share),
        href=evidence,
    )


def _tally(client: Client, row: Row, column: str, name: str, judged: str) -> Figure:
    """How many; nothing where nothing is judged, so that "none" is not read as "fine"."""
    if not row.get(judged):
        return Figure(NOTHING, order="-1")
    amount = row[name]
    is_marked = amount > 0 and name != "progressing"
    return Figure(
        str(amount),
        trace_command(column, client.id) if amount else "",
        mark="look" if is_marked else "",
        order=str(amount),
    )


def _change_first(client: Client, row: Row) -> Figure:
    if not row.get("code"):
        return Figure(NO_FIRST_CHANGE, mark="quiet", order="~", note=why_nothing_follows(row))
    evidence = finding_text.evidence_of(row)
    subject = plain(row["subject"] or "")
    text = finding_text.finding(row["code"], subject, evidence, client.units)
    return Figure(
        text.headline,
        trace_command(
            "findings.evidence", client.id, code=row["code"], subject=row["subject"] or None
        ),
        order=row["code"],
    )


def _last_change(client: Client, row: Row, as_of: date) -> Figure:
    if not row.get("changed_on"):
        return Figure(NOTHING, order="~")
    return Figure(
        follow_text.in_short(row),
        trace_command("follow_through.verdict", client.id, on=row["changed_on"]),
        mark="look" if row["verdict"] in ("made_worse", "not_done") else "",
        note=day_near(row["changed_on"], as_of),
    )


# What it says

TABLE_CAPTION = "Those who need a look first"
NO_SETS_YET = "no set in the ledger yet"
NO_FIRST_CHANGE = "nothing to change"
NOT_LISTED = "not listed: no mail"


def ago(days: int) -> str:
    """How long since the last session."""
    return {0: "today", 1: "yesterday"}.get(days, f"{days} days ago")


def data_health(unknown: int, suspects: int) -> str:
    """What to look at in a log."""
    parts = []
    if unknown:
        parts.append(counted(unknown, "unknown exercise"))
    if suspects:
        parts.append(counted(suspects, "suspect set"))
    return listing(parts) or "in order"


def unread(share: float) -> str:
    """How much of the exports is set aside."""
    return f"{percent(share, 1)} not read" if share else ""


def left(until: date | None) -> str:
    """Of one who is no client any more."""
    return f"left {day(until)}"


def no_new_export(covered_on: date, as_of: date) -> str:
    """Of one whose days since then nobody knows."""
    return f"no new export since {day_near(covered_on, as_of)}"


def why_nothing_follows(row: Mapping[str, Any]) -> str:
    """Beside "nothing to change", where muscles stand outside their guide nevertheless."""
    outside = row.get("below", 0) + row.get("above", 0)
    if not outside:
        return ""
    if row.get("stalled", 0) + row.get("regressing", 0):
        return "no lift that has clearly stalled points to the muscles outside their guide"
    if row.get("progressing"):
        return "muscles outside their guide can wait while lifts gain"
    return "no lift is shown to suffer from it"


def strip_title(name: str, weeks: Sequence[float]) -> str:
    """Alternative text of a roster strip."""
    return (
        f"{name}: hard sets a week over 26 weeks, {short(weeks[0], 0)} at first, "
        f"{short(weeks[-1], 0)} last, at most {short(max(weeks), 0)}"
    )


def failed(why: str) -> str:
    """In place of a client's figures."""
    return f"This page could not be made: {why}. The last good page stays."


INTRO = (
    "A name leads to the client’s page, the entry under Data to the evidence behind it. First come "
    "those who need you most, by what to change first, then by how many lifts stall or regress; "
    "last come those without a new export and those who have left."
)
NO_CLIENTS = (
    "No client is in the ledger yet. Put exports and mappings into the workspace, then run "
    "`setledger run`."
)
