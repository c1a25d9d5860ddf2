"""Forgetting a client everywhere: pages, mails, notes, lines of files and logs, and the ledger.

The caller holds the workspace's lock. What a kill leaves undone, the same command does when it is
given again: every step finds what is still there.
"""

from __future__ import annotations

import json
import re
import shutil
import stat
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pipeline import formats
from pipeline.errors import DamageError, UsageError
from pipeline.ledger import erasure, salvage, side_files, store, versions
from pipeline.ledger.connection import opened
from pipeline.ledger.database import look_into
from pipeline.ledger.forgotten import Forgotten
from pipeline.ledger.overlay import TABLES
from pipeline.ledger.soundness import look
from pipeline.names.clients import slug
from pipeline.names.workspace_csv import without_rows
from pipeline.outcome import Outcome
from pipeline.pages import coach_note
from pipeline.runs import run_log
from pipeline.settings.workspace import CONFIG_NAME, Workspace, as_of_day
from pipeline.settings.workspace_file import is_client_id

OUR_FOLDERS = ("mail",)
"""Folders of out/ that are no client's."""


@dataclass
class Removal:
    """What is, or was, taken away of one client."""

    client_id: str
    spellings: tuple[str, ...]
    sets: int = 0
    weigh_ins: int = 0
    versions_whole: list[str] = field(default_factory=list)
    """Paths of versions that held nobody else's lines."""
    versions_part: list[str] = field(default_factory=list)
    """Paths of versions of which the others' rows stay."""
    pages: list[Path] = field(default_factory=list)
    notes: list[Path] = field(default_factory=list)
    side_lines: dict[str, list[int]] = field(default_factory=dict)
    """File of weigh-ins or corrections to the lines on which the client's records start."""
    mails: int = 0
    log_lines: int = 0
    left: list[str] = field(default_factory=list)
    """Files of the user's own that still name the client."""

    @property
    def is_empty(self) -> bool:
        """Whether nothing of the client is there."""
        return not (
            self.sets or self.weigh_ins or self.versions_whole or self.versions_part
            or self.pages or self.notes or any(self.side_lines.values()) or self.mails
            or self.log_lines
        )  # fmt: skip

    def sentences(self) -> list[str]:
        """The same in words."""
        versions = len(set(self.versions_whole + self.versions_part))
        return [
            f"{formats.count(self.sets, 'set')} and {formats.count(self.weigh_ins, 'weigh-in')} in "
            "the ledger",
            f"the lines in {formats.count(versions, 'kept export')}",
            f"{formats.count(len(self.pages), 'page or mail', 'pages and mails')} in out/",
            f"{formats.count(len(self.notes), 'note')} in {coach_note.FOLDER}/, "
            + ", ".join(
                f"{formats.count(len(lines), 'line')} in {name}"
                for name, lines in self.side_lines.items()
            ),
            f"{formats.count(self.mails, 'line')} in the sent log, "
            f"{formats.count(self.log_lines, 'line')} in the run log",
        ]


def plan(workspace: Workspace, client_id: str) -> Removal:
    """What there is of a client; UsageError if there is nothing and never was.

    DamageError where the journal is damaged.
    """
    if not is_client_id(client_id) or client_id in OUR_FOLDERS:
        raise _nobody(workspace, client_id)
    state = look(workspace.store, look_into(workspace.database))
    state.refuse_damage()
    events = state.events
    removal = Removal(client_id, erasure.spellings_of(workspace, client_id, events))
    removal.sets, removal.weigh_ins, paths = _rows(workspace, client_id)
    removal.versions_whole = paths
    removal.pages = _pages(workspace, client_id)
    removal.notes = _files(workspace.root / coach_note.FOLDER / client_id)
    removal.side_lines = side_files.lines_of(workspace, client_id, removal.spellings)
    mails = state.sent_log.entries
    removal.mails = sum(entry.client_id == client_id for entry in mails)
    removal.log_lines = sum(_client_of(line) == client_id for line in _log_lines(workspace))
    is_known = (
        Forgotten.of(events).has(client_id)
        or any(client.id == client_id for client in workspace.clients)
        or (bool(events) and not workspace.database.exists())
    )
    if removal.is_empty and not is_known:
        raise _nobody(workspace, client_id)
    removal.left = _left_files(workspace, removal)
    return removal


