"""One run: load, build, report; one client's failure never stops the others."""

from __future__ import annotations

import contextlib
import json
import multiprocessing
import os
import shutil
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline import __version__, clock, store
from pipeline.errors import (
    ConfigError,
    ExportError,
    NothingReadableError,
    OpenKeyError,
    SetledgerError,
)
from pipeline.mapping import Mapping, read_mapping
from pipeline.resources import resource
from pipeline.workspace import CONFIG_NAME, Client, Source, Workspace, source_files

if TYPE_CHECKING:
    import duckdb

    from pipeline.contract import Scope
    from pipeline.ledger import Export, LoadResult, Work
    from pipeline.models import BuildInputs, Timing

POOL_FROM = 6
"""From so many pages on, starting a second process costs less than it saves."""

Progress = Callable[[str], None]


def _silent(_name: str) -> None:
    return None


@dataclass
class Outcome:
    """What a run did, and what in it needs a person."""

    loads: list[LoadResult] = field(default_factory=list)
    problems: list[str] = field(default_factory=list)
    """Sentences for stderr; any makes the exit code 1."""
    timings: list[Timing] = field(default_factory=list)
    pages: list[Path] = field(default_factory=list)
    failures: dict[str, str] = field(default_factory=dict)
    """Client id to the reason for which its page could not be made."""
    seconds: dict[str, float] = field(default_factory=dict)

    @property
    def exit_code(self) -> int:
        """0 when all is well, 1 when something needs a person."""
        return 1 if self.problems or self.failures else 0


@contextlib.contextmanager
def _timed(outcome: Outcome, step: str) -> Iterator[None]:
    started = time.perf_counter()
    yield
    outcome.seconds[step] = round(time.perf_counter() - started, 3)


def as_of_day(workspace: Workspace, wanted: date | None) -> date:
    """The as-of day: as asked, else as the workspace says, else today there."""
    return wanted or workspace.as_of or clock.today(workspace.timezone)


# Loading


def load(work: Work, outcome: Outcome, accepted: str | None = None) -> None:
    """Read new or changed exports of every source into the work copy."""
    from pipeline import ledger

    workspace = work.workspace
    if accepted is not None:
        _accept(work, outcome, accepted)
    taken: dict[Path, str] = {}
    names: dict[str, str] = {}
    readable = 0
    unread: list[SetledgerError] = []
    with _timed(outcome, "load"):
        for source in workspace.sources:
            try:
                mapping = read_mapping(workspace.root / source.mapping, source.mapping)
                refuse_shared_name(names, mapping, source)
                exports, errors = read_files(workspace, source, taken)
                unread += errors
                results, errors = ledger.load_source(
                    work, source, mapping, exports, clock.today(workspace.timezone)
                )
                unread += errors
                readable += len(exports) - len(errors)
                outcome.loads += results
            except (ConfigError, ExportError) as error:
                unread.append(error)
    if unread and not readable and all(isinstance(each, OpenKeyError) for each in unread):
        raise OpenKeyError("\n".join(str(error) for error in unread))
    if unread and not readable:
        raise NothingReadableError("\n".join(str(error) for error in unread))
    if not workspace.sources or not (readable or work.journal):
        raise NothingReadableError(_nothing_to_read(workspace))
    if work.changed_clients:
        resolve_names(work.con, build_inputs(workspace, as_of_day(workspace, None)))
    outcome.problems += [str(error) for error in unread]
    outcome.problems += _load_problems(work, outcome)


def _nothing_to_read(workspace: Workspace) -> str:
    if not workspace.sources:
        return (
            f"{CONFIG_NAME}: no [[sources]] entry names files to read; add one, or let "
            "`setledger draft-mapping FILE` write mapping and entry."
        )
    globs = ", ".join(source.files for source in workspace.sources)
    return f"{workspace.root}: no file matches {globs}; put the exports there."


def refuse_shared_name(names: dict[str, str], mapping: Mapping, source: Source) -> None:
    """ConfigError if another mapping has the name; `names` gathers name to mapping file."""
    other = names.setdefault(mapping.name, source.mapping)
    if other != source.mapping:
        raise ConfigError(
            f"{source.mapping}: the name '{mapping.name}' is also that of {other}; each mapping "
            "needs a name of its own."
        )


