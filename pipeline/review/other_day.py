"""The database of a day: the published one, or a copy built for another day while it is needed."""

from __future__ import annotations

import contextlib
import shutil
from collections.abc import Iterator, Sequence
from datetime import date
from pathlib import Path

from pipeline import clock
from pipeline.errors import UsageError
from pipeline.ledger import store
from pipeline.ledger.connection import close_connections, opened
from pipeline.review.build import build_models
from pipeline.review.inputs import build_inputs, resolve_names
from pipeline.settings.workspace import Workspace, as_of_day


def build_copy(
    workspace: Workspace, path: Path, as_of: date, *, scope: Sequence[str] | None = None
) -> None:
    """Copy the published database to `path` and build the copy for another day.

    `scope` names the clients to make again; None makes all.
    """
    import duckdb

    shutil.copyfile(workspace.database, path)
    with duckdb.connect(str(path)) as copy:
        inputs = build_inputs(workspace, as_of)
        resolve_names(copy, inputs)
        build_models(copy, inputs, scope=scope)


@contextlib.contextmanager
def database_for(workspace: Workspace, as_of: date | None) -> Iterator[tuple[Path, date]]:
    """The published database, or a temporary copy built for another day; and its day.

    The caller holds the workspace's lock.
    """
    if not workspace.database.exists():
        raise UsageError(
            f"{workspace.root}: nothing has been built yet; `setledger run` does it all."
        )
    built_on = _built_on(workspace.database)
    if as_of in (None, built_on):
        try:
            yield workspace.database, built_on
        finally:
            close_connections()
        return
    wanted = as_of_day(workspace, as_of)
    folder = workspace.store / store.OTHER_DAY
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(mode=0o700)
    try:
        path = folder / workspace.database.name
        build_copy(workspace, path, wanted)
        yield path, wanted
    finally:
        close_connections()
        shutil.rmtree(folder, ignore_errors=True)


def _built_on(database: Path) -> date:
    """The day of the published review; UsageError where none is built yet."""
    import duckdb

    with opened(database) as con:
        try:
            row = con.execute("select as_of from review.run").fetchone()
        except duckdb.CatalogException as error:
            raise UsageError(
                f"{database}: no review is built yet; run `setledger build` first."
            ) from error
    return clock.today(None) if row is None else row[0]
