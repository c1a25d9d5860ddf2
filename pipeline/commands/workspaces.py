"""Commands that make workspaces and look after them."""

from __future__ import annotations

from pathlib import Path

import click

from pipeline.commands.shared import (
    Progress,
    answered,
    common,
    finish,
    folder_asked,
    json_option,
    option,
    say,
    workspace_asked,
)
from pipeline.visible import json_text


@click.command()
@common
@click.argument("folder", metavar="[DIR]", default="harbour-lane", type=click.Path(path_type=Path))
@click.option("--open", "is_opened", is_flag=True, help="Open the roster page in a browser.")
def demo(folder: Path, is_opened: bool) -> None:
    """Make a workspace from the sample exports, run everything, say where the pages are.

    Example: setledger demo harbour-lane --open
    """
    from pipeline.runs import run as runs
    from pipeline.settings.new_workspace import make_demo
    from pipeline.settings.workspace_file import find_workspace

    make_demo(folder)
    workspace = find_workspace(folder)
    with Progress("pages", len(workspace.clients)) as step:
        outcome = runs.run(workspace, progress=step)
    roster = workspace.out / "index.html"
    sets = sum(each.sets_loaded for each in outcome.loads)
    if outcome.loads:
        aside = sum(each.lines_set_aside for each in outcome.loads)
        say(f"Loaded {sets:,} sets from {len(outcome.loads)} exports; "
                   f"{aside} damaged lines are set aside, each with its reason.")  # fmt: skip
    say(f"Roster: {roster.resolve()}")
    if is_opened:
        click.launch(roster.resolve().as_uri())
    finish(outcome, [])


@click.command()
@common
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
def init(folder: Path) -> None:
    """Make an empty, commented workspace.

    Example: setledger init ~/training
    """
    from pipeline.settings.new_workspace import make_workspace

    make_workspace(folder)
    say(f"{folder}: put exports into exports/, then draft a mapping for one of them.")


@click.command("draft-mapping")
@common
@click.argument(
    "files", metavar="FILE...", nargs=-1, required=True, type=click.Path(path_type=Path)
)
@click.option(
    "-o", "--output", metavar="FILE", help="Where to write; - prints it and changes nothing."
)
@json_option
def draft_mapping(files: tuple[Path, ...], output: str | None, as_json: bool) -> None:
    """Look at an unknown CSV and write its mapping, each guess with its reason.

    \b
    Where two readings fit, both stand in the mapping behind "#?"; `setledger load` passes the
    source over until you take the mark away before the right one.

    Example: setledger draft-mapping ~/Downloads/log.csv
    """
    from dataclasses import asdict

    from pipeline.drafting.place import draft_mappings

    with answered(as_json):
        written, errors = draft_mappings(files, folder_asked(), output)
    needs_person = bool(errors) or any(each.needs_person for each in written)
    exit_code = int(needs_person) if written else 2
    for each in written:
        if as_json:
            pass
        elif output == "-":
            say(each.text, nl=False)
        elif not option("quiet"):
            say("\n".join((f"{each.path}: written.", *each.notes, *each.preview)))
        for sentence in (*each.opens, *each.warnings):
            say(sentence, err=True)
    for error in errors:
        say(str(error), err=True)
    if as_json:
        problems = [str(error) for error in errors]
        mappings = [asdict(each) for each in written]
        say(
            json_text(
                {"exit_code": exit_code, "problems": problems, "mappings": mappings}, indent=1
            )
        )
    if exit_code:
        raise SystemExit(exit_code)


@click.command()
@common
@click.option(
    "--write",
    "is_written",
    is_flag=True,
    help="Begin a line in exercises.csv for each unknown name.",
)
@json_option
def check(is_written: bool, as_json: bool) -> None:
    """Say what is wrong, where, and how to mend it: files, names, days, the data contract.

    Exits 1 if something needs a person. Example: setledger check --write
    """
    from pipeline.checks import check as checking
    from pipeline.checks import exercises, text

    workspace = workspace_asked()
    written = exercises.write_names(workspace) if is_written else None
    found = checking.check(workspace)
    if as_json:
        say(json_text(text.as_json(found, written), indent=1))
    else:
        for line in text.as_lines(found, written, with_notes=not option("quiet")):
            say(line)
    if found.exit_code:
        raise SystemExit(found.exit_code)
