"""Files in exports/ that no source's globs find: each joins a source of its shape, or is named."""

from __future__ import annotations

import shlex
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from fnmatch import fnmatchcase
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.errors import ExportError, KeptVersionError
from pipeline.ledger import journal, store, versions
from pipeline.ledger.forgotten import Forgotten
from pipeline.ledger.journal import Event
from pipeline.names.clients import plain
from pipeline.reading.export import Export as ReadExport
from pipeline.reading.export import read_export
from pipeline.reading.export_files import content_of, files_of
from pipeline.reading.file_names import name_in
from pipeline.reading.whose import name_of_client
from pipeline.settings.mapping import Mapping
from pipeline.settings.workspace import CONFIG_NAME, Source, Workspace, catalogue_of

if TYPE_CHECKING:
    from datetime import date

    from pipeline.drafting.shapes import Candidate, Known

_IGNORE = f"If it is no export, name it under [workspace] ignore in {CONFIG_NAME} or move it away."


@dataclass
class Strays:
    """What becomes of the files that no glob finds."""

    joined: dict[str, list[Path]] = field(default_factory=dict)
    """Mapping file to the files that its source reads besides."""
    notes: list[str] = field(default_factory=list)
    """A sentence for each file that joins a source for the first time."""
    waiting: list[str] = field(default_factory=list)
    """Paths of the tables that wait for a mapping."""
    refused: list[str] = field(default_factory=list)
    """A sentence for each file that is no table, or cannot be read."""

    @property
    def problems(self) -> list[str]:
        """What needs a person, in sentences."""
        if not self.waiting:
            return self.refused
        is_one = len(self.waiting) == 1
        command = shlex.join(["setledger", "draft-mapping", *self.waiting])
        told = (
            f"{', '.join(self.waiting)}: no source reads {'this file' if is_one else 'these files'}"
            f"; {'it waits' if is_one else 'they wait'} for a mapping, and `{command}` writes "
            f"{'it' if is_one else 'one for each shape'}."
        )
        return [*self.refused, told]


def find_strays(
    workspace: Workspace,
    events: list[Event],
    mappings: Sequence[tuple[Source, Mapping]],
    tomorrow: date,
) -> Strays:
    """Looks at each file in exports/ that no glob finds; setledger.toml stays as it is.

    `mappings` are the sources whose mapping can be read. A file that joined before and has not
    changed stays with its source.
    """
    strays = Strays()
    paths = list(_unfound(workspace))
    if not paths:
        return strays
    passed_over = Forgotten.of(events).passed_over
    by_name = {mapping.name: source.mapping for source, mapping in mappings}
    readers: list[_Reader] | None = None
    for path in paths:
        shown = str(path.relative_to(workspace.root))
        try:
            content = _content(workspace, path, shown)
        except ExportError as error:
            strays.refused.append(f"{error} {_IGNORE}")
            continue
        sha256 = store.digest(content)
        if sha256 in passed_over:
            continue
        before = [
            each["source"]
            for each in events
            if each["event"] == "load" and (each["path"], each["sha256"]) == (shown, sha256)
        ]
        if before and before[-1] in by_name:
            strays.joined.setdefault(by_name[before[-1]], []).append(path)
            continue
        if readers is None:
            readers = [_Reader(workspace, events, *each) for each in mappings]
        try:
            fitting = _fitting(workspace, path, shown, content, readers, tomorrow)
        except ExportError as error:
            strays.refused.append(f"{error} {_IGNORE}")
            continue
        if len(fitting) != 1:
            strays.waiting.append(shown)
            continue
        mapping = fitting[0].source.mapping
        strays.joined.setdefault(mapping, []).append(path)
        strays.notes.append(
            f"{shown}: has the shape of what {mapping} reads, and is read with it; if that is "
            f"wrong, `{shlex.join(['setledger', 'draft-mapping', shown])}` gives it a mapping of "
            "its own."
        )
    return strays


