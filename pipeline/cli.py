"""The command line: one group of commands, and the one place that turns errors into sentences."""

from __future__ import annotations

import os
import sys

import click

from pipeline import __version__
from pipeline.commands import clients, exports, questions, reports, sessions, workspaces
from pipeline.commands.shared import common, say
from pipeline.errors import SetledgerError


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


for _command in (
    workspaces.demo,
    workspaces.init,
    workspaces.draft_mapping,
    reports.run,
    exports.load,
    exports.loads,
    exports.unload,
    workspaces.check,
    reports.build,
    reports.report,
    reports.send,
    clients.client,
    clients.note,
    exports.rebuild,
    exports.forget,
    questions.query,
    questions.describe,
    questions.export,
    questions.trace,
    sessions.next_,
    sessions.compare,
    questions.whatif,
):
    cli.add_command(_command)


def main() -> None:
    """The entry point: the one place that catches errors and turns them into sentences."""
    os.umask(0o077)
    try:
        cli.main(standalone_mode=False)
    except click.exceptions.Exit as done:
        sys.exit(done.exit_code)
    except click.Abort:
        say("Stopped; what was published before stays as it is.", err=True)
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

        say("".join(traceback.format_exception(error)), err=True)
    say(sentence, err=True)


if __name__ == "__main__":
    main()
