"""Commands on single clients: what setledger.toml says of them, and the coach's word to them."""

from __future__ import annotations

import sys
from dataclasses import asdict
from typing import TYPE_CHECKING

import click

from pipeline.commands.shared import Command, common, json_option, option, say, workspace_asked
from pipeline.settings.workspace import CONFIG_NAME
from pipeline.visible import json_text

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import date

    from pipeline.settings.edit import Edit


def _day(_context: click.Context, param: click.Parameter, value: str | None) -> date | None:
    from pipeline.clock import parse_day

    return parse_day(value, param.opts[0]) if value is not None else None


def _day_option(*names: str, meaning: str, is_needed: bool = False) -> Callable[[Command], Command]:
    return click.option(*names, metavar="DATE", callback=_day, required=is_needed, help=meaning)


def _tell(client_id: str, done: Edit) -> None:
    """The block that was written, and where."""
    if not option("quiet"):
        say(f"{CONFIG_NAME}:{done.line}: written for {client_id}:\n{done.block}", nl=False)


@click.group()
@common
def client() -> None:
    """List clients, and write what you know of them into setledger.toml.

    Comments and order of the file stay as they are; `setledger run` then goes by it.

    Example: setledger client change ines --on 2026-09-01 "one rest day more"
    """


@client.command("list")
@common
@json_option
def list_(as_json: bool) -> None:
    """List clients: sets, last session, and where the mail goes.

    Example: setledger client list
    """
    from pipeline.review.query import write_table
    from pipeline.runs import clients

    lines = clients.listing(workspace_asked())
    if as_json:
        told = [asdict(line) for line in lines]
        say(json_text(told, indent=1))
        return
    rows = ((each.client_id, each.name, each.sets, each.last_on, each.mail) for each in lines)
    write_table(["id", "name", "sets", "last session", "mail"], rows, sys.stdout)


@client.command()
@common
@click.argument("client_id", metavar="ID")
@click.option("--name", required=True, help="The name on pages and mails.")
@click.option("--email", metavar="ADDRESS", help="Where the review goes each month.")
@click.option(
    "--alias", "aliases", metavar="SPELLING", multiple=True, help="A spelling in exports."
)
def add(client_id: str, name: str, email: str | None, aliases: tuple[str, ...]) -> None:
    """List one more client.

    Example: setledger client add nina --name "Nina Voss" --alias "N. Voss"
    """
    from pipeline.runs import clients

    _tell(client_id, clients.add(workspace_asked(), client_id, name, email, aliases))


@client.command()
@common
@click.argument("client_id", metavar="ID")
@click.argument("note", metavar="NOTE")
@_day_option("--on", is_needed=True, meaning="The first day of the changed training.")
@click.option(
    "--exercise",
    metavar="EXERCISE",
    help="The lift that was changed (machine, gym, form): its figures begin anew that day.",
)
def change(client_id: str, note: str, on: date, exercise: str | None) -> None:
    """Note what was changed in the training, and when: the page compares before and after.

    Example: setledger client change ines --on 2026-09-01 "one rest day more"
    """
    from pipeline.runs import clients

    _tell(client_id, clients.change(workspace_asked(), client_id, on, note, exercise))


@client.command()
@common
@click.argument("client_id", metavar="ID")
@click.argument("code", metavar="[CODE]", required=False)
@click.argument("subject", metavar="[SUBJECT]", required=False)
@_day_option("--on", meaning="The first day of the changed training; default: the as-of day.")
def adopt(client_id: str, code: str | None, subject: str | None, on: date | None) -> None:
    """Note a finding as the change that is made now; by default what is to be changed first.

    The page then says each month whether it was done, and whether it worked.

    Example: setledger client adopt ines volume upper_back --on 2026-09-01
    """
    from pipeline.runs import clients

    _tell(client_id, clients.adopt(workspace_asked(), client_id, code, subject, on))


@client.command()
@common
@click.argument("client_id", metavar="ID")
@click.argument("exercise", metavar="EXERCISE")
@click.argument("goal", metavar="LOADxREPS")
def target(client_id: str, exercise: str, goal: str) -> None:
    """Set a load for a number of repetitions, in the unit that the client reads.

    The exercise may be any spelling of the log.

    Example: setledger client target ines "incline press" 60x10
    """
    from pipeline.runs import clients

    _tell(client_id, clients.target(workspace_asked(), client_id, exercise, goal))


@client.command()
@common
@click.argument("client_id", metavar="ID")
@click.argument("kind", metavar="KIND")
@_day_option("--from", "from_on", is_needed=True, meaning="Its first day.")
@_day_option("--to", "to_on", meaning="Its last day; without one it goes on.")
def phase(client_id: str, kind: str, from_on: date, to_on: date | None) -> None:
    """Note a phase: cut, gain, deload, pause or care.

    Example: setledger client phase ines pause --from 2026-05-02 --to 2026-05-20
    """
    from pipeline.runs import clients

    _tell(client_id, clients.phase(workspace_asked(), client_id, kind, from_on, to_on))


@client.command()
@common
@click.argument("client_id", metavar="ID")
@click.argument("code", metavar="CODE")
@click.option("--subject", metavar="S", help="One muscle or lift; default: the finding as a whole.")
@_day_option("--until", "until_on", meaning="The last day; needed where it is a matter of health.")
@click.option("--why", metavar="TEXT", required=True, help="Your reason, for the coach's page.")
def waive(client_id: str, code: str, subject: str | None, until_on: date | None, why: str) -> None:
    """Put a finding aside: it is never the first change, and what it bars stays barred.

    Findings on health (care, pain_note, return, strength_drop) only until a day at most 28 days
    away.

    Example: setledger client waive ines rest --until 2026-12-31 --why "works shifts"
    """
    from pipeline.runs import clients

    workspace = workspace_asked()
    _tell(client_id, clients.waive(workspace, client_id, code, subject, until_on, why))


@client.command()
@common
@click.argument("client_id", metavar="ID")
@_day_option("--on", is_needed=True, meaning="The client's last day.")
def leave(client_id: str, on: date) -> None:
    """Note that a client leaves: no mail after that day; the page stays.

    Example: setledger client leave ines --on 2026-12-31
    """
    from pipeline.runs import clients

    _tell(client_id, clients.leave(workspace_asked(), client_id, on))


@click.command()
@common
@click.argument("client_id", metavar="ID")
@click.option(
    "--month", metavar="YYYY-MM", help="Which month; default: the one that the latest page shows."
)
def note(client_id: str, month: str | None) -> None:
    """Open your own word to a client in $EDITOR: it stands on that month's page and in its mail.

    The file is notes/ID/YYYY-MM.md, in Markdown; left empty, there is none.

    Example: setledger note ines --month 2026-08
    """
    from pipeline.clock import month_end
    from pipeline.runs import clients

    workspace = workspace_asked()
    path = clients.write_note(workspace, client_id, month_end(month) if month else None)
    if not option("quiet"):
        told = f"{client_id}: nothing is written, so there is no note of that month."
        if path is not None:
            told = (
                f"{path.relative_to(workspace.root)}: stands on the page of that month, and in its "
                "mail, from the next `setledger run` on."
            )
        say(told)
