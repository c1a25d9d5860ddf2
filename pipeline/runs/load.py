"""The load step of a run: every source read into the work copy, what needs a person said."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline import clock
from pipeline.errors import (
    ConfigError,
    ExportError,
    NothingReadableError,
    OpenKeyError,
    SetledgerError,
    UsageError,
)
from pipeline.ledger import journal, store
from pipeline.ledger.sources import read_files, readable_mappings, refuse_shared_name
from pipeline.ledger.strays import find_strays
from pipeline.outcome import LoadResult, Outcome
from pipeline.reading.export_files import content_of
from pipeline.review.inputs import build_inputs, resolve_names
from pipeline.settings.mapping_file import read_mapping
from pipeline.settings.workspace import CONFIG_NAME, Workspace, as_of_day

if TYPE_CHECKING:
    from pipeline.ledger.work import Work


def load(work: Work, outcome: Outcome, accepted: Sequence[str] = ()) -> None:
    """Read new or changed exports of every source into the work copy.

    `accepted` names files whose content counts as it is now, or the number of a held version.
    """
    from pipeline.ledger import loading

    workspace = work.workspace
    outcome.loads += [result for each in accepted for result in _accept_held(work, each)]
    taken: dict[Path, str] = {}
    names: dict[str, str] = {}
    readable = 0
    unread: list[SetledgerError] = []
    with outcome.timed("load"):
        strays = find_strays(
            workspace,
            work.journal,
            readable_mappings(workspace),
            clock.today(workspace.timezone) + timedelta(days=1),
        )
        for source in workspace.sources:
            try:
                mapping = read_mapping(workspace.root / source.mapping, source.mapping)
                refuse_shared_name(names, mapping, source)
                exports, errors = read_files(
                    workspace, source, taken, strays.joined.get(source.mapping, ())
                )
                unread += errors
                results, errors = loading.load_source(
                    work,
                    source,
                    mapping,
                    exports,
                    clock.today(workspace.timezone),
                    frozenset(
                        export.path
                        for export in exports
                        if any(_names(each, export.path) for each in accepted)
                    ),
                )
                unread += errors
                readable += len(exports) - len(errors)
                outcome.loads += results
            except (ConfigError, ExportError) as error:
                unread.append(error)
    if unread and not readable and all(isinstance(each, OpenKeyError) for each in unread):
        raise OpenKeyError("\n".join(str(error) for error in unread))
    if unread and not readable:
        raise NothingReadableError("\n".join(str(error) for error in unread))
    if not workspace.sources or not (readable or work.journal):
        raise NothingReadableError("\n".join([_nothing_to_read(workspace), *strays.problems]))
    for each in accepted:
        _refuse_if_idle(work, outcome, each)
    if work.changed_clients:
        resolve_names(work.con, build_inputs(workspace, as_of_day(workspace, None)))
    outcome.problems += [str(error) for error in unread] + strays.problems
    outcome.notes += strays.notes
    outcome.problems += _load_problems(work, outcome)


def _nothing_to_read(workspace: Workspace) -> str:
    if not workspace.sources:
        return (
            f"{CONFIG_NAME}: no [[sources]] entry names files to read; add one, or let "
            "`setledger draft-mapping FILE` write mapping and entry."
        )
    globs = ", ".join(source.shown for source in workspace.sources)
    return f"{workspace.root}: no file matches {globs}; put the exports there."


def _names(wanted: str, path: str) -> bool:
    """Whether a word of a person means the file at a path of the workspace."""
    one = unicodedata.normalize("NFC", wanted).removeprefix("./")
    other = unicodedata.normalize("NFC", path)
    return one in (other, Path(other).name)


def _accept_held(work: Work, wanted: str) -> list[LoadResult]:
    """Let held versions count whose file still has that content, or is gone.

    A file that has changed since is read as it is now, with all others.
    """
    from pipeline.ledger import loading

    held = journal.held_loads(work.journal)
    if wanted.isdigit():
        event = journal.find_load(work.journal, wanted)
        if event not in held:
            raise UsageError(f"{wanted}: this version is not held; `setledger loads` lists them.")
        return [loading.accept(work, event)]
    meant = [event for event in held if _names(wanted, event["path"])]
    return [
        loading.accept(work, event) for event in meant if not _has_changed(work.workspace, event)
    ]


def _has_changed(workspace: Workspace, event: journal.Event) -> bool:
    """Whether the file of a version is there with another content."""
    path = workspace.root / event["path"]
    try:
        return bool(store.digest(content_of(path, event["path"])) != event["sha256"])
    except ExportError:
        return bool(path.exists())


def _refuse_if_idle(work: Work, outcome: Outcome, wanted: str) -> None:
    """UsageError where a word to accept met neither a held version nor a file with news."""
    if wanted.isdigit() or any(_names(wanted, each.path) for each in outcome.loads):
        return
    if not any(_names(wanted, each["path"]) for each in journal.held_loads(work.journal)):
        raise UsageError(
            f"{wanted}: nothing of this file is held, and it has not changed since it was read; "
            "`setledger loads` lists the versions."
        )


def _load_problems(work: Work, outcome: Outcome) -> list[str]:
    """Sentences on versions held and on shares set aside above the limit."""
    limit = work.workspace.rules.set_aside_share
    sentences = [
        f"{event['path']}: {journal.held_sentence(event)}"
        for event in journal.held_loads(work.journal)
    ]
    sentences += [
        f"{each.path}: {each.lines_set_aside} line{'' if each.lines_set_aside == 1 else 's'} "
        f"({each.share_set_aside:.1%}) set aside, above the limit of {limit:.0%}; the report lists "
        "them with their reasons."
        for each in outcome.loads
        if each.state == "loaded" and each.share_set_aside > limit
    ]
    return sentences
