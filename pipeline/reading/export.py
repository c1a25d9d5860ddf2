"""From the bytes of an export to its text and dialect, and the columns that a mapping names."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

import polars as pl

from pipeline.errors import ConfigError, ExportError
from pipeline.reading.cells import shortened
from pipeline.reading.dialect import (
    QUOTE_REACH,
    USUAL_LINES,
    distinct_names,
    header_name,
    layout,
    record,
    usual_width,
)
from pipeline.reading.encoding import CUT, LONGEST_LINE, as_utf8, refuse_other_kinds
from pipeline.reading.records import read_records
from pipeline.settings.mapping import SIDE_MARK, FileFormat

READER_VERSION = 5
"""Part of what makes a version: a reader that reads otherwise reads every export again."""


@dataclass(frozen=True)
class Export:
    """An export as text: nothing is interpreted yet."""

    records: pl.DataFrame
    """`source_line` (Int32, from 1) and one String column per export column; null: empty."""
    header: tuple[str, ...]
    """Names of the columns in `records`: as written, doubles numbered, blanks "column_3"."""
    written_header: tuple[str, ...]
    """The names as the file has them, in the same order."""
    encoding: str
    delimiter: str
    quote: str
    """The quote character; empty: none."""
    lines_read: int
    """Records after the header with a cell that is not empty."""
    lines_skipped: int
    """Preamble lines, the header and blank lines."""
    set_aside: pl.DataFrame
    """Records whose cells cannot be told: source_line, cells (JSON), reason, explanation."""
    shown: str
    """The file's name in messages."""
    preamble: tuple[str, ...] = ()
    """The lines before the header that hold something."""

    @cached_property
    def _places(self) -> dict[str, list[int]]:
        """Each name as written, with where it stands."""
        places: dict[str, list[int]] = {}
        for at, name in enumerate(self.written_header):
            places.setdefault(name, []).append(at)
        return places

    def column(self, name: str, key: str) -> str:
        """The column of `records` that a mapping calls `name`; `key` is what names it there.

        Raises ConfigError if the file has no such column, or several of that name.
        """
        wanted = header_name(name)
        places = self._places.get(wanted, [])
        if len(places) == 1:
            return self.header[places[0]]
        if not places and wanted in self.header:
            return wanted
        if places:
            numbered = " or ".join(f"'{self.header[at]}'" for at in places)
            raise ConfigError(
                f"{key} = {name!r}: {self.shown} has {len(places)} columns of that name; "
                f"write {numbered}, counted from the left."
            )
        raise ConfigError(
            f"{key} = {name!r}: {self.shown} has no such column "
            f"(found: {_listed(self.written_header)})."
        )

    def columns_of(self, pattern: str, key: str, sides: Iterable[str]) -> dict[int | str, str]:
        """Columns of a pattern with {n} or {side}: what stands for the mark to the column."""
        if SIDE_MARK in pattern:
            return dict(self.sided(pattern, key, sides).items())
        return dict(self.numbered(pattern, key).items())

    def sided(self, pattern: str, key: str, sides: Iterable[str]) -> dict[str, str]:
        """Columns of a pattern such as "reps {side}": the word of the side to the column."""
        before, after = pattern.split(SIDE_MARK, 1)
        found = {}
        for side in sides:
            wanted = header_name(f"{before}{side}{after}").casefold()
            names = [each for each in self.written_header if each.casefold() == wanted]
            if names:
                found[side] = self.column(names[0], key)
        if len(found) < 2:
            raise ConfigError(
                f"{key} = {pattern!r}: {self.shown} has no two columns of that pattern, one a side "
                f"(found: {_listed(self.written_header)}); [values.side] says which words are left "
                "and right."
            )
        return found

    def others(self, pattern: str, mark: str, key: str, besides: Iterable[str]) -> dict[str, str]:
        """Columns of a pattern, but for some: what stands for the mark to the column."""
        before, after = (header_name(part, strip=False) for part in pattern.split(mark, 1))
        shape = re.compile(re.escape(before) + "(.+)" + re.escape(after))
        left_out = {header_name(each) for each in besides}
        found = {
            match[1]: name
            for written, name in zip(self.written_header, self.header, strict=True)
            if not {written, name} & left_out and (match := shape.fullmatch(written))
        }
        if not found:
            raise ConfigError(
                f"{key} = {pattern!r}: {self.shown} has no column of that pattern "
                f"(found: {_listed(self.written_header)})."
            )
        return found

    def numbered(self, pattern: str, key: str) -> dict[int, str]:
        """Columns of a numbered pattern such as "kg{n}": n to the column of `records`."""
        before, after = (header_name(part, strip=False) for part in pattern.split("{n}", 1))
        shape = re.compile(re.escape(before) + r"0*([0-9]{1,6})" + re.escape(after))
        found: dict[int, str] = {}
        for name in dict.fromkeys((*self.written_header, *self.header)):
            match = shape.fullmatch(name)
            if match and int(match[1]) not in found:
                found[int(match[1])] = self.column(name, key)
        if not found:
            raise ConfigError(
                f"{key} = {pattern!r}: {self.shown} has no column of that pattern "
                f"(found: {_listed(self.written_header)})."
            )
        return found


