"""The next session of a client as rows: what comes, what was done last, what to beat.

sql/next/ computes from the published review; nothing here computes a figure.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from pipeline.errors import UsageError
from pipeline.ledger.connection import Row, fetch
from pipeline.review.asked import client_of, make_views, review_of, write_rows

if TYPE_CHECKING:
    import duckdb

    from pipeline.settings.workspace import Client, Workspace

ASKED = {
    "asked_next": "client_id varchar",
    "asked_changes": "changed_on date, code varchar, subject varchar",
}
"""Temporary tables that say whose session it is and which change is in force, with columns."""

_CHANGE_IN_FORCE = """
select changed_on, code, subject
from review.follow_through
where client_id = ? and origin = 'adopted' and verdict <> 'made_worse'
qualify row_number() over (order by changed_on desc) = 1
"""


@dataclass(frozen=True)
class NextSession:
    """The session that comes next, an exercise a row."""

    client: Client
    as_of: date
    session: Row
    """What comes next and what says so: sql/next/next_session.sql."""
    exercises: tuple[Row, ...]
    """sql/next/next_sheet.sql, in order."""
    change: Row | None
    """The adopted change in force: changed_on, code, subject."""
    labels: dict[str, str]
    """Muscle to its label."""


def next_session(workspace: Workspace, client_id: str, as_of: date | None = None) -> NextSession:
    """The client's next session; UsageError where nothing was trained of late to go by."""
    with review_of(workspace, client_id, as_of) as con:
        client = client_of(workspace, con, client_id)
        change = _change_in_force(con, client_id)
        changes = [tuple(change.values())] if change else []
        write_rows(con, ASKED, {"asked_next": [(client_id,)], "asked_changes": changes})
        make_views(con, "next")
        sessions = fetch(con, "from next_session")
        if not sessions:
            days = fetch(con, "select rotation_days from review.rules")[0]["rotation_days"]
            raise UsageError(
                f"{client_id}: no hard set in the {days} days to the last covered day; there is no "
                "session to go by."
            )
        return NextSession(
            client,
            fetch(con, "select as_of from review.run")[0]["as_of"],
            sessions[0],
            tuple(fetch(con, "from next_sheet order by place")),
            change,
            {row["muscle"]: row["label"] for row in fetch(con, "from review.muscles")},
        )


def _change_in_force(con: duckdb.DuckDBPyConnection, client_id: str) -> Row | None:
    """The change that was adopted last, by the review's own table of them."""
    rows = fetch(con, _CHANGE_IN_FORCE, client_id)
    return rows[0] if rows else None
