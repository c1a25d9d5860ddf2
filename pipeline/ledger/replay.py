"""The work copy opened and brought up to the journal: what each journal line does to the rows.

The same is done when a line is first noted and when it is replayed, so that a database made again
is equal to the one that grew run by run.
"""

from __future__ import annotations

import contextlib
import shutil
from collections.abc import Iterator
from datetime import datetime

import duckdb

from pipeline.ledger import database, journal, overlay, store
from pipeline.ledger.journal import Event
from pipeline.ledger.overlay import Overlay
from pipeline.ledger.sent_mails import SentLog
from pipeline.ledger.versions import read_again, share_set_aside
from pipeline.ledger.work import Work
from pipeline.outcome import LoadResult
from pipeline.reading.normalise import Normalised
from pipeline.resources import sql
from pipeline.settings.workspace import Workspace


@contextlib.contextmanager
def opened_work(
    workspace: Workspace, *, from_scratch: bool = False, is_locked: bool = False
) -> Iterator[Work]:
    """A work copy under the workspace's lock, brought up to the journal.

    Nothing is published unless the caller says `publish`; the copy is removed in any case.
    `is_locked`: the caller holds the lock.
    """
    with contextlib.nullcontext() if is_locked else store.locked(workspace.store):
        folder = workspace.store / store.WORK
        for left in (folder, *(workspace.store / each for each in (store.OTHER_DAY, store.OUTBOX))):
            shutil.rmtree(left, ignore_errors=True)
        folder.mkdir(mode=0o700)
        path = folder / workspace.database.name
        try:
            events = journal.read_journal(workspace.store)
            con, applied = database.open_copy(workspace.database, path, from_scratch=from_scratch)
            work = Work(workspace, con, path, events, is_dirty=applied != len(events))
            if applied > len(events):
                con.close()
                path.unlink()
                con, applied = database.open_copy(workspace.database, path, from_scratch=True)
                work.con = con
            if database.mirror_mails(con, SentLog.of(workspace.store).entries):
                work.is_dirty = True
            database.start_notes(con)
            for place in range(applied, len(events)):
                _replay(work, events[place], events[: place + 1])
            yield work
        finally:
            with contextlib.suppress(UnboundLocalError, duckdb.Error):
                work.con.close()
            shutil.rmtree(folder, ignore_errors=True)


def _replay(work: Work, event: Event, events: list[Event]) -> None:
    """Do again what a journal line says was done."""
    loads = {each["load_id"]: each for each in events if each["event"] == "load"}
    if event["event"] == "load":
        apply_load(work, event, read_again(work.workspace.store, event, events))
    elif event["event"] == "accept":
        lay_kept(work, loads[event["load_id"]], events)
    elif event["event"] == "unload":
        apply_unload(work, loads[event["load_id"]], events)


def lay_kept(work: Work, event: Event, events: list[Event]) -> LoadResult:
    """Lay a kept version over its source, though it was held when it was read."""
    rows = read_again(work.workspace.store, event, events)
    return apply_load(work, event, rows, is_forced=True)


def apply_unload(work: Work, unloaded: Event, events: list[Event]) -> None:
    """Make one source's rows again from the versions that still count."""
    overlay.take_out(work, unloaded["source"])
    work.con.execute(
        "update ledger.loads set state = 'unloaded' where load_id = ?", [unloaded["load_id"]]
    )
    work.con.execute("delete from ledger.set_aside where load_id = ?", [unloaded["load_id"]])
    for event in journal.active_loads(events, unloaded["source"]):
        lay_kept(work, event, events)
    work.is_dirty = True


def apply_load(
    work: Work,
    event: Event,
    rows: Normalised,
    *,
    is_forced: bool = False,
    compared: Overlay | None = None,
) -> LoadResult:
    """Write a reading's rows by its recorded state.

    `compared` is a comparison already made; it is made anew where replaced readings change it.
    """
    con, load_id, source = work.con, event["load_id"], event["source"]
    is_loaded = is_forced or event["state"] == "loaded"
    if is_loaded:
        overlay.replace_readings(work, event["replaces"], load_id)
    con.execute(
        "update ledger.loads set state = 'replaced' where state = 'held' and load_id in"
        " (select unnest(?::integer[]))",
        [event["supersedes"]],
    )
    if compared is None or (is_loaded and event["replaces"]):
        compared = overlay.compare_sets(con, source, rows.sets)
    if is_loaded:
        overlay.lay_sets(work, load_id, source)
        overlay.lay_weigh_ins(work, load_id, source, rows.bodyweights)
        # a longer export says of all its clients, also of those without a new set, until when
        # they are logged
        work.note_clients(
            "select distinct sets.client_id from ledger.sets as sets"
            " inner join ledger.loads as loads on sets.load_id = loads.load_id"
            " where loads.source = ? and loads.path = ? and sets.replaced_by is null"
            " and loads.last_on is distinct from ?::date",
            source,
            event["path"],
            rows.last_on,
        )
    _write_load_row(con, event, rows, "loaded" if is_loaded else "held")
    con.execute("delete from receipts where load_id = ?", [load_id])
    con.execute(
        sql("overlay/receipt"),
        {
            "load_id": load_id,
            "source": source,
            "weighed_lines": rows.lines_weighed,
            "is_loaded": is_loaded,
        },
    )
    con.execute(sql("overlay/replaced_loads"), {"source": source})
    work.is_dirty = True
    return LoadResult(
        load_id=load_id,
        source=source,
        path=event["path"],
        state="loaded" if is_loaded else "held",
        sets_loaded=rows.sets.height,
        lines_set_aside=rows.lines_set_aside,
        share_set_aside=share_set_aside(rows),
        days_added=compared.days_added,
        days_replaced=compared.days_replaced,
        sets_taken_away=compared.sets_taken_away,
        held_because=None if is_loaded else event["held_because"],
    )


def _write_load_row(
    con: duckdb.DuckDBPyConnection, event: Event, rows: Normalised, state: str
) -> None:
    load_id = event["load_id"]
    for table in ("loads", "set_aside"):
        con.execute(f"delete from ledger.{table} where load_id = ?", [load_id])
    con.register("incoming_aside", rows.set_aside.to_arrow())
    con.execute("insert into ledger.set_aside by name select * from incoming_aside")
    con.unregister("incoming_aside")
    con.execute(
        f"insert into ledger.loads values ({', '.join('?' * 17)})",
        [
            load_id,
            event["source"],
            event["path"],
            event["sha256"],
            event["version"],
            event["bytes"],
            rows.encoding,
            rows.delimiter,
            state,
            rows.first_on,
            rows.last_on,
            rows.lines_read,
            rows.lines_loaded,
            rows.lines_set_aside,
            rows.lines_skipped,
            rows.sets.height,
            datetime.fromisoformat(event["loaded_at"]).replace(tzinfo=None),
        ],
    )
