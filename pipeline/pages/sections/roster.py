"""The roster: one row a client, those who need a look first; what was read for all of them."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Mapping
from datetime import date
from typing import TYPE_CHECKING, Any

from pipeline import formats
from pipeline.ledger.connection import Row, fetch
from pipeline.ledger.forgotten import remembered_clients
from pipeline.pages import charts, finding_text, texts
from pipeline.pages.client_data import review_tables
from pipeline.pages.page_data import Block, Column, Figure, Table, trace_command
from pipeline.pages.sections.data import loads_table, set_aside_blocks
from pipeline.pages.sections.notes import contract_blocks

if TYPE_CHECKING:
    import duckdb

    from pipeline.settings.workspace import Client, Workspace

_CHANGE_FIRST = Column(
    "Change first", "the one thing to change first", is_number=False, is_long=True
)
COLUMNS = (
    Column("Client", is_number=False),
    _CHANGE_FIRST,
    Column("Last session", is_number=False),
    Column("Sessions", "days trained in the last 28 days; below: the 28 days before"),
    Column("Hard sets a week", "over the last 28 days; below: the 28 days before"),
    Column("Below", "muscles below their guide"),
    Column("Above", "muscles above their guide"),
    Column("Progressing", "lifts that progress"),
    Column("Stalled", "lifts that stall"),
    Column("Regressing", "lifts that regress"),
    Column("Data", "what to look at in the log itself", is_number=False),
    Column("26 weeks", "hard sets a week, the latest at the right", is_number=False),
)

_NOTE = Column("Note", "what hindered the page", is_number=False)
"""In place of the first change, where findings are not built."""

_TRAINING = """
    with days as (
        select
            client_id,
            date_diff('day', performed_on, run.as_of) as days_ago,
            performed_on,
            is_hard,
            is_suspect,
        from review.graded_sets
        cross join review.run as run
    )
    select
        client_id,
        max(performed_on) as last_on,
        count(distinct performed_on) filter (days_ago < 28) as sessions,
        count(distinct performed_on) filter (days_ago between 28 and 55) as sessions_before,
        count(*) filter (is_hard and days_ago < 28) / 4 as weekly_sets,
        count(*) filter (is_hard and days_ago between 28 and 55) / 4 as weekly_sets_before,
        count(*) filter (is_suspect and days_ago < 182) as suspects,
    from days
    group by all
"""

_STRIPS = """
    select
        client_id,
        date_diff('day', performed_on, run.as_of) // 7 as weeks_ago,
        count(*) as hard_sets,
    from review.graded_sets
    cross join review.run as run
    where is_hard and performed_on > run.as_of - 182
    group by all
"""

_UNKNOWN = """
    select
        sets.client_id,
        count(distinct sets.exercise_raw) as unknown,
    from ledger.sets as sets
    inner join ledger.exercise_names as names on sets.exercise_raw = names.exercise_raw
    where sets.replaced_by is null and names.how = 'unknown'
    group by all
"""

_STANDINGS = """
    select
        client_id,
        count(*) filter (standing = 'below') as below,
        count(*) filter (standing = 'above') as above,
        count(standing) as judged,
    from review.muscle_status
    group by all
"""

_STATUSES = """
    select
        client_id,
        count(*) filter (status = 'progressing') as progressing,
        count(*) filter (status = 'stalled') as stalled,
        count(*) filter (status = 'regressing') as regressing,
        count(*) filter (status not in ('too_little_data')) as with_status,
    from review.lift_status
    group by all
"""

_FIRST = """
    select client_id, code, subject, severity, evidence
    from review.findings
    where is_first_change
"""

_SET_ASIDE = """
    select aside.load_id, loads.path, aside.source_line, aside.explanation
    from ledger.set_aside as aside
    inner join ledger.loads as loads on aside.load_id = loads.load_id
    where loads.state = 'loaded'
    order by aside.load_id, aside.source_line
