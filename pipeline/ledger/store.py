"""The folder .setledger/, which is the truth: its lock, each content read, files written whole.

The database is derived from it. Whatever is written here is complete before it counts: written
beside, flushed to the disk and renamed.
"""

from __future__ import annotations

import contextlib
import fcntl
import hashlib
import json
import os
from collections.abc import Iterator
from pathlib import Path

from pipeline.errors import BusyError, SetledgerError

WORK = "work"
OTHER_DAY = "other-day"
OUTBOX = "outbox"
"""Folders of copies that a run makes; one that a kill left behind is removed by the next run."""


@contextlib.contextmanager
def locked(folder: Path) -> Iterator[None]:
    """Hold the workspace for one run; BusyError if another run has it."""
    folder.mkdir(mode=0o700, exist_ok=True)
    with (folder / "lock").open("a") as handle:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            raise BusyError(
                f"{folder.parent}: another setledger run is going on here; wait until it has ended."
            ) from error
        yield


def digest(content: bytes) -> str:
    """SHA-256 of a file's bytes, in hexadecimal."""
    return hashlib.sha256(content).hexdigest()


def digest_of_value(value: object) -> str:
    """SHA-256 of a value that JSON can hold."""
    return digest(json.dumps(value, ensure_ascii=False).encode())


def keep_content(folder: Path, content: bytes) -> str:
    """Keep an export's bytes, compressed, under their digest; gives the digest."""
    import zstandard

    sha256 = digest(content)
    path = _content_path(folder, sha256)
    if not path.exists():
        path.parent.mkdir(mode=0o700, exist_ok=True)
        write_whole(path, zstandard.ZstdCompressor(level=3, threads=2).compress(content))
    return sha256


def read_content(folder: Path, sha256: str) -> bytes:
    """The bytes of a version that was read."""
    import zstandard

    path = _content_path(folder, sha256)
    try:
        content = zstandard.ZstdDecompressor().decompress(path.read_bytes())
    except (OSError, zstandard.ZstdError) as error:
        raise SetledgerError(
            f"{path}: this stored export is missing or damaged; put it back from a backup, or "
            "`setledger unload` its version."
        ) from error
    if digest(content) != sha256:
        raise SetledgerError(f"{path}: this stored export is damaged; put it back from a backup.")
    return content


def kept_contents(folder: Path) -> list[str]:
    """Digests of all contents that are kept."""
    return [path.stem for path in (folder / "exports").glob("*.zst")]


def drop_content(folder: Path, sha256: str) -> None:
    """Forget an export's bytes."""
    _content_path(folder, sha256).unlink(missing_ok=True)


def _content_path(folder: Path, sha256: str) -> Path:
    return folder / "exports" / f"{sha256}.zst"


def write_whole(path: Path, content: bytes, mode: int = 0o600) -> None:
    """Write a file so that it is there whole or not at all: beside, flushed, renamed."""
    beside = path.with_name(f".{path.name}.new")
    with open(os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, mode), "wb") as handle:  # noqa: PTH123
        handle.write(content)
        handle.flush()
        os.fsync(handle.fileno())
    publish(beside, path)


def publish(beside: Path, path: Path) -> None:
    """Put a finished file in the place of the last good one, in one step."""
    beside.replace(path)
    sync_folder(path.parent)


def sync_folder(folder: Path) -> None:
    """Wait until a folder's entries are on the disk."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
