"""The list of versions read: from the database, or from the journal where that cannot be had."""

from __future__ import annotations

from typing import TextIO

from pipeline.errors import SetledgerError, UsageError
from pipeline.ledger import journal
from pipeline.ledger.connection import SCHEMA_VERSION, opened
from pipeline.ledger.database import look_into
from pipeline.ledger.soundness import look
from pipeline.review import query
from pipeline.settings.workspace import Workspace


def list_versions(workspace: Workspace, form: str, to: TextIO) -> list[str]:
    """Write each version with its state; gives what is wrong with what is kept."""
    seen = look_into(workspace.database)
    state = look(workspace.store, seen)
    problems = [*state.faults, *state.mail_faults, *state.mended]
    if seen is not None and seen.schema_version == SCHEMA_VERSION:
        with opened(workspace.database, is_sealed=True) as con:
            query.run_query(con, query.LOADS, form, to)
        return problems
    if not state.events and not problems:
        raise UsageError(f"{workspace.root}: nothing is loaded yet; `setledger run` does it all.")
    columns = ["load_id", "source", "path", "state", "loaded_at"]
    query.write_rows(columns, iter(_by_journal(state.events)), form, to)
    if workspace.database.exists():
        try:
            with opened(workspace.database):
                pass
        except SetledgerError as error:
            problems.append(str(error))
    return problems


def _by_journal(events: list[journal.Event]) -> list[tuple[object, ...]]:
    active = {each["load_id"] for each in journal.active_loads(events)}
    held = {each["load_id"] for each in journal.held_loads(events)}
    taken_back = {each["load_id"] for each in events if each["event"] == "unload"}

    def state_of(load_id: int) -> str:
        if load_id in taken_back:
            return "unloaded"
        return "loaded" if load_id in active else "held" if load_id in held else "replaced"

    return [
        (each["load_id"], each["source"], each["path"], state_of(each["load_id"]),
         each["loaded_at"])
        for each in events
        if each["event"] == "load"
    ]  # fmt: skip