"""


def roster_table(
    con: duckdb.DuckDBPyConnection,
    workspace: Workspace,
    failures: Mapping[str, str],
    as_of: date,
    page_name: str,
) -> Table | None:
    """The clients, or None where there is none yet."""
    clients = roster_clients(con, workspace)
    if not clients:
        return None
    rows = _read(con)
    has_changes = "findings" in review_tables(con) or bool(failures)
    strips = _read_strips(con)
    ranked = sorted(clients, key=lambda client: _need(client, rows[client.id], failures, as_of))
    cells = [
        _cells(
            client,
            rows[client.id],
            strips.get(client.id, {}),
            failures,
            as_of,
            Figure(client.name, href=f"{client.id}/{page_name}", order=f"{place:04}"),
        )
        for place, client in enumerate(ranked)
    ]
    shown = [
        place for place, column in enumerate(COLUMNS) if has_changes or column is not _CHANGE_FIRST
    ]
    return Table(
        texts.ROSTER_TABLE,
        tuple(COLUMNS[place] for place in shown),
        tuple(tuple(row[place] for place in shown) for row in cells),
        is_sortable=True,
    )


def roster_data(con: duckdb.DuckDBPyConnection) -> tuple[Block, ...]:
    """Exports read and lines set aside, over all clients."""
    loads = fetch(con, "from ledger.loads where state in ('loaded', 'held') order by load_id")
    blocks: list[Block] = [loads_table(loads)] if loads else []
    blocks += set_aside_blocks(fetch(con, _SET_ASIDE))
    blocks += contract_blocks(con)
    return tuple(blocks)


def roster_clients(con: duckdb.DuckDBPyConnection, workspace: Workspace) -> list[Client]:
    """Clients that the roster shows: those listed, or all that were found if none is listed."""
    if workspace.clients:
        return list(remembered_clients(workspace))
    found = fetch(con, "select distinct client_id from ledger.sets order by client_id")
    return [workspace.client(row["client_id"]) for row in found]


def _read(con: duckdb.DuckDBPyConnection) -> dict[str, Row]:
    """What the tables say of each client, in one row each."""
    tables = review_tables(con)
    queries = {
        "graded_sets": _TRAINING,
        "muscle_status": _STANDINGS,
        "lift_status": _STATUSES,
        "findings": _FIRST,
    }
    rows: dict[str, Row] = defaultdict(lambda: {"is_found": "findings" in tables})
    for sql in (*(sql for table, sql in queries.items() if table in tables), _UNKNOWN):
        for row in fetch(con, sql):
            rows[row["client_id"]] |= row
    return rows


def _read_strips(con: duckdb.DuckDBPyConnection) -> dict[str, dict[int, int]]:
    strips: dict[str, dict[int, int]] = defaultdict(dict)
    for row in fetch(con, _STRIPS):
        strips[row["client_id"]][row["weeks_ago"]] = row["hard_sets"]
    return strips


def _need(client: Client, row: Row, failures: Mapping[str, str], as_of: date) -> tuple[Any, ...]:
    """Sorting key: the smaller, the sooner a coach should look."""
    last_on = row.get("last_on")
    return (
        client.id not in failures,
        last_on is None,
        not row.get("code"),
        -row.get("regressing", 0),
        -row.get("stalled", 0),
        -(row.get("below", 0) + row.get("above", 0)),
        -((as_of - last_on).days if last_on else 0),
        client.name,
    )


def _cells(
    client: Client,
    row: Row,
    strip: dict[int, int],
    failures: Mapping[str, str],
    as_of: date,
    name: Figure,
) -> tuple[Figure, ...]:
    if client.id in failures:
        why = Figure(texts.failed(failures[client.id]), mark="look")
        return (name, why, *(Figure(formats.NOTHING) for _ in COLUMNS[2:]))
    if row.get("last_on") is None:
        why = Figure(texts.NO_SETS_YET, mark="quiet")
        nothing = Figure(formats.NOTHING)
        return (name, nothing, why, *(nothing for _ in COLUMNS[3:]))
    sets_trace = trace_command("graded_sets.is_hard", client.id)
    weeks = [float(strip.get(ago, 0)) for ago in reversed(range(charts.STRIP_WEEKS))]
    return (
        name,
        _change_first(client, row),
        Figure(
            formats.day_near(row["last_on"], as_of),
            order=row["last_on"].isoformat(),
            mark="look" if (as_of - row["last_on"]).days > 7 else "",
            note=texts.ago((as_of - row["last_on"]).days),
        ),
        Figure(
            formats.number(row["sessions"], 0),
            sets_trace,
            order=str(row["sessions"]),
            note=texts.before(row["sessions_before"], 0),
        ),
        Figure(
            formats.number(row["weekly_sets"]),
            sets_trace,
            order=str(row["weekly_sets"]),
            note=texts.before(row["weekly_sets_before"], 1),
        ),
        *(
            _tally(client, row, "muscle_status.standing", standing, "judged")
            for standing in ("below", "above")
        ),
        *(
            _tally(client, row, "lift_status.status", status, "with_status")
            for status in ("progressing", "stalled", "regressing")
        ),
        Figure(
            texts.data_health(row.get("unknown", 0), row["suspects"]),
            mark="" if not (row.get("unknown") or row["suspects"]) else "look",
            order=str(row.get("unknown", 0) + row["suspects"]),
        ),
        Figure(
            "",
            svg=charts.word_strip(weeks, texts.strip_title(client.name, weeks)),
            order=str(sum(weeks[-4:])),
        ),
    )


def _tally(client: Client, row: Row, column: str, name: str, judged: str) -> Figure:
    """How many; nothing where nothing is judged, so that "none" is not read as "fine"."""
    if not row.get(judged):
        return Figure(formats.NOTHING, order="-1")
    amount = row[name]
    is_marked = amount > 0 and name != "progressing"
    return Figure(
        str(amount),
        trace_command(column, client.id),
        mark="look" if is_marked else "",
        order=str(amount),
    )


def _change_first(client: Client, row: Row) -> Figure:
    if not row["is_found"]:
        return Figure(formats.NOTHING, mark="quiet", order="~")
    if not row.get("code"):
        return Figure(texts.NO_FIRST_CHANGE, mark="quiet", order="~")
    evidence = row["evidence"]
    evidence = json.loads(evidence) if isinstance(evidence, str) else evidence or {}
    subject = formats.plain(row["subject"] or "")
    text = finding_text.finding(row["code"], subject, evidence, client.units)
    return Figure(
        text.headline,
        trace_command(
            "findings.evidence", client.id, code=row["code"], subject=row["subject"] or None
        ),
        order=row["code"],
    )