def read_files(
    workspace: Workspace, source: Source, taken: dict[Path, str]
) -> tuple[list[Export], list[SetledgerError]]:
    """Contents of a source's files; a file that cannot be opened is an error beside."""
    from pipeline.ledger import Export

    exports: list[Export] = []
    errors: list[SetledgerError] = []
    for path in source_files(workspace, source):
        shown = str(path.relative_to(workspace.root))
        other = taken.setdefault(path, source.mapping)
        if other != source.mapping:
            errors.append(
                ConfigError(
                    f"{shown}: two [[sources]] cover this file, with {other} and "
                    f"{source.mapping}; narrow one of the two globs."
                )
            )
            continue
        try:
            content = path.read_bytes()
        except IsADirectoryError:
            errors.append(ExportError(f"{shown}: this is a folder, not an export; name files."))
        except OSError as error:
            reason = error.strerror or str(error)
            errors.append(ExportError(f"{shown}: cannot be read ({reason}); mend its permissions."))
        else:
            exports.append(Export(shown, content, store.digest(content)))
    return exports, errors


def _accept(work: Work, outcome: Outcome, wanted: str) -> None:
    from pipeline import ledger
    from pipeline.errors import UsageError

    event = ledger.find_load(work.journal, wanted)
    if event not in ledger.held_loads(work.journal):
        raise UsageError(f"{wanted}: this version is not held; `setledger loads` lists them.")
    outcome.loads.append(ledger.accept(work, event))


def _load_problems(work: Work, outcome: Outcome) -> list[str]:
    """Sentences on versions held and on shares set aside above the limit."""
    from pipeline import ledger

    limit = work.workspace.rules.set_aside_share
    sentences = [
        f"{event['path']}: this version is held: {event['held_because']}. Look at it, then "
        f"`setledger load --accept {event['path']}`, or mend the export."
        for event in ledger.held_loads(work.journal)
    ]
    sentences += [
        f"{each.path}: {each.lines_set_aside} lines ({each.share_set_aside:.1%}) are set aside, "
        f"above the limit of {limit:.0%}; the report lists them with their reasons."
        for each in outcome.loads
        if each.state == "loaded" and each.share_set_aside > limit
    ]
    return sentences


# The data contract


def check_changes(work: Work, outcome: Outcome, as_of: date) -> None:
    """Ask the data contract of the client-days that this run changed; not at all if none.

    A clause that does not hold is asked of the whole ledger, and again in each run until it holds.
    """
    from pipeline import contract

    scope = contract_scope(work.workspace, as_of)
    has_changes = bool(work.con.execute("from changed_days limit 1").fetchall())
    is_standing = contract.is_in_doubt(work.con, scope)
    if not has_changes and not is_standing:
        return
    with _timed(outcome, "check"):
        verdicts = contract.validate(work.con, replace(scope, is_partial=not is_standing))
        if not is_standing and any(not each.is_met and each.load_id is None for each in verdicts):
            verdicts = contract.validate(work.con, scope)
        contract.store_verdicts(work.con, verdicts)
        work.is_checked = work.is_dirty = True
    outcome.problems += [
        f"data contract: {each.sentence} `setledger check` lists all verdicts."
        for each in verdicts
        if not each.is_met and each.is_breach and each.key != "set_aside_share"
    ]


def contract_scope(workspace: Workspace, as_of: date) -> Scope:
    """What the data contract is asked against: the workspace's limits, clients and days."""
    from pipeline.contract import Scope

    listed = tuple(client.id for client in workspace.clients)
    return Scope(workspace.rules, as_of, clock.today(workspace.timezone), listed)


# Building


