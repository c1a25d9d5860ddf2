"""The CSV files of the workspace that people write by hand: mistakes are told with their line."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from pipeline.errors import ConfigError
from pipeline.files import lines_of, read_text
from pipeline.names.nearest import nearest

Row = tuple[int, dict[str, str]]
"""The line on which a record starts, and its cells, stripped, by column."""


@dataclass(frozen=True)
class Table:
    """One such file; columns are in lower case, none where the file is empty."""

    columns: tuple[str, ...]
    delimiter: str
    rows: tuple[Row, ...]


def read_table(path: Path, needed: Sequence[str], known: Sequence[str] | None = None) -> Table:
    """The file at `path`; blank lines and lines that start with # are notes.

    `needed` columns must be there; where `known` is given, no others than these may be. Raises
    ConfigError, with file and line.
    """
    try:
        text = read_text(path, "utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise ConfigError(f"{path.name}: cannot be read as UTF-8 text ({error}).") from error
    header = next((line for line in lines_of(text) if line and line[0] != "#"), "")
    delimiter = ";" if "," not in header and ";" in header else ","
    columns: tuple[str, ...] = ()
    rows = []
    for line, cells in _records(text, delimiter, path.name):
        if not columns:
            columns = tuple(cell.lower() for cell in cells)
            _check_columns(columns, f"{path.name}:{line}", needed, known)
            continue
        if any(cells[len(columns) :]):
            raise ConfigError(
                f"{path.name}:{line}: this line has more cells than the header; put cells "
                f'that hold "{delimiter}" in quotes.'
            )
        padded = [*cells, *[""] * (len(columns) - len(cells))]
        rows.append((line, dict(zip(columns, padded, strict=False))))
    return Table(columns, delimiter, tuple(rows))


def without_rows(path: Path, lines: Collection[int]) -> str:
    """The file's text without the records that start on these lines; all else as it stands."""
    table = read_table(path, ())
    kept = re.findall(r"[^\r\n]*(?:\r\n|\r|\n)|[^\r\n]+", path.read_bytes().decode("utf-8"))
    for start in lines:
        reader = csv.reader(kept[start - 1 :], delimiter=table.delimiter, strict=True)
        next(reader)  # as many lines as the record takes: quotes may hold line ends
        kept[start - 1 : start - 1 + reader.line_num] = [""] * reader.line_num
    return "".join(kept)


def _records(text: str, delimiter: str, shown: str) -> Iterator[tuple[int, list[str]]]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    start = 1
    try:
        for record in reader:
            cells = [cell.strip() for cell in record]
            if any(cells) and not cells[0].startswith("#"):
                yield start, cells
            start = reader.line_num + 1
    except csv.Error as error:
        raise ConfigError(f"{shown}:{start}: not valid CSV ({error}); mend the quotes.") from error


def _check_columns(
    columns: Sequence[str], where: str, needed: Sequence[str], known: Sequence[str] | None
) -> None:
    usual = ", ".join(known or needed)
    for column in columns:
        if known is not None and column not in known:
            hint = nearest_hint(column, known)
            raise ConfigError(f'{where}: unknown column "{column}"{hint}; the columns are {usual}.')
        if column and columns.count(column) > 1:
            raise ConfigError(f'{where}: column "{column}" stands twice; keep one of them.')
    for column in needed:
        if column not in columns:
            raise ConfigError(
                f'{where}: column "{column}" is missing; the first line names the columns {usual}.'
            )


def nearest_hint(word: str, known: Iterable[str]) -> str:
    """' (nearest: "quads")', or nothing where none is near."""
    near = nearest(word, known)
    return f' (nearest: "{near[0]}")' if near else ""