def _nobody(workspace: Workspace, client_id: str) -> UsageError:
    known = ", ".join(sorted({client.id for client in workspace.clients})) or "none is listed"
    return UsageError(f"{client_id}: no such client is known here; clients are {known}.")


def forget(workspace: Workspace, removal: Removal, outcome: Outcome) -> None:
    """Take it all away, make the database again without it, and the pages of the others.

    The old database stands until the new one is whole; the journal changes in the step before.
    """
    from pipeline.ledger.replay import opened_work, taken_over
    from pipeline.pages import write
    from pipeline.review import build as building

    client_id = removal.client_id
    days = write.dated_pages(workspace.out)
    state = look(workspace.store, look_into(workspace.database))
    state.refuse_damage()
    if state.mail_faults:
        raise DamageError(f"{' '.join(state.mail_faults)} Nothing was changed.")
    events = taken_over(state) if state.is_bare else state.events
    if events:
        erased = erasure.prepare(workspace, client_id, removal.spellings, events)
        removal.versions_whole, removal.versions_part = erased.whole, erased.part
        with opened_work(
            workspace, is_locked=True, rewritten=erased.events, forgets=client_id
        ) as work:
            building.build(work, outcome, as_of_day(workspace, None), is_forced=True)
            work.publish()
            outcome.problems += [*erased.said, *work.said]
            outcome.notes += work.notes
    else:
        state.sent_log.forget(client_id)
    for path in (*removal.pages, *removal.notes):
        path.unlink(missing_ok=True)
    for folder in (workspace.out, workspace.root / coach_note.FOLDER):
        shutil.rmtree(folder / client_id, ignore_errors=True)
    _clean_side_files(workspace, removal)
    for path in salvage.damaged_copies(workspace.store):
        path.unlink()
        outcome.notes.append(f"{path.name}: the damaged file that a salvage kept is removed too.")
    _clean_logs(workspace, removal)
    if events:
        versions.drop_unneeded(workspace.store, erased.events)
        write.report(workspace, outcome)
        write.write_rosters_again(workspace, outcome, days)


# What there is


def _rows(workspace: Workspace, client_id: str) -> tuple[int, int, list[str]]:
    """Sets, weigh-ins and files in the published database; none where there is none."""
    if not workspace.database.exists():
        return 0, 0, []
    with opened(workspace.database) as con:
        [(sets,), (weigh_ins,)] = (
            con.execute(
                f"select count(*) from ledger.{table} where client_id = ?", [client_id]
            ).fetchall()[0]
            for table in TABLES
        )
        paths = con.execute(
            "select distinct path from ledger.loads"
            " semi join (from ledger.sets where client_id = ?) using (load_id) order by path",
            [client_id],
        ).fetchall()
    return sets, weigh_ins, [path for (path,) in paths]


def _pages(workspace: Workspace, client_id: str) -> list[Path]:
    """The client's pages and mails, and what shows all clients: rosters are made again."""
    own = _files(workspace.out / client_id)
    mails = (workspace.out / "mail").glob("*.eml")
    own += [path for path in mails if path.stem[8:] in (client_id, "_roster")]
    return sorted(own)


def _files(folder: Path) -> list[Path]:
    return [path for path in folder.rglob("*") if path.is_file()] if folder.exists() else []


