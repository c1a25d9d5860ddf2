"""Loading: what is new or changed in a source is read, held or laid over, and noted as an event."""

from __future__ import annotations

from datetime import date, timedelta

from pipeline import clock
from pipeline.errors import ExportError, KeptVersionError, SetledgerError, UsageError
from pipeline.ledger import journal, store, versions
from pipeline.ledger.database import look_into
from pipeline.ledger.forgotten import Forgotten, without
from pipeline.ledger.journal import Event
from pipeline.ledger.overlay import Overlay, compare_sets
from pipeline.ledger.replay import apply_load, lay_kept, opened_work
from pipeline.ledger.soundness import look
from pipeline.ledger.versions import Context, Export, Version, read_version, share_set_aside
from pipeline.ledger.work import Work
from pipeline.outcome import LoadResult
from pipeline.reading.normalise import Normalised
from pipeline.settings.mapping import Mapping
from pipeline.settings.workspace import Source, Workspace


def load_source(
    work: Work,
    source: Source,
    mapping: Mapping,
    exports: list[Export],
    today: date,
    accepted: frozenset[str] = frozenset(),
) -> tuple[list[LoadResult], list[SetledgerError]]:
    """Read what is new or changed in one source; a file that cannot be read is an error beside.

    Of the paths `accepted` the content counts as it is, whatever speaks for holding it.
    """
    version = Version(mapping, source.from_on, source.until_on, Context.of(work.workspace))
    forgotten = Forgotten.of(work.journal)
    results: list[LoadResult] = []
    errors: list[SetledgerError] = []
    fresh = [
        export
        for export in unread(work.journal, mapping.name, exports)
        if export.sha256 not in forgotten.passed_over
    ]
    known = journal.known_spellings(work.journal)
    for event in journal.latest_readings(work.journal, mapping.name):
        if not _is_outdated(event, version, forgotten, today):
            continue
        try:
            kept = versions.kept_export(work.workspace.store, event, exports, work.said)
        except KeptVersionError as error:
            work.said += [str(error)] if str(error) not in work.said else []
            continue
        if kept is None:
            continue
        rows = without(read_version(kept, version, today, known), forgotten)
        is_accepted = kept.path in accepted
        results.append(_take(work, kept, version, rows, known, event, today, is_accepted))
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
        is_accepted = export.path in accepted
        results.append(_take(work, export, version, rows, known, None, today, is_accepted))
    return results, errors


def _is_outdated(event: Event, version: Version, forgotten: Forgotten, today: date) -> bool:
    """Whether a content is to be read anew.

    Mapping, clients or reader changed, a client was let in again, or a day has come whose lines
    were set aside as beyond tomorrow.
    """
    beyond = event.get("beyond")
    return (
        event["version"] != version.sha256
        or not set(event.get("forgotten", ())) <= set(forgotten.salts)
        or (beyond is not None and date.fromisoformat(beyond) <= today + timedelta(days=1))
    )


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


def _take(
    work: Work,
    export: Export,
    version: Version,
    rows: Normalised,
    known: dict[str, str],
    outdated: Event | None,
    today: date,
    is_accepted: bool,
) -> LoadResult:
    """Number a reading, decide whether it is held, lay it over, and note the event.

    `outdated` is the earlier reading of the same content, which this one replaces.
    """
    load_id = journal.next_load_id(work.journal)
    rows = rows.numbered(load_id)
    salts = Forgotten.of(work.journal).salts
    kept = versions.keep(work.workspace.store, export, rows, salts)
    _note_context(work, version)
    compared = compare_sets(work.con, version.mapping.name, rows.sets)
    held_because = None
    if not is_accepted:
        held_because = _why_held(work, export, version, rows, outdated, compared)
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
        "beyond": rows.beyond_on.isoformat() if rows.beyond_on else None,
        "known": known,
        "spellings": rows.spellings,
        "loaded_at": clock.now().isoformat(),
        "state": "held" if held_because else "loaded",
        "held_because": held_because,
        "replaces": journal.replaced_readings(work.journal, outdated),
        "supersedes": journal.superseded(
            work.journal, version.mapping.name, export.path, export.sha256
        ),
    } | kept
    work.add(event)
    return apply_load(work, event, rows, compared=compared)