def build(work: Work, outcome: Outcome, as_of: date, *, is_forced: bool = False) -> None:
    """Run the models over what changed, or over all if anything besides the sets did."""
    from pipeline import ledger, models

    with _timed(outcome, "build"):
        side_digest = ledger.write_side_files(work)
        inputs = build_inputs(work.workspace, as_of)
        found = models.find_models()
        digest = store.digest(
            repr((inputs.digest, models.models_digest(found), side_digest, as_of)).encode()
        )
        row = work.con.execute("select inputs_digest from ledger.meta").fetchone()
        is_same = row is not None and row[0] == digest and not is_forced
        if is_same and not work.changed_clients:
            return
        resolve_names(work.con, inputs)
        scope = work.changed_clients if is_same else None
        outcome.timings = models.build(work.con, inputs, scope=scope, models=found)
        work.changed_clients.clear()
        work.con.execute("update ledger.meta set inputs_digest = ?", [digest])
        work.is_dirty = True


def build_inputs(workspace: Workspace, as_of: date) -> BuildInputs:
    """What besides the sets a build rests on."""
    from pipeline.exercises import Catalogue
    from pipeline.models import BuildInputs

    own = workspace.root / "exercises.csv"
    return BuildInputs(
        as_of=as_of,
        rules=workspace.rules,
        clients=workspace.clients,
        catalogue=Catalogue.load(resource("sql") / "seeds", own if own.exists() else None),
        tool_version=__version__,
    )


def resolve_names(con: duckdb.DuckDBPyConnection, inputs: BuildInputs) -> None:
    """Every spelling in the ledger, with the exercise that it is taken for."""
    spellings = [
        name
        for (name,) in con.execute(
            "select distinct exercise_raw from ledger.sets order by exercise_raw"
        ).fetchall()
    ]
    con.execute("delete from ledger.exercise_names")
    rows = [
        (each.exercise_raw, each.exercise, each.how, each.score)
        for each in inputs.catalogue.resolve_all(spellings)
    ]
    if rows:
        con.executemany("insert into ledger.exercise_names values (?, ?, ?, ?)", rows)


# Reporting


def report(
    workspace: Workspace,
    outcome: Outcome,
    *,
    as_of: date | None = None,
    only: Sequence[str] = (),
    is_dated: bool = False,
    progress: Progress = _silent,
) -> None:
    """Render client pages and then the roster, from the published database.

    A day other than the built one is built in a temporary copy. `is_dated` also keeps the page
    under its day; month ends are kept anyway.
    """
    import duckdb

    from pipeline.errors import UsageError

    if not workspace.database.exists():
        raise UsageError(
            f"{workspace.root}: nothing has been built yet; `setledger run` does it all."
        )
    with _timed(outcome, "report"), _database_for(workspace, as_of) as database:
        con = duckdb.connect(str(database), read_only=True)
        row = con.execute("select as_of from review.run").fetchone()
        built_on: date = row[0] if row else clock.today(workspace.timezone)
        clients = [each.id for each in reported_clients(workspace, con)]
        unknown = sorted(set(only) - set(clients))
        if unknown:
            raise UsageError(
                f"--client {unknown[0]}: no such client to report on; there are "
                f"{', '.join(clients) or 'none'}."
            )
        keeps_day = is_dated or (built_on + timedelta(days=1)).day == 1
        chosen = [each for each in clients if not only or each in only]
        _render_clients(workspace, database, chosen, built_on if keeps_day else None,
                        outcome, progress)  # fmt: skip
        _render_roster(workspace, con, outcome)
        con.close()


@contextlib.contextmanager
def _database_for(workspace: Workspace, as_of: date | None) -> Iterator[Path]:
    """The published database, or a temporary copy built for another day."""
    import duckdb

    from pipeline import models

    con = duckdb.connect(str(workspace.database), read_only=True)
    try:
        row = con.execute("select as_of from review.run").fetchone()
    except duckdb.CatalogException:
        row = None
    finally:
        con.close()
    if as_of is None and row is not None:
        yield workspace.database
        return
    wanted = as_of_day(workspace, as_of)
    if row is not None and row[0] == wanted:
        yield workspace.database
        return
    folder = workspace.store / f"other-day-{os.getpid()}"
    folder.mkdir(mode=0o700)
    try:
        path = folder / workspace.database.name
        shutil.copyfile(workspace.database, path)
        copy = duckdb.connect(str(path))
        inputs = build_inputs(workspace, wanted)
        resolve_names(copy, inputs)
        models.build(copy, inputs)
        copy.close()
        yield path
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def reported_clients(workspace: Workspace, con: duckdb.DuckDBPyConnection) -> list[Client]:
    """Clients that get a page: those listed, or all that were found if none is listed."""
    if workspace.clients:
        return list(workspace.clients)
    rows = con.execute("select distinct client_id from ledger.sets order by client_id").fetchall()
    return [Client(id=client_id, name=client_id) for (client_id,) in rows]


