"""Remarks on clients: what setledger.toml says of them, and whether their sets are loaded."""

from __future__ import annotations

import shlex
from collections.abc import Collection, Iterator, Mapping
from datetime import date
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from pipeline import formats
from pipeline.checks.config_line import config_line
from pipeline.checks.exercises import NEAREST, nearest_words
from pipeline.checks.remarks import Remark, Severity
from pipeline.ledger.forgotten import standing
from pipeline.names.catalogue import Catalogue
from pipeline.names.nearest import nearest
from pipeline.resources import sql
from pipeline.settings.addresses import is_address
from pipeline.settings.workspace import CONFIG_NAME, Client, Workspace

if TYPE_CHECKING:
    import duckdb


def _of(
    workspace: Workspace,
    client: Client,
    severity: Severity,
    setting: tuple[str, object],
    text: str,
    group: str = "",
    item: str = "",
    **detail: Any,
) -> Remark:
    """A remark on a key and its value in a client's block."""
    key, value = setting
    where = config_line(workspace, str(value), client.id, key)
    return Remark(severity, "clients", where, f"{client.id}: {text}", detail, group, item)


def configured(workspace: Workspace, as_of: date) -> Iterator[Remark]:
    """Addresses that are none, forgotten clients, phases and changes that lie ahead or overlap."""
    forgotten = standing(workspace)
    for client in workspace.clients:
        if client.email is not None and not is_address(client.email):
            yield _of(
                workspace,
                client,
                "wrong",
                ("email", client.email),
                f"'{client.email}' is no mail address; write one such as name@example.org.",
            )
        if forgotten.has(client.id):
            yield _of(
                workspace,
                client,
                "note",
                ("id", client.id),
                "this client was forgotten and gets no page; take the block out, "
                f"or `setledger forget {client.id} --readmit`.",
            )
        yield from _phases(workspace, client, as_of)
        for change in client.changes:
            if change.changed_on > as_of:
                yield _of(
                    workspace,
                    client,
                    "note",
                    ("on", change.changed_on),
                    f"the change of {change.changed_on} lies ahead; the report "
                    "compares from that day on.",
                )


def _phases(workspace: Workspace, client: Client, as_of: date) -> Iterator[Remark]:
    phases = sorted(client.phases, key=lambda phase: phase.from_on)
    for phase in phases:
        if phase.from_on > as_of:
            yield _of(
                workspace,
                client,
                "note",
                ("from", phase.from_on),
                f"the phase {phase.kind} from {phase.from_on} lies ahead; it counts from that "
                "day on.",
            )
    for earlier, later in pairwise(phases):
        if earlier.to_on is None or later.from_on <= earlier.to_on:
            end = earlier.to_on or "its open end"
            yield _of(
                workspace,
                client,
                "open",
                ("from", later.from_on),
                f"the phase {later.kind} from {later.from_on} begins before {earlier.kind} from "
                f"{earlier.from_on} is over ({end}); give the earlier one a `to` before it.",
            )


def muscles(workspace: Workspace, catalogue: Catalogue) -> Iterator[Remark]:
    """Muscles that there are not, and those named two ways."""
    known = [each.muscle for each in catalogue.muscles]
    for client in workspace.clients:
        named = [("bring_up", each) for each in client.bring_up]
        named += [("hold_back", each) for each in client.hold_back]
        named += [("guide", each.muscle) for each in client.guide]
        for key, muscle in named:
            if catalogue.muscle_of(muscle) not in known:
                near = nearest(muscle, known, likeness=0.5)
                hint = f"did you mean '{near[0]}'?" if near else f"known are {', '.join(known)}."
                yield _of(
                    workspace,
                    client,
                    "wrong",
                    (key, muscle),
                    f"{key} names '{muscle}', which is no muscle here; {hint}",
                    nearest=near,
                )
        held_back = set(map(catalogue.muscle_of, client.hold_back))
        for muscle in client.bring_up:
            if catalogue.muscle_of(muscle) not in held_back:
                continue
            yield _of(
                workspace,
                client,
                "open",
                ("", muscle),
                f"'{muscle}' stands under bring_up and hold_back; keep one.",
            )


