"""The ledger without one client: the journal rewritten, the others' rows kept in place of exports.

The caller holds the workspace's lock. What a kill leaves undone, the same call does when it is made
again: the journal, which is the truth, changes in one rename after the database that rests on it
is out of the way.
"""

from __future__ import annotations

import re
import secrets
from collections.abc import Iterable
from pathlib import Path

from pipeline.errors import SetledgerError, UsageError
from pipeline.ledger import journal, versions
from pipeline.ledger.forgotten import Forgotten, digests_of, without
from pipeline.ledger.journal import Event
from pipeline.names.clients import plain
from pipeline.settings.workspace import Workspace


def erase(
    workspace: Workspace, client_id: str, spellings: tuple[str, ...]
) -> tuple[list[str], list[str]]:
    """Take a client out of all that the database is made from, and the database away.

    Gives the paths of versions that held nobody else's lines, and of those of which others' stay.
    """
    events = journal.read_journal(workspace.store)
    whole: list[str] = []
    part: list[str] = []
    salt = secrets.token_hex(16)
    tombstone: Event = {
        "event": "forget",
        "salt": salt,
        "who": sorted(digests_of(salt, spellings)),
        "contents": [],
    }
    theirs = Forgotten.of([tombstone])
    dropped: set[int] = set()
    kept: list[Event] = []
    for place, event in enumerate(events):
        if event["event"] == "load":
            left = _load_without(workspace.store, event, events[: place + 1], theirs, salt)
            if left is None:
                dropped.add(event["load_id"])
                tombstone["contents"].append(event["sha256"])
                whole.append(event["path"])
                continue
            if left is not event:
                part.append(event["path"])
            kept.append(_scrubbed_load(left, client_id))
        elif event["event"] in ("accept", "unload") and event["load_id"] in dropped:
            continue
        else:
            kept.append(event)
    used = {event[key] for event in kept if event["event"] == "load"
            for key in ("mapping", "context")}  # fmt: skip
    changed = [
        _scrubbed(event, client_id, spellings)
        for event in kept
        if event["event"] not in ("mapping", "context") or event["sha256"] in used
    ]
    workspace.database.unlink(missing_ok=True)
    journal.rewrite_journal(workspace.store, [*changed, tombstone])
    versions.drop_unneeded(workspace.store, changed)
    return whole, part


def _load_without(
    folder: Path, event: Event, events: list[Event], theirs: Forgotten, salt: str
) -> Event | None:
    """The event as it is, or with the others' rows in place of its content, or None."""
    try:
        rows = versions.read_again(folder, event, events)
    except SetledgerError:
        return None  # its content is gone or damaged: nothing of it could be replayed either
    left = without(rows, theirs)
    if left is rows:
        return event
    if not left.lines_read:
        return None
    sha256 = versions.keep_rows(folder, left)
    return event | {"rows": sha256, "forgotten": [*event.get("forgotten", ()), salt]}


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
    """A context keeps the number of its clients; a mapping loses comments that name the client."""
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
    """Let a forgotten client in again: what its exports hold is read by the next run."""
    forgotten = Forgotten.of(journal.read_journal(workspace.store))
    salts = [salt for salt, digests in forgotten.told if digests & digests_of(salt, (client_id,))]
    if not salts:
        raise UsageError(f"{client_id}: this client was not forgotten here, so nothing is changed.")
    journal.append_journal(workspace.store, [{"event": "readmit", "salt": salt} for salt in salts])
