"""The review of another day: built in a copy beside the published database."""

from __future__ import annotations

import shutil
from collections.abc import Sequence
from datetime import date
from pathlib import Path

from pipeline.review.build import build_models
from pipeline.review.inputs import build_inputs, resolve_names
from pipeline.settings.workspace import Workspace


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
