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
import shutil
import time
from collections.abc import Iterator
from pathlib import Path

from pipeline.errors import BusyError, KeptVersionError

WORK = "work"
OTHER_DAY = "other-day"
OUTBOX = "outbox"
"""Folders of copies that a run makes; one that a kill left behind is removed by the next run."""
_STALE_SECONDS = 3600
_OF_RUNS = (".html.new", ".eml.new", ".jsonl.new")
"""Ends of names of files that are written under the lock only."""


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
    """Keep an export's bytes, compressed, under their digest; gives the digest.

    A copy that stands there already is looked at, and written anew if it is damaged.
    """
    import zstandard

    sha256 = digest(content)
    path = content_path(folder, sha256)
    if not path.exists() or unpacked(path) != content:
        if not path.parent.exists():
            path.parent.mkdir(mode=0o700)
            sync_folder(folder)
        packer = zstandard.ZstdCompressor(level=3, threads=2, write_checksum=True)
        write_whole(path, packer.compress(content))
    return sha256


def read_content(folder: Path, sha256: str) -> bytes:
    """The bytes of a version that was read, compared with their digest."""
    path = content_path(folder, sha256)
    content = unpacked(path)
    if content is None or digest(content) != sha256:
        how = "damaged" if path.exists() else "missing"
        raise KeptVersionError(f"{path.parent.parent.name}/{path.parent.name}/{path.name}: {how}")
    return content


def unpacked(path: Path) -> bytes | None:
    """The bytes that a kept file holds; None where they cannot be told."""
    import zstandard

    try:
        return zstandard.ZstdDecompressor().decompress(path.read_bytes())
    except (OSError, MemoryError, zstandard.ZstdError):
        return None


def kept_contents(folder: Path) -> list[str]:
    """Digests of all contents that are kept."""
    return [path.stem for path in (folder / "exports").glob("*.zst")]


def drop_content(folder: Path, sha256: str) -> None:
    """Forget an export's bytes."""
    content_path(folder, sha256).unlink(missing_ok=True)


def content_path(folder: Path, sha256: str) -> Path:
    """Where the content with a digest is kept."""
    return folder / "exports" / f"{sha256}.zst"


def write_whole(path: Path, content: bytes, mode: int = 0o600) -> None:
    """Write a file so that it is there whole or not at all: beside, flushed, renamed."""
    beside = path.with_name(f".{path.name}.new")
    with open(os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, mode), "wb") as handle:  # noqa: PTH123
        os.fchmod(handle.fileno(), mode)  # whatever the umask takes away
        handle.write(content)
        handle.flush()
        os.fsync(handle.fileno())
    publish(beside, path)


def publish(beside: Path, path: Path) -> None:
    """Put a finished file in the place of the last good one, in one step."""
    beside.replace(path)
    sync_folder(path.parent)


def sweep(root: Path, folder: Path) -> list[Path]:
    """Take away what killed writes left anywhere in a workspace; gives the paths.

    The caller holds the lock, so that nobody writes what only a run writes; other files are left
    until they are old, for a command without the lock may be at work on them.
    """
    long_ago = time.time() - _STALE_SECONDS
    left = [
        path
        for path in root.rglob(".*.new")
        if folder in path.parents or path.name.endswith(_OF_RUNS)
        or path.lstat().st_mtime < long_ago
    ]  # fmt: skip
    for path in left:
        if path.is_dir() and not path.is_symlink():
            shutil.rmtree(path, ignore_errors=True)
        else:
            path.unlink(missing_ok=True)
    return left


def sync_folder(folder: Path) -> None:
    """Wait until a folder's entries are on the disk."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
