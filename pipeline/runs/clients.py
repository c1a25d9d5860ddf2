"""What `setledger client` and `setledger note` do: a wish held against the ledger, then written."""

from __future__ import annotations

import contextlib
import os
import re
import shlex
import stat
import subprocess
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from pipeline import formats
from pipeline.errors import SetledgerError, UsageError
from pipeline.ledger import store
from pipeline.ledger.connection import fetch, opened
from pipeline.ledger.journal import known_spellings, read_journal
from pipeline.names.catalogue import Catalogue
from pipeline.names.nearest import did_you_mean, nearest
from pipeline.pages import coach_note, finding_text, follow_text
from pipeline.settings import edit
from pipeline.settings.addresses import is_address
from pipeline.settings.edit import Edit
from pipeline.settings.workspace import (
    CONFIG_NAME,
    PHASE_KINDS,
    Client,
    Workspace,
    as_of_day,
    catalogue_of,
)
from pipeline.settings.workspace_file import HEALTH_CODES, finding_codes, is_client_id
from pipeline.units import UNITS

_TARGET = re.compile(r"\s*(\d+(?:[.,]\d+)?)\s*([a-z]*)\s*[x×*]\s*(\d+)\s*\Z", re.IGNORECASE)
NEAREST = 3
"""Known exercises that a message names."""
MOST_NAMED = 12
"""Findings that a message names."""


# Who there is


@dataclass(frozen=True)
class Line:
    """One client in a list: who, since when logged, and whether a mail goes out."""

    client_id: str
    name: str
    sets: int
    last_on: date | None
    mail: str
    """The address, or why there is no mail."""


def listing(workspace: Workspace) -> list[Line]:
    """The clients of setledger.toml in its order, then those that are loaded and not listed."""
    logged = {row["client_id"]: row for row in _logged(workspace)}
    today = as_of_day(workspace, None)
    lines = [
        Line(
            client.id,
            client.name,
            logged[client.id]["sets"] if client.id in logged else 0,
            logged[client.id]["last_on"] if client.id in logged else None,
            _mail_of(client, today),
        )
        for client in workspace.clients
    ]
    listed = {client.id for client in workspace.clients}
    names = known_spellings(read_journal(workspace.store))
    lines += [
        Line(client_id, names.get(client_id, client_id), row["sets"], row["last_on"], "not listed")
        for client_id, row in logged.items()
        if client_id not in listed
    ]
    return lines


def _mail_of(client: Client, today: date) -> str:
    reason = client.no_mail_because(today)
    return f"left {client.until}" if reason == "left" else reason or client.email or ""


def _logged(workspace: Workspace) -> list[dict[str, Any]]:
    """Clients with sets that count; none where there is no database, or none that can be read."""
    return _asked(
        workspace,
        "select client_id, count(*) as sets, max(performed_on) as last_on from ledger.sets"
        " where replaced_by is null group by all order by client_id",
    )


def _asked(workspace: Workspace, query: str, *values: object) -> list[dict[str, Any]]:
    import duckdb

    with contextlib.suppress(SetledgerError, duckdb.Error), opened(workspace.database) as con:
        return fetch(con, query, *values)
    return []


def _listed(workspace: Workspace, client_id: str) -> Client:
    """The client of [[clients]]; UsageError that names the nearest, or how to list one."""
    for client in workspace.clients:
        if client.id == client_id:
            return client
    if any(row["client_id"] == client_id for row in _logged(workspace)):
        raise UsageError(
            f"{client_id}: loaded, but not listed in {CONFIG_NAME}; "
            f"`setledger client add {client_id} --name NAME` lists this client."
        )
    raise _nobody(workspace, client_id, [])


def _nobody(workspace: Workspace, client_id: str, others: Iterable[str]) -> UsageError:
    spellings: dict[str, str] = {other: other for other in others}
    for client in workspace.clients:
        spellings |= dict.fromkeys((*client.aliases, client.name, client.id), client.id)
    near = nearest(client_id, spellings)
    ids = sorted(set(spellings.values()))
    hint = f"did you mean {spellings[near[0]]}?" if near else did_you_mean("", ids)
    return UsageError(f"{client_id}: no such client here; {hint}")


# What is written of them


def add(
    workspace: Workspace, client_id: str, name: str, email: str | None, aliases: Sequence[str]
) -> Edit:
    """One more client."""
    if not is_client_id(client_id):
        raise UsageError(
            f"{client_id}: this is no id; use a-z, 0-9 and single hyphens, such as ines-d."
        )
    if any(client.id == client_id for client in workspace.clients):
        raise UsageError(f"{client_id}: this client is listed already in {CONFIG_NAME}.")
    if email is not None and not is_address(email):
        raise UsageError(
            f"--email: '{email}' is no mail address; write one such as name@example.org."
        )
    fields = {"id": client_id, "aliases": list(aliases), "name": name, "email": email}
    given = {key: value for key, value in fields.items() if value}
    return _written(workspace, edit.with_client(_text(workspace), given))


