"""From the lines of an export to records: cells as text, each with its physical line.

The common file is one polars read with quoting off. Lines whose cells are quoted by the book
(RFC 4180) are read in a second batch with quoting on. Only what is left, records over several
lines and damaged ones, goes through the small parser in `dialect`.
"""

from __future__ import annotations

import io
import json
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import polars as pl

from pipeline.errors import ExportError
from pipeline.reading.cells import shortened
from pipeline.reading.dialect import QUOTE_REACH, Dialect, cells_of, record
from pipeline.reading.encoding import CUT, LONGEST_LINE
from pipeline.reading.reasons import Reason

SET_ASIDE_SCHEMA = {
    "source_line": pl.Int32(),
    "cells": pl.String(),
    "reason": pl.String(),
    "explanation": pl.String(),
}


_EXTRA_COLUMNS = 64


@dataclass(frozen=True)
class Records:
    """Lines after the header, cut into records."""

    records: pl.DataFrame
    set_aside: pl.DataFrame
    """Those whose cells cannot be told, as SET_ASIDE_SCHEMA."""
    blanks: int
    """Lines without a cell that holds something."""


def read_records(
    body: bytes, offset: int, header: tuple[str, ...], dialect: Dialect, damaged: bool
) -> Records:
    """Records of the lines after the header; `offset` is the number of lines before them."""
    read = _read_all(body, offset, header, dialect, damaged)
    return read if body.endswith(b"\n") else _without_unfinished(read, body, offset, dialect)


def _read_all(
    body: bytes, offset: int, header: tuple[str, ...], dialect: Dialect, damaged: bool
) -> Records:
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


def _without_unfinished(read: Records, body: bytes, offset: int, dialect: Dialect) -> Records:
    """A last record with fewer cells than the header and no line end is set aside: its last cell
    may be cut inside a number."""
    if not read.records.height:
        return read
    line = int(read.records["source_line"][-1])
    texts = body.decode("utf-8").split("\n")[line - offset - 1 :]
    cells, last = record(texts, 0, dialect) or ([], 0)
    header = tuple(name for name in read.records.columns if name != "source_line")
    if not 0 < len(cells) < len(header) or last < len(texts) - 1:
        return read
    fault = _fault(line, header, cells, Reason.UNFINISHED_LINE, _UNFINISHED)
    added = pl.DataFrame([fault], schema=SET_ASIDE_SCHEMA, orient="row")
    return Records(read.records[:-1], pl.concat([read.set_aside, added]), read.blanks)


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
    body: bytes, offset: int, header: tuple[str, ...], dialect: Dialect, damaged: bool
) -> Records:
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


def _kind(dialect: Dialect, damaged: bool, nuls: bool) -> pl.Expr:
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
    lines: pl.DataFrame, header: tuple[str, ...], dialect: Dialect, damaged: bool
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
        read = record(text, at, dialect)
        cells, last = read or (text[at].split(dialect.delimiter), at)
        free = last + 1
        consumed.extend(range(at, free))
        if read is None:
            faults.append(_fault(at, header, cells, Reason.UNCLOSED_QUOTE, _UNCLOSED))
        elif any(CUT in cell for cell in cells):
            faults.append(_fault(at, header, cells, Reason.LINE_TOO_LONG, _TOO_LONG))
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
    dialect = Dialect(delimiter, quote or "")
    faults: list[_Fault] = []
    trimmed: list[tuple[int, list[str]]] = []
    for at, text in far.select("at", "line").iter_rows():
        cells = cells_of(text, dialect)
        if any(cell.strip() for cell in cells[width:]):
            faults.append(_surplus(at, header, cells))
        else:
            trimmed.append((at, cells[:width]))
    frames = [
        pl.DataFrame(
            [[at, *cells] for at, cells in trimmed],
            schema={"at": pl.Int64} | {f"c{n}": pl.String for n in range(width)},
            orient="row",
        )
    ]
    if near.height:
        body = _joined(near["line"]) if far.height else body
        columns = max(width, 2, *near["cells"].unique().to_list())
        read = _parse(body, columns, delimiter, quote)
        if read is None or read.height != near.height:  # pragma: no cover - the count above rules
            raise ExportError("the lines of this file cannot be told apart.")
        kept, more = _without_surplus(read.insert_column(0, near["at"]), header, columns)
        frames.append(kept)
        faults += more
    return pl.concat(frames), faults


def _without_surplus(
    read: pl.DataFrame, header: tuple[str, ...], columns: int
) -> tuple[pl.DataFrame, list[_Fault]]:
    """Rows whose cells beyond the header's are empty, cut to its width; the others as faults."""
    width = len(header)
    surplus = pl.any_horizontal(
        pl.lit(False),
        *(pl.col(f"c{n}").str.strip_chars().fill_null("") != "" for n in range(width, columns)),
    )
    faults = [
        _surplus(row[0], header, ["" if cell is None else cell for cell in row[1:]])
        for row in read.filter(surplus).iter_rows()
    ]
    return read.filter(~surplus).select("at", *(f"c{n}" for n in range(width))), faults


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
) -> Records:
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
    return Records(records, set_aside, blank.len())


def _blank_rows(frame: pl.DataFrame, columns: tuple[str, ...]) -> pl.Series:
    """Places of the rows without a cell that holds something."""
    rows = frame
    starts = [*range(min(len(columns), 16)), *range(16, len(columns), 512)]
    for start, end in pairwise((*starts, len(columns))):
        rows = rows.filter(
            pl.all_horizontal(
                pl.col(column).str.strip_chars().fill_null("") == ""
                for column in columns[start:end]
            )
        )
        if not rows.height:
            break
    return rows["at"]


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


_UNCLOSED = (
    f"a quote opens here and does not close within {QUOTE_REACH} lines; "
    "close it, or double it if it belongs to the text."
)


_UNFINISHED = (
    "the file ends within this line, which has fewer cells than the header and no line end, as an "
    "unfinished copy does; export or copy it again, or end the line."
)


_UNREADABLE = (
    "the line holds bytes that are no characters of this file's encoding; "
    "export the file again or correct [file] encoding."
)


_TOO_LONG = (
    f"the line is longer than {LONGEST_LINE:,} bytes, so it is no line of a log; look at the file "
    "around it, perhaps line ends were lost, and export it again."
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
    return json.dumps(dict(_named(header, cells)), ensure_ascii=False, separators=(",", ":"))


def _named(header: tuple[str, ...], cells: list[str]) -> Iterator[tuple[str, str]]:
    for place, cell in enumerate(cells, start=1):
        name = header[place - 1] if place <= len(header) else f"column_{place}"
        if place > len(header) and not cell:
            continue
        yield name, cell.replace("\0", "\u2400")
