"""The database: opened as a copy, brought up to the journal, changed, published by one rename.

A version of an export is laid over what its source brought before, client by client and day by
day; everything that is loaded can be replayed from the journal and the kept contents.
"""

from __future__ import annotations

import contextlib
import csv
import hashlib
import io
import json
import os
import shutil
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

import duckdb
import polars as pl

from pipeline import __version__, clock
from pipeline.errors import ConfigError, ExportError, SetledgerError, UsageError
from pipeline.ledger import kept_rows, store
from pipeline.ledger.forgotten import Forgotten, without
from pipeline.ledger.sent_mails import Mailbook
from pipeline.ledger.sql_headers import SCHEMA_VERSION, comment_on, read_header
from pipeline.ledger.store import Event
from pipeline.names.clients import ClientIndex, plain
from pipeline.outcome import LoadResult
from pipeline.reading.export import READER_VERSION, read_export
from pipeline.reading.normalise import Normalised, normalise
from pipeline.reading.reasons import Reason
from pipeline.resources import resource
from pipeline.settings.mapping import Mapping, parse_mapping
from pipeline.settings.rules import Rules

if TYPE_CHECKING:
    from pipeline.settings.workspace import Source, Workspace

CONFIG_SOURCE = "setledger.toml"
WEIGH_INS = "bodyweight.csv"
CORRECTIONS = "corrections.csv"
CORRECTABLE = ("load", "reps", "rir", "rpe", "set_kind", "to_failure", "partial_reps")
_READING_RULES = ("reps_max", "load_max_kg", "rir_max")
_DAY_DIGEST = """
    count(*) as set_count,
    sum(hash(
        exercise_raw, day_order, started_at, set_no, side, load_kg, load_unit, load_basis, reps,
        partial_reps, rir, rpe, to_failure, set_kind, notes
    )::hugeint) as day_digest,
"""


@dataclass(frozen=True)
class Overlay:
    """How a version lies over what its source brought before."""

    days_standing: int
    """Days of its range that its source gave before."""
    days_added: int
    days_replaced: int
    sets_taken_away: int
    worst_client: str | None
    worst_share: float


@dataclass
class Work:
    """The copy of the database that one run changes, and the journal lines it will add."""

    workspace: Workspace
    con: duckdb.DuckDBPyConnection
    path: Path
    events: list[Event]
    """The journal as it stands."""
    added: list[Event] = field(default_factory=list)
    changed_clients: set[str] = field(default_factory=set)
    """Clients whose rows changed and whose review is not built yet."""
    is_checked: bool = False
    """Whether the data contract was asked of what changed."""
    is_dirty: bool = False
    """Whether the copy differs from the published database."""

    @property
    def journal(self) -> list[Event]:
        """All events, those of this run included."""
        return self.events + self.added

    def add(self, event: Event) -> None:
        """Note an event; it reaches the disk with `publish`."""
        self.added.append(event)
        self.is_dirty = True

    def publish(self) -> None:
        """Make the copy the database: journal first, then one rename."""
        if not self.is_dirty:
            return
        if self.changed_clients:
            self.con.execute("update ledger.meta set inputs_digest = null")
        if not self.is_checked and self.con.execute("from changed_days limit 1").fetchall():
            self.con.execute("delete from ledger.checks where load_id is null")
        self.con.execute(
            "update ledger.meta set events_applied = ?, tool_version = ?",
            [len(self.journal), __version__],
        )
        self.con.execute("checkpoint")
        self.con.close()
        with self.path.open("rb") as handle:
            os.fsync(handle.fileno())
        store.append_journal(self.workspace.store / "loads.jsonl", self.added)
        self.path.chmod(0o600)
        store.publish(self.path, self.workspace.database)


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
            events = store.read_journal(workspace.store / "loads.jsonl")
            con, applied = _open_copy(workspace, path, from_scratch)
            work = Work(workspace, con, path, events, is_dirty=applied != len(events))
            if applied > len(events):
                con.close()
                path.unlink()
                con, applied = _open_copy(workspace, path, from_scratch=True)
                work.con = con
            _mirror_mails(work)
            _start_notes(con)
            for place in range(applied, len(events)):
                _replay(work, events[place], events[: place + 1])
            yield work
        finally:
            with contextlib.suppress(UnboundLocalError, duckdb.Error):
                work.con.close()
            shutil.rmtree(folder, ignore_errors=True)


def _open_copy(
    workspace: Workspace, path: Path, from_scratch: bool
) -> tuple[duckdb.DuckDBPyConnection, int]:
    """A connection to the copy, and how many journal lines it contains."""
    if workspace.database.exists() and not from_scratch:
        shutil.copyfile(workspace.database, path)
        with contextlib.suppress(duckdb.Error):
            con = duckdb.connect(str(path))
            row = con.execute("select schema_version, events_applied from ledger.meta").fetchone()
            if row and row[0] == SCHEMA_VERSION:
                return con, int(row[1])
            con.close()
        path.unlink(missing_ok=True)
        path.with_suffix(".duckdb.wal").unlink(missing_ok=True)
    con = duckdb.connect(str(path))
    create_ledger(con)
    return con, 0


