"""The files that sources name: found by their glob, read whole, or refused one by one."""

from __future__ import annotations

from pathlib import Path

from pipeline.errors import ConfigError, ExportError, SetledgerError
from pipeline.files import LOOP, NO_FILE, is_within, read_bytes
from pipeline.settings.workspace import Source, Workspace


def files_of(workspace: Workspace, source: Source) -> tuple[list[Path], list[SetledgerError]]:
    """Files that a source's glob finds, in order of name, and an error for each link outside."""
    root = workspace.root.resolve()
    found: list[Path] = []
    refused: list[SetledgerError] = []
    for path in sorted(workspace.root.glob(source.files)):
        is_inside = is_within(path, root)
        if is_inside:
            found.append(path)
            continue
        where = LOOP if is_inside is None else "leads out of the workspace"
        refused.append(
            ConfigError(
                f"{path.relative_to(workspace.root)}: {where}; copy the file into exports/ instead "
                "of linking it."
            )
        )
    return found, refused


def content_of(path: Path, shown: str) -> bytes:
    """The bytes of a file. Raises ExportError, in one sentence, if it is none or cannot be read.

    A pipe or a device is refused before it is opened: reading it might never end.
    """
    try:
        return read_bytes(path)
    except FileNotFoundError as error:
        raise ExportError(f"{shown}: there is no such file.") from error
    except OSError as error:
        if isinstance(error, IsADirectoryError):
            reason = "this is a folder, not an export; name files."
        elif error.strerror == NO_FILE:
            reason = "this is a pipe or a device, not an export; name files."
        else:
            reason = f"cannot be read ({error.strerror or error}); mend its permissions."
        raise ExportError(f"{shown}: {reason}") from error
