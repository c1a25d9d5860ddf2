"""Commands on a client's sessions: the next one as a sheet, two spans side by side."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline.commands.shared import (
    as_of_asked,
    common,
    json_option,
    option,
    say,
    workspace_asked,
)
from pipeline.visible import json_text

if TYPE_CHECKING:
    from datetime import date


@click.command("next")
@common
@click.option(
    "--as-of", metavar="DATE", callback=as_of_asked, help="As-of day; default: that of the review."
)
@click.option("--client", "client_id", metavar="ID", required=True, help="Whose session.")
@click.option(
    "--format", "form", type=click.Choice(["html", "csv"]), default="html", help="A page, or CSV."
)
@click.option(
    "-o",
    "--output",
    metavar="FILE",
    help="Where to write, - for the terminal; default: out/ID/next.html, CSV to the terminal.",
)
def next_(client_id: str, as_of: date | None, form: str, output: str | None) -> None:
    """Make the sheet for a client's next session: last sets, best, one line to beat.

    \b
    Which session comes next is read from the rotation, else from the weekdays, else the kind
    trained longest ago. No line to beat in a cut, in care, after a layoff or while strength falls.

    Example: setledger next --client ines --format csv
    """
    from io import StringIO

    from pipeline.ledger.store import write_whole
    from pipeline.pages import next_sheet, render
    from pipeline.review.next_session import next_session

    workspace = workspace_asked()
    found = next_session(workspace, client_id, as_of)
    if form == "csv":
        sheet = StringIO()
        next_sheet.write_csv(found, sheet)
        text = sheet.getvalue()
        if output is None:
            for notice in next_sheet.notices(found):
                say(notice, err=True)
    else:
        text = render.render_next(next_sheet.next_sheet(found, workspace.name))
    if output == "-" or (output is None and form == "csv"):
        say(text.rstrip("\n"))
        return
    path = Path(output) if output else workspace.out / client_id / "next.html"
    if output is None:
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    write_whole(path, text.encode())
    if not option("quiet"):
        say(str(path))


@click.command()
@common
@click.option("--client", "client_id", metavar="ID", required=True, help="Whose training.")
@click.option("--span", metavar="FROM..TO", required=True, help="Two days with .. between.")
@click.option("--against", metavar="FROM..TO", required=True, help="What it is held against.")
@json_option
def compare(client_id: str, span: str, against: str, as_json: bool) -> None:
    """Set two spans side by side: sets per muscle, sessions, effort, lifts, records.

    Example: setledger compare --client ines --span 2026-06-01..2026-08-30 --against
    2025-06-01..2025-08-30
    """
    from pipeline.review import compare as comparing
    from pipeline.review.query import write_table

    this = comparing.read_span(span, "--span")
    other = comparing.read_span(against, "--against")
    found = comparing.compare(workspace_asked(), client_id, this, other)
    if as_json:
        say(json_text(comparing.as_json(found), indent=1))
        return
    write_table(comparing.COLUMNS, iter(comparing.as_rows(found)), sys.stdout)
