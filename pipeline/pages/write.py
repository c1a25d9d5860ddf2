"""Tables to files in out/: client pages in processes, then the roster, each written whole."""

from __future__ import annotations

import re
import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline import processes
from pipeline.files import what_is_odd
from pipeline.ledger import store
from pipeline.ledger.connection import opened, shared_connection
from pipeline.names.clients import OUR_FOLDERS
from pipeline.outcome import Outcome, Progress, silent
from pipeline.pages import coach_note, unchanged
from pipeline.pages.before_sending import as_lines
from pipeline.pages.clients import chosen_clients
from pipeline.review.other_day import database_for
from pipeline.settings.workspace import Workspace
from pipeline.settings.workspace_file import is_client_id

if TYPE_CHECKING:
    import duckdb

    from pipeline.pages.page_data import ClientPage, Definitions

LATEST, EVIDENCE = "latest.html", "evidence.html"
"""A client's pages; evidence and years stand beside the latest, not beside an earlier day's."""
_DATED = re.compile(r"\d{4}-\d\d-\d\d\.html\Z")
_PAGE = re.compile(r"(latest|evidence|years|next|\d{4}-\d\d-\d\d)\.html\Z|\.pages\.json\Z")


@dataclass(frozen=True)
class PageJob:
    """One client's page: from which database, for which day, under which names."""

    workspace: Workspace
    database: Path
    client_id: str
    day: date
    names: tuple[str, ...]
    state: str | None = None
    """Digest of what the pages rest on; None: they are made whatever stands."""


@dataclass(frozen=True)
class PageDone:
    """What one client's page gave."""

    paths: tuple[Path, ...]
    seconds: float


def report(
    workspace: Workspace,
    outcome: Outcome,
    *,
    as_of: date | None = None,
    only: Sequence[str] = (),
    is_dated: bool = False,
    progress: Progress = silent,
) -> None:
    """Render client pages and then the roster, from the published database.

    A day other than the built one is built in a temporary copy; its pages stand under their day
    and leave the latest ones alone. `is_dated` also keeps the page under its day; month ends are
    kept anyway.
    """
    with outcome.timed("report"), database_for(workspace, as_of) as (database, day):
        names = PageNames(workspace, database, day, is_dated=is_dated)
        with opened(database) as con:
            clients = chosen_clients(workspace, con, only)
            states = unchanged.states(con, workspace) if names.is_latest else {}
        named = replace(workspace, clients=tuple(clients))
        jobs = [
            PageJob(named, database, each.id, day, names.of(each.id), states.get(each.id))
            for each in clients
        ]
        due = [job for job in jobs if not _stands(job, outcome)]
        for attempt in processes.each(write_client, due):
            note_attempt(outcome, attempt)
            progress(attempt.job.client_id)
        with opened(database) as con:
            for name in names.of(None):
                checklist = write_roster(workspace, con, outcome, name, day)
            outcome.notes += as_lines(checklist) if names.is_latest else []
        if names.is_latest and not only:
            _drop_empty_folders(workspace, outcome, {client.id for client in clients})


def _drop_empty_folders(workspace: Workspace, outcome: Outcome, ids: set[str]) -> None:
    """Take away the pages of ids that nobody has any more: not listed, and without any set.

    Only pages that were made here, and their folder if nothing else lies in it.
    """
    for folder in sorted(workspace.out.iterdir()):
        if folder.name in ids | OUR_FOLDERS or not is_client_id(folder.name):
            continue
        if folder.is_symlink() or not folder.is_dir():
            continue
        pages = [path for path in folder.iterdir() if _PAGE.match(path.name)]
        for path in pages:
            path.unlink()
        if pages and not any(folder.iterdir()):
            folder.rmdir()
            outcome.notes.append(
                f"out/{folder.name}: no set is of '{folder.name}' any more; its pages are gone."
            )


class PageNames:
    """Names of the files that a page of this day gets."""

    def __init__(
        self, workspace: Workspace, database: Path, day: date, *, is_dated: bool = False
    ) -> None:
        self.is_latest = database == workspace.database
        is_kept = is_dated or not self.is_latest or (day + timedelta(days=1)).day == 1
        self.dated = (f"{day.isoformat()}.html",) if is_kept else ()

    def of(self, client_id: str | None) -> tuple[str, ...]:
        """For a client, or for the roster where there is none."""
        latest = LATEST if client_id else "index.html"
        return ((latest,) if self.is_latest else ()) + self.dated


