"""Commands that read exports and take them back."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

import click

from pipeline.commands.shared import (
    answered,
    as_of_option,
    common,
    finish,
    json_option,
    load_line,
    say,
    workspace_asked,
)

if TYPE_CHECKING:
    from datetime import date


@click.command()
@common
@click.option(
    "--accept",
    "accepted",
    metavar="FILE",
    multiple=True,
    help="Let a held file count as it is now; may be repeated.",
)
@json_option
def load(accepted: tuple[str, ...], as_json: bool) -> None:
    """Read new or changed exports.

    Example: setledger load --accept exports/tidy-2026.csv
    """
    from pipeline.ledger.replay import opened_work
    from pipeline.outcome import Outcome
    from pipeline.runs import load as loading

    outcome = Outcome()
    with answered(as_json), opened_work(workspace_asked()) as work:
        loading.load(work, outcome, accepted)
        work.publish()
        outcome.problems += work.said
        outcome.notes += work.notes
    finish(
        outcome, [load_line(each) for each in outcome.loads] or ["Nothing new."], as_json=as_json
    )


@click.command()
@common
@json_option
def loads(as_json: bool) -> None:
    """List the versions read: loaded, held, replaced, unloaded.

    Example: setledger loads --json
    """
    from pipeline.outcome import Outcome
    from pipeline.review import versions

    problems = versions.list_versions(workspace_asked(), "json" if as_json else "table", sys.stdout)
    finish(Outcome(problems=problems), [])


@click.command()
@common
@click.argument("version", metavar="FILE|LOAD_ID")
def unload(version: str) -> None:
    """Take one version back; its file stays unloaded.

    Example: setledger unload exports/tidy-2026.csv
    """
    from pipeline.ledger import loading
    from pipeline.outcome import Outcome

    event, problems = loading.unload(workspace_asked(), version)
    finish(
        Outcome(problems=problems),
        [
            f"{event['path']} (load {event['load_id']}) is taken back; `setledger run` makes the "
            "pages again."
        ],
    )


@click.command()
@common
@as_of_option
@click.option(
    "--salvage",
    "is_salvage",
    is_flag=True,
    help="Take what is sound of a damaged .setledger/ and say what is lost.",
)
def rebuild(as_of: date | None, is_salvage: bool) -> None:
    """Make the database again from what was read, to equal tables.

    Example: setledger rebuild
    """
    from pipeline.runs import run as runs

    done = runs.rebuild(workspace_asked(), as_of, is_salvage=is_salvage)
    finish(done, ["The database is made again."])


@click.command()
@common
@click.argument("client", metavar="CLIENT")
@click.option("--yes", "is_sure", is_flag=True, help="Do not ask first; for scripts.")
@click.option(
    "--readmit",
    "is_back",
    is_flag=True,
    help="Let a forgotten client in again; the next run reads what its exports hold.",
)
def forget(client: str, is_sure: bool, is_back: bool) -> None:
    """Remove a client everywhere: rows, kept exports, pages, mails, log lines.

    A re-export that carries the client again does not bring it back; --readmit does.

    Example: setledger forget ines
    """
    from pipeline.ledger import erasure, store
    from pipeline.outcome import Outcome
    from pipeline.runs import forget as forgetting

    workspace, outcome = workspace_asked(), Outcome()
    with store.locked(workspace.store):
        if is_back:
            erasure.readmit(workspace, client)
            say(f"{client} is let in again; `setledger run` reads what the exports hold.")
            return
        removal = forgetting.plan(workspace, client)
        told = "\n".join(f"  {line}" for line in removal.sentences())
        if not is_sure:
            say(f"Of {client} there are:\n{told}")
            click.confirm("Remove them for good?", abort=True)
        forgetting.forget(workspace, removal, outcome)
    say(f"{client} is forgotten. Removed:\n{told}")
    for path in removal.left:
        say(f"{path} is your own file and may still hold lines of {client}: look yourself.")
    finish(outcome, [])