def exercises(
    workspace: Workspace, catalogue: Catalogue, logged: Mapping[str, Collection[str]] | None = None
) -> Iterator[Remark]:
    """Targets and changes that meet no lift: one that nobody knows, or that the client never did.

    `logged`: client to exercises of the sets that count; None: nothing is loaded yet.
    """
    known: set[str] = set().union(*(logged or {}).values())
    for client in workspace.clients:
        own = (logged or {}).get(client.id, ())
        named = [("target", target.exercise) for target in client.targets]
        named += [("change of", each.exercise) for each in client.changes if each.exercise]
        for kind, exercise in named:
            resolved = catalogue.resolve(exercise)
            setting = ("exercise", exercise)
            if resolved.how == "unknown" and resolved.exercise not in known:
                scored = catalogue.nearest(exercise, NEAREST)
                text = f"the {kind} '{exercise}' is no known exercise; {nearest_words(scored)}"
                yield _of(workspace, client, "wrong", setting, text, nearest=scored)
            elif own and resolved.exercise not in own:
                near = nearest(resolved.exercise, own, NEAREST, likeness=0.5)
                text = (
                    f"the {kind} '{exercise}' meets no set: '{resolved.exercise}' was never "
                    f"logged{'; nearest: ' + ', '.join(near) if near else ''}."
                )
                yield _of(workspace, client, "note", setting, text, nearest=near)


def without_email(workspace: Workspace) -> Iterator[Remark]:
    """Clients whom `send` passes over, where mail is set up."""
    for client in workspace.clients:
        if workspace.mail is not None and client.email is None and client.mail:
            yield _of(
                workspace,
                client,
                "note",
                ("id", client.id),
                "has no email, so `setledger send` passes over; add one, or mail = false.",
                group=NO_EMAIL,
                item=client.id,
            )


UNLISTED = (
    f"{CONFIG_NAME}: {{}} clients are loaded and not listed: their pages are made, no mail goes "
    "out. List them, or name the spelling under aliases of the client it is"
)
NO_EMAIL = (
    f"{CONFIG_NAME}: {{}} clients have no email, so `setledger send` passes over them; add one, or "
    "mail = false"
)


def loaded(
    workspace: Workspace, con: duckdb.DuckDBPyConnection, spellings: Mapping[str, str]
) -> Iterator[Remark]:
    """Clients of the ledger who are not listed, and listed ones without sets."""
    if not workspace.clients:
        return
    listed = {client.id for client in workspace.clients}
    found = con.execute(sql("checks/loaded_clients")).fetchall()
    for client_id, sets, first_on, last_on in found:
        if client_id not in listed:
            name = spellings.get(client_id, client_id)
            span = str(first_on) if first_on == last_on else f"{first_on} to {last_on}"
            told = f"'{name}' ({formats.count(sets, 'set')}, {span})"
            command = f"`setledger client add {client_id} --name {shlex.quote(name)}`"
            yield Remark(
                "note",
                "clients",
                CONFIG_NAME,
                f"{told} is loaded and not listed: the page is made, no mail goes out. {command} "
                "lists this client; or name the spelling under aliases of the client it is.",
                {"client_id": client_id, "sets": sets},
                group=UNLISTED,
                item=f"{told}: {command}",
            )
    ids = [client_id for client_id, *_ in found]
    strangers = [client_id for client_id in ids if client_id not in listed]
    for client in workspace.clients:
        if client.id not in ids:
            near = nearest(client.id, strangers, likeness=0.5)
            hint = f" '{near[0]}' is loaded and not listed: is that who is meant?" if near else ""
            yield _of(
                workspace,
                client,
                "open",
                ("id", client.id),
                "no set of this client is loaded; name the spelling of the export under "
                f"aliases.{hint}",
            )
