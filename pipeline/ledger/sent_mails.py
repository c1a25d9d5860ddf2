"""The sent log .setledger/mails.jsonl: what was mailed to whom, so that no mail goes out twice.

Before the data of a mail goes out, "sending" is on the disk; after the server's yes, "sent". A
"sending" with nothing after it means that nobody can know whether the mail arrived: the run was
killed, or the line was cut, between the end of the data and the answer. Such a mail is left to a
person.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Literal

from pipeline import clock
from pipeline.ledger import json_lines

State = Literal["sending", "sent", "refused", "deferred"]
_NAME = "mails.jsonl"


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
    """sending (begun), sent (the server said yes), refused (it said no for good) or deferred (it
    said no for now, or the line was cut before the end of the data)."""
    at: str
    detail: str | None = None
    """The server's words, where it said no."""


@dataclass
class SentLog:
    """The log of a workspace; whoever writes holds the workspace's lock."""

    path: Path
    entries: list[Entry]

    @classmethod
    def of(cls, folder: Path) -> SentLog:
        """The log below .setledger/; empty where there is none."""
        path = folder / _NAME
        return cls(path, [Entry(**line) for line in json_lines.read(path)])

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
    ) -> None:
        """Add a line and wait until it is on the disk."""
        at = clock.now().isoformat()
        entry = Entry(client_id, period, message_id, recipient, state, at, detail)
        json_lines.append(self.path, [asdict(entry)])
        self.path.chmod(0o600)
        self.entries.append(entry)

    def forget(self, client_id: str) -> int:
        """Take a client's lines out; gives their number."""
        kept = [entry for entry in self.entries if entry.client_id != client_id]
        gone = len(self.entries) - len(kept)
        if gone:
            json_lines.rewrite(self.path, map(asdict, kept))
            self.entries = kept
        return gone
