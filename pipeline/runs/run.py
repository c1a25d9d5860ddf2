"""One run: load, check, build, report; one client's failure never stops the others."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

from pipeline import clock
from pipeline.checks.contract.scope import contract_scope
from pipeline.checks.contract.validate import validate
from pipeline.checks.contract.verdicts import is_in_doubt, store_verdicts
from pipeline.errors import NothingReadableError
from pipeline.ledger import store
from pipeline.ledger.connection import close_connections
from pipeline.mail import send as sending
from pipeline.outcome import Outcome, Progress, Tell, silent
from pipeline.pages.write import report
from pipeline.review.build import build
from pipeline.review.inputs import build_inputs, resolve_names
from pipeline.runs import run_log
from pipeline.runs.load import load
from pipeline.settings.workspace import Workspace, as_of_day

if TYPE_CHECKING:
    from pipeline.ledger.work import Work


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
            request = sending.send_request(workspace, None, as_of=as_of)
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
    from pipeline.ledger.replay import opened_work

    with opened_work(workspace, is_locked=True) as work:
        load(work, outcome)
        check_changes(work, outcome, as_of_day(workspace, as_of))
        build(work, outcome, as_of_day(workspace, as_of))
        with outcome.timed("publish"):
            work.publish()
    close_connections()
    report(workspace, outcome, is_dated=as_of is not None, progress=progress)


def send(
    workspace: Workspace,
    request: sending.SendRequest,
    progress: Progress = silent,
    tell: Tell = silent,
) -> Outcome:
    """Mail one month's reports, under the lock, with its lines in the log."""
    with _locked_and_logged(workspace) as outcome:
        sending.send(workspace, outcome, request, progress, tell)
        sending.mirror(workspace)
    return outcome


def rebuild(workspace: Workspace, as_of: date | None = None) -> Outcome:
    """Make the database again from the journal and the kept contents."""
    from pipeline.ledger.replay import opened_work

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