def create_ledger(con: duckdb.DuckDBPyConnection) -> None:
    """The tables and views of schema ledger, with their comments, in an empty database."""
    con.execute("begin transaction")
    con.execute("create schema if not exists ledger")
    for path in ledger_files():
        sql = path.read_text(encoding="utf-8")
        con.execute(sql)
        meaning, keyed = read_header(sql)
        keyed.pop("grain", None)
        kind = "view" if _is_view(sql) else "table"
        comment_on(con, f"ledger.{path.stem}", meaning, keyed, kind)
    con.execute("insert into ledger.meta values (?, ?, 0, null)", [SCHEMA_VERSION, __version__])
    con.execute("commit")


def _mirror_mails(work: Work) -> None:
    """ledger.mails as the book of mails stands."""
    rows = [
        (
            entry.client_id,
            entry.period,
            entry.message_id,
            entry.recipient,
            entry.state,
            datetime.fromisoformat(entry.at).replace(tzinfo=None),
            entry.detail,
        )
        for entry in Mailbook.of(work.workspace.store).entries
    ]
    standing = work.con.execute("from ledger.mails").fetchall()
    if sorted(standing, key=repr) == sorted(rows, key=repr):
        return
    work.con.execute("delete from ledger.mails")
    if rows:
        work.con.executemany("insert into ledger.mails values (?, ?, ?, ?, ?, ?, ?)", rows)
    work.is_dirty = True


def _start_notes(con: duckdb.DuckDBPyConnection) -> None:
    """Temporary tables in which a run notes what it changed, for the data contract."""
    con.execute("create temp table changed_days (client_id varchar, performed_on date)")
    con.execute(
        "create temp table receipts"
        " (load_id integer, set_lines integer, weighed_lines integer, standing_sets bigint)"
    )


def ledger_files() -> list[Path]:
    """The statements that make schema ledger: tables, then the views on them."""
    return sorted((resource("sql") / "ledger").glob("*.sql"), key=_views_last)


def _is_view(sql: str) -> bool:
    return "\ncreate or replace view" in sql


def _views_last(path: Path) -> tuple[bool, str]:
    return _is_view(path.read_text(encoding="utf-8")), path.name


# Reading versions


@dataclass(frozen=True)
class Context:
    """What besides file and mapping decides how a line is read: client spellings and limits."""

    clients: tuple[tuple[str, str, tuple[str, ...]], ...]
    limits: tuple[tuple[str, float], ...]

    @classmethod
    def of(cls, workspace: Workspace) -> Context:
        """The context that a workspace gives."""
        return cls(
            clients=tuple((each.id, each.name, each.aliases) for each in workspace.clients),
            limits=tuple((name, getattr(workspace.rules, name)) for name in _READING_RULES),
        )

    @classmethod
    def from_event(cls, event: Event) -> Context:
        """The context as a journal line keeps it."""
        return cls(
            clients=tuple((one, name, tuple(also)) for one, name, also in event["clients"]),
            limits=tuple((name, value) for name, value in event["limits"]),
        )

    @property
    def sha256(self) -> str:
        """Digest of the context."""
        return _digest([self.clients, self.limits])

    def index(self) -> ClientIndex:
        """Spellings to client ids."""
        return ClientIndex.of(self.clients)

    def rules(self) -> Rules:
        """Rules with these limits."""
        return Rules(**dict(self.limits))  # type: ignore[arg-type]


@dataclass(frozen=True)
class Version:
    """One way of reading one source: mapping, period and context."""

    mapping: Mapping
    from_on: date | None
    until_on: date | None
    context: Context

    @property
    def sha256(self) -> str:
        """Digest of all that decides how a file is read, the reader's version included."""
        return _digest(
            [
                self.mapping.sha256,
                str(self.from_on),
                str(self.until_on),
                self.context.sha256,
                READER_VERSION,
            ]
        )


@dataclass(frozen=True)
class Export:
    """A file to be read: where it stands and what is in it."""

    path: str
    content: bytes
    sha256: str


def _digest(value: object) -> str:
    return hashlib.sha256(json.dumps(value, ensure_ascii=False).encode()).hexdigest()


def active_loads(events: Iterable[Event], source: str | None = None) -> list[Event]:
    """Load events whose rows count, in the order in which they are laid over each other."""
    return [event for event in _standing(events)[0] if source in (None, event["source"])]


def held_loads(events: Iterable[Event], source: str | None = None) -> list[Event]:
    """Load events that wait for a person."""
    return [event for event in _standing(events)[1] if source in (None, event["source"])]


