"""The work copy opened and brought up to the journal: what each journal line does to the rows.

The same is done when a line is first noted and when it is replayed, so that a database made again
is equal to the one that grew run by run.
"""

from __future__ import annotations

import contextlib
import shutil
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import duckdb

from pipeline import clock
from pipeline.errors import DatabaseError, KeptVersionError, ModelError
from pipeline.ledger import database, journal, overlay, soundness, store, versions
from pipeline.ledger.journal import Event
from pipeline.ledger.overlay import Overlay
from pipeline.ledger.sent_mails import Entry
from pipeline.ledger.soundness import State
from pipeline.ledger.versions import read_again, share_set_aside
from pipeline.ledger.work import Work
from pipeline.outcome import LoadResult
from pipeline.reading.normalise import Normalised
from pipeline.resources import sql
from pipeline.settings.workspace import Workspace

_DAMAGED = "Corrupt database"
"""What DuckDB says of a block that differs from its checksum."""


@contextlib.contextmanager
def opened_work(
    workspace: Workspace,
    *,
    from_scratch: bool = False,
    is_locked: bool = False,
    rewritten: list[Event] | None = None,
    forgets: str | None = None,
) -> Iterator[Work]:
    """A work copy under the workspace's lock, brought up to the journal.

    Nothing is published unless the caller says `publish`; the copy is removed in any case.
    `is_locked`: the caller holds the lock. `rewritten`: events to take the journal's place, among
    them the forgetting of the client `forgets`. DamageError where going on would lose sets;
    KeptVersionError where a version whose rows count can be read no more.
    """
    with contextlib.nullcontext() if is_locked else store.locked(workspace.store):
        folder = workspace.store / store.WORK
        for left in (folder, *(workspace.store / each for each in (store.OTHER_DAY, store.OUTBOX))):
            shutil.rmtree(left, ignore_errors=True)
        swept = store.sweep(workspace.root, workspace.store)
        folder.mkdir(mode=0o700)
        try:
            with _opened(workspace, folder, from_scratch, rewritten, forgets) as work:
                work.notes += [
                    f"{path.relative_to(workspace.root)}: left behind by a run that was killed; "
                    "cleared away."
                    for path in swept
                ]
                yield work
        except (duckdb.Error, ModelError) as error:
            if isinstance(error, ModelError) and _DAMAGED not in str(error):
                raise
            what = "is damaged" if _DAMAGED in str(error) else "failed"
            raise DatabaseError(
                f"{workspace.database.name}: the database {what} ({str(error).splitlines()[0]}); "
                "`setledger rebuild` makes it again from what was read."
            ) from error
        finally:
            shutil.rmtree(folder, ignore_errors=True)


@contextlib.contextmanager
def _opened(
    workspace: Workspace,
    folder: Path,
    from_scratch: bool,
    rewritten: list[Event] | None,
    forgets: str | None,
) -> Iterator[Work]:
    path = folder / workspace.database.name
    wal = database.stray_wal(workspace.database)
    copy = database.open_copy(workspace.database, path, from_scratch=from_scratch)
    con = copy.con
    try:
        state = soundness.look(workspace.store, copy.seen)
        events = rewritten
        if rewritten is None:
            state.refuse_damage()
            events = taken_over(state) if state.is_bare else state.events
        assert events is not None
        if not copy.is_empty and (state.is_outdated or rewritten is not None or state.is_bare):
            con.close()
            path.unlink()
            con = database.empty(path)
            copy.is_empty = True
        applied = 0 if copy.is_empty or copy.seen is None else copy.seen.events
        work = Work(
            workspace, con, path, events, is_rewritten=events is not state.events,
            forgets=forgets, state=state,
            said=[*copy.said, *state.mended, *state.mail_faults],
        )  # fmt: skip
        work.is_dirty = bool(
            applied != len(events)
            or work.is_rewritten
            or state.mended
            or copy.said
            or wal
            or (events and journal.format_of(workspace.store) is None)
        )
        if wal is not None and not copy.said:
            work.notes.append(
                f"{wal.name}: left behind by another program; it is taken away, and with it what "
                "that program had not written into the database."
            )
        entries = [each for each in state.sent_log.entries if each.client_id != forgets]
        if not state.mail_faults or copy.is_empty:
            work.is_dirty |= _mirror(work, entries)
        database.start_notes(con)
        for place in range(applied, len(events)):
            _replay(work, events[place], events[: place + 1])
        if rewritten is None:
            work.said += _look_after_kept(work)
        yield work
    finally:
        with contextlib.suppress(duckdb.Error):
            con.close()