def _note_context(work: Work, version: Version) -> None:
    """Journal lines that keep mapping and context, once each."""
    noted = {(each["event"], each.get("sha256")) for each in work.journal}
    mapping, context = version.mapping, version.context
    if ("mapping", mapping.sha256) not in noted:
        work.add(versions.mapping_event(mapping))
    if ("context", context.sha256) not in noted:
        work.add(versions.context_event(context))


def _why_held(
    work: Work,
    export: Export,
    version: Version,
    rows: Normalised,
    outdated: Event | None,
    compared: Overlay,
) -> str | None:
    """The reason for which a version must wait for a person, or None.

    What comes for the first time has nothing to take the place of, so it never waits.
    """
    rules, source = work.workspace.rules, version.mapping.name
    if outdated is not None and outdated["version"] == version.sha256:
        return outdated["held_because"] if outdated in journal.held_loads(work.journal) else None
    if outdated in journal.active_loads(work.journal, source):
        return None  # what was loaded is read again: a person changed the mapping or the settings
    if cut := _cut_short(work, export):
        return cut
    share = share_set_aside(rows)
    comes_again = (
        compared.days_standing > 0
        or bool(journal.replaced_readings(work.journal, outdated))
        or any(each["path"] == export.path for each in journal.active_loads(work.journal, source))
    )
    if comes_again and share > rules.set_aside_share:
        return (
            f"{share:.1%} of its lines could not be read (above the limit of "
            f"{rules.set_aside_share:.0%}), and it would stand in for what was loaded before"
        )
    if compared.worst_share > rules.taken_away_share:
        taken, client = compared.worst_share, compared.worst_client
        return (
            f"{taken:.0%} of {client}'s sets that were loaded for the days from {rows.first_on} to "
            f"{rows.last_on} are no longer in it"
        )
    return None


def _cut_short(work: Work, export: Export) -> str | None:
    """What is said of a file that is the beginning of the version before, and no more."""
    earlier = [
        each
        for each in journal.active_loads(work.journal)
        if each["path"] == export.path and "rows" not in each
    ]
    if not earlier or earlier[-1]["bytes"] <= len(export.content):
        return None
    try:
        before = versions.kept_content(work.workspace.store, earlier[-1], work.journal, work.said)
    except KeptVersionError:
        return None
    held = len(export.content)
    if not before.startswith(export.content) or not before[held:].strip():
        return None
    return (
        f"it ends after {held:,} of the {len(before):,} bytes that it had, and what is left is as "
        "before, as in a copy that was not finished"
    )


def accept(work: Work, event: Event) -> LoadResult:
    """Let a held version count after all."""
    work.add({"event": "accept", "load_id": event["load_id"], "loaded_at": clock.now().isoformat()})
    result = lay_kept(work, event, work.journal)
    assert result is not None, "what counts is read, or an error says why not"
    return result


def unload(workspace: Workspace, wanted: str) -> tuple[Event, list[str]]:
    """Take a version back, as if it had never been read; its file stays unloaded.

    Gives its journal line and what needs a person: the word is noted first, so that of several
    versions that cannot be read any more one after the other can be taken back.
    """
    with store.locked(workspace.store):
        seen = look_into(workspace.database)
        state = look(workspace.store, seen)
        state.refuse_damage()
        events = state.events
        event = journal.find_load(events, wanted)
        if event not in [*journal.active_loads(events), *journal.held_loads(events)]:
            raise UsageError(f"{wanted}: this version does not count any more; nothing to unload.")
        line: Event = {"event": "unload", "load_id": event["load_id"]}
        journal.append_journal(workspace.store, [line])
        try:
            with opened_work(workspace, is_locked=True) as work:
                work.publish()
        except KeptVersionError as error:
            return event, [f"{event['path']} is taken back, but the database waits: {error}"]
        return event, work.said
