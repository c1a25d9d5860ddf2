"""The month's checklist: what a coach looks at before the mails go out, one line a matter.

It is shown on the roster, by `run` and by `send --dry-run`, and changes no exit code.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from typing import TYPE_CHECKING

from pipeline import clock, formats
from pipeline.errors import OpenKeyError, SetledgerError
from pipeline.ledger.connection import Row, fetch
from pipeline.pages.client_data import answer
from pipeline.pages.coach_note import note_path
from pipeline.pages.page_data import Definitions
from pipeline.settings.mapping_file import read_mapping

if TYPE_CHECKING:
    import duckdb

    from pipeline.settings.workspace import Client, Workspace

NAMED_MOST = 8
"""How many a line names."""

LOOKS_AHEAD_FROM = 21
"""From this day of a month on, the month that is about to end is prepared."""


def month_to_send(as_of: date) -> date:
    """A day of the month that is sent next: early in a month the one that ended."""
    return as_of if as_of.day >= LOOKS_AHEAD_FROM else clock.month_that_ended(as_of)


def before_sending(
    con: duckdb.DuckDBPyConnection,
    workspace: Workspace,
    clients: Sequence[Client],
    month: date,
    today: date,
    *,
    is_mailing: bool,
) -> Definitions | None:
    """What is worth a look before the month of a day is sent; None where nothing is.

    `today`: who has left by then. `is_mailing`: whether mails go out from here, so that who gets
    none matters.
    """
    here = [client for client in clients if not client.has_left(today)]
    exports = {row["client_id"]: row for row in answer(con, "roster/exports")}
    matters = (
        (NO_EXPORT, _late(here, exports, month)),
        (HELD, _held(con)),
        (UNREAD, _unread(here, exports)),
        (UNKNOWN, _unknown(con)),
        (SUSPECT, _suspects(con, here)),
        (QUESTIONS, _questions(workspace)),
        (NO_MAIL, _without_mail(clients, today) if is_mailing else ""),
        (NO_NOTE.format(formats.month(month)), _without_note(workspace, here, exports, month)),
    )
    found = tuple((what, who) for what, who in matters if who)
    return Definitions(HEADING.format(formats.month(month)), found) if found else None


def as_lines(checklist: Definitions | None) -> list[str]:
    """The checklist for a terminal."""
    if checklist is None:
        return []
    return [checklist.heading, *(f"  {what}: {who}" for what, who in checklist.terms)]


def _late(clients: Sequence[Client], exports: dict[str, Row], month: date) -> str:
    return _named(
        f"{client.name} (since {formats.day_near(exports[client.id]['covered_on'], month)})"
        for client in clients
        if is_overdue(client, exports.get(client.id))
    )


def is_overdue(client: Client, exports: Row | None) -> bool:
    """Whether a new export is due; not of who pauses."""
    if exports is None or not exports["is_late"]:
        return False
    covered_on = exports["covered_on"]
    return not any(
        phase.kind in ("pause", "care") and (phase.to_on is None or phase.to_on >= covered_on)
        for phase in client.phases
    )


def _held(con: duckdb.DuckDBPyConnection) -> str:
    held = fetch(con, "select distinct path from ledger.loads where state = 'held' order by path")
    return _named(row["path"] for row in held)


def _unread(clients: Sequence[Client], exports: dict[str, Row]) -> str:
    shares = {
        client.name: exports[client.id]["unread_share"]
        for client in clients
        if client.id in exports
    }
    ranked = sorted(shares.items(), key=lambda each: -each[1])
    return _named(f"{name} {formats.percent(share, 1)}" for name, share in ranked if share)


def _unknown(con: duckdb.DuckDBPyConnection) -> str:
    names = answer(con, "roster/unknown_names")
    return _named(f"{row['spelling']} ({formats.count(row['sets'], 'set')})" for row in names)


def _suspects(con: duckdb.DuckDBPyConnection, clients: Sequence[Client]) -> str:
    rows = {row["client_id"]: row["suspects"] for row in answer(con, "roster/training")}
    return _named(
        f"{client.name} ({formats.count(rows[client.id], 'set')})"
        for client in clients
        if rows.get(client.id)
    )


def _questions(workspace: Workspace) -> str:
    waiting = []
    for source in workspace.sources:
        try:
            read_mapping(workspace.root / source.mapping, source.mapping)
        except OpenKeyError:
            waiting.append(source.mapping)
        except SetledgerError:
            continue  # a fault, which the run says
    return _named(waiting)


def _without_mail(clients: Sequence[Client], today: date) -> str:
    reasons: dict[str, list[str]] = {}
    for client in clients:
        if (reason := client.no_mail_because(today)) is not None:
            reasons.setdefault(reason, []).append(client.name)
    return "; ".join(f"{_named(names)} ({reason})" for reason, names in reasons.items())


def _without_note(
    workspace: Workspace, clients: Sequence[Client], exports: dict[str, Row], month: date
) -> str:
    """Whose page of the month shows no note; a page shows that of its last covered day's month."""
    without = [
        client.name
        for client in clients
        if client.id in exports
        and not note_path(
            workspace.root, client.id, min(exports[client.id]["covered_on"], month)
        ).exists()
    ]
    return EVERYBODY if len(without) == len(clients) > 1 else _named(without)


def _named(names: Iterable[str]) -> str:
    """The first names, and how many more there are."""
    found = list(names)
    if len(found) > NAMED_MOST:
        found[NAMED_MOST - 1 :] = [f"{len(found) - NAMED_MOST + 1} more"]
    return formats.listing(found)


# What it says

HEADING = "Before you send {}"
NO_EXPORT = "No new export"
HELD = "Held, waiting for your word"
UNREAD = "Lines that could not be read"
UNKNOWN = "Unknown exercises, counted for no muscle"
SUSPECT = "Loads that may be a slip of unit or digit"
QUESTIONS = "Mappings with an open question"
NO_MAIL = "No mail"
NO_NOTE = "No note for {}"
EVERYBODY = "everybody"
