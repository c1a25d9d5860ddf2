"""The files that sources name: found by their glob, read whole, or refused one by one."""

from __future__ import annotations

import os
import stat
import time
from pathlib import Path

from pipeline.errors import ConfigError, ExportError, SetledgerError
from pipeline.settings.workspace import Source, Workspace


def files_of(workspace: Workspace, source: Source) -> tuple[list[Path], list[SetledgerError]]:
    """Files that a source's globs find, in order of name, and an error for each link outside."""
    root = workspace.root.resolve()
    found: list[Path] = []
    refused: list[SetledgerError] = []
    for path in sorted({path for each in source.files for path in workspace.root.glob(each)}):
        if path.resolve().is_relative_to(root):
            found.append(path)
        else:
            refused.append(
                ConfigError(
                    f"{path.relative_to(workspace.root)}: leads out of the workspace; copy the "
                    "file into exports/ instead of linking it."
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
            handle = os.open(path, os.O_RDONLY | os.O_NONBLOCK)
            with open(handle, "rb") as file:  # noqa: PTH123
                before = os.fstat(handle)
                kind = before.st_mode
                if not stat.S_ISREG(kind):
                    break
                content = file.read()
                after = os.fstat(handle)
            if _stamp(before) == _stamp(after) and after.st_size == len(content):
                return content
    except IsADirectoryError:
        kind = stat.S_IFDIR
    except FileNotFoundError as error:
        raise ExportError(f"{shown}: there is no such file.") from error
    except OSError as error:
        reason = error.strerror or str(error)
        raise ExportError(f"{shown}: cannot be read ({reason}); mend its permissions.") from error
    if stat.S_ISREG(kind):
        raise ExportError(
            f"{shown}: changes while it is read, as when it is still being copied; the next run "
            "reads it."
        )
    if stat.S_ISDIR(kind):
        raise ExportError(f"{shown}: this is a folder, not an export; name files.")
    raise ExportError(f"{shown}: this is a pipe or a device, not an export; name files.")
