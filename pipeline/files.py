"""Files as they may lie in a workspace: read only where they are files, whatever links lead to."""

from __future__ import annotations

import errno
import os
import re
import stat
from pathlib import Path


def read_bytes(path: Path) -> bytes:
    """The bytes of a file. OSError also for a pipe or a device: reading it might never end."""
    handle = os.open(path, os.O_RDONLY | os.O_NONBLOCK)
    with open(handle, "rb") as file:  # noqa: PTH123
        kind = os.fstat(handle).st_mode
        if stat.S_ISDIR(kind):
            raise IsADirectoryError(errno.EISDIR, FOLDER, str(path))
        if not stat.S_ISREG(kind):
            raise OSError(errno.EINVAL, NO_FILE, str(path))
        return file.read()


def read_text(path: Path, encoding: str = "utf-8") -> str:
    """The text of a file, its lines ended by a line feed; OSError and UnicodeDecodeError."""
    text = read_bytes(path).decode(encoding)
    return text.replace("\r\n", "\n").replace("\r", "\n")


def lines_of(text: str) -> list[str]:
    """The lines of a text as an editor counts them, without their ends.

    str.splitlines ends a line at a form feed or a next-line mark in the middle of a value, too.
    """
    lines = re.split(r"\r\n|\r|\n", text)
    return lines[:-1] if lines[-1] == "" else lines


def what_is_odd(path: Path, *, is_folder: bool) -> str | None:
    """Why what stands in the place of a file or a folder is none; None: it is one, or absent."""
    try:
        kind = path.stat().st_mode
    except OSError as error:
        if error.errno == errno.ELOOP:
            return LOOP
        return NOWHERE if path.is_symlink() else None
    if is_folder:
        return None if stat.S_ISDIR(kind) else NO_FOLDER
    if stat.S_ISDIR(kind):
        return FOLDER
    return None if stat.S_ISREG(kind) else NO_FILE


def is_within(path: Path, root: Path) -> bool | None:
    """Whether a path stays below a folder, links followed; None where links go in a circle."""
    try:
        return path.resolve().is_relative_to(root)
    except (OSError, RuntimeError):  # RuntimeError up to Python 3.12
        return None


NO_FILE = "this is a pipe or a device, not a file"
FOLDER = "this is a folder, not a file"
NO_FOLDER = "this is no folder"
LOOP = "this link leads back to itself"
NOWHERE = "this link leads nowhere"