def change(workspace: Workspace, client_id: str, on: date, note: str, exercise: str | None) -> Edit:
    """A change in the client's training, which pages compare before and after.

    Of an exercise: its figures begin anew on that day.
    """
    _listed(workspace, client_id)
    if exercise is not None:
        _known_exercise(workspace, catalogue_of(workspace), exercise)
    fields = {"on": on, "note": note, "exercise": exercise}
    given = {key: value for key, value in fields.items() if value is not None}
    return _entry(workspace, client_id, "changes", given)


def adopt(
    workspace: Workspace, client_id: str, code: str | None, subject: str | None, on: date | None
) -> Edit:
    """A change taken from a finding of the last build, by default from its first change."""
    client = _listed(workspace, client_id)
    day = on or as_of_day(workspace, None)
    found = _raised(workspace, client, code, subject)
    evidence = finding_text.evidence_of(found)
    aim = follow_text.aim(found["code"], evidence, vars(workspace.rules))
    step = (found["suggestion"] or "").rstrip(".").replace(" %", "%")
    note = f"{step} ({aim})" if aim else step
    fields = {"on": day, "note": note, "code": found["code"], "subject": found["subject"]}
    if any(
        (each.changed_on, each.code, each.subject or "") == (day, found["code"], found["subject"])
        for each in client.changes
    ):
        raise UsageError(f"{client_id}: this change of {day} is noted already.")
    given = {key: value for key, value in fields.items() if value != ""}
    return _entry(workspace, client_id, "changes", given)


def _raised(
    workspace: Workspace, client: Client, code: str | None, subject: str | None
) -> dict[str, Any]:
    """The finding that is meant; UsageError that says which there are."""
    if code is not None and code not in finding_codes():
        raise UsageError(f"'{code}' is no finding; {did_you_mean(code, finding_codes())}")
    day = as_of_day(workspace, None)
    run = _asked(workspace, "select as_of from review.run")
    if not run or run[0]["as_of"] != day:
        raise UsageError(f"No review of {day} is built yet; run `setledger build` first.")
    rows = _asked(
        workspace,
        "select code, subject, evidence, suggestion, is_first_change from review.findings"
        " where client_id = ? and suggestion is not null"
        " order by is_first_change desc, lever, severity desc, subject",
        client.id,
    )
    if code is None:
        if rows and rows[0]["is_first_change"]:
            return rows[0]
        raise UsageError(f"{client.id}: nothing is to be changed first; {_there_are(rows)}")
    if subject is not None:
        subject = _known_subject(workspace, client, code, subject)
    matching = [row for row in rows if row["code"] == code and subject in (None, row["subject"])]
    if not matching:
        raise UsageError(
            f"{client.id}: no finding {' '.join(filter(None, (code, subject)))} now; "
            f"{_there_are(rows)}"
        )
    if len(matching) > 1 and not matching[0]["is_first_change"]:
        subjects = ", ".join(row["subject"] for row in matching)
        raise UsageError(f"{client.id}: {code} is about several; name one of {subjects}.")
    return matching[0]


def _there_are(rows: Sequence[Mapping[str, Any]]) -> str:
    if not rows:
        return "nor is anything noticed."
    names = [f"{row['code']} {row['subject']}".strip() for row in rows]
    return f"there are {', '.join(names[:MOST_NAMED])}."


def target(workspace: Workspace, client_id: str, exercise: str, goal: str) -> Edit:
    """A load for a number of repetitions, in the unit that the client reads."""
    client = _listed(workspace, client_id)
    found = _TARGET.match(goal)
    if found is None or not float(found[1].replace(",", ".")) or not int(found[3]):
        raise UsageError(f"'{goal}' is no target; write load and repetitions such as 82.5x5.")
    unit = found[2].lower() or client.units
    if unit not in UNITS or unit != client.units:
        raise UsageError(
            f"'{goal}': {client_id} reads {client.units}, so write the load in {client.units}."
        )
    _known_exercise(workspace, catalogue_of(workspace), exercise)
    load = float(found[1].replace(",", "."))
    fields = {"exercise": exercise, "load": load, "reps": int(found[3])}
    return _entry(workspace, client_id, "targets", fields)


def phase(
    workspace: Workspace, client_id: str, kind: str, from_on: date, to_on: date | None
) -> Edit:
    """A dated phase of the client's."""
    if kind not in PHASE_KINDS:
        raise UsageError(f"'{kind}' is no phase; {did_you_mean(kind, PHASE_KINDS)}")
    if to_on is not None and to_on < from_on:
        raise UsageError(f"--to: {to_on} is before --from {from_on}; mend one of the two.")
    fields = {"kind": kind, "from": from_on, "to": to_on}
    given = {key: value for key, value in fields.items() if value is not None}
    return _entry(workspace, client_id, "phases", given)