def _standing(events: Iterable[Event]) -> tuple[list[Event], list[Event]]:
    """Load events that count, and those that are held.

    What a version replaces gives way when it counts: at once, or when it is accepted. A held
    version waits no more once a later version of its file was read.
    """
    active: dict[int, Event] = {}
    held: dict[int, Event] = {}
    for event in events:
        if event["event"] == "load":
            for old in event["supersedes"]:
                held.pop(old, None)
            (active if event["state"] == "loaded" else held)[event["load_id"]] = event
        elif event["event"] == "accept":
            active[event["load_id"]] = held.pop(event["load_id"])
        elif event["event"] == "unload":
            active.pop(event["load_id"], None)
            held.pop(event["load_id"], None)
        for old in _replaced_now(event, active):
            active.pop(old, None)
    return list(active.values()), list(held.values())


def _replaced_now(event: Event, active: dict[int, Event]) -> list[int]:
    """Versions that give way with this event."""
    if event["event"] in ("load", "accept") and event["load_id"] in active:
        replaces: list[int] = active[event["load_id"]]["replaces"]
        return replaces
    return []


def load_source(
    work: Work, source: Source, mapping: Mapping, exports: list[Export], today: date
) -> tuple[list[LoadResult], list[SetledgerError]]:
    """Read what is new or changed in one source; a file that cannot be read is an error beside."""
    version = Version(mapping, source.from_on, source.until_on, Context.of(work.workspace))
    forgotten = Forgotten.of(work.journal)
    results: list[LoadResult] = []
    errors: list[SetledgerError] = []
    fresh = [
        export
        for export in unread(work.journal, mapping.name, exports)
        if export.sha256 not in forgotten.passed_over
    ]
    outdated = [
        event
        for event in _latest_readings(work.journal, mapping.name)
        if event["version"] != version.sha256
        or not set(event.get("forgotten", ())) <= set(forgotten.salts)
    ]
    known = known_spellings(work.journal)
    for event in outdated:
        kept = _kept_export(work, event, exports)
        if kept is None:
            continue
        rows = without(read_version(kept, version, today, known), forgotten)
        results.append(_take(work, kept, version, rows, known, event, today))
    readings = []
    for export in fresh:
        try:
            rows = without(read_version(export, version, today, known), forgotten)
            readings.append((export, rows))
        except ExportError as error:
            errors.append(error)
    readings.sort(key=lambda item: (item[1].last_on or date.min, item[0].path))
    for export, rows in readings:
        if forgotten and not rows.lines_read:
            work.add({"event": "passed_over", "sha256": export.sha256})
            continue
        results.append(_take(work, export, version, rows, known, None, today))
    return results, errors


def _kept_export(work: Work, event: Event, exports: list[Export]) -> Export | None:
    """A content that was read before, to be read in another way.

    Of an export that held lines of a forgotten client only the rows of the others are kept; it can
    be read anew only while its file is there. Else its rows stay as they were read.
    """
    if "rows" not in event:
        content = store.read_content(work.workspace.store, event["sha256"])
        return Export(event["path"], content, event["sha256"])
    return next((export for export in exports if export.sha256 == event["sha256"]), None)


def known_spellings(events: Iterable[Event]) -> dict[str, str]:
    """Id to the spelling under which an unlisted client was first met."""
    known: dict[str, str] = {}
    for event in events:
        if event["event"] == "load":
            known = event["spellings"] | known
    return known


def unread(events: list[Event], source: str, exports: list[Export]) -> list[Export]:
    """Exports whose content was not read before, or that were put back to an earlier content.

    A file of another name with known content is the same export, moved. A file is put back if it
    held the content before and what it held since is in no file of the source any more.
    """
    loads = [each for each in events if each["event"] == "load" and each["source"] == source]
    unloaded = {each["load_id"] for each in events if each["event"] == "unload"}
    readings = {each["sha256"]: each for each in loads}
    present = {export.sha256 for export in exports}

    def is_put_back(export: Export) -> bool:
        held = [each["sha256"] for each in loads if each["path"] == export.path]
        return (
            export.sha256 in held
            and held[-1] not in present
            and readings[export.sha256]["load_id"] not in unloaded
        )

    by_content = {
        export.sha256: export
        for export in reversed(exports)
        if export.sha256 not in readings or is_put_back(export)
    }
    return [export for export in exports if by_content.get(export.sha256) is export]


def _latest_readings(events: list[Event], source: str) -> list[Event]:
    """The latest reading of each content that counts or waits, in the order of reading.

    Where it is held, an earlier reading of the same content may still count; it is not read
    again before a person has decided.
    """
    latest: dict[str, Event] = {}
    for event in active_loads(events, source) + held_loads(events, source):
        earlier = latest.get(event["sha256"], event)
        latest[event["sha256"]] = max(earlier, event, key=lambda each: int(each["load_id"]))
    return sorted(latest.values(), key=lambda each: int(each["load_id"]))


