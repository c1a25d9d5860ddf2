"""Each client's report of a month by mail: who gets one, the letters made in processes, the batch.

Whoever calls holds the workspace's lock. What was sent stands in the sent log, so that a
resumed or repeated run sends nothing twice.
"""

from __future__ import annotations

import shutil
import time
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from email.utils import formataddr
from pathlib import Path

from pipeline import clock, formats, processes
from pipeline.errors import ConfigError, MailError, UsageError
from pipeline.ledger import store
from pipeline.ledger.sent_mails import Entry, SentLog
from pipeline.mail import letter
from pipeline.mail import smtp as mail
from pipeline.mail.letter import Attachment, Envelope
from pipeline.mail.smtp import Parcel
from pipeline.outcome import Outcome, Progress, silent
from pipeline.pages import texts
from pipeline.pages.page_data import RosterPage
from pipeline.pages.write import (
    PageDone,
    PageJob,
    PageNames,
    chosen_clients,
    close_connections,
    database_for,
    note_attempt,
    opened,
    write_page,
)
from pipeline.settings.addresses import is_address, is_one_mailbox
from pipeline.settings.workspace import CONFIG_NAME, Client, MailSettings, Workspace, as_of_day

COACH_FILE = "_roster"
"""Name of the coach's copy among the files; no client's id begins with an underscore."""

SENT_BEFORE = "sent before"
NO_MAIL = ("mail = false", "left", "no address", "no set yet")
"""Reasons for having none that are as they should be."""


@dataclass(frozen=True)
class Order:
    """What one call of `send` is to do."""

    day: date
    """Last day of the month that is reported."""
    only: tuple[str, ...] = ()
    """Ids of the clients; empty: all, and the coach."""
    for_coach_only: bool = False
    is_dry_run: bool = False
    is_forced: bool = False

    @property
    def period(self) -> str:
        """The month as YYYY-MM."""
        return f"{self.day:%Y-%m}"


@dataclass(frozen=True)
class LetterJob:
    """One client's page and mail."""

    page: PageJob
    envelope: Envelope
    path: Path


@dataclass(frozen=True)
class LetterDone:
    """What it gave; no mail for a client without a set."""

    page: PageDone
    is_written: bool


def order(
    workspace: Workspace,
    month: str | None,
    only: Sequence[str] = (),
    *,
    as_of: date | None = None,
    for_coach_only: bool = False,
    is_dry_run: bool = False,
    is_forced: bool = False,
) -> Order:
    """The order for a month, by default the one that ended; UsageError for one that is not over."""
    today = as_of_day(workspace, as_of)
    day = clock.month_end(month) if month else clock.month_that_ended(today)
    if day > today and not is_dry_run:
        raise UsageError(
            f"--month {month}: this month is not over (the as-of day is {today}); wait, or look at "
            "its mails with --dry-run."
        )
    return Order(day, tuple(only), for_coach_only, is_dry_run, is_forced)


def send(
    workspace: Workspace, outcome: Outcome, wanted: Order, progress: Progress = silent
) -> None:
    """Write the mails and send them, or only write them into out/mail/ for a dry run.

    ConfigError before anything is done where the settings cannot work. A mail that could not be
    sent is a problem of the outcome; all others are done.
    """
    settings = _settings(workspace, wanted)
    secrets = None if wanted.is_dry_run else mail.read_secrets(workspace, settings)
    context = mail.tls_context(workspace, settings)
    book = SentLog.of(workspace.store)
    with outcome.timed("letters"):
        parcels = _parcels(workspace, settings, book, outcome, wanted)
    try:
        if wanted.is_dry_run:
            _tell_written(workspace, outcome, parcels)
        elif parcels:
            with outcome.timed("send"):
                server = mail.Server(settings, secrets, context)
                _deliver(server, settings.sender, parcels, book, outcome, progress)
    finally:
        close_connections()
        shutil.rmtree(_outbox(workspace), ignore_errors=True)
    _tell(outcome, wanted)


def _settings(workspace: Workspace, wanted: Order) -> MailSettings:
    settings = workspace.mail
    if settings is not None:
        for key, text in (
            ("from", settings.sender), ("coach", settings.coach), ("reply_to", settings.reply_to)
        ):  # fmt: skip
            if text is not None and not is_one_mailbox(text):
                raise ConfigError(
                    f"{CONFIG_NAME}: [mail] {key}: '{text}' is not one mail address; write one "
                    "such as name@example.org or Name <name@example.org>."
                )
        return settings
    if wanted.is_dry_run:
        sender = formataddr((workspace.name, "setledger@localhost"))
        return MailSettings(host="localhost", port=25, security="none", sender=sender)
    raise ConfigError(
        f"{CONFIG_NAME}: there is no [mail] table, so nothing can be sent; add it with host and "
        "from, or look at the mails with `setledger send --dry-run`."
    )