def _clean_side_files(workspace: Workspace, removal: Removal) -> None:
    """The client's lines out of the files of weigh-ins and corrections; their mode is kept."""
    found = side_files.lines_of(workspace, removal.client_id, removal.spellings)
    for name, lines in found.items():
        if lines:
            path = (workspace.root / name).resolve()
            text = without_rows(path, lines)
            store.write_whole(path, text.encode(), stat.S_IMODE(path.stat().st_mode))


def _left_files(workspace: Workspace, removal: Removal) -> list[str]:
    """The user's own files that name the client: nobody but the user changes them."""
    words = {spelling.casefold() for spelling in removal.spellings}
    left = []
    candidates = [workspace.root / CONFIG_NAME, *map(workspace.root.joinpath, removal.side_lines)]
    for folder in ("mappings", "models", "exports", coach_note.FOLDER):
        candidates += sorted(set((workspace.root / folder).rglob("*")) - set(removal.notes))
    left += exported_tables(workspace)
    for path in candidates:
        shown = str(path.relative_to(workspace.root))
        if shown in removal.versions_whole or (
            path.is_file() and _names(_text_left(workspace, path, removal), words)
        ):
            left.append(shown)
    return left


def exported_tables(workspace: Workspace) -> list[str]:
    """Folders inside the workspace into which `export` wrote tables that may name the client."""
    found = {
        path.parent
        for pattern in ("ledger.*", "own.*", "review.*")
        for path in workspace.root.rglob(pattern)
        if path.is_dir() or path.suffix in (".csv", ".parquet")
    }
    return sorted(f"{path.relative_to(workspace.root)} (exported tables)" for path in found)


def _text_left(workspace: Workspace, path: Path, removal: Removal) -> str:
    """What a file holds once the client's records are out of it."""
    lines = removal.side_lines.get(str(path.relative_to(workspace.root)))
    return without_rows(path, lines) if lines else path.read_bytes().decode("utf-8", "replace")


def _names(text: str, words: set[str]) -> bool:
    """Whether one of the spellings stands in a text as a whole word."""
    text = text.casefold()
    return any(re.search(rf"(?<!\w){re.escape(word)}(?!\w)", text) for word in words)


# The log


def _log_lines(workspace: Workspace) -> list[dict[str, Any]]:
    lines: list[dict[str, Any]] = []
    for path in run_log.paths(workspace):
        lines += [line for line in map(_parsed, _text_lines(path)) if line is not None]
    return lines


def _text_lines(path: Path) -> list[str]:
    return path.read_text(encoding="utf-8").splitlines() if path.exists() else []


def _parsed(line: str) -> dict[str, Any] | None:
    try:
        value = json.loads(line)
    except ValueError:
        return None
    return value if isinstance(value, dict) else None


def _client_of(line: dict[str, Any]) -> str | None:
    client: str | None = line.get("client")
    return client


def _clean_logs(workspace: Workspace, removal: Removal) -> None:
    """Lines of the client, and what lines of whole runs say of it, out of both logs."""
    slugs = {slug(spelling) for spelling in removal.spellings}
    for path in run_log.paths(workspace):
        if not path.exists():
            continue
        kept = []
        for text in _text_lines(path):
            line = _parsed(text)
            if line is None or _client_of(line) == removal.client_id:
                continue
            kept.append(_clean_run(line, removal, slugs))
        run_log.rewrite(path, kept)


def _clean_run(line: dict[str, Any], removal: Removal, slugs: set[str]) -> dict[str, Any]:
    def names(text: str) -> bool:
        return any(f"-{one}-" in f"-{slug(text)}-" for one in slugs)

    cleaned = dict(line)
    if line.get("error") and names(line["error"]):
        cleaned["error"] = "a sentence that named a forgotten client"
    if "failures" in line:
        cleaned["failures"] = {
            one: why for one, why in line["failures"].items() if one != removal.client_id
        }
    if "problems" in line:
        cleaned["problems"] = [each for each in line["problems"] if not names(each)]
    if "loads" in line:
        cleaned["loads"] = [each for each in line["loads"] if not names(each["path"])]
    return cleaned
