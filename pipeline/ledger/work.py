"""The copy of the database that one run changes, and publishes by one rename."""

from __future__ import annotations

import os
from dataclasses import dataclass, field
from pathlib import Path

import duckdb

from pipeline import __version__
from pipeline.ledger import journal, store
from pipeline.ledger.journal import Event
from pipeline.settings.workspace import Workspace


@dataclass
class Work:
    """The copy, and the journal lines that the run will add."""

    workspace: Workspace
    con: duckdb.DuckDBPyConnection
    path: Path
    events: list[Event]
    """The journal as it stands."""
    added: list[Event] = field(default_factory=list)
    changed_clients: set[str] = field(default_factory=set)
    """Clients whose rows changed and whose review is not built yet."""
    is_checked: bool = False
    """Whether the data contract was asked of what changed."""
    is_dirty: bool = False
    """Whether the copy differs from the published database."""

    @property
    def journal(self) -> list[Event]:
        """All events, those of this run included."""
        return self.events + self.added

    def add(self, event: Event) -> None:
        """Note an event; it reaches the disk with `publish`."""
        self.added.append(event)
        self.is_dirty = True

    def note_clients(self, sql: str, *values: object) -> None:
        """Note the clients that a query over the copy gives as changed."""
        self.changed_clients.update(one for (one,) in self.con.execute(sql, values).fetchall())

    def publish(self) -> None:
        """Make the copy the database: journal first, then one rename."""
        if not self.is_dirty:
            return
        if self.changed_clients:
            self.con.execute("update ledger.meta set inputs_digest = null")
        if not self.is_checked and self.con.execute("from changed_days limit 1").fetchall():
            self.con.execute("delete from ledger.checks where load_id is null")
        self.con.execute(
            "update ledger.meta set events_applied = ?, tool_version = ?",
            [len(self.journal), __version__],
        )
        self.con.execute("checkpoint")
        self.con.close()
        with self.path.open("rb") as handle:
            os.fsync(handle.fileno())
        journal.append_journal(self.workspace.store, self.added)
        self.path.chmod(0o600)
        store.publish(self.path, self.workspace.database)