def _outbox(workspace: Workspace) -> Path:
    return workspace.store / store.OUTBOX


# Who gets a mail


def _parcels(
    workspace: Workspace,
    settings: MailSettings,
    book: SentLog,
    outcome: Outcome,
    wanted: Order,
) -> list[Parcel]:
    """The mails that are to go out, each in its file; all others are said in the outcome."""
    if not workspace.database.exists():
        raise UsageError(
            f"{workspace.root}: nothing has been built yet; `setledger run` does it all."
        )
    with opened(workspace.database) as con:
        clients = chosen_clients(workspace, con, wanted.only)
    if wanted.for_coach_only and not wanted.only:
        clients = []
    today = as_of_day(workspace, None)
    chosen = []
    for client in clients:
        reason = _reason_for_none(client, today, outcome)
        reason = reason or _standing(book, outcome, wanted, client.id)
        if reason:
            outcome.client(client.id).mail = reason
        else:
            chosen.append(client)
    for_coach = bool(settings.coach) and (wanted.for_coach_only or not wanted.only)
    if for_coach and _standing(book, outcome, wanted, None):
        for_coach = False
    if not chosen and not for_coach:
        return []
    folder = _folder(workspace, wanted)
    with database_for(workspace, wanted.day) as (database, day):
        parcels = _client_parcels(
            workspace, settings, outcome, wanted, chosen, folder, (database, day)
        )
        if for_coach:
            parcels.append(_coach_parcel(workspace, settings, outcome, wanted, folder, database))
    return parcels


def _reason_for_none(client: Client, today: date, outcome: Outcome) -> str | None:
    if not client.mail:
        return "mail = false"
    if client.until is not None and client.until < today:
        return "left"
    if client.email and not is_address(client.email):
        outcome.problems.append(
            f"{client.id}: '{client.email}' is no mail address, so no mail went out; mend email in "
            f"{CONFIG_NAME}."
        )
        return "no address"
    return None if client.email else "no address"


def _standing(book: SentLog, outcome: Outcome, wanted: Order, client_id: str | None) -> str | None:
    """Why no mail may go; one in doubt is left to a person, and said so each time."""
    if wanted.is_forced or wanted.is_dry_run:
        return None
    doubt = book.in_doubt(client_id, wanted.period)
    if doubt is not None:
        outcome.problems.append(_in_doubt(doubt, "before this run"))
        return "in doubt"
    return SENT_BEFORE if book.was_sent(client_id, wanted.period) else None


def _in_doubt(entry: Entry, when: str) -> str:
    option = f"--client {entry.client_id}" if entry.client_id else "--coach"
    whose = entry.client_id or mail.COACH
    return (
        f"{whose}: the mail of {entry.period} to {entry.recipient} was begun "
        f"{when} ({entry.at}), but the server's answer never came: it may have arrived, or not. It "
        f"is not sent again by itself; ask, then if need be `setledger send --month {entry.period} "
        f"{option} --force`."
    )


def _folder(workspace: Workspace, wanted: Order) -> Path:
    """Where the mails are written: out/mail/ for a dry run, else a folder that is removed."""
    folder = workspace.out / "mail" if wanted.is_dry_run else _outbox(workspace)
    if not wanted.is_dry_run:
        shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    return folder


# The letters


def _client_parcels(
    workspace: Workspace,
    settings: MailSettings,
    outcome: Outcome,
    wanted: Order,
    clients: Sequence[Client],
    folder: Path,
    built: tuple[Path, date],
) -> list[Parcel]:
    database, day = built
    names = PageNames(workspace, database, day, is_dated=True)
    jobs = [
        LetterJob(
            PageJob(workspace, database, client.id, day, names.of(client.id)),
            _envelope(workspace, settings, wanted, client),
            folder / f"{wanted.period}-{client.id}.eml",
        )
        for client in clients
    ]
    parcels = []
    for attempt in processes.each(write_letter, jobs):
        done = attempt.done
        client_id = attempt.job.page.client_id
        note_attempt(
            outcome,
            processes.Attempt(attempt.job.page, done.page if done else None, attempt.failure),
        )
        if done is None:
            outcome.client(client_id).mail = "not sent"
        elif not done.is_written:
            outcome.client(client_id).mail = "no set yet"
        else:
            parcels.append(_parcel(attempt.job.envelope, client_id, wanted, attempt.job.path))
    return sorted(parcels, key=lambda each: each.whose)


def _parcel(envelope: Envelope, client_id: str | None, wanted: Order, path: Path) -> Parcel:
    return Parcel(client_id, wanted.period, envelope.message_id, envelope.recipient, path)


