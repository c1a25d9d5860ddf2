"""Files of one JSON object a line, read and written here only: the journal and the sent log.

A line counts once its end is on the disk; what a kill cut short is taken away by the next writing.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from pipeline.errors import SetledgerError
from pipeline.ledger import store

Line = dict[str, Any]


def read(path: Path) -> list[Line]:
    """All complete lines of a file, none where there is no file."""
    if not path.exists():
        return []
    *lines, _rest = path.read_bytes().split(b"\n")
    try:
        return [json.loads(line) for line in lines]
    except ValueError as error:
        raise SetledgerError(
            f"{path}: this journal holds a line that is no JSON; put it back from a backup."
        ) from error


def append(path: Path, lines: Iterable[Line]) -> None:
    """Add lines and wait until they are on the disk."""
    data = _text(lines)
    if not data:
        return
    is_new = not path.exists()
    with path.open("r+b" if not is_new else "x+b") as handle:
        whole = handle.read()
        handle.seek(whole.rfind(b"\n") + 1)
        handle.truncate()
        handle.write(data)
        handle.flush()
        os.fsync(handle.fileno())
    if is_new:
        store.sync_folder(path.parent)


def rewrite(path: Path, lines: Iterable[Line]) -> None:
    """Put other lines in the place of all that a file holds, in one step."""
    store.write_whole(path, _text(lines))


def _text(lines: Iterable[Line]) -> bytes:
    return "".join(json.dumps(line, ensure_ascii=False) + "\n" for line in lines).encode()