def read_export(
    data: bytes, file_format: FileFormat, shown: str, wanted: Sequence[str] = ()
) -> Export:
    """The records of an export.

    `shown` is the file's name in messages. `wanted` are the column names (or numbered patterns)
    of the mapping: they tell the header from a preamble and the delimiter from other characters.
    Raises ExportError in one sentence if the bytes are no delimited text.
    """
    refuse_other_kinds(data, shown)
    content, encoding, damaged = as_utf8(data, file_format.encoding, shown)
    if b"\r" in content:
        content = content.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    if not content.strip():
        raise ExportError(f"{shown}: the file is empty.")
    head = _head(content)
    dialect, first = layout(head, file_format, wanted)
    if first >= len(head):
        raise ExportError(
            f"{shown}: nothing is left after skip_rows = {file_format.skip_rows} lines."
        )
    if file_format.header:
        cells, last = record(head, first, dialect) or (head[first].split(dialect.delimiter), first)
        written, after = tuple(header_name(cell) for cell in cells), last + 1
        preamble = first + 1
    else:
        width = usual_width(head[first:], dialect)
        written, after = tuple(f"column_{n}" for n in range(1, width + 1)), first
        preamble = first
    if any(CUT in cell for cell in written):
        raise ExportError(
            f"{shown}: the line of its header is longer than {LONGEST_LINE:,} bytes; this is no "
            "log, or its line ends were lost."
        )
    header = distinct_names(written)
    read = read_records(_from_line(content, after), after, header, dialect, damaged)
    return Export(
        records=read.records,
        header=header,
        written_header=written,
        encoding=encoding,
        delimiter=dialect.delimiter,
        quote=dialect.quote,
        lines_read=read.records.height + read.set_aside.height,
        lines_skipped=preamble + read.blanks,
        set_aside=read.set_aside,
        shown=shown,
        preamble=tuple(line for line in head[:first] if line.strip()),
    )


def _head(content: bytes) -> list[str]:
    """The first lines, enough to know the layout and to close a header over several lines."""
    end = -1
    for _ in range(USUAL_LINES + QUOTE_REACH):
        following = content.find(b"\n", end + 1)
        if following < 0:
            return content.decode("utf-8").removesuffix("\n").split("\n")
        end = following
    return content[:end].decode("utf-8").split("\n")


def _from_line(content: bytes, line: int) -> bytes:
    """The content from a line on, counted from 0."""
    at = 0
    for _ in range(line):
        at = content.find(b"\n", at) + 1
        if not at:
            return b""
    return content[at:]


def _listed(names: Sequence[str]) -> str:
    shown = ", ".join(shortened(name, 40) or "(blank)" for name in names[:40])
    return shown + (f" and {len(names) - 40} more" if len(names) > 40 else "")
