"""The header of an SQL file: what a row is, its grain and columns, kept as database comments."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import duckdb

_HEADER_LINE = re.compile(r"--\s?(.*)")
_KEYED = re.compile(r"(\w+): (.+)")


def read_header(sql: str) -> tuple[str, dict[str, str]]:
    """The leading comment: its sentences, and its `key: value` lines in order."""
    sentences: list[str] = []
    keyed: dict[str, str] = {}
    for line in sql.splitlines():
        comment = _HEADER_LINE.match(line)
        if comment is None:
            break
        pair = _KEYED.fullmatch(comment[1].strip())
        if pair and (keyed or pair[1] in ("grain", "kind")):
            keyed[pair[1]] = pair[2]
        elif keyed:
            last = next(reversed(keyed))
            keyed[last] += " " + comment[1].strip()
        else:
            sentences.append(comment[1].strip())
    return " ".join(sentences), keyed


def comment_on(
    con: duckdb.DuckDBPyConnection,
    table: str,
    meaning: str,
    columns: dict[str, str],
    kind: str = "table",
) -> None:
    """Store the meaning of a table and its columns in the database."""
    con.execute(f"comment on {kind} {table} is {_literal(meaning)}")
    for column, text in columns.items():
        con.execute(f'comment on column {table}."{column}" is {_literal(text)}')


def _literal(text: str) -> str:
    return "'" + text.replace("'", "''") + "'"
