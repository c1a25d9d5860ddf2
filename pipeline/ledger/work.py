"""The copy of the database that one run changes, and publishes by one rename."""

from __future__ import annotations

import os
from dataclasses import dataclass, field
from pathlib import Path

import duckdb

from pipeline import __version__
from pipeline.ledger import journal, json_lines, store
from pipeline.ledger.database import mirror_mails, stray_wal
from pipeline.ledger.journal import Event
from pipeline.ledger.sent_mails import Entry, SentLog
from pipeline.ledger.soundness import State
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
    is_rewritten: bool = False
    """Whether `events` take the place of the journal, in place of being its beginning."""
    forgets: str | None = None
    """The client whose lines leave the sent log with the journal."""
    mails: list[Entry] | None = None
    """Lines to take the sent log's place; None: it stays."""
    state: State | None = None
    """The store as it was found; None for a copy that is never published."""
    said: list[str] = field(default_factory=list)
    """What was found wrong and mended: sentences for a person."""
    notes: list[str] = field(default_factory=list)
    """What was cleared away: good to know."""

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
        if self.mails is not None:
            mirror_mails(self.con, self.mails)
        if self.changed_clients:
            self.con.execute("update ledger.meta set inputs_digest = null")
        if not self.is_checked and self.con.execute("from changed_days limit 1").fetchall():
            self.con.execute("delete from ledger.checks where load_id is null")
        last = len(self.journal)
        self.con.execute(
            "update ledger.meta set events_applied = ?, tool_version = ?, journal_digest = ?,"
            " rewritings = ?",
            [
                last,
                __version__,
                json_lines.digest_of(self.journal[-1], last) if last else None,
                journal.rewritings(self.journal),
            ],
        )
        self.con.execute("checkpoint")
        self.con.close()
        with self.path.open("rb") as handle:
            os.fsync(handle.fileno())
        self._write_truth()
        self.path.chmod(0o600)
        wal = stray_wal(self.workspace.database)
        if wal is not None:
            wal.unlink(missing_ok=True)
        store.publish(self.path, self.workspace.database)

    def _write_truth(self) -> None:
        """The journal, and what follows from it, before the database that rests on it."""
        folder = self.workspace.store
        sent_log = SentLog.of(folder)
        if self.mails is not None:
            sent_log.rewrite(self.mails)
        elif self.state is not None and self.state.is_bare and sent_log.entries:
            sent_log.rewrite(sent_log.entries)
        if self.is_rewritten:
            journal.rewrite_journal(folder, self.journal)
        else:
            journal.append_journal(folder, self.added)
        journal.note_format(folder)
        journal.keep_tombstones(folder, self.journal)
        if self.forgets is not None:
            SentLog.of(folder).forget(self.forgets)