def _mirror(work: Work, entries: list[Entry]) -> bool:
    """Bring ledger.mails up to the sent log; where that has lost lines, those known stay."""
    state = work.state
    assert state is not None
    if state.mail_faults and state.seen is not None:
        known = {database.row_of(entry) for entry in entries}
        entries = [
            *(database.entry_of(row) for row in state.seen.mails if row not in known), *entries
        ]  # fmt: skip
    return database.mirror_mails(work.con, entries)


def _look_after_kept(work: Work) -> list[str]:
    """Make again from exports/ what is gone of the kept versions that count; the rest is said."""
    said: list[str] = []
    folder = work.workspace.store
    for event in journal.active_loads(work.events):
        path = store.content_path(folder, journal.kept_digest(event))
        if path.exists() and path.stat().st_size:
            continue
        try:
            versions.kept_content(folder, event, work.events, said)
        except KeptVersionError as error:
            said.append(str(error))
    return said


def taken_over(state: State) -> list[Event]:
    """The journal of the first version of the tool, as it goes on.

    Contents that were passed over are looked at again: that version could take a damaged copy for
    one that held nobody else's lines. Who was forgotten stays so by the tombstones.
    """
    events = [event for event in state.events if event["event"] != "passed_over"]
    events = [
        event | {"contents": []} if event["event"] == "forget" else event for event in events
    ]  # fmt: skip
    return [*events, {"event": "taken_over", "at": clock.now().isoformat()}] if events else []


def _replay(work: Work, event: Event, events: list[Event]) -> None:
    """Do again what a journal line says was done."""
    loads = {each["load_id"]: each for each in events if each["event"] == "load"}
    if event["event"] == "load":
        rows = _rows_of(work, event, events)
        if rows is not None:
            apply_load(work, event, rows)
    elif event["event"] == "accept":
        lay_kept(work, loads[event["load_id"]], events)
    elif event["event"] == "unload":
        apply_unload(work, loads[event["load_id"]], events)


def _rows_of(work: Work, event: Event, events: list[Event]) -> Normalised | None:
    """A version's rows; None where they cannot be had and do not count any more.

    KeptVersionError where they count.
    """
    try:
        return read_again(work.workspace.store, event, events, work.said)
    except KeptVersionError:
        if event in journal.active_loads(work.journal):
            raise
        _write_stub(work.con, event)
        return None


def lay_kept(work: Work, event: Event, events: list[Event]) -> LoadResult | None:
    """Lay a kept version over its source, though it was held when it was read."""
    rows = _rows_of(work, event, events)
    return None if rows is None else apply_load(work, event, rows, is_forced=True)


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


def _write_stub(con: duckdb.DuckDBPyConnection, event: Event) -> None:
    """A row of ledger.loads for a version that counts no more and cannot be read."""
    con.execute("delete from ledger.loads where load_id = ?", [event["load_id"]])
    con.execute(
        "insert into ledger.loads by name select ? as load_id, ? as source, ? as path, ? as sha256,"
        " ? as mapping_sha256, ? as bytes, ? as state, 0 as lines_read,"
        " 0 as lines_loaded, 0 as lines_set_aside, 0 as lines_skipped, 0 as sets_loaded,"
        " ? as loaded_at",
        [
            *(event[key] for key in ("load_id", "source", "path", "sha256", "version", "bytes")),
            "held" if event["state"] == "held" else "replaced",
            datetime.fromisoformat(event["loaded_at"]).replace(tzinfo=None),
        ],
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
