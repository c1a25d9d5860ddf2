"""A version of an export: a file's content, how it is read, how it is kept and read again."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

import polars as pl

from pipeline.errors import KeptVersionError
from pipeline.ledger import kept_rows, store
from pipeline.ledger.forgotten import Forgotten, without
from pipeline.ledger.journal import Event, kept_digest
from pipeline.names.clients import ClientIndex
from pipeline.reading.export import READER_VERSION, read_export
from pipeline.reading.normalise import Normalised, normalise
from pipeline.reading.reasons import NO_FAULTS
from pipeline.settings.mapping import Mapping
from pipeline.settings.mapping_file import parse_mapping
from pipeline.settings.rules import Rules
from pipeline.settings.workspace import Workspace

_READING_RULES = ("reps_max", "load_max_kg", "rir_max")


@dataclass(frozen=True)
class Context:
    """What besides file and mapping decides how a line is read: client spellings and limits."""

    clients: tuple[tuple[str, str, tuple[str, ...]], ...]
    limits: tuple[tuple[str, float], ...]

    @classmethod
    def of(cls, workspace: Workspace) -> Context:
        """The context that a workspace gives."""
        return cls(
            clients=tuple((each.id, each.name, each.aliases) for each in workspace.clients),
            limits=tuple((name, getattr(workspace.rules, name)) for name in _READING_RULES),
        )

    @classmethod
    def from_event(cls, event: Event) -> Context:
        """The context as a journal line keeps it."""
        return cls(
            clients=tuple((one, name, tuple(also)) for one, name, also in event["clients"]),
            limits=tuple((name, value) for name, value in event["limits"]),
        )

    @property
    def sha256(self) -> str:
        """Digest of the context."""
        return store.digest_of_value([self.clients, self.limits])

    def rules(self) -> Rules:
        """Rules with these limits."""
        return Rules(**dict(self.limits))


@dataclass(frozen=True)
class Version:
    """One way of reading one source: mapping, period and context."""

    mapping: Mapping
    from_on: date | None
    until_on: date | None
    context: Context

    @property
    def sha256(self) -> str:
        """Digest of all that decides how a file is read, the reader's version included."""
        return store.digest_of_value(
            [
                self.mapping.sha256,
                str(self.from_on),
                str(self.until_on),
                self.context.sha256,
                READER_VERSION,
            ]
        )


@dataclass(frozen=True)
class Export:
    """A file to be read: where it stands and what is in it."""

    path: str
    content: bytes
    sha256: str


def read_version(
    export: Export, version: Version, today: date, known: dict[str, str]
) -> Normalised:
    """One file's content as sets and lines set aside, not yet numbered.

    `known` holds the spellings under which unlisted clients are known from earlier files.
    """
    return normalise(
        read_export(
            export.content,
            version.mapping.file,
            export.path,
            version.mapping.column_names,
        ),
        version.mapping,
        0,
        ClientIndex.of(version.context.clients, known),
        today + timedelta(days=1),
        version.context.rules(),
        (version.from_on, version.until_on),
    )


def share_set_aside(rows: Normalised) -> float:
    """Share of the lines read that are damaged; holds, and days outside the period, are not."""
    damaged = rows.set_aside.filter(~pl.col("reason").is_in(list(NO_FAULTS))).height
    return damaged / rows.lines_read if rows.lines_read else 0.0


# What the journal says of a version


def mapping_event(mapping: Mapping) -> Event:
    """The journal line that keeps a mapping."""
    return {
        "event": "mapping", "sha256": mapping.sha256, "path": mapping.path, "text": mapping.text
    }  # fmt: skip


def context_event(context: Context) -> Event:
    """The journal line that keeps a context."""
    return {
        "event": "context", "sha256": context.sha256, "clients": context.clients,
        "limits": context.limits,
    }  # fmt: skip


# Kept versions


def keep(folder: Path, export: Export, rows: Normalised, salts: list[str]) -> Event:
    """Keep what a version is made from; gives what its journal line says of it.

    These are its bytes, or its rows alone if lines of forgotten clients (`salts`) were in it.
    """
    if not rows.is_partial:
        store.keep_content(folder, export.content)
        return {}
    return {"rows": keep_rows(folder, rows), "forgotten": salts}