def _unfound(workspace: Workspace) -> Iterator[Path]:
    """Files in exports/ that no source finds and nobody ignores."""
    found = {
        path
        for source in workspace.sources
        for pattern in source.files
        for path in workspace.root.glob(pattern)
    }
    folder = workspace.root / "exports"
    for path in sorted(folder.rglob("*")):
        parts = path.relative_to(folder).parts
        is_left = any(part.startswith((".", "~$")) for part in parts)
        shown = str(path.relative_to(workspace.root))
        is_ignored = any(fnmatchcase(shown, pattern) for pattern in workspace.ignore)
        if path not in found and not is_left and not is_ignored and not path.is_dir():
            yield path


def _content(workspace: Workspace, path: Path, shown: str) -> bytes:
    if not path.resolve().is_relative_to(workspace.root.resolve()):
        raise ExportError(
            f"{shown}: leads out of the workspace; copy the file into exports/ instead of linking "
            "it."
        )
    return content_of(path, shown)


def _fitting(
    workspace: Workspace,
    path: Path,
    shown: str,
    content: bytes,
    readers: Iterable[_Reader],
    tomorrow: date,
) -> list[_Reader]:
    """The sources that the file may join. ExportError if it is no table."""
    from pipeline.drafting.shapes import candidate_of
    from pipeline.drafting.sniffer import sniff

    header = sniff(content, shown).export.written_header
    alike = [each for each in readers if each.known and each.known.header == header]
    if not alike:
        return []
    try:
        candidate = candidate_of(
            path, shown, content, catalogue_of(workspace), workspace.rules, tomorrow
        )
    except ExportError:
        return []
    return [each for each in alike if each.takes(candidate)]


class _Reader:
    """A source, and what its files so far are like."""

    def __init__(
        self, workspace: Workspace, events: list[Event], source: Source, mapping: Mapping
    ) -> None:
        self.source, self.mapping = source, mapping
        loads = journal.active_loads(events, mapping.name)
        present = [
            (str(path.relative_to(workspace.root)), path) for path in files_of(workspace, source)[0]
        ]
        self.paths = [shown for shown, _ in present] + [each["path"] for each in loads]
        read = next(self._read(workspace, present, loads), None)
        self.known: Known | None = None
        if read is not None:
            from pipeline.drafting.shapes import Known

            self.known = Known(mapping, read.written_header, read.delimiter)

    def _read(
        self, workspace: Workspace, present: list[tuple[str, Path]], loads: list[Event]
    ) -> Iterator[ReadExport]:
        """Exports of the source that can be read: of those in exports/, else of those kept."""
        for shown, path in present:
            try:
                yield self._as_mapped(content_of(path, shown), shown)
            except ExportError:
                continue
        for event in reversed(loads):
            if "rows" not in event:
                try:
                    content = versions.kept_content(workspace.store, event, [])
                    yield self._as_mapped(content, event["path"])
                except (ExportError, KeptVersionError):
                    continue

    def _as_mapped(self, content: bytes, shown: str) -> ReadExport:
        return read_export(content, self.mapping.file, shown, self.mapping.column_names)

    def takes(self, candidate: Candidate) -> bool:
        """Whether a file is of this source's shape, and it can be told whose it is."""
        from pipeline.drafting.shapes import is_of_shape

        mapping = self.mapping
        is_told = mapping.is_named_by_file or mapping.client_label is not None
        if is_told:
            name = name_of_client(candidate.draft.sniffed.export, mapping)
            known = {name_in(path, mapping.name_words) for path in self.paths}
        else:
            name = name_in(candidate.shown)
            known = {name_in(path) for path in self.paths}
        is_known = plain(name) in {plain(each) for each in known}
        if not (is_told or "client" in mapping.columns or is_known):
            return False  # the mapping would take it for somebody else's
        assert self.known is not None, "asked only where the header is known"
        return is_of_shape(self.known, candidate, is_known_client=is_known)
