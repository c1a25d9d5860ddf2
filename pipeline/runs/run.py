"""One run: load, check, build, report; one client's failure never stops the others."""

from __future__ import annotations

import contextlib
import json
import shutil
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
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
from pipeline.ledger import store
from pipeline.mail import send as sending
from pipeline.outcome import Outcome, Progress, silent
from pipeline.pages.write import close_connections, report, reported_clients
from pipeline.reading.export_files import content_of, files_of
from pipeline.resources import resource
from pipeline.review.inputs import as_of_day, build, build_inputs, resolve_names
from pipeline.runs import run_log
from pipeline.settings.mapping import Mapping, read_mapping
from pipeline.settings.workspace import CONFIG_NAME, Source, Workspace

if TYPE_CHECKING:
    from pipeline.checks.contract import Scope
    from pipeline.ledger.loading import Export, Work

__all__ = [
    "Outcome", "as_of_day", "build", "build_inputs", "check_changes", "contract_scope", "load",
    "make_demo", "make_workspace", "read_files", "rebuild", "refuse_shared_name", "report",
    "reported_clients", "resolve_names", "run",
]  # fmt: skip


# Loading


def load(work: Work, outcome: Outcome, accepted: str | None = None) -> None:
    """Read new or changed exports of every source into the work copy."""
    from pipeline.ledger import loading as ledger

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
                results, errors = ledger.load_source(
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


def refuse_shared_name(names: dict[str, str], mapping: Mapping, source: Source) -> None:
    """ConfigError if another mapping has the name; `names` gathers name to mapping file."""
    other = names.setdefault(mapping.name, source.mapping)
    if other != source.mapping:
        raise ConfigError(
            f"{source.mapping}: the name '{mapping.name}' is also that of {other}; each mapping "
            "needs a name of its own."
        )


def read_files(
    workspace: Workspace, source: Source, taken: dict[Path, str]
) -> tuple[list[Export], list[SetledgerError]]:
    """Contents of a source's files; a file that cannot be opened is an error beside."""
    from pipeline.ledger.loading import Export

    exports: list[Export] = []
    paths, errors = files_of(workspace, source)
    for path in paths:
        shown = str(path.relative_to(workspace.root))
        other = taken.setdefault(path, source.mapping)
        if other != source.mapping:
            errors.append(
                ConfigError(
                    f"{shown}: two [[sources]] cover this file, with {other} and "
                    f"{source.mapping}; narrow one of the two globs."
                )
            )
            continue
        try:
            content = content_of(path, shown)
        except ExportError as error:
            errors.append(error)
        else:
            exports.append(Export(shown, content, store.digest(content)))
    return exports, errors


def _accept(work: Work, outcome: Outcome, wanted: str) -> None:
    from pipeline.errors import UsageError
    from pipeline.ledger import loading as ledger

    event = ledger.find_load(work.journal, wanted)
    if event not in ledger.held_loads(work.journal):
        raise UsageError(f"{wanted}: this version is not held; `setledger loads` lists them.")
    outcome.loads.append(ledger.accept(work, event))


def _load_problems(work: Work, outcome: Outcome) -> list[str]:
    """Sentences on versions held and on shares set aside above the limit."""
    from pipeline.ledger import loading as ledger

    limit = work.workspace.rules.set_aside_share
    sentences = [
        f"{event['path']}: this version is held: {event['held_because']}. Look at it, then "
        f"`setledger load --accept {event['path']}`, or mend the export."
        for event in ledger.held_loads(work.journal)
    ]
    sentences += [
        f"{each.path}: {each.lines_set_aside} line{'' if each.lines_set_aside == 1 else 's'} "
        f"({each.share_set_aside:.1%}) set aside, above the limit of {limit:.0%}; the report lists "
        "them with their reasons."
        for each in outcome.loads
        if each.state == "loaded" and each.share_set_aside > limit
    ]
    return sentences


# The data contract


def check_changes(work: Work, outcome: Outcome, as_of: date) -> None:
    """Ask the data contract of the client-days that this run changed; not at all if none.

    A clause that does not hold is asked of the whole ledger, and again in each run until it holds.
    """
    from pipeline.checks import contract

    scope = contract_scope(work.workspace, as_of)
    has_changes = bool(work.con.execute("from changed_days limit 1").fetchall())
    is_standing = contract.is_in_doubt(work.con, scope)
    if not has_changes and not is_standing:
        return
    with outcome.timed("check"):
        verdicts = contract.validate(work.con, replace(scope, is_partial=not is_standing))
        if not is_standing and any(not each.is_met and each.load_id is None for each in verdicts):
            verdicts = contract.validate(work.con, scope)
        contract.store_verdicts(work.con, verdicts)
        work.is_checked = work.is_dirty = True
    outcome.problems += [
        f"data contract: {each.sentence} `setledger check` lists all verdicts."
        for each in verdicts
        if not each.is_met and each.is_breach and each.key != "set_aside_share"
    ]


def contract_scope(workspace: Workspace, as_of: date) -> Scope:
    """What the data contract is asked against: the workspace's limits, clients and days."""
    from pipeline.checks.contract import Scope

    listed = tuple(client.id for client in workspace.clients)
    return Scope(workspace.rules, as_of, clock.today(workspace.timezone), listed)


# Whole runs


def run(
    workspace: Workspace,
    as_of: date | None = None,
    progress: Progress = silent,
    *,
    sends: bool = False,
) -> Outcome:
    """Load, build, report and, if asked, mail the month that ended: what cron calls.

    All under one lock; BusyError if another run goes on.
    """
    with _locked_and_logged(workspace) as outcome:
        _run(workspace, outcome, as_of, progress)
        if sends:
            sending.send(workspace, outcome, sending.order(workspace, None, as_of=as_of))
            sending.mirror(workspace)
    return outcome


@contextlib.contextmanager
def _locked_and_logged(workspace: Workspace) -> Iterator[Outcome]:
    """An outcome under the workspace's lock; what came of it goes to the log in any case."""
    outcome = Outcome()
    started = clock.now().isoformat()
    with store.locked(workspace.store):
        try:
            yield outcome
        except BaseException as error:
            run_log.append(workspace, outcome, started, error)
            raise
        run_log.append(workspace, outcome, started)


def _run(workspace: Workspace, outcome: Outcome, as_of: date | None, progress: Progress) -> None:
    from pipeline.ledger.loading import opened_work

    with opened_work(workspace, is_locked=True) as work:
        load(work, outcome)
        check_changes(work, outcome, as_of_day(workspace, as_of))
        build(work, outcome, as_of_day(workspace, as_of))
        with outcome.timed("publish"):
            work.publish()
    close_connections()
    report(workspace, outcome, is_dated=as_of is not None, progress=progress)


def send(workspace: Workspace, wanted: sending.Order, progress: Progress = silent) -> Outcome:
    """Mail one month's reports, under the lock, with its lines in the log."""
    with _locked_and_logged(workspace) as outcome:
        sending.send(workspace, outcome, wanted, progress)
        sending.mirror(workspace)
    return outcome


def rebuild(workspace: Workspace, as_of: date | None = None) -> Outcome:
    """Make the database again from the journal and the kept contents."""
    from pipeline.ledger.loading import opened_work

    outcome = Outcome()
    with opened_work(workspace, from_scratch=True) as work:
        if not work.journal:
            raise NothingReadableError(
                f"{workspace.root}: nothing has been read yet; `setledger run` does it all."
            )
        work.is_dirty = True
        resolve_names(work.con, build_inputs(workspace, as_of_day(workspace, as_of)))
        check_changes(work, outcome, as_of_day(workspace, as_of))
        build(work, outcome, as_of_day(workspace, as_of), is_forced=True)
        work.publish()
    return outcome


# Making workspaces


def make_demo(folder: Path) -> None:
    """A workspace from the sample exports in a folder that is new or empty, or a demo already."""
    from pipeline.errors import UsageError

    samples = resource("sample_exports")
    config = (samples / CONFIG_NAME).read_text(encoding="utf-8")
    own = folder / CONFIG_NAME
    if own.exists() and own.read_text(encoding="utf-8") != config:
        raise UsageError(
            f"{folder}: this is a workspace of your own; name another folder for the demo."
        )
    if not own.exists() and folder.exists() and any(folder.iterdir()):
        raise UsageError(f"{folder}: this folder is not empty; name a new one for the demo.")
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    for name in ("exports", "mappings"):
        shutil.copytree(samples / name, folder / name, dirs_exist_ok=True)
    for path in samples.iterdir():
        if path.suffix in (".csv", ".toml"):
            shutil.copyfile(path, folder / path.name)


_EMPTY_CONFIG = """\
# A setledger workspace. Put exports into exports/, then:
#   setledger draft-mapping exports/FILE.csv     writes a mapping and a [[sources]] entry below
#   setledger run                                loads, builds, and renders out/index.html

[workspace]
name = {name}
# timezone = "Europe/Lisbon"      # for "today" only; default: the machine's
# as_of = 2026-09-30              # pins the as-of day; default: today

# [[sources]]
# files = "exports/notebook-*.csv"
# mapping = "mappings/notebook.toml"

# Without [[clients]] everyone found in the exports is reported with defaults.
# [[clients]]
# id = "ines"                     # a-z, 0-9, hyphens; also the folder name in out/
# aliases = ["Ines D."]           # spellings in exports
# name = "Ines Duarte"
# units = "kg"                    # what the report shows: kg or lb
# bodyweight_kg = 64.0
# bring_up = ["upper_back"]       # muscles to favour
# hold_back = ["chest"]           # muscles already strong

# email = "ines@example.org"      # gets her review by mail; also: mail = false, until = 2026-12-31

# [mail]                          # for `setledger send`; `send --dry-run` needs none of it
# host = "mail.example.org"
# port = 587
# security = "starttls"           # or "tls"; "none" for a server on this machine only
# from = "My Room <room@example.org>"
# coach = "coach@example.org"     # gets the roster
# secrets_file = "smtp.env"       # mode 0600: SETLEDGER_SMTP_USER=…, SETLEDGER_SMTP_PASSWORD=…

# [rules]                         # thresholds of the review; `setledger describe rules` lists them
"""


def make_workspace(folder: Path) -> None:
    """An empty, commented workspace."""
    from pipeline.errors import UsageError

    if (folder / CONFIG_NAME).exists():
        raise UsageError(f"{folder}: there is a {CONFIG_NAME} here already; nothing was changed.")
    for name in ("exports", "mappings"):
        (folder / name).mkdir(mode=0o700, parents=True, exist_ok=True)
    name = json.dumps(folder.resolve().name or "workspace", ensure_ascii=False)
    (folder / CONFIG_NAME).write_text(_EMPTY_CONFIG.format(name=name), encoding="utf-8")