def read_version(
    export: Export, version: Version, today: date, known: dict[str, str]
) -> Normalised:
    """One file's content as sets and lines set aside, not yet numbered.

    `known` holds the spellings under which unlisted clients are known from earlier files.
    """
    return normalise(
        read_export(
            export.content,
            version.mapping.file,
            export.path,
            version.mapping.column_names,
        ),
        version.mapping,
        0,
        ClientIndex.of(version.context.clients, known),
        today + timedelta(days=1),
        version.context.rules(),
        (version.from_on, version.until_on),
    )


def _take(
    work: Work,
    export: Export,
    version: Version,
    rows: Normalised,
    known: dict[str, str],
    outdated: Event | None,
    today: date,
) -> LoadResult:
    """Number a reading, decide whether it is held, lay it over, and note the event.

    `outdated` is the earlier reading of the same content, which this one replaces.
    """
    load_id = 1 + max((int(each.get("load_id", 0)) for each in work.journal), default=0)
    rows = rows.numbered(load_id)
    kept = _keep(work, export, rows)
    _note_context(work, version)
    overlay = _compare(work.con, version.mapping.name, rows)
    held_because = _why_held(work, export, version, rows, outdated, overlay)
    event: Event = {
        "event": "load",
        "load_id": load_id,
        "source": version.mapping.name,
        "path": export.path,
        "bytes": len(export.content),
        "sha256": export.sha256,
        "version": version.sha256,
        "mapping": version.mapping.sha256,
        "context": version.context.sha256,
        "from": str(version.from_on) if version.from_on else None,
        "until": str(version.until_on) if version.until_on else None,
        "today": today.isoformat(),
        "known": known,
        "spellings": rows.spellings,
        "loaded_at": clock.now().isoformat(),
        "state": "held" if held_because else "loaded",
        "held_because": held_because,
        "replaces": _replaced_readings(work.journal, outdated),
        "supersedes": _superseded(work.journal, version.mapping.name, export, outdated),
    } | kept
    work.add(event)
    return _apply_load(work, event, rows, overlay=overlay)


def _keep(work: Work, export: Export, rows: Normalised) -> Event:
    """Keep a version's bytes; its rows alone if lines of a forgotten client were in it."""
    if not rows.is_partial:
        store.keep_content(work.workspace.store, export.content)
        return {}
    salts = Forgotten.of(work.journal).salts
    sha256 = store.keep_content(work.workspace.store, kept_rows.pack(rows))
    return {"rows": sha256, "forgotten": salts}


def _replaced_readings(events: list[Event], outdated: Event | None) -> list[int]:
    """Earlier readings of the same content that count."""
    if outdated is None:
        return []
    return [
        event["load_id"]
        for event in active_loads(events, outdated["source"])
        if event["sha256"] == outdated["sha256"]
    ]


def _superseded(
    events: list[Event], source: str, export: Export, outdated: Event | None
) -> list[int]:
    """Held versions that nobody needs to decide on any more: of the same file or content."""
    sha256 = outdated["sha256"] if outdated else export.sha256
    return [
        event["load_id"]
        for event in held_loads(events, source)
        if event["path"] == export.path or event["sha256"] == sha256
    ]


def _note_context(work: Work, version: Version) -> None:
    """Journal lines that keep mapping and context, once each."""
    noted = {(each["event"], each.get("sha256")) for each in work.journal}
    mapping, context = version.mapping, version.context
    if ("mapping", mapping.sha256) not in noted:
        work.add({"event": "mapping", "sha256": mapping.sha256, "path": mapping.path,
                  "text": mapping.text})  # fmt: skip
    if ("context", context.sha256) not in noted:
        work.add({"event": "context", "sha256": context.sha256, "clients": context.clients,
                  "limits": context.limits})  # fmt: skip


def _why_held(
    work: Work,
    export: Export,
    version: Version,
    rows: Normalised,
    outdated: Event | None,
    overlay: Overlay,
) -> str | None:
    """The reason for which a version must wait for a person, or None.

    What comes for the first time has nothing to take the place of, so it never waits.
    """
    rules, source = work.workspace.rules, version.mapping.name
    share = share_set_aside(rows)
    comes_again = (
        overlay.days_standing > 0
        or bool(_replaced_readings(work.journal, outdated))
        or any(each["path"] == export.path for each in active_loads(work.journal, source))
    )
    if comes_again and share > rules.set_aside_share:
        return f"{share:.1%} of its lines are set aside, and it came before"
    if outdated is None and overlay.worst_share > rules.taken_away_share:
        return (
            f"it takes away {overlay.worst_share:.0%} of {overlay.worst_client}'s sets in its range"
        )
    return None


def share_set_aside(rows: Normalised) -> float:
    """Share of the lines read that are damaged; days outside the period do not count."""
    outside = Reason.OUTSIDE_PERIOD.value
    damaged = rows.set_aside.filter(pl.col("reason") != outside).height
    return damaged / rows.lines_read if rows.lines_read else 0.0


