"""Who gets a page and a row of the roster."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from pipeline.errors import UsageError
from pipeline.ledger.connection import fetch
from pipeline.ledger.forgotten import remembered_clients

if TYPE_CHECKING:
    import duckdb

    from pipeline.settings.workspace import Client, Workspace


def reported_clients(workspace: Workspace, con: duckdb.DuckDBPyConnection) -> list[Client]:
    """The clients that are listed, or all that were found if none is."""
    if workspace.clients:
        return list(remembered_clients(workspace))
    found = fetch(con, "select distinct client_id from ledger.sets order by client_id")
    return [workspace.client(row["client_id"]) for row in found]


def chosen_clients(
    workspace: Workspace, con: duckdb.DuckDBPyConnection, only: Sequence[str]
) -> list[Client]:
    """The reported clients that `only` names, or all; UsageError for one that there is not."""
    clients = reported_clients(workspace, con)
    known = [client.id for client in clients]
    unknown = sorted(set(only) - set(known))
    if unknown:
        raise UsageError(
            f"--client {unknown[0]}: no such client to report on; there are "
            f"{', '.join(known) or 'none'}."
        )
    return [client for client in clients if not only or client.id in only]
