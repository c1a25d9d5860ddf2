"""One run: load, check, build, report; one client's failure never stops the others."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

from pipeline import clock
from pipeline.checks.contract.scope import contract_scope
from pipeline.checks.contract.standing import note_asked
from pipeline.checks.contract.validate import validate
from pipeline.checks.contract.verdicts import is_in_doubt, store_verdicts
from pipeline.errors import DamageError, DatabaseError, NothingReadableError, UsageError
from pipeline.ledger import store
from pipeline.ledger.connection import close_connections
from pipeline.ledger.database import look_into
from pipeline.ledger.soundness import look
from pipeline.outcome import Outcome, Progress, Tell, silent
from pipeline.pages.write import report
from pipeline.review.build import build
from pipeline.review.inputs import build_inputs, resolve_names
from pipeline.runs import run_log
from pipeline.runs.load import load
from pipeline.settings.workspace import Workspace, as_of_day

if TYPE_CHECKING:
    from pipeline.ledger.work import Work
    from pipeline.mail.send import SendRequest


# Loading


# The data contract


def check_changes(work: Work, outcome: Outcome, as_of: date) -> None:
    """Ask the data contract of the client-days that this run changed; not at all if none.

    A clause that does not hold is asked of the whole ledger, and again in each run until it holds.
    """
    scope = contract_scope(work.workspace, as_of)
    has_changes = bool(work.con.execute("from changed_days limit 1").fetchall())
    is_standing = is_in_doubt(work.con, scope)
    if not has_changes and not is_standing:
        return
    with outcome.timed("check"):
        verdicts = validate(work.con, replace(scope, is_partial=not is_standing))
        if not is_standing and any(not each.is_met and each.load_id is None for each in verdicts):
            verdicts = validate(work.con, scope)
        store_verdicts(work.con, verdicts)
        note_asked(work.con, scope)
        work.is_checked = work.is_dirty = True
    outcome.problems += [
        f"data contract: {each.sentence} `setledger check` lists all verdicts."
        for each in verdicts
        if not each.is_met and each.is_breach and each.key != "set_aside_share"
    ]


# Whole runs


def run(
    workspace: Workspace,
    as_of: date | None = None,
    progress: Progress = silent,
    *,
    sends: bool = False,
    tell: Tell = silent,
) -> Outcome:
    """Load, build, report and, if asked, mail the month that ended: what cron calls.

    All under one lock; BusyError if another run goes on.
    """
    with _locked_and_logged(workspace) as outcome:
        _run(workspace, outcome, as_of, progress)
        if sends:
            from pipeline.mail import send as sending  # charts of mails take long to import

            request = sending.send_request(workspace, None, as_of=as_of)
            if not _mail_faults(workspace, request):  # said by the run already
                sending.send(workspace, outcome, request, tell=tell)
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
    try:
        _derive(workspace, outcome, as_of)
    except DatabaseError as error:
        outcome.loads.clear()
        outcome.problems[:] = [f"{str(error).split(';')[0]}; it is made again from what was read."]
        _derive(workspace, outcome, as_of, from_scratch=True)
    close_connections()
    report(workspace, outcome, is_dated=as_of is not None, progress=progress)


def _derive(
    workspace: Workspace, outcome: Outcome, as_of: date | None, *, from_scratch: bool = False
) -> None:
    """Load, check, build and publish."""
    from pipeline.ledger.replay import opened_work

    with opened_work(workspace, is_locked=True, from_scratch=from_scratch) as work:
        load(work, outcome)
        check_changes(work, outcome, as_of_day(workspace, as_of))
        build(work, outcome, as_of_day(workspace, as_of))
        with outcome.timed("publish"):
            work.publish()
        outcome.problems += work.said
        outcome.notes += work.notes


def send(
    workspace: Workspace,
    request: SendRequest,
    progress: Progress = silent,
    tell: Tell = silent,
) -> Outcome:
    """Mail one month's reports, under the lock, with its lines in the log."""
    from pipeline.mail import send as sending

    with _locked_and_logged(workspace) as outcome:
        if faults := _mail_faults(workspace, request):
            raise DamageError(" ".join(faults))
        sending.send(workspace, outcome, request, progress, tell)
        sending.mirror(workspace)
    return outcome


def _mail_faults(workspace: Workspace, request: SendRequest) -> list[str]:
    """Why nobody can tell what was mailed; nothing for a dry run or one client by force."""
    if request.is_dry_run or (request.is_forced and (request.only or request.for_coach_only)):
        return []
    return look(workspace.store, look_into(workspace.database)).mail_faults


def rebuild(
    workspace: Workspace, as_of: date | None = None, *, is_salvage: bool = False
) -> Outcome:
    """Make the database again from the journal and the kept contents.

    KeptVersionError, and nothing is published, while a version whose rows count cannot be read.
    `is_salvage`: from what is sound of a damaged journal, and from the files in exports/.
    """
    from pipeline.ledger.replay import opened_work

    outcome = Outcome()
    if is_salvage:
        _salvage(workspace, outcome, as_of)
        return outcome
    with opened_work(workspace, from_scratch=True) as work:
        if not work.journal:
            raise NothingReadableError(
                f"{workspace.root}: nothing has been read yet; `setledger run` does it all."
            )
        _make_again(work, outcome, as_of)
    return outcome


def _make_again(work: Work, outcome: Outcome, as_of: date | None) -> None:
    day = as_of_day(work.workspace, as_of)
    work.is_dirty = True
    resolve_names(work.con, build_inputs(work.workspace, day))
    check_changes(work, outcome, day)
    build(work, outcome, day, is_forced=True)
    work.publish()
    outcome.problems += work.said
    outcome.notes += work.notes


def _salvage(workspace: Workspace, outcome: Outcome, as_of: date | None) -> None:
    """Take what is sound, say what is lost, and keep the damaged files beside."""
    from pipeline.ledger import salvage
    from pipeline.ledger.replay import opened_work

    with store.locked(workspace.store):
        state = look(workspace.store, look_into(workspace.database))
        if not (state.faults or state.mail_faults):
            raise UsageError(
                f"{workspace.root}: journal and sent log are sound, so there is nothing to "
                "salvage; `setledger rebuild` makes the database again."
            )
        saved = salvage.salvage(workspace, state)
        outcome.problems += saved.lost
        copies = salvage.set_aside(workspace)
        with opened_work(workspace, is_locked=True, rewritten=saved.events) as work:
            work.mails = saved.mails
            try:
                load(work, outcome)
            except NothingReadableError as error:
                outcome.problems.append(str(error))
            _make_again(work, outcome, as_of)
            outcome.problems += salvage.unnamed(workspace, work.journal)
    kept = ", ".join(str(path.relative_to(workspace.root)) for path in copies)
    outcome.problems.append(
        f"The files as they were are kept: {kept}. What was accepted, held or taken back in lost "
        "lines must be said again."
    )


# Making workspaces
