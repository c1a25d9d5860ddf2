"""Building the review: what besides the sets it rests on, and whether anything has to be made."""

from __future__ import annotations

import shutil
from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline import __version__
from pipeline.ledger import store
from pipeline.outcome import Outcome
from pipeline.settings.workspace import Workspace, catalogue_of

if TYPE_CHECKING:
    import duckdb

    from pipeline.ledger.work import Work
    from pipeline.review.build import BuildInputs


def build(work: Work, outcome: Outcome, as_of: date, *, is_forced: bool = False) -> None:
    """Run the models over what changed, or over all if anything besides the sets did."""
    from pipeline.ledger.side_files import write_side_files
    from pipeline.review import build as models

    with outcome.timed("build"):
        side_digest = write_side_files(work)
        inputs = build_inputs(work.workspace, as_of)
        found = models.find_models()
        digest = store.digest(
            repr((inputs.digest, models.models_digest(found), side_digest, as_of)).encode()
        )
        row = work.con.execute("select inputs_digest from ledger.meta").fetchone()
        is_same = row is not None and row[0] == digest and not is_forced
        if is_same and not work.changed_clients:
            return
        resolve_names(work.con, inputs)
        scope = work.changed_clients if is_same else None
        outcome.timings = models.build(work.con, inputs, scope=scope, models=found)
        work.changed_clients.clear()
        work.con.execute("update ledger.meta set inputs_digest = ?", [digest])
        work.is_dirty = True


def build_inputs(workspace: Workspace, as_of: date) -> BuildInputs:
    """What besides the sets a build rests on."""
    from pipeline.review.build import BuildInputs

    return BuildInputs(
        as_of=as_of,
        rules=workspace.rules,
        clients=workspace.clients,
        catalogue=catalogue_of(workspace),
        tool_version=__version__,
    )


def build_copy(
    workspace: Workspace, path: Path, as_of: date, *, scope: Sequence[str] | None = None
) -> None:
    """Copy the published database to `path` and build the copy for another day.

    `scope` names the clients to make again; None makes all.
    """
    import duckdb

    from pipeline.review import build as models

    shutil.copyfile(workspace.database, path)
    with duckdb.connect(str(path)) as copy:
        inputs = build_inputs(workspace, as_of)
        resolve_names(copy, inputs)
        models.build(copy, inputs, scope=scope)


def resolve_names(con: duckdb.DuckDBPyConnection, inputs: BuildInputs) -> None:
    """Every spelling in the ledger, with the exercise that it is taken for."""
    spellings = [
        name
        for (name,) in con.execute(
            "select distinct exercise_raw from ledger.sets order by exercise_raw"
        ).fetchall()
    ]
    con.execute("delete from ledger.exercise_names")
    rows = [
        (each.exercise_raw, each.exercise, each.how, each.score)
        for each in inputs.catalogue.resolve_all(spellings)
    ]
    if rows:
        con.executemany("insert into ledger.exercise_names values (?, ?, ?, ?)", rows)
