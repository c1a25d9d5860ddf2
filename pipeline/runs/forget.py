"""Forgetting a client everywhere: pages, mails, log lines, and what the journal and the store keep.

The caller holds the workspace's lock. What a kill leaves undone, the same command does when it is
given again: every step finds what is still there, and the journal, which is the truth, changes in
one rename after the database that rests on it is out of the way.
"""

from __future__ import annotations

import json
import re
import secrets
import shutil
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pipeline import formats
from pipeline.errors import SetledgerError, UsageError
from pipeline.ledger import journal, kept_rows, store
from pipeline.ledger.forgotten import Forgotten, digests_of, without
from pipeline.ledger.journal import Event
from pipeline.ledger.sent_mails import SentLog
from pipeline.names.clients import plain, slug
from pipeline.outcome import Outcome
from pipeline.runs import run_log
from pipeline.settings.workspace import CONFIG_NAME, Workspace, as_of_day


@dataclass
class Removal:
    """What is, or was, taken away of one client."""

    client_id: str
    spellings: tuple[str, ...]
    sets: int = 0
    weigh_ins: int = 0
    versions_whole: list[str] = field(default_factory=list)
    """Paths of versions that held nobody else's lines."""
    versions_part: list[str] = field(default_factory=list)
    """Paths of versions of which the others' rows stay."""
    pages: list[Path] = field(default_factory=list)
    mails: int = 0
    log_lines: int = 0
    left: list[str] = field(default_factory=list)
    """Files of the user's own that still name the client."""

    @property
    def is_empty(self) -> bool:
        """Whether nothing of the client is there."""
        return not (
            self.sets or self.weigh_ins or self.versions_whole or self.versions_part
            or self.pages or self.mails or self.log_lines
        )  # fmt: skip

    def sentences(self) -> list[str]:
        """The same in words."""
        versions = len(set(self.versions_whole + self.versions_part))
        return [
            f"{formats.count(self.sets, 'set')} and {formats.count(self.weigh_ins, 'weigh-in')} in "
            "the ledger",
            f"the lines in {formats.count(versions, 'kept export')}",
            f"{formats.count(len(self.pages), 'page or mail', 'pages and mails')} in out/",
            f"{formats.count(self.mails, 'line')} in the sent log, "
            f"{formats.count(self.log_lines, 'line')} in the run log",
        ]


def plan(workspace: Workspace, client_id: str) -> Removal:
    """What there is of a client; UsageError if there is nothing and never was."""
    events = journal.read_journal(workspace.store)
    removal = Removal(client_id, _spellings(workspace, client_id, events))
    removal.sets, removal.weigh_ins, paths = _rows(workspace, client_id)
    removal.versions_whole = paths
    removal.pages = _pages(workspace, client_id)
    book = SentLog.of(workspace.store)
    removal.mails = sum(entry.client_id == client_id for entry in book.entries)
    removal.log_lines = sum(_client_of(line) == client_id for line in _log_lines(workspace))
    is_known = (
        Forgotten.of(events).has(client_id)
        or any(client.id == client_id for client in workspace.clients)
        or (bool(events) and not workspace.database.exists())  # a forgetting that was cut short
    )
    if removal.is_empty and not is_known:
        known = ", ".join(sorted({client.id for client in workspace.clients})) or "none is listed"
        raise UsageError(f"{client_id}: no such client is known here; clients are {known}.")
    removal.left = _left_files(workspace, removal)
    return removal


def forget(workspace: Workspace, removal: Removal, outcome: Outcome) -> None:
    """Take it all away, make the database again without it, and the pages of the others."""
    from pipeline.ledger.replay import opened_work
    from pipeline.pages import write
    from pipeline.review import inputs

    client_id = removal.client_id
    days = write.dated_pages(workspace.out)
    for path in removal.pages:
        path.unlink(missing_ok=True)
    shutil.rmtree(workspace.out / client_id, ignore_errors=True)
    SentLog.of(workspace.store).forget(client_id)
    _clean_logs(workspace, removal)
    events = journal.read_journal(workspace.store)
    if events:
        changed = _rewritten(workspace, removal, events)
        workspace.database.unlink(missing_ok=True)
        journal.rewrite_journal(workspace.store, changed)
        _drop_unneeded(workspace, changed)
        with opened_work(workspace, is_locked=True) as work:
            work.is_dirty = True
            inputs.build(work, outcome, as_of_day(workspace, None), is_forced=True)
            work.publish()
        write.report(workspace, outcome)
        write.write_rosters_again(workspace, outcome, days)


