"""What can be saved of a damaged store: the journal's sound lines, and what was mailed.

Nothing is changed here but by `set_aside`; the caller holds the lock and publishes.
"""

from __future__ import annotations

import shutil
from dataclasses import dataclass, field
from pathlib import Path

from pipeline import clock
from pipeline.errors import ConfigError, KeptVersionError
from pipeline.ledger import erasure, journal, soundness, versions
from pipeline.ledger.database import Seen, entry_of, row_of
from pipeline.ledger.forgotten import Forgotten
from pipeline.ledger.journal import Event
from pipeline.ledger.sent_mails import NAME as SENT_LOG
from pipeline.ledger.sent_mails import Entry
from pipeline.ledger.soundness import State
from pipeline.settings.mapping_file import read_mapping
from pipeline.settings.workspace import Workspace, as_of_day

_DAMAGED = ".damaged"


@dataclass
class Salvaged:
    """The journal and the sent log as they go on, and what is lost."""

    events: list[Event]
    mails: list[Entry] | None = None
    """Lines of the sent log in place of all; None: it is sound."""
    lost: list[str] = field(default_factory=list)
    """Sentences for a person."""


def salvage(workspace: Workspace, state: State) -> Salvaged:
    """What is sound, what can be made again, and what is lost."""
    found = Salvaged(_with_texts(workspace, state.events))
    found.lost += state.faults
    found.events, lost = _with_what_they_rest_on(found.events)
    found.lost += lost
    found.lost += _drop_unreadable(workspace, found)
    _bury_again(workspace, found)
    found.events.append({"event": "salvaged", "at": clock.now().isoformat()})
    if state.mail_faults or (state.faults and not state.sent_log.entries):
        _salvage_mails(workspace, state, found)
    return found


def unnamed(workspace: Workspace, events: list[Event]) -> list[str]:
    """A sentence on each kept version that no line of the journal names."""
    return [
        f".setledger/exports/{sha256}.zst: no sound line of the journal names this kept version, "
        "so it is not loaded; if it is missed, put its file into exports/."
        for sha256 in soundness.unnamed(workspace.store, events)
    ]


def set_aside(workspace: Workspace) -> list[Path]:
    """Copies of the journal and the sent log as they stand, kept beside."""
    copies = []
    for name in (journal.NAME, SENT_LOG, journal.TOMBSTONES):
        path = workspace.store / name
        if path.exists():
            beside = _free(path)
            shutil.copyfile(path, beside)
            beside.chmod(0o600)
            copies.append(beside)
    return copies


def damaged_copies(folder: Path) -> list[Path]:
    """What earlier salvages kept beside."""
    return sorted(folder.glob(f"*{_DAMAGED}-*"))


def _free(path: Path) -> Path:
    number = 1
    while (beside := path.with_name(f"{path.name}{_DAMAGED}-{number}")).exists():
        number += 1
    return beside


def _with_texts(workspace: Workspace, events: list[Event]) -> list[Event]:
    """The events, with lost lines on mappings and clients that the workspace still says alike."""
    noted = {(each["event"], each.get("sha256")) for each in events}
    again: list[Event] = []
    context = versions.Context.of(workspace)
    if ("context", context.sha256) not in noted:
        again.append(versions.context_event(context))
    for source in workspace.sources:
        try:
            mapping = read_mapping(workspace.root / source.mapping, source.mapping)
        except ConfigError:
            continue
        if ("mapping", mapping.sha256) not in noted:
            again.append(versions.mapping_event(mapping))
    return [*again, *events]


def _with_what_they_rest_on(events: list[Event]) -> tuple[list[Event], list[str]]:
    """Events without those whose mapping, clients or version stand in lost lines."""
    kept: list[Event] = []
    lost: list[str] = []
    noted: set[tuple[str, str]] = set()
    loads: set[int] = set()
    held: set[int] = set()
    for event in events:
        kind = event["event"]
        if kind in ("mapping", "context"):
            noted.add((kind, event["sha256"]))
        elif kind == "load":
            wanted = {("mapping", event["mapping"]), ("context", event["context"])}
            if "rows" not in event and not wanted <= noted:
                lost.append(
                    f"{event['path']} (load {event['load_id']}): the journal no longer says how "
                    "this version was read; its file is read anew if it is in exports/."
                )
                continue
            loads.add(event["load_id"])
            if event["state"] == "held":
                held.add(event["load_id"])
        elif kind == "accept" and event["load_id"] not in held:  # noqa: SIM114
            continue
        elif kind == "unload" and event["load_id"] not in loads:
            continue
        kept.append(event)
    return kept, lost


def _drop_unreadable(workspace: Workspace, found: Salvaged) -> list[str]:
    """Versions of which nothing can be read any more leave the journal."""
    said: list[str] = []
    gone: set[int] = set()
    for event in found.events:
        if event["event"] != "load":
            continue
        try:
            versions.kept_content(workspace.store, event, found.events, said)
        except KeptVersionError:
            gone.add(event["load_id"])
            said.append(
                f"{event['path']} (load {event['load_id']}): what was kept of this version is "
                "lost, and no file in exports/ is its equal; its sets are gone unless another "
                "version gives them."
            )
    found.events = [
        event
        for event in found.events
        if event["event"] not in ("load", "accept", "unload") or event["load_id"] not in gone
    ]
    return said


def _bury_again(workspace: Workspace, found: Salvaged) -> None:
    """Those of whose forgetting the journal has lost the line are taken out once more."""
    known = {(each["event"], each.get("salt")) for each in found.events}
    lines = journal.examine_tombstones(workspace.store).lines
    missing = [line for line in lines if (line["event"], line["salt"]) not in known]
    missing = [
        line if line["event"] == "readmit" else line | {"contents": []} for line in missing
    ]  # fmt: skip
    if not missing:
        return
    told = [each for each in found.events if each["event"] in ("forget", "readmit")]
    theirs = Forgotten.of([*told, *missing])
    found.events, _ = erasure.without_client(workspace.store, found.events, theirs, found.lost)
    found.events += missing


def _salvage_mails(workspace: Workspace, state: State, found: Salvaged) -> None:
    """The log's sound lines and those that the database knows of, and a line for the rest."""
    entries = state.sent_log.entries
    known = {row_of(entry) for entry in entries}
    seen = state.seen or Seen()
    entries = [*entries, *(entry_of(row) for row in seen.mails if row not in known)]
    entries.sort(key=lambda each: each.at)
    if not entries and workspace.mail is None:
        return
    day = max(as_of_day(workspace, None), clock.today(workspace.timezone))
    period = max([f"{clock.month_that_ended(day):%Y-%m}", *(each.period for each in entries)])
    entries.append(Entry(None, period, "", "", "assumed", clock.now().isoformat()))
    found.mails = entries
    found.lost += [f"{fault.split('. ')[0]}." for fault in state.mail_faults]
    found.lost.append(
        f".setledger/{SENT_LOG}: nobody can tell what was mailed besides its sound lines, so every "
        f"mail up to {period} counts as sent; `setledger send --month {period} --client ID "
        "--force` sends one that is missing."
    )