def _render_clients(
    workspace: Workspace,
    database: Path,
    clients: Sequence[str],
    day: date | None,
    outcome: Outcome,
    progress: Progress,
) -> None:
    jobs = [(workspace, database, client_id, day) for client_id in clients]
    if len(jobs) < POOL_FROM:
        for job in jobs:
            _collect(workspace, outcome, _render_one(job))
            progress(job[2])
        return
    spawn = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(os.cpu_count(), mp_context=spawn) as pool:
        for future in as_completed([pool.submit(_render_one, job) for job in jobs]):
            result = future.result()
            _collect(workspace, outcome, result)
            progress(result[0])


def _collect(
    workspace: Workspace, outcome: Outcome, result: tuple[str, list[Path], str | None]
) -> None:
    client_id, written, failure = result
    outcome.pages += written
    if failure is not None:
        outcome.failures[client_id] = failure
        outcome.problems.append(
            f"{client_id}: this client's page could not be made ({failure}); the others are done, "
            "and the last good page stays."
        )


def _render_one(
    job: tuple[Workspace, Path, str, date | None],
) -> tuple[str, list[Path], str | None]:
    """One client's page; a failure is told, not raised, so that the others go on."""
    workspace, database, client_id, day = job
    try:
        return client_id, _write_client(workspace, database, client_id, day), None
    except Exception as error:  # the guard of one client: whatever breaks, the others go on
        if os.environ.get("SETLEDGER_TRACEBACK"):
            raise
        return client_id, [], f"{type(error).__name__}: {error}".splitlines()[0]


def _write_client(
    workspace: Workspace, database: Path, client_id: str, day: date | None
) -> list[Path]:
    import duckdb

    from pipeline import pages, render

    con = _CONNECTIONS.get(database)
    if con is None:
        con = _CONNECTIONS[database] = duckdb.connect(str(database), read_only=True)
    html = render.render_client(pages.read_client(con, workspace, client_id)).encode()
    folder = workspace.out / client_id
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    names = ["latest.html"] + ([f"{day.isoformat()}.html"] if day else [])
    return [_write_if_changed(folder / name, html) for name in names]


_CONNECTIONS: dict[Path, Any] = {}
"""One read-only connection a process and database: opening costs more than a page's queries."""


def _render_roster(workspace: Workspace, con: duckdb.DuckDBPyConnection, outcome: Outcome) -> None:
    from pipeline import pages, render

    workspace.out.mkdir(mode=0o700, exist_ok=True)
    page = pages.read_roster(con, workspace, outcome.failures)
    html = render.render_roster(page).encode()
    outcome.pages.append(_write_if_changed(workspace.out / "index.html", html))


def _write_if_changed(path: Path, content: bytes) -> Path:
    if not path.exists() or path.read_bytes() != content:
        store.write_whole(path, content)
    return path


# Whole runs


def run(workspace: Workspace, as_of: date | None = None, progress: Progress = _silent) -> Outcome:
    """Load, build and report: what cron calls."""
    from pipeline.ledger import opened_work

    outcome = Outcome()
    started = clock.now()
    with opened_work(workspace) as work:
        load(work, outcome)
        check_changes(work, outcome, as_of_day(workspace, as_of))
        build(work, outcome, as_of_day(workspace, as_of))
        with _timed(outcome, "publish"):
            work.publish()
    _close_connections()
    report(workspace, outcome, is_dated=as_of is not None, progress=progress)
    _log(workspace, outcome, started.isoformat())
    return outcome