def _compare(con: duckdb.DuckDBPyConnection, source: str, rows: Normalised) -> Overlay:
    """What laying a reading over its source would do; temp tables incoming, day_changes remain."""
    con.register("incoming_frame", rows.sets.to_arrow())
    con.execute("create or replace temp table incoming as select * from incoming_frame")
    con.unregister("incoming_frame")
    con.execute(
        f"""
        create or replace temp table day_changes as
        with incoming_days as (
            select client_id, performed_on, {_DAY_DIGEST}
            from incoming
            group by all
        ),

        ranges as (
            select client_id, min(performed_on) as first_on, max(performed_on) as last_on
            from incoming_days
            group by all
        ),

        standing_days as (
            select sets.client_id, sets.performed_on, {_DAY_DIGEST}
            from ledger.sets as sets
            inner join ranges
                on
                    sets.client_id = ranges.client_id
                    and sets.performed_on between ranges.first_on and ranges.last_on
            where sets.source = ? and sets.replaced_by is null
            group by all
        )

        select
            coalesce(standing_days.client_id, incoming_days.client_id) as client_id,
            coalesce(standing_days.performed_on, incoming_days.performed_on) as performed_on,
            coalesce(standing_days.set_count, 0) as standing_sets,
            coalesce(incoming_days.set_count, 0) as incoming_sets,
            coalesce(
                standing_days.set_count = incoming_days.set_count
                and standing_days.day_digest = incoming_days.day_digest,
                false
            ) as is_equal,
        from standing_days
        full join incoming_days
            on
                standing_days.client_id = incoming_days.client_id
                and standing_days.performed_on = incoming_days.performed_on
        """,
        [source],
    )
    # fetched whole: DuckDB registers no frame while a result is unfinished
    [(standing, added, replaced, taken)] = con.execute(
        """
        select
            count(*) filter (where standing_sets > 0),
            count(*) filter (where standing_sets = 0),
            count(*) filter (where standing_sets > 0 and not is_equal),
            coalesce(sum(standing_sets) filter (where not is_equal), 0),
        from day_changes
        """
    ).fetchall()
    worst = con.execute(
        """
        select
            client_id,
            (sum(standing_sets) - sum(incoming_sets)) / sum(standing_sets) as taken_share,
        from day_changes
        group by all
        having sum(standing_sets) > 0
        order by taken_share desc, client_id
        limit 1
        """
    ).fetchall()
    worst_client, worst_share = worst[0] if worst else (None, 0.0)
    return Overlay(standing, added, replaced, int(taken), worst_client, worst_share)


def _apply_load(
    work: Work,
    event: Event,
    rows: Normalised,
    *,
    is_forced: bool = False,
    overlay: Overlay | None = None,
) -> LoadResult:
    """Write a reading's rows by its recorded state.

    `overlay` is a comparison already made; it is made anew where replaced readings change it.
    """
    con, load_id, source = work.con, event["load_id"], event["source"]
    is_loaded = is_forced or event["state"] == "loaded"
    if is_loaded:
        _mark_replaced(work, event["replaces"], load_id)
    con.execute(
        "update ledger.loads set state = 'replaced' where state = 'held' and load_id in"
        " (select unnest(?::integer[]))",
        [event["supersedes"]],
    )
    if overlay is None or (is_loaded and event["replaces"]):
        overlay = _compare(con, source, rows)
    if is_loaded:
        _lay_over(work, load_id, source)
        _lay_weigh_ins(work, load_id, source, rows.bodyweights)
    _write_load_row(con, event, rows, "loaded" if is_loaded else "held")
    _write_receipt(con, event, rows, is_loaded)
    _refresh_states(con, source)
    work.is_dirty = True
    return LoadResult(
        load_id=load_id,
        source=source,
        path=event["path"],
        state="loaded" if is_loaded else "held",
        sets_loaded=rows.sets.height,
        lines_set_aside=rows.lines_set_aside,
        share_set_aside=share_set_aside(rows),
        days_added=overlay.days_added,
        days_replaced=overlay.days_replaced,
        sets_taken_away=overlay.sets_taken_away,
        held_because=None if is_loaded else event["held_because"],
    )


def _write_receipt(
    con: duckdb.DuckDBPyConnection, event: Event, rows: Normalised, is_loaded: bool
) -> None:
    """What a version gave, counted apart from its own figures; the data contract compares them.

    Once it is laid over, its source's sets between its first and last day of each client are its
    sets, no more and no fewer.
    """
    con.execute("delete from receipts where load_id = ?", [event["load_id"]])
    con.execute(
        """
        with ranges as (
            select client_id, min(performed_on) as first_on, max(performed_on) as last_on
            from incoming
            group by all
        ),

        standing as (
            select count(*) as standing_sets
            from ledger.sets as sets
            inner join ranges
                on
                    sets.client_id = ranges.client_id
                    and sets.performed_on between ranges.first_on and ranges.last_on
            where sets.source = $source and sets.replaced_by is null
        )

        insert into receipts
        select
            $load_id,
            (select count(distinct source_line) from incoming),
            $weighed,
            case when $is_loaded then standing.standing_sets end,
        from standing
        """,
        {
            "load_id": event["load_id"],
            "source": event["source"],
            "weighed": rows.lines_weighed,
            "is_loaded": is_loaded,
        },
    )


