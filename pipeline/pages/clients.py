"""Who gets a page and a row of the roster."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from pipeline.errors import UsageError
from pipeline.ledger.connection import fetch
from pipeline.ledger.forgotten import remembered_clients
from pipeline.ledger.journal import known_spellings, read_journal
from pipeline.settings.workspace import Client

if TYPE_CHECKING:
    import duckdb

    from pipeline.settings.workspace import Workspace


def reported_clients(workspace: Workspace, con: duckdb.DuckDBPyConnection) -> list[Client]:
    """The listed clients, then all others with sets, under the spelling in which they were found.

    Where none is listed, whoever is found is a client like any other.
    """
    listed = {client.id for client in workspace.clients}
    found = fetch(
        con, "select distinct client_id from ledger.sets where replaced_by is null order by all"
    )
    spellings = known_spellings(read_journal(workspace.store))
    return [
        *remembered_clients(workspace),
        *(
            Client(name, spellings.get(name, name), is_listed=not listed)
            for name in (row["client_id"] for row in found)
            if name not in listed
        ),
    ]


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
