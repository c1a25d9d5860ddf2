"""The command line: parse, call one library function, print, set the exit code."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from pipeline import __version__
from pipeline.errors import SetledgerError, UsageError

if TYPE_CHECKING:
    from datetime import date

    from pipeline.outcome import Outcome
    from pipeline.settings.workspace import Workspace

Command = TypeVar("Command", bound=Callable[..., Any])


# Options that recur


def _keep(name: str) -> Callable[[click.Context, click.Parameter, Any], None]:
    """An option that may stand before or after the command; the last one given counts."""

    def store(context: click.Context, _param: click.Parameter, value: Any) -> None:
        options = context.ensure_object(dict)
        if value not in (None, False, 0):
            options[name] = value

    return store


def common(command: Command) -> Command:
    """-w, -v and --quiet, which every command takes."""
    options = (
        click.option(
            "-w",
            "--workspace",
            type=click.Path(path_type=Path),
            expose_value=False,
            callback=_keep("workspace"),
            help="Workspace folder; default: SETLEDGER_WORKSPACE, else the current folder.",
        ),
        click.option("-v", "--verbose", count=True, expose_value=False, callback=_keep("verbose"),
                     help="Say more; -vv shows tracebacks."),
        click.option("--quiet", is_flag=True, expose_value=False, callback=_keep("quiet"),
                     help="Say nothing unless something is wrong."),
    )  # fmt: skip
    for option in reversed(options):
        command = option(command)
    return command


def _day(_context: click.Context, _param: click.Parameter, value: str | None) -> date | None:
    from pipeline.clock import parse_day

    return parse_day(value, "--as-of") if value is not None else None


as_of_option = click.option(
    "--as-of", metavar="DATE", callback=_day, help="As-of day, YYYY-MM-DD; default: today."
)
json_option = click.option("--json", "as_json", is_flag=True, help="Answer as JSON.")


def _workspace() -> Workspace:
    from pipeline.settings.workspace import find_workspace

    return find_workspace(_folder())


def _folder() -> Path:
    options = click.get_current_context().ensure_object(dict)
    return Path(options.get("workspace") or os.environ.get("SETLEDGER_WORKSPACE") or ".")


def _option(name: str) -> Any:
    return click.get_current_context().ensure_object(dict).get(name)


def _is_chatty() -> bool:
    """Whether to tell what went well: to a person at a terminal, or when asked with -v."""
    return not _option("quiet") and bool(_option("verbose") or sys.stdout.isatty())


def _finish(outcome: Outcome, summary: list[str]) -> None:
    """Problems to stderr, what was done to a terminal, and the exit code."""
    for problem in outcome.problems:
        click.echo(problem, err=True)
    if _is_chatty():
        for line in (*summary, *outcome.notes):
            click.echo(line)
    if outcome.exit_code:
        raise SystemExit(outcome.exit_code)


class _Progress:
    """A progress bar with names, on stderr and only at a terminal."""

    def __init__(self, label: str, length: int) -> None:
        is_shown = sys.stderr.isatty() and not _option("quiet")
        self.bar: Any = (
            click.progressbar(
                length=length, label=label, file=sys.stderr, item_show_func=lambda name: name or ""
            )
            if is_shown and length
            else None
        )

    def __enter__(self) -> Callable[[str], None]:
        if self.bar is not None:
            self.bar.__enter__()
        return self.step

    def step(self, name: str) -> None:
        if self.bar is not None:
            self.bar.update(1, name)

    def __exit__(self, *exception: object) -> None:
        if self.bar is not None:
            self.bar.__exit__(*exception)


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@common
@click.version_option(__version__, prog_name="setledger")
def cli() -> None:
    """Turn exported strength-training logs into the review a good coach would make.

    \b
    First steps:
      setledger demo                    the sample club, as a workspace with reports
      setledger init DIR                a workspace of your own
      setledger run                     load, check, build and report; what cron calls
    """


# Making workspaces


@cli.command()
@common
@click.argument("folder", metavar="[DIR]", default="harbour-lane", type=click.Path(path_type=Path))
@click.option("--open", "is_opened", is_flag=True, help="Open the roster page in a browser.")
def demo(folder: Path, is_opened: bool) -> None:
    """Make a workspace from the sample exports, run everything, say where the pages are.

    Example: setledger demo harbour-lane --open
    """
    from pipeline.runs import run as runs
    from pipeline.settings.new_workspace import make_demo
    from pipeline.settings.workspace import find_workspace

    make_demo(folder)
    workspace = find_workspace(folder)
    with _Progress("pages", len(workspace.clients)) as step:
        outcome = runs.run(workspace, progress=step)
    roster = workspace.out / "index.html"
    sets = sum(each.sets_loaded for each in outcome.loads)
    if outcome.loads:
        aside = sum(each.lines_set_aside for each in outcome.loads)
        click.echo(f"Loaded {sets:,} sets from {len(outcome.loads)} exports; "
                   f"{aside} damaged lines are set aside, each with its reason.")  # fmt: skip
    click.echo(f"Roster: {roster.resolve()}")
    if is_opened:
        click.launch(roster.resolve().as_uri())
    _finish(outcome, [])


@cli.command()
@common
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
def init(folder: Path) -> None:
    """Make an empty, commented workspace.

    Example: setledger init ~/training
    """
    from pipeline.settings.new_workspace import make_workspace

    make_workspace(folder)
    click.echo(f"{folder}: put exports into exports/, then draft a mapping for one of them.")


@cli.command("draft-mapping")
@common
@click.argument(
    "files", metavar="FILE...", nargs=-1, required=True, type=click.Path(path_type=Path)
)
@click.option(
    "-o", "--output", metavar="FILE", help="Where to write; - prints it and changes nothing."
)
def draft_mapping(files: tuple[Path, ...], output: str | None) -> None:
    """Look at an unknown CSV and write its mapping, each guess with its reason.

    \b
    Where two readings fit, both stand in the mapping behind "#?"; `setledger load` passes the
    source over until you take the mark away before the right one.

    Example: setledger draft-mapping ~/Downloads/log.csv
    """
    from pipeline.drafting.place import draft_mappings

    written, errors = draft_mappings(files, _folder(), output)
    for each in written:
        if output == "-":
            click.echo(each.text, nl=False)
        elif not _option("quiet"):
            click.echo("\n".join((f"{each.path}: written.", *each.notes, *each.preview)))
        for sentence in (*each.opens, *each.warnings):
            click.echo(sentence, err=True)
    for error in errors:
        click.echo(str(error), err=True)
    if not written:
        raise SystemExit(2)
    if errors or any(each.needs_person for each in written):
        raise SystemExit(1)


# Loading


@cli.command()
@common
@click.option("--accept", "accepted", metavar="FILE", help="Let a held version count after all.")
def load(accepted: str | None) -> None:
    """Read new or changed exports.

    Example: setledger load --accept exports/tidy-2026.csv
    """
    from pipeline.ledger.loading import opened_work
    from pipeline.outcome import Outcome
    from pipeline.runs import load as loading

    outcome = Outcome()
    with opened_work(_workspace()) as work:
        loading.load(work, outcome, accepted)
        work.publish()
    _finish(outcome, [_load_line(each) for each in outcome.loads] or ["Nothing new."])


def _load_line(each: Any) -> str:
    line = f"{each.path}: {each.sets_loaded:,} sets, {each.lines_set_aside} lines set aside"
    if each.state == "held":
        return f"{line}; held"
    return f"{line}; {each.days_added} new days, {each.days_replaced} replaced"


@cli.command()
@common
@json_option
def loads(as_json: bool) -> None:
    """List the versions read: loaded, held, replaced, unloaded.

    Example: setledger loads --json
    """
    from pipeline.review import query as queries

    with queries.opened(_workspace().database) as con:
        queries.run_query(con, queries.LOADS, "json" if as_json else "table", sys.stdout)


@cli.command()
@common
@click.argument("version", metavar="FILE|LOAD_ID")
def unload(version: str) -> None:
    """Take one version back; its file stays unloaded.

    Example: setledger unload exports/tidy-2026.csv
    """
    from pipeline.ledger import loading as ledger

    with ledger.opened_work(_workspace()) as work:
        event = ledger.find_load(work.journal, version)
        if event not in [*ledger.active_loads(work.journal), *ledger.held_loads(work.journal)]:
            raise UsageError(f"{version}: this version does not count any more; nothing to unload.")
        ledger.unload(work, event)
        work.publish()
    if _is_chatty():
        click.echo(f"{event['path']} (load {event['load_id']}) is taken back; "
                   "`setledger run` makes the pages again.")  # fmt: skip


@cli.command()
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

    workspace = _workspace()
    written = checking.write_names(workspace) if is_written else None
    found = checking.check(workspace)
    if as_json:
        click.echo(json.dumps(checking.as_json(found, written), ensure_ascii=False, indent=1))
    else:
        for line in checking.as_lines(found, written, with_notes=not _option("quiet")):
            click.echo(line)
    if found.exit_code:
        raise SystemExit(found.exit_code)


# Building and reporting


@cli.command()
@common
@as_of_option
def build(as_of: date | None) -> None:
    """Run the SQL models over what was loaded.

    Example: setledger build --as-of 2026-08-31
    """
    from pipeline.ledger.loading import opened_work
    from pipeline.outcome import Outcome
    from pipeline.review import inputs
    from pipeline.settings.workspace import as_of_day

    workspace, outcome = _workspace(), Outcome()
    with opened_work(workspace) as work:
        if not work.journal:
            raise UsageError(f"{workspace.root}: nothing is loaded yet; `setledger load` does it.")
        inputs.build(work, outcome, as_of_day(workspace, as_of))
        work.publish()
    slowest = sorted(outcome.timings, key=lambda each: -each.seconds)[:8]
    _finish(outcome, [f"{each.seconds:7.3f} s  {each.model}" for each in slowest] or ["No change."])


@cli.command()
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
    workspace, outcome = _workspace(), Outcome()
    day = month_end(month) if month else as_of
    with (
        store.locked(workspace.store),
        _Progress("pages", len(clients) or len(workspace.clients)) as step,
    ):
        write.report(workspace, outcome, as_of=day, only=clients, is_dated=day is not None,
                     progress=step)  # fmt: skip
    _finish(outcome, [str(path) for path in outcome.pages])


@cli.command()
@common
@as_of_option
@click.option(
    "--send", "sends", is_flag=True, help="Then mail the reports of the month that ended."
)
def run(as_of: date | None, sends: bool) -> None:
    """Load, check, build and report: what cron calls.

    Example: setledger run -w /srv/harbour-lane --send
    """
    from pipeline.runs import run as runs

    workspace = _workspace()
    with _Progress("pages", len(workspace.clients)) as step:
        outcome = runs.run(workspace, as_of, progress=step, sends=sends)
    roster = workspace.out / "index.html"
    _finish(outcome, [*(_load_line(each) for each in outcome.loads), f"Roster: {roster}"])


@cli.command()
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
def send(
    month: str | None,
    clients: tuple[str, ...],
    for_coach_only: bool,
    is_dry_run: bool,
    is_forced: bool,
) -> None:
    """Mail each client's report of a month, and the roster to the coach.

    A mail is never sent twice for one client and month unless forced.

    Example: setledger send --month 2026-07 --dry-run
    """
    from pipeline.mail import send as sending
    from pipeline.runs import run as runs

    workspace = _workspace()
    request = sending.send_request(
        workspace,
        month,
        clients,
        for_coach_only=for_coach_only,
        is_dry_run=is_dry_run,
        is_forced=is_forced,
    )
    with _Progress("mails", len(clients) or len(workspace.clients)) as step:
        outcome = runs.send(workspace, request, step)
    _finish(outcome, [])


@cli.command()
@common
@as_of_option
def rebuild(as_of: date | None) -> None:
    """Make the database again from what was read, to equal tables.

    Example: setledger rebuild
    """
    from pipeline.runs import run as runs

    _finish(runs.rebuild(_workspace(), as_of), ["The database is made again."])


@cli.command()
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
    from pipeline.ledger import store
    from pipeline.outcome import Outcome
    from pipeline.runs import forget as forgetting

    workspace, outcome = _workspace(), Outcome()
    with store.locked(workspace.store):
        if is_back:
            forgetting.readmit(workspace, client)
            click.echo(f"{client} is let in again; `setledger run` reads what the exports hold.")
            return
        removal = forgetting.plan(workspace, client)
        told = "\n".join(f"  {line}" for line in removal.sentences())
        if not is_sure:
            click.echo(f"Of {client} there are:\n{told}")
            click.confirm("Remove them for good?", abort=True)
        forgetting.forget(workspace, removal, outcome)
    click.echo(f"{client} is forgotten. Removed:\n{told}")
    for path in removal.left:
        click.echo(f"{path} is your own file and may still hold lines of {client}: look yourself.")
    _finish(outcome, [])


# Asking


@cli.command()
@common
@click.argument("sql")
@click.option(
    "--format",
    "form",
    type=click.Choice(["table", "csv", "json"]),
    default="table",
    help="How the answer is written.",
)
@json_option
def query(sql: str, form: str, as_json: bool) -> None:
    """Answer read-only SQL on the ledger and the review, as table, CSV or JSON.

    Example: setledger query "select * from review.lift_status" --format csv
    """
    from pipeline.review import query as queries

    with queries.opened(_workspace().database) as con:
        queries.run_query(con, sql, "json" if as_json else form, sys.stdout)


@cli.command()
@common
@click.argument("table", required=False)
@json_option
def describe(table: str | None, as_json: bool) -> None:
    """Say what the tables, or one table's columns, mean and in which unit.

    Example: setledger describe review.muscle_status
    """
    from dataclasses import asdict

    from pipeline.review import query as queries

    with queries.opened(_workspace().database) as con:
        rows = queries.describe_columns(con, table) if table else queries.describe_tables(con)
    if as_json:
        click.echo(json.dumps([asdict(row) for row in rows], ensure_ascii=False, indent=1))
        return
    width = max((len(row.name) for row in rows), default=0)
    for row in rows:
        detail = f"{row.kind}, {row.unit}" if row.unit else row.kind
        click.echo(f"{row.name.ljust(width)}  {row.meaning} ({detail})")


@cli.command()
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

    written = export_tables(_workspace().database, folder, form, by_client=partition == "client")
    if _is_chatty():
        click.echo(f"{len(written)} tables written to {folder}.")


@cli.command()
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
    from pipeline.review import query as queries
    from pipeline.review.trace import trace as find

    short = "lift_session.e1rm" if grain["exercise"] else "rolling_week.fractional_sets_7d"
    if figure is None and not (grain["exercise"] or grain["muscle"]):
        raise UsageError("Name a figure as TABLE.COLUMN, or --muscle or --exercise with --on.")
    if grain["on"]:
        grain["on"] = parse_day(grain["on"], "--on")
    with queries.opened(_workspace().database) as con:
        traced = find(con, figure or short, {"client_id": client_id, **grain})
    if as_json:
        records = [dict(zip(traced.columns, row, strict=True)) for row in traced.rows]
        answer = {"figure": traced.figure, "value": traced.value, "sets": records}
        click.echo(json.dumps(answer, default=str, ensure_ascii=False, indent=1))
        return
    if traced.value is not None:
        click.echo(f"{traced.figure} = {traced.value}")
    click.echo(f"{len(traced.rows)} sets behind it:")
    queries.write_table(list(traced.columns), iter(traced.rows), sys.stdout)


@cli.command()
@common
@click.option(
    "--as-of", metavar="DATE", callback=_day, help="As-of day; default: that of the review."
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
    "--sets",
    "sets",
    multiple=True,
    metavar="MUSCLE=+N",
    help="Sets added to (+N) or taken from (-N) each session of a muscle.",
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
def whatif(client_id: str, as_of: date | None, rest_days: int, sets: tuple[str, ...],
           is_without_extensions: bool, swaps: tuple[str, ...], as_json: bool) -> None:  # fmt: skip
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

    wish = Wish(client_id, rest_days, sets, swaps, is_without_extensions)
    answer = changes.answer(_workspace(), wish, as_of)
    if as_json:
        click.echo(json.dumps(words.as_json(answer), default=str, ensure_ascii=False, indent=1))
        return
    click.echo("\n".join(words.as_lines(answer)) + "\n")
    headings, rows = words.table(answer)
    queries.write_table(headings, iter(rows), sys.stdout)
    click.echo("\n" + "\n".join(words.notes(answer)))


def main() -> None:
    """The entry point: the one place that catches errors and turns them into sentences."""
    os.umask(0o077)
    try:
        cli.main(standalone_mode=False)
    except click.exceptions.Exit as done:
        sys.exit(done.exit_code)
    except click.Abort:
        click.echo("Stopped; what was published before stays as it is.", err=True)
        sys.exit(2)
    except click.ClickException as error:
        error.show()
        sys.exit(error.exit_code)
    except BrokenPipeError:
        sys.stderr.close()
        sys.exit(0)
    except SetledgerError as error:
        _say(error, str(error))
        sys.exit(error.exit_code)
    except OSError as error:
        where = f"{error.filename}: " if error.filename else ""
        _say(error, f"{where}{error.strerror or error}; the last good database and pages stay.")
        sys.exit(2)
    except Exception as error:
        what = f"Something unexpected happened ({type(error).__name__}: {error})"
        _say(error, f"{what}; the last good database and pages stay. -vv shows where.")
        sys.exit(2)


def _say(error: BaseException, sentence: str) -> None:
    if any(flag in sys.argv for flag in ("-vv", "-vvv")):
        import traceback

        traceback.print_exception(error)
    click.echo(sentence, err=True)


if __name__ == "__main__":
    main()
