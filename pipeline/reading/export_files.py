"""The files that sources name: found by their glob, read whole, or refused one by one."""

from __future__ import annotations

import os
import time
from pathlib import Path

from pipeline.errors import ConfigError, ExportError, SetledgerError
from pipeline.files import LOOP, NO_FILE, is_within, read_bytes
from pipeline.settings.workspace import Source, Workspace


def files_of(workspace: Workspace, source: Source) -> tuple[list[Path], list[SetledgerError]]:
    """Files that a source's globs find, in order of name, and an error for each link outside."""
    root = workspace.root.resolve()
    found: list[Path] = []
    refused: list[SetledgerError] = []
    for path in sorted({path for each in source.files for path in workspace.root.glob(each)}):
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


_PAUSES = (0.0, 0.1, 0.4)
"""Seconds before each attempt at a file that changes."""


def _stamp(found: os.stat_result) -> tuple[int, int]:
    return found.st_size, found.st_mtime_ns


def content_of(path: Path, shown: str) -> bytes:
    """The bytes of a file. Raises ExportError, in one sentence, if it is none or cannot be read.

    A pipe or a device is refused before it is opened: reading it might never end. A file that
    changes while it is read is read again, and passed over if it does not come to rest.
    """
    try:
        for pause in _PAUSES:
            time.sleep(pause)
            before = path.stat()
            content = read_bytes(path)
            after = path.stat()
            if _stamp(before) == _stamp(after) and after.st_size == len(content):
                return content
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
    raise ExportError(
        f"{shown}: changes while it is read, as when it is still being copied; the next run "
        "reads it."
    )