def _envelope(
    workspace: Workspace, settings: MailSettings, wanted: Order, client: Client | None
) -> Envelope:
    period = formats.month(wanted.day)
    if client is not None:
        subject = settings.subject.replace("{client}", client.name).replace("{period}", period)
    else:
        subject = texts.coach_subject(workspace.name, period)
    client_id = client.id if client else None
    return Envelope(
        sender=settings.sender,
        recipient=(client.email if client else settings.coach) or "",
        name=client.name if client else "",
        subject=subject,
        reply_to=settings.reply_to,
        message_id=letter.message_id(workspace.name, settings.sender, client_id, wanted.period),
        written_at=_now(),
    )


def _now() -> datetime:
    return clock.now()


def write_letter(job: LetterJob) -> LetterDone:
    """Render one client's page of the month and the mail that carries it."""
    from pipeline.pages import render

    started = time.perf_counter()
    page, paths = write_page(job.page)
    is_written = bool(page.sections)
    if is_written:
        # the links to other pages would lead nowhere from a mail
        alone = render.render_client(replace(page, earlier=(), is_alone=True)).encode()
        name = f"{job.page.client_id}-{job.page.day:%Y-%m}.html"
        message = letter.build_message(
            letter.client_letter(page, job.page.day), job.envelope, Attachment(name, alone)
        )
        store.write_whole(job.path, letter.as_bytes(message))
    return LetterDone(PageDone(paths, time.perf_counter() - started), is_written)


def _coach_parcel(
    workspace: Workspace,
    settings: MailSettings,
    outcome: Outcome,
    wanted: Order,
    folder: Path,
    database: Path,
) -> Parcel:
    from pipeline.pages import pages, render

    with opened(database) as con:
        page = pages.read_roster(con, workspace, outcome.failures)
    html = render.render_roster(_without_links(page)).encode()
    envelope = _envelope(workspace, settings, wanted, None)
    message = letter.build_message(
        letter.coach_letter(page, wanted.day), envelope,
        Attachment(f"clients-{wanted.period}.html", html),
    )  # fmt: skip
    path = folder / f"{wanted.period}-{COACH_FILE}.eml"
    store.write_whole(path, letter.as_bytes(message))
    return _parcel(envelope, None, wanted, path)


def _without_links(page: RosterPage) -> RosterPage:
    """The roster as it goes out by mail, where links to other pages lead nowhere."""
    table = page.table
    if table is not None:
        rows = tuple((replace(name, href=""), *rest) for name, *rest in table.rows)
        table = replace(table, rows=rows)
    return replace(page, table=table, earlier=())


# The batch, and what is said of it


def _deliver(
    server: mail.Server,
    sender: str,
    parcels: Sequence[Parcel],
    book: SentLog,
    outcome: Outcome,
    progress: Progress,
) -> None:
    for parcel in parcels:
        outcome.client(parcel.whose).mail = "not sent"
    try:
        for done in mail.deliver(server, sender, parcels, book, progress):
            _note_delivery(done, book, outcome)
    except MailError as error:
        outcome.problems.append(f"{error} What was not sent yet waits for the next `send`.")


def _note_delivery(done: mail.Delivery, book: SentLog, outcome: Outcome) -> None:
    parcel = done.parcel
    outcome.client(parcel.whose).mail = done.state
    where = f"{parcel.whose}: the mail of {parcel.period} to {parcel.recipient}"
    if done.state == "in doubt":
        entry = book.in_doubt(parcel.client_id, parcel.period)
        assert entry is not None
        outcome.problems.append(_in_doubt(entry, "in this run"))
    elif done.state == "refused":
        outcome.problems.append(
            f"{where} was refused ({done.detail}); mend the address or ask the server's "
            "keeper. The next `setledger send` tries again."
        )
    elif done.state == "not sent":
        outcome.problems.append(
            f"{where} could not be sent ({done.detail or 'the server did not answer'}); the "
            "next `setledger send` tries again."
        )


def _tell_written(workspace: Workspace, outcome: Outcome, parcels: Sequence[Parcel]) -> None:
    for parcel in parcels:
        outcome.client(parcel.whose).mail = "written"
        outcome.notes.append(str(parcel.path.relative_to(workspace.root)))


def _tell(outcome: Outcome, wanted: Order) -> None:
    """The summary: how many mails, and who got none and why."""
    states = Counter(
        each.mail for each in outcome.clients.values() if each.mail and each.mail not in NO_MAIL
    )
    told = ", ".join(f"{amount} {state}" for state, amount in sorted(states.items())) or "none"
    outcome.notes.append(f"Mails of {formats.month(wanted.day)}: {told}.")
    outcome.notes += [
        f"{name}: no mail ({each.mail})."
        for name, each in sorted(outcome.clients.items())
        if each.mail in NO_MAIL
    ]


def mirror(workspace: Workspace) -> None:
    """Bring ledger.mails up to the sent log; the database is published only if that changed it."""
    from pipeline.ledger.replay import opened_work

    with opened_work(workspace, is_locked=True) as work:
        work.publish()
