"""The sent log .setledger/mails.jsonl: what was mailed to whom, so that no mail goes out twice.

Before the data of a mail goes out, "sending" is on the disk; after the server's yes, "sent". A
"sending" with nothing after it means that nobody can know whether the mail arrived: the run was
killed, or the line was cut, between the end of the data and the answer. Such a mail is left to a
person.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Literal

from pipeline import clock
from pipeline.ledger import journal, json_lines

State = Literal["sending", "sent", "refused", "deferred", "assumed"]
NAME = "mails.jsonl"


@dataclass(frozen=True)
class Entry:
    """One line of the log."""

    client_id: str | None
    """None: the coach's copy of the roster."""
    period: str
    """Month of the report, YYYY-MM."""
    message_id: str
    recipient: str
    state: State
    """sending (begun), sent (the server said yes), refused (it said no for good), deferred (it
    said no for now, or the line was cut before the end of the data) or assumed (after a salvage:
    every mail up to that month counts as sent)."""
    at: str
    detail: str | None = None
    """The server's words, where it said no."""
    code: str | None = None
    """The first change that the mail tells of; empty: nothing to change; None: not known."""
    subject: str | None = None


@dataclass
class SentLog:
    """The log of a workspace; whoever writes holds the workspace's lock."""

    path: Path
    entries: list[Entry]
    faults: list[str] = field(default_factory=list)
    """What is wrong with its lines, each in a few words."""

    @classmethod
    def of(cls, folder: Path) -> SentLog:
        """The log below .setledger/; empty where there is none."""
        path = folder / NAME
        reading = json_lines.read(path, with_bare=journal.may_be_bare(folder))
        return cls(path, [Entry(**line) for line in reading.lines], reading.faults)

    def rewrite(self, entries: Iterable[Entry]) -> None:
        """Put other lines in the place of all."""
        self.entries = list(entries)
        json_lines.rewrite(self.path, map(asdict, self.entries))
        self.faults = []

    def last(self, client_id: str | None, period: str) -> Entry | None:
        """The latest line on one client's mail of one month."""
        for entry in reversed(self.entries):
            if (entry.client_id, entry.period) == (client_id, period):
                return entry
        return None

    def was_sent(self, client_id: str | None, period: str) -> bool:
        """Whether a server once said yes to it."""
        return any(
            (entry.client_id, entry.period, entry.state) == (client_id, period, "sent")
            or (entry.state == "assumed" and entry.period >= period)
            for entry in self.entries
        )

    def in_doubt(self, client_id: str | None, period: str) -> Entry | None:
        """The line that began a mail of which nobody knows whether it arrived."""
        last = self.last(client_id, period)
        return last if last is not None and last.state == "sending" else None

    def note(
        self,
        client_id: str | None,
        period: str,
        message_id: str,
        recipient: str,
        state: State,
        detail: str | None = None,
        first: tuple[str, str] | None = None,
    ) -> None:
        """Add a line and wait until it is on the disk; `first`: code and subject of the first
        change that the mail tells of."""
        at = clock.now().isoformat()
        entry = Entry(
            client_id, period, message_id, recipient, state, at, detail, *(first or (None, None))
        )
        is_bare = journal.may_be_bare(self.path.parent)
        json_lines.append(self.path, [asdict(entry)], with_bare=is_bare)
        self.entries.append(entry)

    def forget(self, client_id: str) -> int:
        """Take a client's lines out; gives their number."""
        kept = [entry for entry in self.entries if entry.client_id != client_id]
        gone = len(self.entries) - len(kept)
        if gone:
            self.rewrite(kept)
        return gone
