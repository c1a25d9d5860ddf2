"""Arithmetic that SQL shares: each file of sql/macros/ makes one temporary macro.

A build makes them before its models and drops them after; `whatif` makes them on its connection
to the published database.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import duckdb

from pipeline.resources import resource


def macro_files(folder: Path | None = None) -> tuple[Path, ...]:
    """The files, by name; each is named for the macro that it makes."""
    return tuple(sorted(((folder or resource("sql")) / "macros").glob("*.sql")))


def macros_text() -> str:
    """All macros as text: part of what a build rests on."""
    return "\n".join(path.read_text(encoding="utf-8") for path in macro_files())


@contextmanager
def macros(con: duckdb.DuckDBPyConnection) -> Iterator[None]:
    """The macros are known on this connection inside the block, and not after."""
    for path in macro_files():
        con.execute(path.read_text(encoding="utf-8"))
    try:
        yield
    finally:
        for path in macro_files():
            con.execute(f"drop macro table if exists temp.{path.stem}")
            con.execute(f"drop macro if exists temp.{path.stem}")