def note_attempt(outcome: Outcome, attempt: processes.Attempt[PageJob, PageDone]) -> None:
    """Into the outcome: pages made, or the reason for having none."""
    entry = outcome.client(attempt.job.client_id)
    if attempt.done is not None:
        outcome.pages += attempt.done.paths
        entry.pages += len(attempt.done.paths)
        entry.seconds = round(entry.seconds + attempt.done.seconds, 3)
        return
    entry.failure = attempt.failure
    outcome.problems.append(
        f"{attempt.job.client_id}: this client's page could not be made ({attempt.failure}); the "
        "others are done, and the last good page stays."
    )


# One client, in whatever process


def write_client(job: PageJob) -> PageDone:
    """Render and write one client's page."""
    started = time.perf_counter()
    _, paths = write_page(job)
    return PageDone(paths, time.perf_counter() - started)


def _stands(job: PageJob, outcome: Outcome) -> bool:
    """Whether the client's pages are what would be made; they are noted, if so."""
    if job.state is None:
        return False
    started = time.perf_counter()
    folder = job.workspace.out / job.client_id
    paths = unchanged.standing(folder, _state(job, job.state, folder), job.names)
    if paths:
        done = PageDone(paths, time.perf_counter() - started)
        note_attempt(outcome, processes.Attempt(job, done, None))
    return bool(paths)


def _state(job: PageJob, state: str, folder: Path) -> str:
    notes = job.workspace.root / coach_note.FOLDER / job.client_id
    return unchanged.state_with(state, notes, earlier_days(folder, job.day))


def write_page(job: PageJob) -> tuple[ClientPage, tuple[Path, ...]]:
    """One client's pages, each under its names; what the client's own shows, and the files."""
    from pipeline.pages import client_page, evidence_page, render, years_page
    from pipeline.pages.client_data import data_of

    folder = job.workspace.out / job.client_id
    data = data_of(shared_connection(job.database), job.workspace, job.client_id)
    page = client_page.read_page(data, job.workspace, earlier_days(folder, job.day))
    if LATEST not in job.names and not (folder / client_page.YEARS).exists():
        page = replace(page, years="")
    pages = dict.fromkeys(job.names, render.render_client(page))
    if LATEST in pages:
        pages[EVIDENCE] = render.render_side(evidence_page.read_evidence(data, page))
        pages[client_page.YEARS] = render.render_side(years_page.read_years(data, page))
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    written = {name: html.encode() for name, html in pages.items()}
    paths = tuple(write_if_changed(folder / name, html) for name, html in written.items())
    if job.state is not None:
        unchanged.keep(folder, _state(job, job.state, folder), written)
    return page, paths


# The roster


def write_roster(
    workspace: Workspace,
    con: duckdb.DuckDBPyConnection,
    outcome: Outcome,
    name: str,
    day: date,
) -> Definitions | None:
    """Render and write the roster under one name; its checklist."""
    from pipeline.pages import render, roster

    workspace.out.mkdir(mode=0o700, exist_ok=True)
    earlier = earlier_days(workspace.out, day)
    page_name = "latest.html" if name == "index.html" else name
    page = roster.read_roster(con, workspace, outcome.failures, earlier, page_name)
    html = render.render_roster(page).encode()
    outcome.pages.append(write_if_changed(workspace.out / name, html))
    return page.before


def write_rosters_again(workspace: Workspace, outcome: Outcome, days: Sequence[date]) -> None:
    """The rosters of earlier days, anew: each from a copy built for its day."""
    for day in days:
        with database_for(workspace, day) as (database, _), opened(database) as con:
            write_roster(workspace, con, outcome, f"{day.isoformat()}.html", day)


def write_if_changed(path: Path, content: bytes) -> Path:
    """Write a file whole, unless it holds the content already."""
    if what_is_odd(path, is_folder=False) or not path.exists() or path.read_bytes() != content:
        store.write_whole(path, content)
    return path


def dated_pages(folder: Path) -> list[date]:
    """Days of which a page stands in a folder."""
    found = (path.stem for path in folder.glob("*.html") if _DATED.match(path.name))
    return sorted(map(date.fromisoformat, found))


def earlier_days(folder: Path, day: date) -> list[date]:
    """Days before `day` of which a page stands in a folder, the latest first."""
    return [each for each in reversed(dated_pages(folder)) if each < day]