def _mark_replaced(work: Work, old_loads: list[int], load_id: int) -> None:
    """The same content, read anew: all rows of its earlier reading give way."""
    for old in old_loads:
        for (client_id,) in work.con.execute(
            "select client_id from ledger.sets where load_id = $old and replaced_by is null"
            " union select client_id from ledger.bodyweights"
            " where load_id = $old and replaced_by is null",
            {"old": old},
        ).fetchall():
            work.changed_clients.add(client_id)
        work.con.execute(
            "insert into changed_days select distinct client_id, performed_on"
            " from ledger.sets where load_id = ? and replaced_by is null",
            [old],
        )
        for table in ("sets", "bodyweights"):
            work.con.execute(
                f"update ledger.{table} set replaced_by = ?"
                " where load_id = ? and replaced_by is null",
                [load_id, old],
            )
        work.con.execute("update ledger.loads set state = 'replaced' where load_id = ?", [old])


def _lay_over(work: Work, load_id: int, source: str) -> None:
    """Days that differ or are gone are replaced; days that are new or differ come in."""
    con = work.con
    work.changed_clients.update(
        client_id
        for (client_id,) in con.execute(
            "select distinct client_id from day_changes where not is_equal"
        ).fetchall()
    )
    con.execute(
        "insert into changed_days select client_id, performed_on from day_changes"
        " where not is_equal"
    )
    con.execute(
        """
        update ledger.sets set replaced_by = ?
        from day_changes
        where
            ledger.sets.source = ?
            and ledger.sets.replaced_by is null
            and ledger.sets.client_id = day_changes.client_id
            and ledger.sets.performed_on = day_changes.performed_on
            and not day_changes.is_equal
            and day_changes.standing_sets > 0
        """,
        [load_id, source],
    )
    con.execute(
        """
        insert into ledger.sets by name
        select incoming.*
        from incoming
        semi join (from day_changes where not is_equal) as changed
            on
                incoming.client_id = changed.client_id
                and incoming.performed_on = changed.performed_on
        """
    )