def keep_rows(folder: Path, rows: Normalised) -> str:
    """Keep the rows of a version in place of its bytes; gives their digest."""
    return store.keep_content(folder, kept_rows.pack(rows))


def kept_export(
    folder: Path, event: Event, exports: list[Export], said: list[str] | None = None
) -> Export | None:
    """A content that was read before, to be read in another way.

    Of an export that held lines of a forgotten client only the rows of the others are kept; it can
    be read anew only while its file is there. Else its rows stay as they were read.
    """
    if "rows" not in event:
        content = kept_content(folder, event, [], said)
        return Export(event["path"], content, event["sha256"])
    return next((export for export in exports if export.sha256 == event["sha256"]), None)


def read_again(
    folder: Path, event: Event, events: list[Event], said: list[str] | None = None
) -> Normalised:
    """A version of the journal, read again from what is kept of it, as it was read then.

    A kept copy that is damaged is written again from the equal file in exports/, and `said` tells
    so; KeptVersionError where there is none.
    """
    content = kept_content(folder, event, events, said)
    if "rows" in event:
        return kept_rows.unpack(content).numbered(event["load_id"])
    return _read_as_then(event, content, events)


def _read_as_then(event: Event, content: bytes, events: list[Event]) -> Normalised:
    """A content read with the mapping, the period and the clients of its journal line."""
    kept = {(each["event"], each.get("sha256")): each for each in events}
    mapping = kept["mapping", event["mapping"]]
    version = Version(
        parse_mapping(mapping["text"], mapping["path"]),
        date.fromisoformat(event["from"]) if event["from"] else None,
        date.fromisoformat(event["until"]) if event["until"] else None,
        Context.from_event(kept["context", event["context"]]),
    )
    export = Export(event["path"], content, event["sha256"])
    today = date.fromisoformat(event["today"])
    return read_version(export, version, today, event["known"]).numbered(event["load_id"])


def kept_content(
    folder: Path, event: Event, events: list[Event], said: list[str] | None = None
) -> bytes:
    """What is kept of a version, verified; where it is damaged, from the equal file in exports/.

    `events` is the journal, by which the rows of a version that held a forgotten client's lines
    are made again.
    """
    try:
        return store.read_content(folder, kept_digest(event))
    except KeptVersionError as error:
        found = equal_file(folder.parent, event)
        content = None if found is None else found[1]
        if content is not None and "rows" in event:
            content = _packed_again(event, content, events)
        if found is None or content is None:
            raise KeptVersionError(
                f"{event['path']} (load {event['load_id']}): the kept copy of this version cannot "
                f"be read ({error}), and no file in exports/ is its equal. Put one of them back "
                f"from a backup, or `setledger unload {event['load_id']}` takes this version back."
            ) from error
        store.keep_content(folder, content)
        if said is not None:
            where = found[0].relative_to(folder.parent)
            said.append(
                f"{event['path']} (load {event['load_id']}): the kept copy was damaged or missing "
                f"and is made again from {where}."
            )
        return content


def equal_file(root: Path, event: Event) -> tuple[Path, bytes] | None:
    """The file in exports/ that holds what a version was read from, if there is one."""
    folder = root / "exports"
    for path in (root / event["path"], *sorted(folder.rglob("*"))):
        try:
            if path.is_file() and path.stat().st_size == event["bytes"]:
                content = path.read_bytes()
                if store.digest(content) == event["sha256"]:
                    return path, content
        except OSError:
            continue
    return None


def _packed_again(event: Event, content: bytes, events: list[Event]) -> bytes | None:
    """The rows that are kept in place of a content; None where they come out otherwise now."""
    salts = set(event.get("forgotten", ()))
    tombs = [each for each in events if each["event"] == "forget" and each["salt"] in salts]
    rows = without(_read_as_then(event, content, events), Forgotten.of(tombs))
    packed = kept_rows.pack(rows)
    return packed if store.digest(packed) == event["rows"] else None


def drop_unneeded(folder: Path, events: Iterable[Event]) -> None:
    """Drop what is kept and what no load of the journal rests on any more."""
    needed = {kept_digest(event) for event in events if event["event"] == "load"}
    for sha256 in store.kept_contents(folder):
        if sha256 not in needed:
            store.drop_content(folder, sha256)