def rebuild(workspace: Workspace, as_of: date | None = None) -> Outcome:
    """Make the database again from the journal and the kept contents."""
    from pipeline.ledger import opened_work

    outcome = Outcome()
    with opened_work(workspace, from_scratch=True) as work:
        if not work.journal:
            raise NothingReadableError(
                f"{workspace.root}: nothing has been read yet; `setledger run` does it all."
            )
        work.is_dirty = True
        resolve_names(work.con, build_inputs(workspace, as_of_day(workspace, as_of)))
        check_changes(work, outcome, as_of_day(workspace, as_of))
        build(work, outcome, as_of_day(workspace, as_of), is_forced=True)
        work.publish()
    return outcome


def _close_connections() -> None:
    for con in _CONNECTIONS.values():
        con.close()
    _CONNECTIONS.clear()


LOG_BYTES = 1_000_000
"""Size at which run-log.jsonl is set aside as run-log.1.jsonl."""


def _log(workspace: Workspace, outcome: Outcome, started: str) -> None:
    """One line on this run."""
    path = workspace.root / "run-log.jsonl"
    if path.exists() and path.stat().st_size > LOG_BYTES:
        path.replace(path.with_name("run-log.1.jsonl"))
    line = {
        "started_at": started,
        "exit_code": outcome.exit_code,
        "seconds": outcome.seconds,
        "loads": [
            {"load_id": each.load_id, "path": each.path, "state": each.state,
             "sets": each.sets_loaded, "set_aside": each.lines_set_aside}
            for each in outcome.loads
        ],
        "pages": len(outcome.pages),
        "failures": outcome.failures,
        "problems": outcome.problems,
    }  # fmt: skip
    with path.open("a", encoding="utf-8") as handle:
        handle.write(json.dumps(line, ensure_ascii=False) + "\n")
    path.chmod(0o600)


# Making workspaces


def make_demo(folder: Path) -> None:
    """A workspace from the sample exports in a folder that is new or empty, or a demo already."""
    from pipeline.errors import UsageError

    samples = resource("sample_exports")
    config = (samples / CONFIG_NAME).read_text(encoding="utf-8")
    own = folder / CONFIG_NAME
    if own.exists() and own.read_text(encoding="utf-8") != config:
        raise UsageError(
            f"{folder}: this is a workspace of your own; name another folder for the demo."
        )
    if not own.exists() and folder.exists() and any(folder.iterdir()):
        raise UsageError(f"{folder}: this folder is not empty; name a new one for the demo.")
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    for name in ("exports", "mappings"):
        shutil.copytree(samples / name, folder / name, dirs_exist_ok=True)
    for path in samples.iterdir():
        if path.suffix in (".csv", ".toml"):
            shutil.copyfile(path, folder / path.name)


_EMPTY_CONFIG = """\
# A setledger workspace. Put exports into exports/, then:
#   setledger draft-mapping exports/FILE.csv     writes a mapping and a [[sources]] entry below
#   setledger run                                loads, builds, and renders out/index.html

[workspace]
name = {name}
# timezone = "Europe/Lisbon"      # for "today" only; default: the machine's
# as_of = 2026-09-30              # pins the as-of day; default: today

# [[sources]]
# files = "exports/notebook-*.csv"
# mapping = "mappings/notebook.toml"

# Without [[clients]] everyone found in the exports is reported with defaults.
# [[clients]]
# id = "ines"                     # a-z, 0-9, hyphens; also the folder name in out/
# aliases = ["Ines D."]           # spellings in exports
# name = "Ines Duarte"
# units = "kg"                    # what the report shows: kg or lb
# bodyweight_kg = 64.0
# bring_up = ["upper_back"]       # muscles to favour
# hold_back = ["chest"]           # muscles already strong

# [rules]                         # thresholds of the review; `setledger describe rules` lists them
"""


def make_workspace(folder: Path) -> None:
    """An empty, commented workspace."""
    from pipeline.errors import UsageError

    if (folder / CONFIG_NAME).exists():
        raise UsageError(f"{folder}: there is a {CONFIG_NAME} here already; nothing was changed.")
    for name in ("exports", "mappings"):
        (folder / name).mkdir(mode=0o700, parents=True, exist_ok=True)
    name = json.dumps(folder.resolve().name or "workspace", ensure_ascii=False)
    (folder / CONFIG_NAME).write_text(_EMPTY_CONFIG.format(name=name), encoding="utf-8")
