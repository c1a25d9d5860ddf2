"""From the bytes of an export to records: cells as text, each with its physical line.

The common file is one polars read with quoting off. Lines whose cells are quoted by the book
(RFC 4180) are read in a second batch with quoting on. Only what is left, records over several
lines and damaged ones, goes through the small parser in `_record`.
"""

from __future__ import annotations

import codecs
import io
import json
import re
import unicodedata
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import polars as pl

from pipeline.errors import ConfigError, ExportError
from pipeline.mapping import FileFormat
from pipeline.reasons import Reason

READER_VERSION = 1
"""Part of what makes a version: a reader that reads otherwise reads every export again."""

QUOTE_REACH = 100
"""Lines after the one that opens a quote in which it must close."""

DELIMITERS = (";", "\t", "|", ",")
"""What separates cells, in the order that decides between equals."""

SET_ASIDE_SCHEMA = {
    "source_line": pl.Int32(),
    "cells": pl.String(),
    "reason": pl.String(),
    "explanation": pl.String(),
}

_HEAD_LINES = 200
_HEADER_WITHIN = 60
_EXTRA_COLUMNS = 64
_MAGIC = (
    (b"\x1f\x8b", "a gzip archive"),
    (b"PK\x03\x04", "a zip archive or a spreadsheet workbook"),
    (b"PK\x05\x06", "an empty zip archive"),
    (b"\x28\xb5\x2f\xfd", "a zstd archive"),
    (b"\xfd7zXZ\x00", "an xz archive"),
    (b"BZh", "a bzip2 archive"),
    (b"7z\xbc\xaf\x27\x1c", "a 7z archive"),
    (b"%PDF-", "a PDF"),
    (b"SQLite format 3\x00", "a database file"),
    (b"PAR1", "a Parquet file"),
    (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "an old spreadsheet workbook"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
)


@dataclass(frozen=True)
class RawExport:
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

    def column(self, name: str, key: str) -> str:
        """The column of `records` that a mapping calls `name`; `key` is what names it there.

        Raises ConfigError if the file has no such column, or several of that name.
        """
        wanted = _header_name(name)
        places = [at for at, written in enumerate(self.written_header) if written == wanted]
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

    def numbered(self, pattern: str, key: str) -> dict[int, str]:
        """Columns of a numbered pattern such as "kg{n}": n to the column of `records`."""
        before, after = (_header_name(part, strip=False) for part in pattern.split("{n}", 1))
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


@dataclass(frozen=True)
class _Dialect:
    delimiter: str
    quote: str


@dataclass(frozen=True)
class _Body:
    """Lines after the header, cut into records."""

    records: pl.DataFrame
    set_aside: pl.DataFrame
    blanks: int


def read_export(
    data: bytes, file_format: FileFormat, shown: str, wanted: Sequence[str] = ()
) -> RawExport:
    """The records of an export.

    `shown` is the file's name in messages. `wanted` are the column names (or numbered patterns)
    of the mapping: they tell the header from a preamble and the delimiter from other characters.
    Raises ExportError in one sentence if the bytes are no delimited text.
    """
    _refuse_other_kinds(data, shown)
    content, encoding, damaged = _as_utf8(data, file_format.encoding, shown)
    if b"\r" in content:
        content = content.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    if not content.strip():
        raise ExportError(f"{shown}: the file is empty.")
    head = _head(content)
    dialect, first = _layout(head, file_format, wanted)
    if first >= len(head):
        raise ExportError(
            f"{shown}: nothing is left after skip_rows = {file_format.skip_rows} lines."
        )
    if file_format.header:
        cells, last = _record(head, first, dialect) or (head[first].split(dialect.delimiter), first)
        written, after = tuple(_header_name(cell) for cell in cells), last + 1
        preamble = first + 1
    else:
        width = _usual_width(head[first:], dialect)
        written, after = tuple(f"column_{n}" for n in range(1, width + 1)), first
        preamble = first
    header = _distinct_names(written)
    body = _read_body(_from_line(content, after), after, header, dialect, damaged)
    return RawExport(
        records=body.records,
        header=header,
        written_header=written,
        encoding=encoding,
        delimiter=dialect.delimiter,
        quote=dialect.quote,
        lines_read=body.records.height + body.set_aside.height,
        lines_skipped=preamble + body.blanks,
        set_aside=body.set_aside,
        shown=shown,
    )


# Bytes to text


def _refuse_other_kinds(data: bytes, shown: str) -> None:
    if not data:
        raise ExportError(f"{shown}: the file is empty.")
    for magic, kind in _MAGIC:
        if data.startswith(magic):
            raise ExportError(f"{shown}: this is {kind}, not a CSV file; export it as CSV text.")


def _as_utf8(data: bytes, given: str | None, shown: str) -> tuple[bytes, str, bool]:
    """The text as UTF-8 without a byte order mark, its encoding, and whether bytes were lost."""
    encoding = _checked_encoding(given) if given else _detect_encoding(data, shown)
    if encoding in ("utf-8", "utf-8-sig"):
        content = data.removeprefix(codecs.BOM_UTF8)
        try:
            content.decode("utf-8")
        except UnicodeDecodeError:
            return content.decode("utf-8", errors="replace").encode(), encoding, True
        return content, encoding, False
    try:
        text, damaged = data.decode(encoding), False
    except UnicodeDecodeError:
        text, damaged = data.decode(encoding, errors="replace"), True
    except UnicodeError as error:
        raise ExportError(f"{shown}: cannot be read as {encoding} ({error}).") from error
    return text.removeprefix("\ufeff").encode("utf-8", errors="replace"), encoding, damaged


def _checked_encoding(given: str) -> str:
    try:
        name = codecs.lookup(given).name
        if not isinstance(b"".decode(name), str):
            raise LookupError(given)
    except (LookupError, TypeError, ValueError) as error:
        raise ConfigError(
            f"[file] encoding = {given!r} is not known; utf-8, utf-16 and cp1252 are usual."
        ) from error
    return name


def _detect_encoding(data: bytes, shown: str) -> str:
    if data.startswith(codecs.BOM_UTF8):
        return "utf-8-sig"
    if data.startswith((codecs.BOM_UTF32_LE, codecs.BOM_UTF32_BE)):
        return "utf-32"
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "utf-16"
    sample = data[:65536]
    wide = _utf16_without_mark(sample)
    if wide:
        return wide
    odd = sum(sample.count(byte) for byte in (*range(1, 9), *range(14, 32)))
    if odd + min(sample.count(0), len(sample) // 3) > len(sample) // 10 + 2:
        raise ExportError(f"{shown}: this is not text; a CSV file was expected.")
    return _eight_bit_or_utf8(data)


def _utf16_without_mark(sample: bytes) -> str | None:
    """UTF-16 by its zero bytes: Latin text has one in every other place."""
    half = len(sample) // 2
    if half < 2:
        return None
    even, odd = sample[0 : 2 * half : 2].count(0), sample[1 : 2 * half : 2].count(0)
    if odd > 0.6 * half and even < 0.05 * half:
        return "utf-16-le"
    if even > 0.6 * half and odd < 0.05 * half:
        return "utf-16-be"
    return None


_UTF8_SEQUENCE = re.compile(
    rb"[\xc2-\xdf][\x80-\xbf]|[\xe0-\xef][\x80-\xbf]{2}|[\xf0-\xf4][\x80-\xbf]{3}"
)


def _eight_bit_or_utf8(data: bytes) -> str:
    """UTF-8 if the bytes are, or nearly are; else the Western code page, which reads any byte."""
    try:
        data.decode("utf-8")
        return "utf-8"
    except UnicodeDecodeError:
        pass
    rest = _UTF8_SEQUENCE.sub(b"", data)
    inside = (len(data) - len(rest)) // 2
    stray = len(rest) - len(rest.translate(None, bytes(range(0x80, 0x100))))
    if inside > 9 * stray:
        return "utf-8"
    try:
        data.decode("cp1252")
        return "cp1252"
    except UnicodeDecodeError:
        return "iso8859-1"


# The header and the delimiter


def _head(content: bytes) -> list[str]:
    """The first lines, enough to know the layout and to close a header over several lines."""
    end = -1
    for _ in range(_HEAD_LINES + QUOTE_REACH):
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


def _layout(
    head: list[str], file_format: FileFormat, wanted: Sequence[str]
) -> tuple[_Dialect, int]:
    """The dialect, and the line (from 0) of the header or of the first record."""
    quote = '"' if file_format.quote is None else file_format.quote
    choices = (file_format.delimiter,) if file_format.delimiter else DELIMITERS
    dialects = [_Dialect(delimiter, quote) for delimiter in choices]
    start = file_format.skip_rows or 0
    while start < len(head) and not head[start].strip():
        start += 1
    fixed = file_format.skip_rows is not None or not file_format.header
    starts = [start] if fixed else list(range(start, min(start + _HEADER_WITHIN, len(head))))
    if file_format.header and wanted:
        names = {_header_name(name.replace("{n}", "1")) for name in wanted}
        scored = [
            (len(names & {_header_name(cell) for cell in _cells(head[at], dialect)}), -at, dialect)
            for at in starts
            if at < len(head)
            for dialect in dialects
        ]
        best = max(scored, key=lambda each: each[:2], default=(0, 0, dialects[0]))
        if best[0] > 0:
            return best[2], -best[1]
    return _usual_layout(head, start, dialects, fixed)


def _usual_layout(
    head: list[str], start: int, dialects: list[_Dialect], fixed: bool
) -> tuple[_Dialect, int]:
    """The dialect in which most lines have one width, and the first line of that width."""
    best: tuple[float, int] = (0.0, 0)
    chosen, first = dialects[-1], start
    lines = [(at, line) for at, line in enumerate(head[: start + _HEAD_LINES]) if line.strip()]
    lines = [(at, line) for at, line in lines if at >= start]
    for dialect in dialects:
        widths = {at: len(_cells(line, dialect)) for at, line in lines}
        counted = Counter(width for width in widths.values() if width > 1)
        if not counted:
            continue
        width, times = max(counted.items(), key=lambda each: (each[1], each[0]))
        score = (round(times / len(lines), 1), width)
        if score > best:
            best, chosen = score, dialect
            first = next(at for at, each in widths.items() if each == width)
    return chosen, start if fixed else first


def _usual_width(lines: list[str], dialect: _Dialect) -> int:
    widths = Counter(len(_cells(line, dialect)) for line in lines[:_HEAD_LINES] if line.strip())
    return max(widths.items(), key=lambda each: (each[1], each[0]))[0] if widths else 1


def _cells(line: str, dialect: _Dialect) -> list[str]:
    """Cells of one line, whatever becomes of a quote that does not close in it."""
    read = _record([line], 0, dialect)
    return read[0] if read else line.split(dialect.delimiter)


def _header_name(cell: str, strip: bool = True) -> str:
    name = unicodedata.normalize("NFC", cell).replace("\ufeff", "")
    return " ".join(name.split()) if strip else name


def _distinct_names(written: Sequence[str]) -> tuple[str, ...]:
    """Names for the columns: doubles are numbered from the left, blank ones named by place."""
    times = Counter(written)
    taken = {"source_line", *(name for name, count in times.items() if name and count == 1)}
    names: list[str] = []
    seen: Counter[str] = Counter()
    for place, name in enumerate(written, start=1):
        if name and times[name] == 1 and name != "source_line":
            names.append(name)
            continue
        seen[name] += 1
        number = seen[name]
        new = f"{name}_{number}" if name else f"column_{place}"
        while new in taken:
            number += 1
            new = f"{name}_{number}" if name else f"column_{place}_{number}"
        taken.add(new)
        names.append(new)
    return tuple(names)


def _listed(names: Sequence[str]) -> str:
    shown = ", ".join(name or "(blank)" for name in names[:40])
    return shown + (f" and {len(names) - 40} more" if len(names) > 40 else "")


# Lines to records


def _read_body(
    body: bytes, offset: int, header: tuple[str, ...], dialect: _Dialect, damaged: bool
) -> _Body:
    """Records of the lines after the header; `offset` is the number of lines before them."""
    width = len(header)
    if not body:
        return _assemble([], [], offset, header, 0)
    count = body.count(b"\n") + (not body.endswith(b"\n"))
    quoted = bool(dialect.quote) and dialect.quote.encode() in body
    if not quoted and not damaged and b"\0" not in body:
        frame = _parse(body, width, dialect.delimiter, None)
        if frame is not None and frame.height == count:
            return _assemble([_numbered(frame)], [], offset, header, width)
    return _read_with_care(body, offset, header, dialect, damaged)


def _parse(body: bytes, width: int, delimiter: str, quote: str | None) -> pl.DataFrame | None:
    """One polars read, a line a row; None if a line has more cells than `width`."""
    columns = max(width, 2)
    try:
        frame = pl.read_csv(
            body,
            has_header=False,
            separator=delimiter,
            quote_char=quote,
            schema={f"c{n}": pl.String for n in range(columns)},
            missing_columns="insert",
            extra_columns="raise",
        )
    except (pl.exceptions.ComputeError, pl.exceptions.SchemaError, pl.exceptions.NoDataError):
        return None
    if width == 1:
        return frame.select("c0") if frame["c1"].null_count() == frame.height else None
    return frame


def _numbered(frame: pl.DataFrame) -> pl.DataFrame:
    return frame.with_row_index("at").with_columns(pl.col("at").cast(pl.Int64))


def _read_with_care(
    body: bytes, offset: int, header: tuple[str, ...], dialect: _Dialect, damaged: bool
) -> _Body:
    """Files with quotes, damage or surplus cells: sort the lines first, then read each kind."""
    lines = (
        pl.read_lines(io.BytesIO(body))
        .to_series()
        .alias("line")
        .to_frame()
        .with_row_index("at")
        .with_columns(pl.col("at").cast(pl.Int64))
    )
    lines = lines.with_columns(_kind(dialect, damaged, b"\0" in body).alias("kind"))
    walked, consumed, faults = _walk(lines, header, dialect, damaged)
    if consumed:
        lines = lines.join(pl.DataFrame({"at": consumed}, schema={"at": pl.Int64}), "at", "anti")
    frames = [walked] if walked is not None else []
    for kind, quote in (("plain", None), ("quoted", dialect.quote)):
        chosen = lines.filter(pl.col("kind") == kind)
        if chosen.height:
            frame, more = _read_lines(chosen, header, dialect.delimiter, quote)
            frames.append(frame)
            faults += more
    return _assemble(frames, faults, offset, header, len(header))


def _kind(dialect: _Dialect, damaged: bool, nuls: bool) -> pl.Expr:
    """How a line is read: "plain" with quoting off, "quoted" by the book, "walk" by hand."""
    line = pl.col("line")
    kind = pl.lit("plain")
    if dialect.quote:
        quote, delimiter = re.escape(dialect.quote), re.escape(dialect.delimiter)
        opens = line.str.contains(f"(?:^|{delimiter}){quote}")
        cell = f"(?:{quote}(?:[^{quote}]|{quote}{quote})*{quote}|[^{quote}{delimiter}]*)"
        by_the_book = line.str.contains(f"^{cell}(?:{delimiter}{cell})*$")
        kind = pl.when(~opens).then(kind).when(by_the_book).then(pl.lit("quoted"))
        kind = kind.otherwise(pl.lit("walk"))
    lost = pl.lit(False)
    if damaged:
        lost = lost | line.str.contains("\ufffd", literal=True)
    if nuls:
        lost = lost | line.str.contains("\0", literal=True)
    return pl.when(lost).then(pl.lit("walk")).otherwise(kind) if damaged or nuls else kind


_Fault = dict[str, object]


def _walk(
    lines: pl.DataFrame, header: tuple[str, ...], dialect: _Dialect, damaged: bool
) -> tuple[pl.DataFrame | None, list[int], list[_Fault]]:
    """Records that start on a "walk" line: their cells, the lines they take up, the faults."""
    starts = lines.filter(pl.col("kind") == "walk")["at"].to_list()
    if not starts:
        return None, [], []
    text = _Lines(lines["line"])
    rows: list[list[str | None]] = []
    ats: list[int] = []
    consumed: list[int] = []
    faults: list[_Fault] = []
    free = 0
    for at in starts:
        if at < free:
            continue
        read = _record(text, at, dialect)
        cells, last = read or (text[at].split(dialect.delimiter), at)
        free = last + 1
        consumed.extend(range(at, free))
        if read is None:
            faults.append(_fault(at, header, cells, Reason.UNCLOSED_QUOTE, _UNCLOSED))
        elif any("\0" in cell or (damaged and "\ufffd" in cell) for cell in cells):
            faults.append(_fault(at, header, cells, Reason.UNREADABLE_CHARACTERS, _UNREADABLE))
        elif any(cell.strip() for cell in cells[len(header) :]):
            faults.append(_surplus(at, header, cells))
        else:
            cells = cells[: len(header)]
            rows.append([*cells, *([None] * (len(header) - len(cells)))])
            ats.append(at)
    frame = pl.DataFrame(
        {f"c{n}": [row[n] for row in rows] for n in range(len(header))},
        schema={f"c{n}": pl.String for n in range(len(header))},
    ).insert_column(0, pl.Series("at", ats, dtype=pl.Int64))
    return frame, consumed, faults


def _read_lines(
    lines: pl.DataFrame, header: tuple[str, ...], delimiter: str, quote: str | None
) -> tuple[pl.DataFrame, list[_Fault]]:
    """Lines that are a record each, read at once; surplus cells that hold something are faults."""
    width = len(header)
    body = _joined(lines["line"])
    frame = _parse(body, width, delimiter, quote)
    if frame is not None and frame.height == lines.height:
        return frame.insert_column(0, lines["at"]), []
    line = pl.col("line")
    if quote:
        mark = re.escape(quote)
        line = line.str.replace_all(f"{mark}(?:[^{mark}]|{mark}{mark})*{mark}", "")
    counted = lines.with_columns(
        (line.str.count_matches(delimiter, literal=True) + 1).alias("cells")
    )
    far = counted.filter(pl.col("cells") > width + _EXTRA_COLUMNS)
    near = counted.filter(pl.col("cells") <= width + _EXTRA_COLUMNS)
    dialect = _Dialect(delimiter, quote or "")
    faults: list[_Fault] = []
    trimmed: list[tuple[int, list[str]]] = []
    for at, text in far.select("at", "line").iter_rows():
        cells = _cells(text, dialect)
        if any(cell.strip() for cell in cells[width:]):
            faults.append(_surplus(at, header, cells))
        else:
            trimmed.append((at, cells[:width]))
    columns = max(width, 2, *near["cells"].to_list()) if near.height else max(width, 2)
    frames = [
        pl.DataFrame(
            [[at, *cells] for at, cells in trimmed],
            schema={"at": pl.Int64} | {f"c{n}": pl.String for n in range(width)},
            orient="row",
        )
    ]
    if near.height:
        read = _parse(_joined(near["line"]), columns, delimiter, quote)
        if read is None or read.height != near.height:  # pragma: no cover - the count above rules
            raise ExportError("the lines of this file cannot be told apart.")
        read = read.insert_column(0, near["at"])
        surplus = pl.any_horizontal(
            pl.col(f"c{n}").str.strip_chars().fill_null("") != "" for n in range(width, columns)
        )
        for row in read.filter(surplus).iter_rows():
            cells = ["" if cell is None else cell for cell in row[1:]]
            faults.append(_surplus(row[0], header, cells))
        frames.append(read.filter(~surplus).select("at", *(f"c{n}" for n in range(width))))
    return pl.concat(frames), faults


def _joined(lines: pl.Series) -> bytes:
    """Lines as one text again."""
    sink = io.BytesIO()
    lines.to_frame().write_csv(sink, include_header=False, quote_style="never")
    return sink.getvalue()


def _assemble(
    frames: list[pl.DataFrame],
    faults: list[_Fault],
    offset: int,
    header: tuple[str, ...],
    width: int,
) -> _Body:
    """Records in the order of the file, without the blank ones, under the header's names."""
    names = {f"c{n}": name for n, name in enumerate(header)}
    if not frames:
        frames = [pl.DataFrame(schema={"at": pl.Int64} | dict.fromkeys(names, pl.String))]
    frame = frames[0] if len(frames) == 1 else pl.concat(frames).sort("at")
    blank = _blank_rows(frame, tuple(names))
    if blank.len():
        frame = frame.join(blank.to_frame(), on="at", how="anti", maintain_order="left")
    records = frame.select(
        (pl.col("at") + offset + 1).cast(pl.Int32).alias("source_line"),
        *(pl.col(column).alias(name) for column, name in names.items()),
    )
    set_aside = pl.DataFrame(faults, schema=SET_ASIDE_SCHEMA, orient="row")
    set_aside = set_aside.with_columns(pl.col("source_line") + offset + 1).sort("source_line")
    return _Body(records, set_aside, blank.len())


def _blank_rows(frame: pl.DataFrame, columns: tuple[str, ...]) -> pl.Series:
    """Places of the rows without a cell that holds something."""
    rows = frame
    for column in columns:
        rows = rows.filter(pl.col(column).str.strip_chars().fill_null("") == "")
        if not rows.height:
            break
    return rows["at"]


# One record by hand


class _Lines(Sequence[str]):
    """Lines of a Series as Python text, fetched in blocks."""

    _BLOCK = 8192

    def __init__(self, lines: pl.Series) -> None:
        self._lines = lines
        self._start = 0
        self._block: list[str] = []

    def __len__(self) -> int:
        return self._lines.len()

    def __getitem__(self, at: int) -> str:  # type: ignore[override]
        if not self._start <= at < self._start + len(self._block):
            self._start = at
            self._block = self._lines.slice(at, self._BLOCK).to_list()
        return self._block[at - self._start]


def _record(lines: Sequence[str], first: int, dialect: _Dialect) -> tuple[list[str], int] | None:
    """Cells of the record that starts on a line, and its last line; None: a quote stays open.

    A quote opens only at the start of a cell and closes only before a delimiter or a line end
    (RFC 4180, section 2). Where one that opened on the same line does neither, it is text.
    """
    text, last, at = lines[first], first, 0
    cells: list[str] = []
    quote, delimiter = dialect.quote, dialect.delimiter
    while True:
        if quote and text.startswith(quote, at):
            opened_on, end = last, at + 1
            while True:
                end = text.find(quote, end)
                if end < 0:
                    if last - first >= QUOTE_REACH or last + 1 >= len(lines):
                        return None
                    end = len(text) + 1
                    last += 1
                    text = f"{text}\n{lines[last]}"
                elif text.startswith(quote, end + 1):
                    end += 2
                else:
                    break
            if end + 1 == len(text) or text.startswith(delimiter, end + 1):
                cells.append(text[at + 1 : end].replace(quote * 2, quote))
                if end + 1 == len(text):
                    return cells, last
                at = end + 2
                continue
            if last > opened_on:
                return None
        end = text.find(delimiter, at)
        if end < 0:
            cells.append(text[at:])
            return cells, last
        cells.append(text[at:end])
        at = end + 1


_UNCLOSED = (
    f"a quote opens here and does not close within {QUOTE_REACH} lines; "
    "close it, or double it if it belongs to the text."
)
_UNREADABLE = (
    "the line holds bytes that are no characters of this file's encoding; "
    "export the file again or correct [file] encoding."
)


def _fault(
    at: int, header: tuple[str, ...], cells: list[str], reason: Reason, explanation: str
) -> _Fault:
    return {
        "source_line": at,
        "cells": _cells_json(header, cells),
        "reason": reason.value,
        "explanation": explanation,
    }


def _surplus(at: int, header: tuple[str, ...], cells: list[str]) -> _Fault:
    held = [cell.strip() for cell in cells[len(header) :] if cell.strip()]
    return _fault(
        at,
        header,
        cells,
        Reason.SURPLUS_CELLS,
        f"the line has more cells than the header's {len(header)}: '{shortened(held[0])}' is "
        "surplus; quote the cell that holds the delimiter.",
    )


def _cells_json(header: tuple[str, ...], cells: list[str]) -> str:
    return json.dumps(dict(_named(header, cells)), ensure_ascii=False)


def _named(header: tuple[str, ...], cells: list[str]) -> Iterator[tuple[str, str]]:
    for place, cell in enumerate(cells, start=1):
        name = header[place - 1] if place <= len(header) else f"column_{place}"
        if place > len(header) and not cell:
            continue
        yield name, cell.replace("\0", "\u2400")


def shortened(text: str, most: int = 60) -> str:
    """A value as an explanation names it: one line, not longer than needed."""
    line = " ".join(text.split())
    return line if len(line) <= most else f"{line[:most]}…"