def _lay_weigh_ins(work: Work, load_id: int, source: str, frame: pl.DataFrame) -> None:
    """As for sets: an equal day keeps its weigh-in, one that differs or is gone is replaced."""
    if frame.is_empty():
        return
    con = work.con
    con.register("weigh_ins_frame", frame.to_arrow())
    con.execute("create or replace temp table weigh_ins as select * from weigh_ins_frame")
    con.unregister("weigh_ins_frame")
    con.execute(
        """
        create or replace temp table weigh_in_changes as
        with incoming_days as (
            select client_id, performed_on, list_sort(list(bodyweight_kg)) as weights
            from weigh_ins
            group by all
        ),

        ranges as (
            select client_id, min(performed_on) as first_on, max(performed_on) as last_on
            from incoming_days
            group by all
        ),

        standing_days as (
            select
                standing.client_id,
                standing.performed_on,
                list_sort(list(standing.bodyweight_kg)) as weights,
            from ledger.bodyweights as standing
            inner join ranges
                on
                    standing.client_id = ranges.client_id
                    and standing.performed_on between ranges.first_on and ranges.last_on
            where standing.source = ? and standing.replaced_by is null
            group by all
        )

        select client_id, performed_on
        from standing_days
        full join incoming_days using (client_id, performed_on)
        where standing_days.weights is distinct from incoming_days.weights
        """,
        [source],
    )
    work.changed_clients.update(
        client_id
        for (client_id,) in con.execute(
            "select distinct client_id from weigh_in_changes"
        ).fetchall()
    )
    con.execute(
        """
        update ledger.bodyweights set replaced_by = ?
        from weigh_in_changes
        where
            ledger.bodyweights.source = ?
            and ledger.bodyweights.replaced_by is null
            and ledger.bodyweights.client_id = weigh_in_changes.client_id
            and ledger.bodyweights.performed_on = weigh_in_changes.performed_on
        """,
        [load_id, source],
    )
    con.execute(
        """
        insert into ledger.bodyweights by name
        select weigh_ins.*
        from weigh_ins
        semi join weigh_in_changes using (client_id, performed_on)
        """
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


def _refresh_states(con: duckdb.DuckDBPyConnection, source: str) -> None:
    """A version of which no row counts any more, though it had some, is replaced."""
    con.execute(
        """
        update ledger.loads set state = 'replaced'
        where
            source = ?
            and state = 'loaded'
            and load_id in (select load_id from ledger.sets)
            and load_id not in (select load_id from ledger.sets where replaced_by is null)
        """,
        [source],
    )


# Taking back, accepting, replaying


def accept(work: Work, event: Event) -> LoadResult:
    """Let a held version count after all."""
    work.add({"event": "accept", "load_id": event["load_id"], "loaded_at": clock.now().isoformat()})
    rows = read_again(work.workspace.store, event, work.journal)
    return _apply_load(work, event, rows, is_forced=True)


def unload(work: Work, event: Event) -> None:
    """Take a version back, as if it had never been read; its file stays unloaded."""
    work.add({"event": "unload", "load_id": event["load_id"]})
    _fold_again(work, event, work.journal)


def find_load(events: list[Event], wanted: str) -> Event:
    """The load event that a number, path or file name names: the newest if several."""
    loads = [event for event in events if event["event"] == "load"]
    if wanted.isdigit():
        found = [event for event in loads if event["load_id"] == int(wanted)]
    else:
        names = (wanted, wanted.removeprefix("./"))
        found = [event for event in loads if event["path"] in names]
        found = found or [event for event in loads if Path(event["path"]).name == wanted]
    if not found:
        raise UsageError(f"{wanted}: no such version was read; `setledger loads` lists them.")
    return found[-1]


def read_again(folder: Path, event: Event, events: list[Event]) -> Normalised:
    """A version of the journal, read again from its kept content as it was read then."""
    if "rows" in event:
        rows = kept_rows.unpack(store.read_content(folder, event["rows"]))
        return rows.numbered(event["load_id"])
    content = store.read_content(folder, event["sha256"])
    kept = {(each["event"], each.get("sha256")): each for each in events}
    mapping = kept["mapping", event["mapping"]]
    version = Version(
        parse_mapping(mapping["text"], mapping["path"]),
        date.fromisoformat(event["from"]) if event["from"] else None,
        date.fromisoformat(event["until"]) if event["until"] else None,
        Context.from_event(kept["context", event["context"]]),
    )
    export = Export(event["path"], content, event["sha256"])
    today = date.fromisoformat(event["today"])
    return read_version(export, version, today, event["known"]).numbered(event["load_id"])


def _replay(work: Work, event: Event, events: list[Event]) -> None:
    """Do again what a journal line says was done."""
    loads = {each["load_id"]: each for each in events if each["event"] == "load"}
    if event["event"] == "load":
        _apply_load(work, event, read_again(work.workspace.store, event, events))
    elif event["event"] == "accept":
        held = loads[event["load_id"]]
        _apply_load(work, held, read_again(work.workspace.store, held, events), is_forced=True)
    elif event["event"] == "unload":
        _fold_again(work, loads[event["load_id"]], events)


def _fold_again(work: Work, unloaded: Event, events: list[Event]) -> None:
    """Make one source's rows again from the versions that still count."""
    con, source = work.con, unloaded["source"]
    work.changed_clients.update(
        client_id
        for (client_id,) in con.execute(
            "select client_id from ledger.sets where source = $source"
            " union select client_id from ledger.bodyweights where source = $source",
            {"source": source},
        ).fetchall()
    )
    con.execute(
        "insert into changed_days select distinct client_id, performed_on from ledger.sets"
        " where source = ?",
        [source],
    )
    for table in ("sets", "bodyweights"):
        con.execute(f"delete from ledger.{table} where source = ?", [source])
    con.execute(
        "update ledger.loads set state = 'unloaded' where load_id = ?", [unloaded["load_id"]]
    )
    con.execute("delete from ledger.set_aside where load_id = ?", [unloaded["load_id"]])
    for event in active_loads(events, source):
        _apply_load(work, event, read_again(work.workspace.store, event, events), is_forced=True)
    work.is_dirty = True


# The workspace's own files


def write_side_files(work: Work) -> str:
    """Weigh-ins and corrections of the workspace into the ledger; gives a digest of them."""
    workspace, con = work.workspace, work.con
    forgotten = Forgotten.of(work.journal)
    weigh_ins = [
        row
        for row in _config_weigh_ins(workspace) + file_weigh_ins(workspace)
        if not forgotten.has(row[0])
    ]
    corrections = [row for row in read_corrections(workspace) if not forgotten.has(row[1])]
    con.execute("delete from ledger.bodyweights where load_id is null")
    con.execute("delete from ledger.corrections")
    if weigh_ins:
        con.executemany(
            "insert into ledger.bodyweights values (?, ?, ?, ?, null, ?, null)", weigh_ins
        )
    if corrections:
        con.executemany(
            "insert into ledger.corrections values (?, ?, ?, ?, ?, ?, ?, ?)", corrections
        )
    return _digest([[str(cell) for cell in row] for row in weigh_ins + corrections])


def _config_weigh_ins(workspace: Workspace) -> list[tuple[Any, ...]]:
    return [
        (client.id, None, client.bodyweight_kg, CONFIG_SOURCE, None)
        for client in workspace.clients
        if client.bodyweight_kg is not None
    ]


def file_weigh_ins(workspace: Workspace) -> list[tuple[Any, ...]]:
    """Rows of bodyweight.csv: client_id, day, kg, file, line."""
    rows: list[tuple[Any, ...]] = []
    for line, cells in _side_file(workspace, WEIGH_INS, ("client", "day", "bodyweight_kg")):
        where = f"{WEIGH_INS}:{line}"
        weight = _number(cells["bodyweight_kg"], where, "bodyweight_kg")
        if not 20 <= weight <= 400:
            raise ConfigError(f"{where}: {weight:g} kg is no bodyweight; write it in kilograms.")
        client_id = _client_id(workspace, cells["client"])
        rows.append((client_id, _day(cells["day"], where), weight, WEIGH_INS, line))
    return rows


def read_corrections(workspace: Workspace) -> list[tuple[Any, ...]]:
    """Rows of corrections.csv, as ledger.corrections stores them."""
    rows: list[tuple[Any, ...]] = []
    columns = ("client", "day", "exercise", "n", "field", "value", "reason")
    for line, cells in _side_file(workspace, CORRECTIONS, columns):
        where = f"{CORRECTIONS}:{line}"
        if cells["field"] not in CORRECTABLE:
            raise ConfigError(
                f"{where}: '{cells['field']}' cannot be corrected; it is one of "
                f"{', '.join(CORRECTABLE)}."
            )
        if not cells["n"].isdigit() or int(cells["n"]) < 1:
            raise ConfigError(
                f"{where}: n = '{cells['n']}' is no set's place; write 1 for the first set of "
                "that exercise on that day."
            )
        client_id = _client_id(workspace, cells["client"])
        rows.append(
            (
                line,
                client_id,
                _day(cells["day"], where),
                cells["exercise"],
                int(cells["n"]),
                cells["field"],
                _corrected_value(cells["field"], cells["value"], where, workspace.rules),
                cells["reason"],
            )
        )
    return rows


def _client_id(workspace: Workspace, spelling: str) -> str:
    """The client whom a side file names by id, name or alias."""
    return Context.of(workspace).index().configured.get(plain(spelling), spelling)


def _corrected_value(name: str, text: str, where: str, rules: Rules) -> str:
    """The value as the ledger stores it; a load may carry its unit ("225 lb")."""
    from pipeline.units import to_kg

    lowered = text.strip().lower()
    if name == "set_kind":
        if lowered not in ("work", "warmup", "extension"):
            raise ConfigError(f"{where}: '{text}' is no set kind; work, warmup or extension.")
        return lowered
    if name == "to_failure":
        if lowered not in ("true", "false"):
            raise ConfigError(f"{where}: '{text}' is neither true nor false.")
        return lowered
    unit = "lb" if lowered.endswith("lb") else "kg"
    number = _number(lowered.removesuffix("lb").removesuffix("kg").strip(), where, name)
    limits = {
        "load": (0, rules.load_max_kg),
        "reps": (1, rules.reps_max),
        "partial_reps": (0, rules.reps_max),
        "rir": (0, rules.rir_max),
        "rpe": (1, 10),
    }
    low, high = limits[name]
    value = to_kg(number, "lb" if unit == "lb" else "kg") if name == "load" else number
    is_whole = name in ("reps", "partial_reps")
    if not low <= value <= high or (is_whole and value != int(value)):
        raise ConfigError(f"{where}: {name} = '{text}' is outside {low:g} to {high:g}.")
    return str(int(value)) if is_whole else repr(float(value))


def _side_file(
    workspace: Workspace, name: str, columns: tuple[str, ...]
) -> Iterator[tuple[int, dict[str, str]]]:
    """Lines of one of the workspace's own CSV files, with their numbers; none if it is absent."""
    path = workspace.root / name
    if not path.exists():
        return
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise ConfigError(f"{name}: cannot be read as UTF-8 text ({error}).") from error
    reader = csv.DictReader(io.StringIO(text), restval="")
    missing = [column for column in columns if column not in (reader.fieldnames or ())]
    if missing:
        raise ConfigError(
            f"{name}:1: the column '{missing[0]}' is missing; the columns are {','.join(columns)}."
        )
    for cells in reader:
        yield reader.line_num, {column: (cells[column] or "").strip() for column in columns}


def _number(text: str, where: str, name: str) -> float:
    try:
        number = float(text.replace(",", "."))
    except ValueError as error:
        raise ConfigError(f"{where}: {name} = '{text}' is no number.") from error
    if number != number or abs(number) == float("inf"):
        raise ConfigError(f"{where}: {name} = '{text}' is no number.")
    return number


def _day(text: str, where: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise ConfigError(f"{where}: '{text}' is no day; write it as 2026-09-01.") from error
