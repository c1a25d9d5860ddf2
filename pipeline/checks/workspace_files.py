"""Remarks on sources, their mappings and exports, and on [mail]: what a run would stumble over."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

from pipeline import clock
from pipeline.checks.config_line import config_line
from pipeline.checks.remarks import Remark
from pipeline.errors import ConfigError, ExportError
from pipeline.ledger.forgotten import Forgotten, without
from pipeline.ledger.journal import Event, active_loads, known_spellings, read_journal
from pipeline.ledger.loading import unread
from pipeline.ledger.sources import read_files, readable_mappings, refuse_shared_name
from pipeline.ledger.strays import find_strays
from pipeline.ledger.versions import Context, Export, Version, read_version, share_set_aside
from pipeline.settings.addresses import is_one_mailbox
from pipeline.settings.mapping import Mapping
from pipeline.settings.mapping_file import read_mapping
from pipeline.settings.rules import retired_rules
from pipeline.settings.workspace import CONFIG_NAME, Source, Workspace


def sources(workspace: Workspace) -> Iterator[Remark]:
    """Mappings and exports that cannot be read, or that the next run reads."""
    if not workspace.sources:
        yield Remark(
            "wrong",
            "sources",
            CONFIG_NAME,
            "no [[sources]] entry names files to read; add one, or let "
            "`setledger draft-mapping FILE` write mapping and entry.",
        )
        return
    names: dict[str, str] = {}
    taken: dict[Path, str] = {}
    journal = read_journal(workspace.store)
    tomorrow = clock.today(workspace.timezone) + timedelta(days=1)
    strays = find_strays(workspace, journal, readable_mappings(workspace), tomorrow)
    for sentence in strays.problems:
        where, _, text = sentence.partition(": ")
        yield Remark("open", "sources", where, text)
    for mapping_file, paths in strays.joined.items():
        for path in paths:
            text = f"read with {mapping_file}, whose shape it has; no glob of [[sources]] finds it."
            yield Remark("note", "sources", str(path.relative_to(workspace.root)), text)
    for source in workspace.sources:
        try:
            mapping = read_mapping(workspace.root / source.mapping, source.mapping)
            refuse_shared_name(names, mapping, source)
            exports, errors = read_files(
                workspace, source, taken, strays.joined.get(source.mapping, ())
            )
        except (ConfigError, ExportError) as error:
            yield Remark.of(error, "sources")
            continue
        yield from (Remark.of(error, "sources") for error in errors)
        if not exports and not errors:
            yield _no_files(workspace, source, mapping, journal)
        new = unread(journal, mapping.name, exports)
        for export in exports:
            yield from _export(workspace, source, mapping, export, journal, export in new)


def _no_files(
    workspace: Workspace, source: Source, mapping: Mapping, journal: list[Event]
) -> Remark:
    where = config_line(workspace, source.files[0])
    if active_loads(journal, mapping.name):
        return Remark(
            "note",
            "sources",
            where,
            f"no file matches {source.shown} any more; what was loaded from it stays "
            "until `setledger unload`.",
        )
    return Remark(
        "open",
        "sources",
        where,
        f"no file matches {source.shown}; put exports there or mend the pattern.",
    )


def _export(
    workspace: Workspace,
    source: Source,
    mapping: Mapping,
    export: Export,
    journal: list[Event],
    is_unread: bool,
) -> Iterator[Remark]:
    """What loading would say of one file; nothing if it is loaded as it stands."""
    forgotten = Forgotten.of(journal)
    if export.sha256 in forgotten.passed_over:
        return
    version = Version(mapping, source.from_on, source.until_on, Context.of(workspace))
    seen = [
        event
        for event in journal
        if event["event"] == "load"
        and (event["source"], event["sha256"]) == (mapping.name, export.sha256)
    ]
    if seen and not is_unread:
        unloaded = {each["load_id"] for each in journal if each["event"] == "unload"}
        if seen[-1]["load_id"] in unloaded:
            text = "this file was unloaded and stays so; change it to have it read again."
            yield Remark("note", "versions", export.path, text)
            return
        if seen[-1]["version"] == version.sha256:
            return
    try:
        known = known_spellings(journal)
        rows = read_version(export, version, clock.today(workspace.timezone), known)
        rows = without(rows, forgotten)
    except (ConfigError, ExportError) as error:
        yield Remark.of(error, "sources")
        return
    share = share_set_aside(rows)
    limit = workspace.rules.set_aside_share
    news = "is not loaded yet" if is_unread else "is read anew, for its mapping or clients changed"
    news += (
        f": {rows.sets.height:,} sets and {rows.lines_set_aside:,} lines that cannot be loaded"
        f" ({share:.1%})"
    )
    if share > limit:
        yield Remark(
            "open",
            "sources",
            export.path,
            f"{news}, above the limit of {limit:.3g}; look at the mapping "
            f"{source.mapping}, or raise [rules] set_aside_share.",
        )
    else:
        yield Remark("note", "sources", export.path, f"{news}; `setledger run` does it.")


def retired(workspace: Workspace) -> Iterator[Remark]:
    """Rules that an earlier version went by."""
    for name in workspace.retired:
        yield Remark(
            "note",
            "workspace",
            config_line(workspace, name),
            f"[rules] {name} does nothing any more; `{retired_rules()[name]}` is asked instead "
            "(`setledger describe rules`). Take the line out.",
        )


def mail(workspace: Workspace) -> Iterator[Remark]:
    """Addresses of [mail] that hold none."""
    if workspace.mail is None:
        return
    for key, value in (
        ("from", workspace.mail.sender),
        ("coach", workspace.mail.coach),
        ("reply_to", workspace.mail.reply_to),
    ):
        if value is not None and not is_one_mailbox(value):
            yield Remark(
                "wrong",
                "workspace",
                config_line(workspace, value, None, key),
                f"[mail] {key}: '{value}' holds no mail address; write one such as "
                "coach@example.org.",
            )
