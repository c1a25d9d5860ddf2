"""The files of a source as exports to be read; a file or name that two sources claim is refused."""

from __future__ import annotations

import contextlib
from collections.abc import Sequence
from pathlib import Path

from pipeline.errors import ConfigError, ExportError, SetledgerError
from pipeline.ledger import store
from pipeline.ledger.versions import Export
from pipeline.reading.export_files import content_of, files_of
from pipeline.settings.mapping import Mapping
from pipeline.settings.mapping_file import read_mapping
from pipeline.settings.workspace import Source, Workspace


def refuse_shared_name(names: dict[str, str], mapping: Mapping, source: Source) -> None:
    """ConfigError if another mapping has the name; `names` gathers name to mapping file."""
    other = names.setdefault(mapping.name, source.mapping)
    if other != source.mapping:
        raise ConfigError(
            f"{source.mapping}: the name '{mapping.name}' is also that of {other}; each mapping "
            "needs a name of its own."
        )


def read_files(
    workspace: Workspace, source: Source, taken: dict[Path, str], joined: Sequence[Path] = ()
) -> tuple[list[Export], list[SetledgerError]]:
    """Contents of a source's files; a file that cannot be opened is an error beside.

    `joined` are files of its shape that its globs do not find.
    """
    exports: list[Export] = []
    paths, errors = files_of(workspace, source)
    paths += joined
    for path in paths:
        shown = str(path.relative_to(workspace.root))
        other = taken.setdefault(path, source.mapping)
        if other != source.mapping:
            errors.append(
                ConfigError(
                    f"{shown}: two [[sources]] cover this file, with {other} and "
                    f"{source.mapping}; narrow one of the two globs."
                )
            )
            continue
        try:
            content = content_of(path, shown)
        except ExportError as error:
            errors.append(error)
        else:
            exports.append(Export(shown, content, store.digest(content)))
    return exports, errors


def readable_mappings(workspace: Workspace) -> list[tuple[Source, Mapping]]:
    """The sources whose mapping can be read; what is wrong with the others is said elsewhere."""
    found = []
    for source in workspace.sources:
        with contextlib.suppress(ConfigError):
            found.append((source, read_mapping(workspace.root / source.mapping, source.mapping)))
    return found
