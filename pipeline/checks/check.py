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
from pipeline.checks.contract.scope import Scope, contract_scope
from pipeline.checks.contract.standing import is_noted, note_asked, standing_verdicts
from pipeline.checks.contract.validate import validate
from pipeline.checks.contract.verdicts import Verdict, differs, store_verdicts
from pipeline.checks.remarks import Remark, Report
from pipeline.errors import BusyError, DamageError, KeptVersionError, SetledgerError
from pipeline.ledger.connection import connect
from pipeline.ledger.journal import known_spellings, read_journal
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
        spellings = known_spellings(read_journal(workspace.store))
        remarks += clients.loaded(workspace, con, spellings)
        remarks += ledger.shared_sets(con, spellings)
        remarks += exercises.names(con, catalogue)
        remarks += slips.unit_slips(con)
        remarks += ledger.shared_days(con)
        scope = contract_scope(workspace, as_of)
        standing = standing_verdicts(con, scope)
        verdicts = validate(con, scope) if standing is None else standing
        remarks += ledger.lines_set_aside(con, verdicts, workspace.rules.set_aside_share)
        remarks += ledger.unmet(con, verdicts, as_of)
        is_news = standing is None and (differs(con, verdicts) or not is_noted(con, scope))
        counted = con.execute("select count(*) from ledger.sets where replaced_by is null")
        [(sets,)] = counted.fetchall()
    if is_news:
        _keep(workspace, scope, verdicts)
    return Report(tuple(sorted(remarks, key=lambda each: each.rank)), tuple(verdicts), sets)


def _keep(workspace: Workspace, scope: Scope, verdicts: Sequence[Verdict]) -> None:
    """The verdicts into ledger.checks, unless another run is going on."""
    left = (BusyError, DamageError, KeptVersionError, OSError)
    with contextlib.suppress(*left), opened_work(workspace) as work:
        store_verdicts(work.con, verdicts)
        note_asked(work.con, scope)
        work.is_checked = work.is_dirty = True
        work.publish()
