"""Files of one JSON object a line, read and written here only: journal, sent log, tombstones.

Each line ends with its running number and a digest of all before it, so that a line that was
changed, moved or taken out is seen. A line counts once its end is on the disk; what a kill cut
short is taken away by the next writing.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import count
from pathlib import Path
from typing import Any

from pipeline.ledger import store

Line = dict[str, Any]
_NUMBER, _DIGEST = "n", "digest"
_MARK = f', "{_DIGEST}": "'.encode()


@dataclass
class Reading:
    """What a file holds: its sound lines, and what is wrong with the others."""

    lines: list[Line] = field(default_factory=list)
    """In the order of their numbers, without number and digest."""
    digests: list[str] = field(default_factory=list)
    """The digest of each; empty for a line that has none."""
    faults: list[str] = field(default_factory=list)
    """Each in a few words: "line 3 is altered"."""
    rest: bytes = b""
    """What stands after the last line end: a write that was cut short."""
    last: int = 0
    """Number of the last line."""

    @property
    def is_bare(self) -> bool:
        """Whether there are lines, and none of them has a digest."""
        return bool(self.lines) and not any(self.digests)


def read(path: Path, *, with_bare: bool = False) -> Reading:
    """All that a file holds; nothing where there is no file.

    `with_bare`: lines without a digest are sound, as the first version of the tool wrote them.
    """
    if not path.exists():
        return Reading()
    try:
        *texts, rest = path.read_bytes().split(b"\n")
    except OSError as error:
        return Reading(faults=[f"it cannot be read ({error.strerror})"])
    found: dict[int, tuple[Line, str]] = {}
    reading = Reading(rest=rest)
    expected = 1
    for place, text in enumerate(texts, start=1):
        line, number, digest = _parsed(text, expected if with_bare else None)
        if line is None:
            reading.faults.append(f"line {place} is altered")
            expected += 1
            continue
        if number > expected:
            missing = range(expected, number)
            reading.faults.append(
                f"line {expected} is missing" if len(missing) == 1
                else f"lines {expected} to {number - 1} are missing"
            )  # fmt: skip
        elif number < expected:
            reading.faults.append(f"line {place} stands in the wrong place")
        found.setdefault(number, (line, digest))
        expected = max(expected, number) + 1
    for number in sorted(found):
        line, digest = found[number]
        reading.lines.append(line)
        reading.digests.append(digest)
    reading.last = expected - 1
    return reading


def _parsed(text: bytes, bare_number: int | None) -> tuple[Line | None, int, str]:
    """A line with its number and digest; None where it is not as it was written."""
    content, mark, end = text.rpartition(_MARK)
    try:
        line = json.loads(text)
        if not isinstance(line, dict):
            return None, 0, ""
        digest = line.pop(_DIGEST, None)
        if digest is None and bare_number is not None:
            return line, bare_number, ""
        number = line.pop(_NUMBER, None)
    except ValueError:
        return None, 0, ""
    is_sound = bool(mark) and end == f'{_digest(content)}"}}'.encode() and isinstance(number, int)
    return (line, number, digest) if is_sound else (None, 0, "")


def _digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()[:32]


def _written(line: Line, number: int) -> tuple[bytes, str]:
    """A line as it stands in a file, and its digest."""
    content = json.dumps(line | {_NUMBER: number}, ensure_ascii=False).encode()[:-1]
    digest = _digest(content)
    return content + _MARK + digest.encode() + b'"}\n', digest


def digest_of(line: Line, number: int) -> str:
    """The digest that a line has under a number."""
    return _written(line, number)[1]


def append(path: Path, lines: Iterable[Line], *, with_bare: bool = False) -> None:
    """Add lines and wait until they are on the disk; damage that stands there stays to be seen."""
    added = list(lines)
    if not added:
        return
    reading = read(path, with_bare=with_bare)
    if reading.lines and not all(reading.digests):
        rewrite(path, [*reading.lines, *added])
        return
    is_new = not path.exists()
    data = b"".join(_written(line, number)[0] for line, number in zip(
        added, count(reading.last + 1), strict=False))  # fmt: skip
    with path.open("r+b" if not is_new else "x+b") as handle:
        whole = handle.read()
        if reading.faults and reading.rest:
            data = b"\n" + data
            handle.seek(len(whole))
        else:
            handle.seek(whole.rfind(b"\n") + 1)
            handle.truncate()
        handle.write(data)
        handle.flush()
        os.fsync(handle.fileno())
    if is_new:
        path.chmod(0o600)
        store.sync_folder(path.parent)


def rewrite(path: Path, lines: Iterable[Line]) -> None:
    """Put other lines in the place of all that a file holds, in one step."""
    numbered = zip(lines, count(1), strict=False)
    store.write_whole(path, b"".join(_written(line, number)[0] for line, number in numbered))
