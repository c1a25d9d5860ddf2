"""What the data contract is asked against: limits, days and clients."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from pipeline import clock
from pipeline.settings.rules import Rules
from pipeline.settings.workspace import Workspace


@dataclass(frozen=True)
class Scope:
    """What the contract is asked of, and against which day and clients."""

    rules: Rules
    as_of: date
    """Data must be fresh at this day."""
    today: date
    """No set lies beyond the day after."""
    listed: tuple[str, ...] = ()
    """Ids of the configured clients; empty: everyone found is a client."""
    is_partial: bool = False
    """Only the client-days and versions that this run changed."""


def contract_scope(workspace: Workspace, as_of: date) -> Scope:
    """The workspace's limits, clients and days."""
    listed = tuple(client.id for client in workspace.clients)
    return Scope(workspace.rules, as_of, clock.today(workspace.timezone), listed)