def readmit(workspace: Workspace, client_id: str) -> None:
    """Let a forgotten client in again: what its exports hold is read by the next run."""
    forgotten = Forgotten.of(journal.read_journal(workspace.store))
    salts = [salt for salt, digests in forgotten.told if digests & digests_of(salt, (client_id,))]
    if not salts:
        raise UsageError(f"{client_id}: this client was not forgotten here, so nothing is changed.")
    journal.append_journal(workspace.store, [{"event": "readmit", "salt": salt} for salt in salts])


# What there is


def _spellings(workspace: Workspace, client_id: str, events: Iterable[Event]) -> tuple[str, ...]:
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


def _rows(workspace: Workspace, client_id: str) -> tuple[int, int, list[str]]:
    """Sets, weigh-ins and files in the published database; none where there is none."""
    import duckdb

    if not workspace.database.exists():
        return 0, 0, []
    with duckdb.connect(str(workspace.database), read_only=True) as con:
        [(sets, weigh_ins)] = con.execute(
            "select (select count(*) from ledger.sets where client_id = $id),"
            " (select count(*) from ledger.bodyweights where client_id = $id)",
            {"id": client_id},
        ).fetchall()
        paths = con.execute(
            "select distinct path from ledger.loads where load_id in"
            " (select load_id from ledger.sets where client_id = ?) order by path",
            [client_id],
        ).fetchall()
    return int(sets), int(weigh_ins), [path for (path,) in paths]


def _pages(workspace: Workspace, client_id: str) -> list[Path]:
    """The client's pages and mails, and what shows all clients: rosters are made again."""
    folder = workspace.out / client_id
    own = [path for path in folder.rglob("*") if path.is_file()] if folder.exists() else []
    mails = (workspace.out / "mail").glob("*.eml")
    own += [path for path in mails if path.stem[8:] in (client_id, "_roster")]
    return sorted(own)


def _left_files(workspace: Workspace, removal: Removal) -> list[str]:
    """The user's own files that name the client: nobody but the user changes them."""
    words = {spelling.casefold() for spelling in removal.spellings}
    left = []
    candidates = [workspace.root / CONFIG_NAME, workspace.root / "bodyweight.csv",
                  workspace.root / "corrections.csv"]  # fmt: skip
    for folder in ("mappings", "exports"):
        candidates += sorted((workspace.root / folder).rglob("*"))
    for path in candidates:
        shown = str(path.relative_to(workspace.root))
        if shown in removal.versions_whole or (path.is_file() and _names(path, words)):
            left.append(shown)
    return left


def _names(path: Path, words: set[str]) -> bool:
    """Whether one of the spellings stands in a file as a whole word."""
    text = path.read_bytes().decode("utf-8", "replace").casefold()
    return any(re.search(rf"(?<!\w){re.escape(word)}(?!\w)", text) for word in words)


# The journal and the kept exports


def _rewritten(workspace: Workspace, removal: Removal, events: list[Event]) -> list[Event]:
    """The journal without the client; contents of which others' rows stay are kept as rows."""
    salt = secrets.token_hex(16)
    tombstone: Event = {
        "event": "forget",
        "salt": salt,
        "who": sorted(digests_of(salt, removal.spellings)),
        "contents": [],
    }
    theirs = Forgotten.of([tombstone])
    dropped: set[int] = set()
    kept: list[Event] = []
    removal.versions_whole, removal.versions_part = [], []
    for place, event in enumerate(events):
        if event["event"] == "load":
            left = _load_without(workspace, event, events[: place + 1], theirs, salt)
            if left is None:
                dropped.add(event["load_id"])
                tombstone["contents"].append(event["sha256"])
                removal.versions_whole.append(event["path"])
                continue
            if left is not event:
                removal.versions_part.append(event["path"])
            kept.append(_scrubbed_load(left, removal))
        elif event["event"] in ("accept", "unload") and event["load_id"] in dropped:
            continue
        else:
            kept.append(event)
    used = {event[key] for event in kept if event["event"] == "load"
            for key in ("mapping", "context")}  # fmt: skip
    kept = [
        _scrubbed(event, removal)
        for event in kept
        if event["event"] not in ("mapping", "context") or event["sha256"] in used
    ]
    return [*kept, tombstone]


