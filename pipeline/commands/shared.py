"""What commands share: options that recur, the workspace asked for, progress, the exit code."""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from pipeline.errors import SetledgerError
from pipeline.visible import json_text, visible

if TYPE_CHECKING:
    from datetime import date

    from pipeline.outcome import Outcome
    from pipeline.settings.workspace import Workspace


Command = TypeVar("Command", bound=Callable[..., Any])


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


def as_of_asked(_context: click.Context, _param: click.Parameter, value: str | None) -> date | None:
    from pipeline.clock import as_of

    return as_of(value, "--as-of") if value is not None else None


as_of_option = click.option(
    "--as-of", metavar="DATE", callback=as_of_asked, help="As-of day, YYYY-MM-DD; default: today."
)


json_option = click.option("--json", "as_json", is_flag=True, help="Answer as JSON.")


def workspace_asked() -> Workspace:
    from pipeline.settings.workspace_file import find_workspace

    return find_workspace(folder_asked())


def folder_asked() -> Path:
    options = click.get_current_context().ensure_object(dict)
    return Path(options.get("workspace") or os.environ.get("SETLEDGER_WORKSPACE") or ".")


def option(name: str) -> Any:
    return click.get_current_context().ensure_object(dict).get(name)


def say(text: str, *, err: bool = False, nl: bool = True) -> None:
    """A line to the terminal; what files and servers put into it cannot steer the terminal."""
    click.echo(visible(text), err=err, nl=nl)


def is_chatty() -> bool:
    """Whether to tell what went well: to a person at a terminal, or when asked with -v."""
    return not option("quiet") and bool(option("verbose") or sys.stdout.isatty())


@contextlib.contextmanager
def answered(as_json: bool) -> Iterator[None]:
    """With --json, a command that stops leaves a document, too; the sentence goes to stderr."""
    try:
        yield
    except SetledgerError as error:
        if as_json:
            say(json_text({"exit_code": error.exit_code, "problems": [str(error)]}, indent=1))
        raise


def finish(outcome: Outcome, summary: list[str], *, as_json: bool = False) -> None:
    """Problems to stderr, what was done to a terminal or as JSON, and the exit code."""
    for problem in outcome.problems:
        say(problem, err=True)
    if as_json:
        say(json_text(outcome.as_json(), indent=1))
    elif is_chatty():
        for line in (*summary, *outcome.notes):
            say(line)
    if outcome.exit_code:
        raise SystemExit(outcome.exit_code)


class Progress:
    """A progress bar with names, on stderr and only at a terminal."""

    def __init__(self, label: str, length: int) -> None:
        self.is_watched = is_shown = sys.stderr.isatty() and not option("quiet")
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

    def tell(self, sentence: str) -> None:
        """A sentence at once, below the bar; to a terminal only."""
        if self.is_watched:
            say(f"\n{sentence}" if self.bar is not None else sentence, err=True)

    def __exit__(self, *exception: object) -> None:
        if self.bar is not None:
            self.bar.__exit__(*exception)


def load_line(each: Any) -> str:
    line = f"{each.path}: {each.sets_loaded:,} sets, {each.lines_set_aside} lines set aside"
    if each.state == "held":
        return f"{line}; held"
    return f"{line}; {each.days_added} new days, {each.days_replaced} replaced"
