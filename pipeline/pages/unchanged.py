"""Whether a client's pages are still what would be made: nothing that they show has changed.

A page is a function of the client's rows in the ledger, of what the build rested on besides, of the
settings, the coach's note, the earlier pages that it leads to, and of the code that draws it. A
digest of these stands beside the pages, with one of each page, so that a page that somebody edited
or that was damaged is made again.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from datetime import date
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline import __version__
from pipeline.files import read_bytes
from pipeline.ledger import store
from pipeline.resources import resource, sql

if TYPE_CHECKING:
    import duckdb

    from pipeline.settings.workspace import Workspace

NAME = ".pages.json"


def states(con: duckdb.DuckDBPyConnection, workspace: Workspace) -> dict[str, str]:
    """A digest of what the pages of each client with sets rest on, but for their folder's files."""
    # after the blank stands a digest of the user's own models, which no page shows
    [built] = con.execute("select split_part(inputs_digest, ' ', 1) from ledger.meta").fetchall()
    common = (built, workspace.text, _code())
    rows = con.execute(sql("pages/states")).fetchall()
    return {client: store.digest(repr((common, *state)).encode()) for client, *state in rows}


def state_with(state: str, notes: Path, earlier: Sequence[date]) -> str:
    """The same, with the coach's notes to the client and the earlier pages that a page leads to."""
    said = [(path.name, read_bytes(path)) for path in sorted(notes.glob("*.md"))]
    return store.digest(repr((state, said, earlier)).encode())


def standing(folder: Path, state: str, names: Sequence[str]) -> tuple[Path, ...]:
    """The pages in a folder, if they were made in this state and are as they were written."""
    try:
        kept = json.loads(read_bytes(folder / NAME))
        if kept["state"] != state or not set(names) <= set(kept["pages"]):
            return ()
        paths = {folder / name: digest for name, digest in kept["pages"].items()}
        is_whole = all(store.digest(read_bytes(path)) == each for path, each in paths.items())
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return ()  # absent, or damaged: the pages are made again
    return tuple(paths) if is_whole else ()


def keep(folder: Path, state: str, pages: Mapping[str, bytes]) -> None:
    """Note in what state these pages were made."""
    kept = {"state": state, "pages": {name: store.digest(page) for name, page in pages.items()}}
    store.write_whole(folder / NAME, json.dumps(kept, indent=1).encode())


@cache
def _code() -> str:
    """A digest of all that draws a page."""
    folders = (resource("reports"), resource("sql") / "pages", Path(__file__).parent)
    files = sorted(
        path for folder in folders for path in folder.rglob("*") if path.suffix in _DRAWS
    )
    return store.digest(b"".join((__version__.encode(), *map(Path.read_bytes, files))))


_DRAWS = {".py", ".html", ".css", ".sql", ".csv", ".ftl", ".po"}
