"""Commands that build, render and mail."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from pipeline.commands.shared import (
    Progress,
    answered,
    as_of_option,
    common,
    finish,
    json_option,
    load_line,
    workspace_asked,
)
from pipeline.errors import UsageError

if TYPE_CHECKING:
    from datetime import date


@click.command()
@common
@as_of_option
def build(as_of: date | None) -> None:
    """Run the SQL models over what was loaded.

    Example: setledger build --as-of 2026-08-31
    """
    from pipeline.ledger.replay import opened_work
    from pipeline.outcome import Outcome
    from pipeline.review import build as building
    from pipeline.settings.workspace import as_of_day

    workspace, outcome = workspace_asked(), Outcome()
    with opened_work(workspace) as work:
        if not work.journal:
            raise UsageError(f"{workspace.root}: nothing is loaded yet; `setledger load` does it.")
        building.build(work, outcome, as_of_day(workspace, as_of))
        work.publish()
        outcome.problems += work.said
        outcome.notes += work.notes
    slowest = sorted(outcome.timings, key=lambda each: -each.seconds)[:8]
    finish(outcome, [f"{each.seconds:7.3f} s  {each.model}" for each in slowest] or ["No change."])


@click.command()
@common
@as_of_option
@click.option("--client", "clients", metavar="ID", multiple=True, help="Only this client.")
@click.option("--month", metavar="YYYY-MM", help="The report of a calendar month.")
def report(as_of: date | None, clients: tuple[str, ...], month: str | None) -> None:
    """Render roster and client pages from the built tables.

    Example: setledger report --client ines --month 2026-07
    """
    from pipeline.clock import month_end
    from pipeline.ledger import store
    from pipeline.outcome import Outcome
    from pipeline.pages import write

    if as_of is not None and month is not None:
        raise UsageError("--as-of and --month both name a day; give one of them.")
    workspace, outcome = workspace_asked(), Outcome()
    day = month_end(month) if month else as_of
    with (
        store.locked(workspace.store),
        Progress("pages", len(clients) or len(workspace.clients)) as step,
    ):
        write.report(workspace, outcome, as_of=day, only=clients, is_dated=day is not None,
                     progress=step)  # fmt: skip
    finish(outcome, [str(path) for path in outcome.pages])


@click.command()
@common
@as_of_option
@click.option(
    "--send", "sends", is_flag=True, help="Then mail the reports of the month that ended."
)
@json_option
def run(as_of: date | None, sends: bool, as_json: bool) -> None:
    """Load, check, build and report: what cron calls.

    Example: setledger run -w /srv/harbour-lane --send
    """
    from pipeline.runs import run as runs

    with answered(as_json):
        workspace = workspace_asked()
        bar = Progress("pages", len(workspace.clients))
        with bar as step:
            outcome = runs.run(workspace, as_of, progress=step, sends=sends, tell=bar.tell)
    summary = [*(load_line(each) for each in outcome.loads), f"Roster: {workspace.out}/index.html"]
    finish(outcome, summary, as_json=as_json)


@click.command()
@common
@click.option("--month", metavar="YYYY-MM", help="Which month; default: the month that ended.")
@click.option("--client", "clients", metavar="ID", multiple=True, help="Only this client.")
@click.option("--coach", "for_coach_only", is_flag=True, help="Only the coach's roster.")
@click.option(
    "--dry-run", "is_dry_run", is_flag=True, help="Write the mails to out/mail/ and send nothing."
)
@click.option(
    "--force", "is_forced", is_flag=True, help="Send also what was sent before, or may have been."
)
@json_option
def send(
    month: str | None,
    clients: tuple[str, ...],
    for_coach_only: bool,
    is_dry_run: bool,
    is_forced: bool,
    as_json: bool,
) -> None:
    """Mail each client's report of a month, and the roster to the coach.

    A mail is never sent twice for one client and month unless forced.

    Example: setledger send --month 2026-07 --dry-run
    """
    from pipeline.mail import send as sending
    from pipeline.runs import run as runs

    with answered(as_json):
        workspace = workspace_asked()
        request = sending.send_request(
            workspace,
            month,
            clients,
            for_coach_only=for_coach_only,
            is_dry_run=is_dry_run,
            is_forced=is_forced,
        )
        bar = Progress("mails", len(clients) or len(workspace.clients))
        with bar as step:
            outcome = runs.send(workspace, request, step, bar.tell)
    finish(outcome, [], as_json=as_json)
