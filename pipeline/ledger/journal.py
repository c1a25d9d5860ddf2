"""The journal .setledger/loads.jsonl: what was read, accepted, taken back, and what stands by it.

Everything that is loaded can be made again from the journal and the kept contents. Who was
forgotten stands in forgotten.jsonl as well, so that a lost journal brings nobody back.
"""

from __future__ import annotations

import shlex
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from pipeline.errors import UsageError
from pipeline.ledger import json_lines
from pipeline.ledger.json_lines import Reading

Event = dict[str, Any]
"""One journal line: "event" names its kind, the other keys depend on it."""

NAME = "loads.jsonl"
TOMBSTONES = "forgotten.jsonl"
_FORMAT = "format"
FORMAT = 2
"""Number of the layout of .setledger/; lines of the first one had no digest."""
REWRITINGS = ("forget", "taken_over", "salvaged")
"""Kinds of events with which the journal was written anew, each one's last line at the time."""


def examine(folder: Path) -> Reading:
    """The journal, with what is wrong with it."""
    return json_lines.read(folder / NAME, with_bare=may_be_bare(folder))


def read_journal(folder: Path) -> list[Event]:
    """All sound events, in the order in which they happened."""
    return examine(folder).lines


def rewritings(events: Iterable[Event]) -> int:
    """How often the journal was written anew; a database that knows of less is out of date."""
    return sum(event["event"] in REWRITINGS for event in events)


def may_be_bare(folder: Path) -> bool:
    """Whether lines without a digest are those of the first version, not yet taken over.

    Once the format is noted, or the journal has digests, a line without one is damage.
    """
    if format_of(folder) is not None:
        return False
    return not any(json_lines.read(folder / NAME, with_bare=True).digests)


def format_of(folder: Path) -> int | None:
    """The number of the layout; None where it is not noted, or the note is damaged."""
    lines = json_lines.read(folder / _FORMAT).lines
    return int(lines[0]["format"]) if lines else None


def note_format(folder: Path) -> None:
    """Note that every line has a digest from now on."""
    if format_of(folder) != FORMAT:
        json_lines.rewrite(folder / _FORMAT, [{"format": FORMAT}])


def append_journal(folder: Path, events: Iterable[Event]) -> None:
    """Add events and wait until they are on the disk."""
    json_lines.append(folder / NAME, events, with_bare=may_be_bare(folder))


def rewrite_journal(folder: Path, events: Iterable[Event]) -> None:
    """Put other events in the place of all, in one step."""
    json_lines.rewrite(folder / NAME, events)


def tombstones_of(events: Iterable[Event]) -> list[Event]:
    """What the file of tombstones says of these events: who was forgotten, and let in again."""
    kept = {"forget": ("event", "salt", "who"), "readmit": ("event", "salt")}
    return [
        {key: event[key] for key in kept[event["event"]]}
        for event in events
        if event["event"] in kept
    ]


def examine_tombstones(folder: Path) -> Reading:
    """The file of tombstones, with what is wrong with it."""
    return json_lines.read(folder / TOMBSTONES)


def keep_tombstones(folder: Path, events: Iterable[Event]) -> None:
    """Bring the file of tombstones up to the journal."""
    told, reading = tombstones_of(events), examine_tombstones(folder)
    if told != reading.lines or reading.faults:
        json_lines.rewrite(folder / TOMBSTONES, told)


def active_loads(events: Iterable[Event], source: str | None = None) -> list[Event]:
    """Load events whose rows count, in the order in which they are laid over each other."""
    return [event for event in _standing(events)[0] if source in (None, event["source"])]


def held_loads(events: Iterable[Event], source: str | None = None) -> list[Event]:
    """Load events that wait for a person."""
    return [event for event in _standing(events)[1] if source in (None, event["source"])]


def _standing(events: Iterable[Event]) -> tuple[list[Event], list[Event]]:
    """Load events that count, and those that are held.

    What a version replaces gives way when it counts: at once, or when it is accepted. A held
    version waits no more once a later version of its file was read.
    """
    active: dict[int, Event] = {}
    held: dict[int, Event] = {}
    for event in events:
        if event["event"] == "load":
            for old in event["supersedes"]:
                held.pop(old, None)
            (active if event["state"] == "loaded" else held)[event["load_id"]] = event
        elif event["event"] == "accept":
            accepted = held.pop(event["load_id"], None)  # None: its line is lost
            if accepted is not None:
                active[event["load_id"]] = accepted
        elif event["event"] == "unload":
            active.pop(event["load_id"], None)
            held.pop(event["load_id"], None)
        if event["event"] in ("load", "accept") and event["load_id"] in active:
            for old in active[event["load_id"]]["replaces"]:
                active.pop(old, None)
    return list(active.values()), list(held.values())


def latest_readings(events: list[Event], source: str) -> list[Event]:
    """The latest reading of each content that counts or waits, in the order of reading.

    Where it is held, an earlier reading of the same content may still count; it is not read
    again before a person has decided.
    """
    latest: dict[str, Event] = {}
    for event in active_loads(events, source) + held_loads(events, source):
        earlier = latest.get(event["sha256"], event)
        latest[event["sha256"]] = max(earlier, event, key=lambda each: int(each["load_id"]))
    return sorted(latest.values(), key=lambda each: int(each["load_id"]))


def replaced_readings(events: list[Event], outdated: Event | None) -> list[int]:
    """Earlier readings of the same content that count; None: it was not read before."""
    if outdated is None:
        return []
    return [
        event["load_id"]
        for event in active_loads(events, outdated["source"])
        if event["sha256"] == outdated["sha256"]
    ]


def superseded(events: list[Event], source: str, path: str, sha256: str) -> list[int]:
    """Held versions that nobody needs to decide on any more: of the same file or content."""
    return [
        event["load_id"]
        for event in held_loads(events, source)
        if event["path"] == path or event["sha256"] == sha256
    ]


def kept_digest(load: Event) -> str:
    """Digest of what is kept of a version: its rows without forgotten clients, or its bytes."""
    return str(load.get("rows", load["sha256"]))


def next_load_id(events: Iterable[Event]) -> int:
    """The number of the version that is read next."""
    return 1 + max((int(event.get("load_id", 0)) for event in events), default=0)


def known_spellings(events: Iterable[Event]) -> dict[str, str]:
    """Id to the spelling under which an unlisted client was first met."""
    known: dict[str, str] = {}
    for event in events:
        if event["event"] == "load":
            known = event["spellings"] | known
    return known


def held_sentence(event: Event) -> str:
    """A version that waits: why, and what to do."""
    name = shlex.quote(event["path"])
    return (
        f"held back, and what was loaded before still counts: {event['held_because']}. If the file "
        f"is right as it is now, `setledger load --accept {name}`; else mend or export it again."
    )


def find_load(events: list[Event], wanted: str) -> Event:
    """The load event that a number, path or file name names: the newest if several."""
    loads = [event for event in events if event["event"] == "load"]
    if wanted.isdigit():
        found = [event for event in loads if event["load_id"] == int(wanted)]
    else:
        names = (wanted, wanted.removeprefix("./"))
        found = [event for event in loads if event["path"] in names]
        found = found or [event for event in loads if Path(event["path"]).name == wanted]
    if not found:
        raise UsageError(f"{wanted}: no such version was read; `setledger loads` lists them.")
    return found[-1]
