"""How an unknown file is cut into cells: encoding, delimiter, quote, preamble and header.

The delimiter is the one under which most lines have one width, the header shows known words and
the columns below hold one kind of value each. tests/README.md compares this with DuckDB's sniffer.
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass

from pipeline.drafting.header_words import EXACT, LOOKED_AT, OTHER, SURE, header_reading
from pipeline.errors import ExportError
from pipeline.reading.dialect import DELIMITERS, Dialect, record
from pipeline.reading.encoding import as_utf8, refuse_other_kinds
from pipeline.reading.export import Export, read_export
from pipeline.settings.mapping import FileFormat

_HEAD = 300
_HEADER_WITHIN = 60
_SHOWN_ALIKE = 0.8

_NUMBER = re.compile(r"[+-]? ?[0-9][0-9.,' ]*(?: ?[A-Za-z]{1,5}\.?)?")
_DAY = re.compile(
    r"[0-9]{4}-W?[0-9]{2}.*|[0-9]{1,4}[./-][0-9]{1,2}[./-][0-9]{1,4}.*"
    r"|[0-9]{1,2}\.? (?>.*?[^\W\d_]{3}).*? [0-9]{4}.*|[^\W\d_]{3,}\.? [0-9]{1,2}, [0-9]{4}.*"
)
_SETS = re.compile(
    r"(?:w |bw|[+-])?[0-9.,]*(?: ?kgs?| ?lbs?)? ?(?:[x×*@]|: ) ?[0-9]", re.IGNORECASE
)
_CLOCK = re.compile(r"[0-9]{1,2}[:h][0-9]{2}.*")


@dataclass(frozen=True)
class Sniffed:
    """An unknown file as text, with what was found about its form and why."""

    export: Export
    encoding: str
    encoding_reason: str
    delimiter: str
    delimiter_share: float
    """Share of the lines that have the usual number of cells."""
    quote: str
    skip_rows: int
    """Lines before the header, or before the first record where there is no header."""
    has_header: bool
    header_reason: str
    preamble: tuple[str, ...]
    """The lines before the header that hold something."""


@dataclass(frozen=True)
class _Cut:
    """The first lines under one dialect."""

    dialect: Dialect
    rows: list[tuple[int, list[str]]]
    """Line (from 0) and cells of each record."""
    width: int
    share: float
    header: int | None
    """Place in `rows` of the header."""
    hits: int
    """Known words in it."""
    uniform: float
    """Share of the columns that hold one kind of value."""

    @property
    def score(self) -> float:
        known = min(self.hits, 4) / 4
        return self.share * (1 + known + self.uniform) + 0.01 * min(self.width, 8) / 8


def sniff(data: bytes, shown: str) -> Sniffed:
    """The file as records. Raises ExportError in one sentence if it is no delimited text."""
    refuse_other_kinds(data, shown)
    content, encoding, damaged = as_utf8(data, None, shown)
    text = content.decode("utf-8").replace("\r\n", "\n").replace("\r", "\n")
    if not text.strip():
        raise ExportError(f"{shown}: the file is empty.")
    lines = text.split("\n", _HEAD)[:_HEAD]
    cuts = [
        cut
        for delimiter in (*DELIMITERS, *_told_delimiter(lines[0]))
        for quote in ('"', "'")
        if (cut := _cut(lines, Dialect(delimiter, quote))) is not None
    ]
    if not cuts:
        raise ExportError(
            f"{shown}: no delimiter (comma, semicolon, tab or bar) parts its lines into columns; "
            "export it as CSV."
        )
    best = max(cuts, key=lambda cut: cut.score)
    if best.header is not None:
        first, has_header = best.rows[best.header][0], True
        reason = (
            f"{best.hits} of {best.width} names are known header words"
            if best.hits > 1
            else "its cells are words where the lines below hold numbers and days"
        )
    else:
        usual = next(at for at, cells in best.rows if len(cells) == best.width)
        first, has_header = usual, False
        reason = "the first line already holds a day and numbers"
    form = FileFormat(
        encoding=encoding,
        delimiter=best.dialect.delimiter,
        quote=best.dialect.quote,
        skip_rows=first,
        header=has_header,
    )
    return Sniffed(
        export=read_export(data, form, shown),
        encoding=encoding,
        encoding_reason=_encoding_reason(data, encoding, damaged),
        delimiter=best.dialect.delimiter,
        delimiter_share=best.share,
        quote=best.dialect.quote,
        skip_rows=first,
        has_header=has_header,
        header_reason=reason,
        preamble=tuple(line for line in lines[:first] if line.strip()),
    )


def _told_delimiter(line: str) -> tuple[str, ...]:
    """The delimiter that a first line such as "sep=~" names."""
    match = re.fullmatch(r"\ufeff?\"?sep=(.)\"?", line.strip(), re.IGNORECASE)
    return (match[1],) if match and match[1] not in DELIMITERS else ()


def _encoding_reason(data: bytes, encoding: str, damaged: bool) -> str:
    if data.isascii():
        return "only ASCII characters"
    if encoding == "utf-8-sig" or (encoding == "utf-16" and data[:2] in (b"\xff\xfe", b"\xfe\xff")):
        return "the file begins with its byte order mark"
    if encoding.startswith("utf-16"):
        return "every other byte is zero"
    if encoding == "utf-8":
        return "all bytes but a few are valid UTF-8" if damaged else "all bytes are valid UTF-8"
    return "not valid UTF-8; under this code page the most words have usual letters"


def _cut(lines: list[str], dialect: Dialect) -> _Cut | None:
    """The first lines as records; None if the delimiter or the quote is not used."""
    if not any(dialect.delimiter in line for line in lines):
        return None
    if dialect.quote == "'" and not _is_quoted_by(lines, dialect):
        return None
    rows: list[tuple[int, list[str]]] = []
    at = 0
    while at < len(lines):
        cells, last = record(lines, at, dialect) or (lines[at].split(dialect.delimiter), at)
        if any(cell.strip() for cell in cells):
            rows.append((at, [cell.strip()[:LOOKED_AT] for cell in cells]))
        at = last + 1
    widths = Counter(len(cells) for _, cells in rows if len(cells) > 1)
    if not widths:
        return None
    width = max(widths, key=lambda each: (widths[each], each))
    share = widths[width] / len(rows)
    header, hits = _header(rows, width)
    start = 0 if header is None else header + 1
    body = [cells for _, cells in rows[start:] if len(cells) == width]
    return _Cut(dialect, rows, width, share, header, hits, _uniform_share(body, width))


def _is_quoted_by(lines: list[str], dialect: Dialect) -> bool:
    mark, delimiter = re.escape(dialect.quote), re.escape(dialect.delimiter)
    shape = re.compile(f"(?:^|{delimiter}){mark}[^{mark}]*{mark}(?={delimiter}|$)")
    filled = [line for line in lines if line.strip()]
    return 2 * sum(bool(shape.search(line)) for line in filled) > len(filled)


def _header(rows: list[tuple[int, list[str]]], width: int) -> tuple[int | None, int]:
    """The place of the header among the first rows, and how many known words it has."""
    best, most = None, 1
    for place, (_, cells) in enumerate(rows[:_HEADER_WITHIN]):
        if len(cells) < 2 or any(_DAY.fullmatch(cell) for cell in cells):
            continue
        readings = [header_reading(cell) for cell in cells if _is_worded(cell)]
        hits = sum(
            max(each.strengths.values(), default=0.0) >= EXACT
            or (each.number is not None and each.strength(*each.strengths) >= SURE)
            for each in readings
        )
        fields = {
            name
            for each in readings
            for name, strength in each.strengths.items()
            if strength >= SURE and name != OTHER
        }
        if hits > most and len(fields) >= 2 and 2 * len(cells) > width:
            best, most = place, hits
    if best is not None:
        return best, most
    return _foreign_header(rows, width), 0


def _is_worded(cell: str) -> bool:
    return any(char.isalpha() for char in cell) and len(cell) <= 60


def _foreign_header(rows: list[tuple[int, list[str]]], width: int) -> int | None:
    """A first row of words over columns of numbers and days, whatever its words mean."""
    usual = [place for place, (_, cells) in enumerate(rows) if len(cells) == width]
    if len(usual) < 3:
        return None
    first = rows[usual[0]][1]
    below = [rows[place][1] for place in usual[1:]]
    typed = 0
    for column, cell in enumerate(first):
        kind = _main_kind([cells[column] for cells in below])
        if kind in ("day", "number", "clock", "sets"):
            if _kind(cell) == kind:
                return None
            typed += _kind(cell) == "text"
    return usual[0] if typed >= 2 else None


def _uniform_share(body: list[list[str]], width: int) -> float:
    """Share of the columns in which nearly all filled cells are days, clock times or numbers."""
    if not body:
        return 0.0
    kinds = [_main_kind([cells[column] for cells in body]) for column in range(width)]
    return sum(kind in ("day", "number", "clock") for kind in kinds) / width


def _main_kind(cells: list[str]) -> str | None:
    kinds = Counter(_kind(cell) for cell in cells if any(char.isalnum() for char in cell))
    if not kinds:
        return None
    kind, times = kinds.most_common(1)[0]
    return kind if times >= _SHOWN_ALIKE * sum(kinds.values()) else None


def _kind(cell: str) -> str:
    if _DAY.fullmatch(cell):
        return "day"
    if _CLOCK.fullmatch(cell):
        return "clock"
    if _SETS.match(cell):
        return "sets"
    return "number" if _NUMBER.fullmatch(cell) else "text"
