"""Commands that ask what was built."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from pipeline.commands.shared import (
    as_of_asked,
    common,
    is_chatty,
    json_option,
    say,
    workspace_asked,
)
from pipeline.errors import UsageError
from pipeline.visible import json_text

if TYPE_CHECKING:
    from datetime import date


@click.command()
@common
@click.argument("sql")
@click.option(
    "--format",
    "form",
    type=click.Choice(["table", "csv", "json"]),
    default="table",
    help="How the answer is written.",
)
@click.option(
    "--raw",
    "is_raw",
    is_flag=True,
    help="Cells as they are: no mark for control characters, no apostrophe before a formula.",
)
@json_option
def query(sql: str, form: str, is_raw: bool, as_json: bool) -> None:
    """Answer read-only SQL on the ledger and the review, as table, CSV or JSON.

    Example: setledger query "select * from review.lift_status" --format csv
    """
    from pipeline.ledger.connection import opened
    from pipeline.review import query as queries

    with opened(workspace_asked().database, is_sealed=True) as con:
        queries.run_query(con, sql, "json" if as_json else form, sys.stdout, is_raw=is_raw)


@click.command()
@common
@click.argument("table", required=False)
@click.option(
    "--format",
    "form",
    type=click.Choice(["text", "md", "html"]),
    default="text",
    help="md, html: the reference of all tables with their columns, or of one.",
)
@json_option
def describe(table: str | None, form: str, as_json: bool) -> None:
    """Say what the tables, or one table's columns, mean and in which unit.

    Example: setledger describe --format html > tables.html
    """
    from dataclasses import asdict

    from pipeline.ledger.connection import opened
    from pipeline.review import query as queries
    from pipeline.review.reference import reference

    with opened(workspace_asked().database, is_sealed=True) as con:
        if form != "text" and not as_json:
            say(reference(con, form, table), nl=False)
            return
        rows = queries.describe_columns(con, table) if table else queries.describe_tables(con)
    if as_json:
        say(json_text([asdict(row) for row in rows], indent=1))
        return
    width = max((len(row.name) for row in rows), default=0)
    for row in rows:
        detail = f"{row.kind}, {row.unit}" if row.unit else row.kind
        say(f"{row.name.ljust(width)}  {row.meaning} ({detail})")


@click.command()
@common
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
@click.option(
    "--format",
    "form",
    type=click.Choice(["parquet", "csv"]),
    default="parquet",
    help="File format.",
)
@click.option("--partition", type=click.Choice(["client"]), help="A part a client.")
def export(folder: Path, form: str, partition: str | None) -> None:
    """Write every table to files of your own.

    Example: setledger export ~/training-tables --format csv
    """
    from pipeline.review.export import export_tables

    written = export_tables(
        workspace_asked().database, folder, form, by_client=partition == "client"
    )
    if is_chatty():
        say(f"{len(written)} tables written to {folder}.")


@click.command()
@common
@click.argument("figure", metavar="[TABLE.COLUMN]", required=False)
@click.option("--client", "client_id", metavar="ID", required=True, help="Whose figure.")
@click.option("--muscle", help="Of this muscle; alone it means rolling_week.fractional_sets_7d.")
@click.option("--exercise", help="Of this lift; alone it means lift_session.e1rm.")
@click.option("--on", metavar="DATE", help="Of this day or of its week.")
@click.option("--movement", help="compound or isolation.")
@click.option("--kind", help="within or across.")
@click.option("--nth", type=int, help="Place of the set in the session.")
@click.option("--measure", help="Of before and after, with --on the day of the change.")
@click.option("--code", help="Of findings: which one.")
@click.option("--subject", help="Of findings: the muscle, lift or fault that it is about.")
@json_option
def trace(figure: str | None, client_id: str, as_json: bool, **grain: Any) -> None:
    """List the sets behind a figure, with file and line, what each counted and why.

    Example: setledger trace --client ines --muscle chest --on 2026-08-30
    """
    from pipeline.clock import parse_day
    from pipeline.ledger.connection import opened
    from pipeline.review import query as queries
    from pipeline.review.trace import trace as find

    short = "lift_session.e1rm" if grain["exercise"] else "rolling_week.fractional_sets_7d"
    if figure is None and not (grain["exercise"] or grain["muscle"]):
        raise UsageError("Name a figure as TABLE.COLUMN, or --muscle or --exercise with --on.")
    if grain["on"]:
        grain["on"] = parse_day(grain["on"], "--on")
    with opened(workspace_asked().database, is_sealed=True) as con:
        traced = find(con, figure or short, {"client_id": client_id, **grain})
    if as_json:
        records = [dict(zip(traced.columns, row, strict=True)) for row in traced.rows]
        answer = {"figure": traced.figure, "value": traced.value, traced.kind: records}
        say(json_text(answer, indent=1))
        return
    if traced.value is not None:
        say(f"{traced.figure} = {traced.value}")
    say(f"{len(traced.rows)} {traced.kind} behind it:")
    queries.write_table(list(traced.columns), iter(traced.rows), sys.stdout)


@click.command()
@common
@click.option(
    "--as-of", metavar="DATE", callback=as_of_asked, help="As-of day; default: that of the review."
)
@click.option("--client", "client_id", metavar="ID", required=True, help="Whose training.")
@click.option(
    "--rest-days",
    type=click.IntRange(0, 14),
    default=0,
    metavar="N",
    help="Rest days put into each round of the rotation.",
)
@click.option(
    "--sessions",
    type=click.IntRange(1, 7),
    default=None,
    metavar="N",
    help="So many sessions a week, for who trains by weekdays.",
)
@click.option(
    "--sets",
    "sets",
    multiple=True,
    metavar="MUSCLE=+N",
    help="Sets a week added to (+N) or taken from (-N) a muscle.",
)
@click.option(
    "--closer",
    "closer",
    multiple=True,
    metavar="MUSCLE",
    help="The last set of each exercise for a muscle closer to failure: a hard set.",
)
@click.option(
    "--drop-extensions",
    "is_without_extensions",
    is_flag=True,
    help="No drop sets, rest-pause or partials after failure.",
)
@click.option(
    "--swap", "swaps", multiple=True, metavar='"OLD=NEW"', help="One exercise in place of another."
)
@json_option
def whatif(
    client_id: str,
    as_of: date | None,
    rest_days: int,
    sessions: int | None,
    sets: tuple[str, ...],
    closer: tuple[str, ...],
    is_without_extensions: bool,
    swaps: tuple[str, ...],
    as_json: bool,
) -> None:
    """Say what a change would make of a week, before it is made: an estimate.

    \b
    Weekly hard sets of each muscle, days between hits and sets a hit, now and after, beside the
    guide. Rests on the four weeks to the last logged day.

    Example: setledger whatif --client kofi --rest-days 1 --sets biceps=-1
    """
    from pipeline.review import query as queries
    from pipeline.review.whatif import answer as changes
    from pipeline.review.whatif import text as words
    from pipeline.review.whatif.request import Wish

    wish = Wish(client_id, rest_days, sets, swaps, is_without_extensions, closer, sessions or 0)
    answer = changes.answer(workspace_asked(), wish, as_of)
    if as_json:
        say(json_text(words.as_json(answer), indent=1))
        return
    say("\n".join(words.as_lines(answer)) + "\n")
    headings, rows = words.table(answer)
    queries.write_table(headings, iter(rows), sys.stdout)
    say("\n" + "\n".join(words.notes(answer)))
