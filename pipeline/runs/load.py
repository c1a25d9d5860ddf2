"""The load step of a run: every source read into the work copy, what needs a person said."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from pipeline import clock
from pipeline.errors import (
    ConfigError,
    ExportError,
    NothingReadableError,
    OpenKeyError,
    SetledgerError,
)
from pipeline.ledger import journal
from pipeline.ledger.sources import read_files, refuse_shared_name
from pipeline.outcome import Outcome
from pipeline.review.inputs import build_inputs, resolve_names
from pipeline.settings.mapping_file import read_mapping
from pipeline.settings.workspace import CONFIG_NAME, Workspace, as_of_day

if TYPE_CHECKING:
    from pipeline.ledger.work import Work


def load(work: Work, outcome: Outcome, accepted: str | None = None) -> None:
    """Read new or changed exports of every source into the work copy."""
    from pipeline.ledger import loading

    workspace = work.workspace
    if accepted is not None:
        _accept(work, outcome, accepted)
    taken: dict[Path, str] = {}
    names: dict[str, str] = {}
    readable = 0
    unread: list[SetledgerError] = []
    with outcome.timed("load"):
        for source in workspace.sources:
            try:
                mapping = read_mapping(workspace.root / source.mapping, source.mapping)
                refuse_shared_name(names, mapping, source)
                exports, errors = read_files(workspace, source, taken)
                unread += errors
                results, errors = loading.load_source(
                    work, source, mapping, exports, clock.today(workspace.timezone)
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
        raise NothingReadableError(_nothing_to_read(workspace))
    if work.changed_clients:
        resolve_names(work.con, build_inputs(workspace, as_of_day(workspace, None)))
    outcome.problems += [str(error) for error in unread]
    outcome.problems += _load_problems(work, outcome)


def _nothing_to_read(workspace: Workspace) -> str:
    if not workspace.sources:
        return (
            f"{CONFIG_NAME}: no [[sources]] entry names files to read; add one, or let "
            "`setledger draft-mapping FILE` write mapping and entry."
        )
    globs = ", ".join(source.files for source in workspace.sources)
    return f"{workspace.root}: no file matches {globs}; put the exports there."


def _accept(work: Work, outcome: Outcome, wanted: str) -> None:
    from pipeline.errors import UsageError
    from pipeline.ledger import loading

    event = journal.find_load(work.journal, wanted)
    if event not in journal.held_loads(work.journal):
        raise UsageError(f"{wanted}: this version is not held; `setledger loads` lists them.")
    outcome.loads.append(loading.accept(work, event))


def _load_problems(work: Work, outcome: Outcome) -> list[str]:
    """Sentences on versions held and on shares set aside above the limit."""
    limit = work.workspace.rules.set_aside_share
    sentences = [
        f"{event['path']}: this version is held: {event['held_because']}. Look at it, then "
        f"`setledger load --accept {event['path']}`, or mend the export."
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