def _load_without(
    workspace: Workspace, event: Event, events: list[Event], theirs: Forgotten, salt: str
) -> Event | None:
    """The event as it is, or with the others' rows in place of its content, or None."""
    from pipeline.ledger.versions import read_again

    try:
        rows = read_again(workspace.store, event, events)
    except SetledgerError:
        return None  # its content is gone or damaged: nothing of it could be replayed either
    left = without(rows, theirs)
    if left is rows:
        return event
    if not left.lines_read:
        return None
    sha256 = store.keep_content(workspace.store, kept_rows.pack(left))
    return event | {"rows": sha256, "forgotten": [*event.get("forgotten", ()), salt]}


def _scrubbed_load(event: Event, removal: Removal) -> Event:
    """A load event that names the client no more."""
    changed = dict(event)
    for key in ("known", "spellings"):
        changed[key] = {one: text for one, text in event[key].items() if one != removal.client_id}
    because = event["held_because"]
    if because is not None:
        changed["held_because"] = because.replace(f"{removal.client_id}'s", "a forgotten client's")
    return changed


def _scrubbed(event: Event, removal: Removal) -> Event:
    """A context keeps the number of its clients; a mapping loses comments that name the client."""
    if event["event"] == "context":
        clients = [
            [f"forgotten-{place}", "", []] if client[0] == removal.client_id else client
            for place, client in enumerate(event["clients"])
        ]
        return event | {"clients": clients}
    if event["event"] == "mapping":
        forms = {plain(spelling) for spelling in removal.spellings}
        forms |= {word for form in forms for word in form.split() if len(word) > 2}
        lines = [
            "#" if line.lstrip().startswith("#") and _mentions(line, forms) else line
            for line in event["text"].split("\n")
        ]
        return event | {"text": "\n".join(lines)}
    return event


def _mentions(line: str, forms: Iterable[str]) -> bool:
    return any(re.search(rf"(?<!\w){re.escape(form)}(?!\w)", plain(line)) for form in forms)


def _drop_unneeded(workspace: Workspace, events: list[Event]) -> None:
    """Contents that no load of the journal rests on any more."""
    needed = {event.get("rows", event["sha256"]) for event in events if event["event"] == "load"}
    for path in (workspace.store / "exports").glob("*.zst"):
        if path.stem not in needed:
            store.drop_content(workspace.store, path.stem)


# The log


def _log_lines(workspace: Workspace) -> list[dict[str, Any]]:
    lines: list[dict[str, Any]] = []
    for path in run_log.paths(workspace):
        lines += [line for line in map(_parsed, _text_lines(path)) if line is not None]
    return lines


def _text_lines(path: Path) -> list[str]:
    return path.read_text(encoding="utf-8").splitlines() if path.exists() else []


def _parsed(line: str) -> dict[str, Any] | None:
    try:
        value = json.loads(line)
    except ValueError:
        return None
    return value if isinstance(value, dict) else None


def _client_of(line: dict[str, Any]) -> str | None:
    client: str | None = line.get("client")
    return client


def _clean_logs(workspace: Workspace, removal: Removal) -> None:
    """Lines of the client, and what lines of whole runs say of it, out of both logs."""
    slugs = {slug(spelling) for spelling in removal.spellings}
    for path in run_log.paths(workspace):
        if not path.exists():
            continue
        kept = []
        for text in _text_lines(path):
            line = _parsed(text)
            if line is None or _client_of(line) == removal.client_id:
                continue
            kept.append(json.dumps(_clean_run(line, removal, slugs), ensure_ascii=False) + "\n")
        store.write_whole(path, "".join(kept).encode())


def _clean_run(line: dict[str, Any], removal: Removal, slugs: set[str]) -> dict[str, Any]:
    def names(text: str) -> bool:
        return any(f"-{one}-" in f"-{slug(text)}-" for one in slugs)

    cleaned = dict(line)
    if "failures" in line:
        cleaned["failures"] = {
            one: why for one, why in line["failures"].items() if one != removal.client_id
        }
    if "problems" in line:
        cleaned["problems"] = [each for each in line["problems"] if not names(each)]
    if "loads" in line:
        cleaned["loads"] = [each for each in line["loads"] if not names(each["path"])]
    return cleaned
