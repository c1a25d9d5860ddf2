"""The whole of `setledger check`: the workspace's files as they stand, and the published database.

Nothing is changed but kept versions that are damaged and whose equal file lies in exports/, and the
verdicts of the data contract, which reach ledger.checks through a locked
work copy, and only if they differ from those that stand there; if another run holds the lock, they
are left.
"""

from __future__ import annotations

import contextlib
from collections.abc import Sequence

from pipeline.checks import clients, corrections, exercises, ledger, slips, store, workspace_files
from pipeline.checks.contract.scope import contract_scope
from pipeline.checks.contract.validate import validate
from pipeline.checks.contract.verdicts import Verdict, differs, store_verdicts
from pipeline.checks.remarks import Remark, Report
from pipeline.errors import BusyError, DamageError, KeptVersionError, SetledgerError
from pipeline.ledger.connection import connect
from pipeline.ledger.replay import opened_work
from pipeline.settings.workspace import Workspace, as_of_day


def check(workspace: Workspace) -> Report:
    """Look at the whole workspace; SetledgerError only if its store cannot be read at all."""
    as_of = as_of_day(workspace, None)
    catalogue, remarks = exercises.own_catalogue(workspace)
    remarks += workspace_files.sources(workspace)
    remarks += clients.configured(workspace, as_of)
    remarks += clients.muscles(workspace, catalogue)
    remarks += workspace_files.retired(workspace)
    remarks += workspace_files.mail(workspace)
    remarks += clients.without_email(workspace)
    remarks += store.kept(workspace)
    if not workspace.database.exists():
        remarks += clients.exercises(workspace, catalogue)
        text = "nothing is loaded yet; `setledger run` does it all."
        return Report((*remarks, Remark("note", "versions", workspace.database.name, text)), (), 0)
    remarks += ledger.held_versions(workspace)
    try:
        con = connect(workspace.database)
    except SetledgerError as error:
        return Report((*remarks, Remark.of(error, "store")), (), 0)
    with con:
        remarks += corrections.weigh_ins_and_corrections(workspace, con)
        remarks += clients.exercises(workspace, catalogue, exercises.logged(con, catalogue))
        remarks += clients.loaded(workspace, con)
        remarks += exercises.names(con, catalogue)
        remarks += slips.unit_slips(con)
        remarks += ledger.shared_days(con)
        remarks += ledger.lines_set_aside(con)
        verdicts = validate(con, contract_scope(workspace, as_of))
        remarks += ledger.unmet(con, verdicts)
        is_news = differs(con, verdicts)
        counted = con.execute("select count(*) from ledger.sets where replaced_by is null")
        [(sets,)] = counted.fetchall()
    if is_news:
        _keep(workspace, verdicts)
    return Report(tuple(remarks), tuple(verdicts), sets)


def _keep(workspace: Workspace, verdicts: Sequence[Verdict]) -> None:
    """The verdicts into ledger.checks, unless another run is going on."""
    left = (BusyError, DamageError, KeptVersionError, OSError)
    with contextlib.suppress(*left), opened_work(workspace) as work:
        store_verdicts(work.con, verdicts)
        work.is_checked = work.is_dirty = True
        work.publish()
