"""The journal without one client: others' rows kept in place of exports that held both.

The caller holds the workspace's lock. Whatever is rewritten is read first: where it cannot be,
nothing is touched.
"""

from __future__ import annotations

import re
import secrets
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

from pipeline.errors import KeptVersionError, UsageError
from pipeline.ledger import journal, versions
from pipeline.ledger.forgotten import Forgotten, digests_of, without
from pipeline.ledger.journal import Event
from pipeline.ledger.replay import opened_work
from pipeline.names.clients import plain
from pipeline.settings.workspace import Workspace


@dataclass
class Erasure:
    """The journal without one client, before anything is changed."""

    events: list[Event]
    whole: list[str] = field(default_factory=list)
    """Paths of versions that held nobody else's lines."""
    part: list[str] = field(default_factory=list)
    """Paths of versions of which others' rows stay."""
    said: list[str] = field(default_factory=list)
    """Kept copies that were damaged and are made again from exports/."""


def prepare(
    workspace: Workspace, client_id: str, spellings: tuple[str, ...], events: list[Event]
) -> Erasure:
    """The journal as it is to be without a client; what of others' rows is to stay is kept.

    Nothing else is changed. KeptVersionError, before anything is, where a version that counts or
    waits can be read no more: nobody could tell whose lines it holds.
    """
    salt = secrets.token_hex(16)
    tombstone: Event = {
        "event": "forget",
        "salt": salt,
        "who": sorted(digests_of(salt, spellings)),
        "contents": [],
    }
    done = Erasure([])
    left, emptied = without_client(workspace.store, events, Forgotten.of([tombstone]), done.said)
    tombstone["contents"] = sorted({event["sha256"] for event in emptied})
    done.whole = [event["path"] for event in emptied]
    before = {event["load_id"]: event for event in events if event["event"] == "load"}
    done.part = [
        event["path"]
        for event in left
        if event["event"] == "load" and event != before[event["load_id"]]
    ]
    used = {event[key] for event in left if event["event"] == "load"
            for key in ("mapping", "context")}  # fmt: skip
    done.events = [
        _scrubbed(event, client_id, spellings)
        for event in left
        if event["event"] not in ("mapping", "context") or event["sha256"] in used
    ]
    done.events.append(tombstone)
    return done


def without_client(
    folder: Path, events: list[Event], theirs: Forgotten, said: list[str]
) -> tuple[list[Event], list[Event]]:
    """The journal lines without clients' rows, and the loads that held nobody else's.

    A version that counts no more and cannot be read any more goes without a word on whose it was.
    """
    standing = [
        each["load_id"] for each in (*journal.active_loads(events), *journal.held_loads(events))
    ]
    dropped: set[int] = set()
    kept: list[Event] = []
    emptied: list[Event] = []
    for place, event in enumerate(events):
        if event["event"] == "load":
            try:
                left = _load_without(folder, event, events[: place + 1], theirs, said)
            except KeptVersionError:
                if event["load_id"] in standing:
                    raise
                dropped.add(event["load_id"])
                continue
            if left is None:
                dropped.add(event["load_id"])
                emptied.append(event)
            else:
                kept.append(left)
        elif event["event"] not in ("accept", "unload") or event["load_id"] not in dropped:
            kept.append(event)
    return kept, emptied


def _load_without(
    folder: Path, event: Event, events: list[Event], theirs: Forgotten, said: list[str]
) -> Event | None:
    """The event as it is, or with the others' rows in place of its content, or None."""
    rows = versions.read_again(folder, event, events, said)
    left = without(rows, theirs)
    if left is rows:
        return event
    if not left.lines_read:
        return None
    sha256 = versions.keep_rows(folder, left)
    return event | {"rows": sha256, "forgotten": [*event.get("forgotten", ()), *theirs.salts]}


def _scrubbed_load(event: Event, client_id: str) -> Event:
    """A load event that names the client no more."""
    changed = dict(event)
    for key in ("known", "spellings"):
        changed[key] = {one: text for one, text in event[key].items() if one != client_id}
    because = event["held_because"]
    if because is not None:
        changed["held_because"] = because.replace(f"{client_id}'s", "a forgotten client's")
    return changed


def _scrubbed(event: Event, client_id: str, spellings: tuple[str, ...]) -> Event:
    """A load names the client no more; a context keeps the number of its clients; a mapping loses
    comments that name the client."""
    if event["event"] == "load":
        return _scrubbed_load(event, client_id)
    if event["event"] == "context":
        clients = [
            [f"forgotten-{place}", "", []] if client[0] == client_id else client
            for place, client in enumerate(event["clients"])
        ]
        return event | {"clients": clients}
    if event["event"] == "mapping":
        forms = {plain(spelling) for spelling in spellings}
        forms |= {word for form in forms for word in form.split() if len(word) > 2}
        lines = [
            "#" if line.lstrip().startswith("#") and _mentions(line, forms) else line
            for line in event["text"].split("\n")
        ]
        return event | {"text": "\n".join(lines)}
    return event


def _mentions(line: str, forms: Iterable[str]) -> bool:
    return any(re.search(rf"(?<!\w){re.escape(form)}(?!\w)", plain(line)) for form in forms)


def spellings_of(workspace: Workspace, client_id: str, events: Iterable[Event]) -> tuple[str, ...]:
    """Every spelling under which the client is or was known."""
    found = {client_id}
    for client in workspace.clients:
        if client.id == client_id:
            found |= {client.name, *client.aliases}
    for event in events:
        if event["event"] == "context":
            for one, name, aliases in event["clients"]:
                if one == client_id:
                    found |= {name, *aliases}
        elif event["event"] == "load":
            for spellings in (event["known"], event["spellings"]):
                found |= {spellings[client_id]} if client_id in spellings else set()
    return tuple(sorted(found))


def readmit(workspace: Workspace, client_id: str) -> None:
    """Let a forgotten client in again: what its exports hold is read by the next run.

    The caller holds the workspace's lock.
    """
    with opened_work(workspace, is_locked=True) as work:
        forgotten = Forgotten.of(work.journal)
        salts = [salt for salt, who in forgotten.told if who & digests_of(salt, (client_id,))]
        if not salts:
            raise UsageError(
                f"{client_id}: this client was not forgotten here, so nothing is changed."
            )
        for salt in salts:
            work.add({"event": "readmit", "salt": salt})
        work.publish()