def waive(
    workspace: Workspace,
    client_id: str,
    code: str,
    subject: str | None,
    until_on: date | None,
    why: str,
) -> Edit:
    """A finding put aside: it is never the first change, and what it bars stays barred."""
    client = _listed(workspace, client_id)
    if code not in finding_codes():
        raise UsageError(f"'{code}' is no finding; {did_you_mean(code, finding_codes())}")
    if not why.strip():
        raise UsageError("--why: say why in a few words; they stand on the coach's page.")
    today = as_of_day(workspace, None)
    if until_on is not None and until_on < today:
        raise UsageError(f"--until: {until_on} is over already (the as-of day is {today}).")
    most = workspace.rules.waive_days_max
    if code in HEALTH_CODES and (until_on is None or until_on > today + timedelta(days=most)):
        raise UsageError(
            f"'{code}' is a matter of health and cannot be put aside for long: give --until, at "
            f"most {formats.count(most, 'day')} away ({today + timedelta(days=most)})."
        )
    if subject is not None and code in HEALTH_CODES:
        raise UsageError(f"--subject: '{code}' is about the client as a whole; leave it out.")
    if subject is not None:
        subject = _known_subject(workspace, client, code, subject)
    fields = {"code": code, "subject": subject, "until": until_on, "why": why}
    given = {key: value for key, value in fields.items() if value is not None}
    return _entry(workspace, client_id, "waived", given)


def leave(workspace: Workspace, client_id: str, on: date) -> Edit:
    """The client's last day; no mail goes out after it."""
    _listed(workspace, client_id)
    return _written(workspace, edit.with_key(_text(workspace), client_id, "until", on))


def _entry(workspace: Workspace, client_id: str, kind: str, fields: Mapping[str, Any]) -> Edit:
    _listed(workspace, client_id)
    return _written(workspace, edit.with_entry(_text(workspace), client_id, kind, fields))


def _known_exercise(workspace: Workspace, catalogue: Catalogue, written: str) -> str:
    """The exercise that a spelling means; UsageError for one that nobody knows or has logged."""
    resolved = catalogue.resolve(written)
    rows = _asked(workspace, "select distinct exercise_raw from ledger.sets")
    logged = {catalogue.resolve(row["exercise_raw"]).exercise for row in rows}
    if resolved.how == "unknown" and resolved.exercise not in logged:
        near = nearest(written, logged, NEAREST)
        near += [name for name, _ in catalogue.nearest(written, NEAREST) if name not in near]
        raise UsageError(
            f"'{written}' is no known exercise and nobody has logged it; nearest are "
            f"{', '.join(near[:NEAREST])}."
        )
    return resolved.exercise


def _known_subject(workspace: Workspace, client: Client, code: str, written: str) -> str:
    """The muscle, exercise or fault that a spelling means, as findings name it."""
    catalogue = catalogue_of(workspace)
    muscle = catalogue.muscle_of(written)
    if any(muscle == each.muscle for each in catalogue.muscles):
        return muscle
    rows = _asked(
        workspace,
        "select distinct subject from review.findings"
        " where client_id = ? and code = ? and subject <> ''",
        client.id,
        code,
    )
    if any(row["subject"] == written for row in rows):
        return written
    return _known_exercise(workspace, catalogue, written)


def _text(workspace: Workspace) -> str:
    """setledger.toml with its line ends as they are."""
    return (workspace.root / CONFIG_NAME).read_bytes().decode("utf-8")


def _written(workspace: Workspace, done: Edit) -> Edit:
    """setledger.toml written whole, in place of what a link leads to, its mode kept."""
    path = (workspace.root / CONFIG_NAME).resolve()
    store.write_whole(path, done.text.encode(), stat.S_IMODE(path.stat().st_mode))
    return done


# The coach's own word


def write_note(workspace: Workspace, client_id: str, month: date | None) -> Path | None:
    """The client's note for a month opened in the user's editor; its path, None if left empty.

    By default the month that the client's latest page shows: that of the last covered day.
    """
    logged = [row["client_id"] for row in _logged(workspace)]
    if client_id not in {*logged, *(client.id for client in workspace.clients)}:
        raise _nobody(workspace, client_id, logged)
    path = coach_note.note_path(
        workspace.root, client_id, month or _covered_on(workspace, client_id)
    )
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    try:
        _edit(path)
    finally:
        if path.exists() and not path.read_bytes().strip():
            path.unlink()
        for folder in (path.parent, path.parent.parent):
            with contextlib.suppress(OSError):
                folder.rmdir()  # only where nothing is in it
    return path if path.exists() else None


def _covered_on(workspace: Workspace, client_id: str) -> date:
    rows = _asked(
        workspace, "select covered_on from review.coverage where client_id = ?", client_id
    )
    covered_on: date = rows[0]["covered_on"] if rows else as_of_day(workspace, None)
    return covered_on


def _edit(path: Path) -> None:
    editor = os.environ.get("VISUAL") or os.environ.get("EDITOR")
    if not editor:
        raise UsageError(
            f"EDITOR names no editor; set it (export EDITOR=nano), or write {path} yourself."
        )
    try:
        done = subprocess.run([*shlex.split(editor), str(path)], check=False)
    except (OSError, ValueError) as error:
        raise UsageError(f"EDITOR: '{editor}' cannot be started ({error}).") from error
    if done.returncode:
        raise UsageError(f"EDITOR: '{editor}' ended with {done.returncode}; {path} is as it left.")
