"""How an export separates and quotes its cells, where its header stands, and one record by hand.

Quoting follows RFC 4180, section 2; what departs from it is read as text where that is safe.
"""

from __future__ import annotations

import unicodedata
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from pipeline.settings.mapping import FileFormat

DELIMITERS = (";", "\t", "|", ",")
"""What separates cells, in the order that decides between equals."""


QUOTE_REACH = 100
"""Lines after the one that opens a quote in which it must close."""


_HEADER_WITHIN = 60

USUAL_LINES = 200
"""Lines from which the usual width is taken."""


@dataclass(frozen=True)
class Dialect:
    delimiter: str
    quote: str


def layout(head: list[str], file_format: FileFormat, wanted: Sequence[str]) -> tuple[Dialect, int]:
    """The dialect, and the line (from 0) of the header or of the first record."""
    quote = '"' if file_format.quote is None else file_format.quote
    choices = (file_format.delimiter,) if file_format.delimiter else DELIMITERS
    dialects = [Dialect(delimiter, quote) for delimiter in choices]
    start = file_format.skip_rows or 0
    while start < len(head) and not head[start].strip():
        start += 1
    fixed = file_format.skip_rows is not None or not file_format.header
    last = start + 1 if fixed else start + _HEADER_WITHIN
    starts = range(start, min(last, len(head)))
    if file_format.header and wanted:
        names = {header_name(name.replace("{n}", "1")) for name in wanted}
        found = _named_header(head, starts, dialects, names)
        if found:
            return found
    return _usual_layout(head, start, dialects, fixed)


def _named_header(
    head: list[str], starts: Sequence[int], dialects: Sequence[Dialect], names: set[str]
) -> tuple[Dialect, int] | None:
    """The dialect and the line that show most of the names; the first that shows all."""
    best: tuple[Dialect, int] | None = None
    most = 0
    for at in starts:
        for dialect in dialects:
            shown = len(names & {header_name(cell) for cell in cells_of(head[at], dialect)})
            if shown > most:
                best, most = (dialect, at), shown
            if shown == len(names):
                return best
    return best


def _usual_layout(
    head: list[str], start: int, dialects: list[Dialect], fixed: bool
) -> tuple[Dialect, int]:
    """The dialect in which most lines have one width, and the first line of about that width."""
    best: tuple[float, int] = (0.0, 0)
    chosen, first = dialects[-1], start
    lines = [(at, line) for at, line in enumerate(head[: start + USUAL_LINES]) if line.strip()]
    lines = [(at, line) for at, line in lines if at >= start]
    for dialect in dialects:
        widths = {at: len(cells_of(line, dialect)) for at, line in lines}
        counted = Counter(width for width in widths.values() if width > 1)
        if not counted:
            continue
        width, times = max(counted.items(), key=lambda each: (each[1], each[0]))
        score = (round(times / len(lines), 1), width)
        if score > best:
            best, chosen = score, dialect
            first = next(at for at, each in widths.items() if each > max(1, width // 2))
    return chosen, start if fixed else first


def usual_width(lines: list[str], dialect: Dialect) -> int:
    widths = Counter(len(cells_of(line, dialect)) for line in lines[:USUAL_LINES] if line.strip())
    return max(widths.items(), key=lambda each: (each[1], each[0]))[0] if widths else 1


def cells_of(line: str, dialect: Dialect) -> list[str]:
    """Cells of one line, whatever becomes of a quote that does not close in it."""
    read = record([line], 0, dialect)
    return read[0] if read else line.split(dialect.delimiter)


def record(lines: Sequence[str], first: int, dialect: Dialect) -> tuple[list[str], int] | None:
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


def header_name(cell: str, strip: bool = True) -> str:
    name = unicodedata.normalize("NFC", cell).replace("\ufeff", "")
    return " ".join(name.split()) if strip else name


def distinct_names(written: Sequence[str]) -> tuple[str, ...]:
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
        seen[name] = number
        taken.add(new)
        names.append(new)
    return tuple(names)
