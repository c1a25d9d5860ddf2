"""Each client's report of a month by mail: who gets one, messages made in processes, the batch.

Whoever calls holds the workspace's lock. What was sent stands in the sent log, so that a
resumed or repeated run sends nothing twice.
"""

from __future__ import annotations

import shutil
import time
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path

from pipeline import clock, formats, processes
from pipeline.errors import ConfigError, MailError, UsageError
from pipeline.ledger import store
from pipeline.ledger.connection import close_connections, opened
from pipeline.ledger.sent_mails import Entry, SentLog
from pipeline.mail import smtp
from pipeline.mail.letter_page import client_letter, coach_letter
from pipeline.mail.message import (
    COACH,
    Attachment,
    Envelope,
    MessageFile,
    as_bytes,
    build_message,
    mailbox,
    message_id,
)
from pipeline.outcome import Outcome, Progress, Tell, silent
from pipeline.pages.before_sending import as_lines, before_sending
from pipeline.pages.clients import chosen_clients
from pipeline.pages.page_data import RosterPage
from pipeline.pages.write import PageDone, PageJob, PageNames, note_attempt, write_page
from pipeline.review.other_day import database_for
from pipeline.settings.addresses import is_one_mailbox
from pipeline.settings.workspace import CONFIG_NAME, Client, MailSettings, Workspace, as_of_day

COACH_FILE = "_roster"
"""Name of the coach's copy among the files; no client's id begins with an underscore."""

NAMES_MOST = 8
"""How many clients a sentence names; the log has a line for each."""

SENT_BEFORE = "sent before"
NO_MAIL = ("mail = false", "left", "no address", "not listed", "no set yet")
"""Reasons for having none that are as they should be."""


@dataclass(frozen=True)
class SendRequest:
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
    first: tuple[str, str] | None = None
    """Code and subject of the first change that it tells of."""


def send_request(
    workspace: Workspace,
    month: str | None,
    only: Sequence[str] = (),
    *,
    as_of: date | None = None,
    for_coach_only: bool = False,
    is_dry_run: bool = False,
    is_forced: bool = False,
) -> SendRequest:
    """The order for a month, by default the one that ended; UsageError for one that is not over."""
    today = as_of_day(workspace, as_of)
    day = clock.month_end(month) if month else clock.month_that_ended(today)
    if day > today and not is_dry_run:
        raise UsageError(
            f"--month {month}: this month is not over (the as-of day is {today}); wait, or look at "
            "its mails with --dry-run."
        )
    return SendRequest(day, tuple(only), for_coach_only, is_dry_run, is_forced)


def send(
    workspace: Workspace,
    outcome: Outcome,
    request: SendRequest,
    progress: Progress = silent,
    tell: Tell = silent,
) -> None:
    """Write the mails and send them, or only write them into out/mail/ for a dry run.

    ConfigError before anything is done where the settings cannot work. A mail that could not be
    sent is a problem of the outcome; all others are done.
    """
    settings = _settings(workspace, request)
    secrets = None if request.is_dry_run else smtp.read_secrets(workspace, settings)
    context = smtp.tls_context(workspace, settings)
    sent_log = SentLog.of(workspace.store)
    with outcome.timed("letters"):
        messages = _messages(workspace, settings, sent_log, outcome, request)
    try:
        if request.is_dry_run:
            _tell_written(workspace, outcome, messages)
        elif messages:
            with outcome.timed("send"):
                server = smtp.Server(settings, secrets, context)
                deliveries = smtp.deliver(
                    server, settings.sender, messages, sent_log, progress, tell
                )
                _note_deliveries(deliveries, messages, sent_log, outcome)
    finally:
        close_connections()
        shutil.rmtree(_outbox(workspace), ignore_errors=True)
    _tell(outcome, request)


def _settings(workspace: Workspace, request: SendRequest) -> MailSettings:
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
    if request.is_dry_run:
        sender = mailbox(workspace.name, "setledger@localhost")
        return MailSettings(host="localhost", port=25, security="none", sender=sender)
    raise ConfigError(
        f"{CONFIG_NAME}: there is no [mail] table, so nothing can be sent; add it with host and "
        "from, or look at the mails with `setledger send --dry-run`."
    )


def _outbox(workspace: Workspace) -> Path:
    return workspace.store / store.OUTBOX


# Who gets a mail


def _messages(
    workspace: Workspace,
    settings: MailSettings,
    sent_log: SentLog,
    outcome: Outcome,
    request: SendRequest,
) -> list[MessageFile]:
    """The mails that are to go out, each in its file; all others are said in the outcome."""
    if not workspace.database.exists():
        raise UsageError(
            f"{workspace.root}: nothing has been built yet; `setledger run` does it all."
        )
    with opened(workspace.database) as con:
        clients = chosen_clients(workspace, con, request.only)
    if request.for_coach_only and not request.only:
        clients = []
    today = as_of_day(workspace, None)
    chosen = []
    for client in clients:
        reason = _reason_for_none(client, today, outcome)
        reason = reason or _reason_by_log(sent_log, outcome, request, client.id)
        if reason:
            outcome.client(client.id).mail = reason
        else:
            chosen.append(client)
    for_coach = bool(settings.coach) and (request.for_coach_only or not request.only)
    if for_coach and _reason_by_log(sent_log, outcome, request, None):
        for_coach = False
    if not (chosen or for_coach or request.is_dry_run):
        return []
    folder = _folder(workspace, request)
    with database_for(workspace, request.day) as (database, day):
        if request.is_dry_run:
            with opened(database) as con:
                checklist = before_sending(
                    con, workspace, clients, request.day, today, is_mailing=True
                )
            outcome.notes += as_lines(checklist)
        messages = _client_messages(
            workspace, settings, outcome, request, chosen, folder, (database, day)
        )
        if for_coach:
            messages.append(_coach_message(workspace, settings, outcome, request, folder, database))
    return messages


def _reason_for_none(client: Client, today: date, outcome: Outcome) -> str | None:
    reason = client.no_mail_because(today)
    if reason == "no address" and client.email:
        outcome.problems.append(
            f"{client.id}: '{client.email}' is no mail address, so no mail went out; mend email in "
            f"{CONFIG_NAME}."
        )
    return reason


def _reason_by_log(
    sent_log: SentLog, outcome: Outcome, request: SendRequest, client_id: str | None
) -> str | None:
    """Why the sent log allows no mail; one in doubt is left to a person, and said so each time."""
    if request.is_forced or request.is_dry_run:
        return None
    doubt = sent_log.in_doubt(client_id, request.period)
    if doubt is not None:
        outcome.problems.append(_in_doubt(doubt, "before this run"))
        return "in doubt"
    return SENT_BEFORE if sent_log.was_sent(client_id, request.period) else None


def _in_doubt(entry: Entry, when: str) -> str:
    option = f"--client {entry.client_id}" if entry.client_id else "--coach"
    whose = entry.client_id or COACH
    return (
        f"{whose}: the mail of {entry.period} to {entry.recipient} was begun "
        f"{when} ({entry.at}), but the server's answer never came: it may have arrived, or not. It "
        f"is not sent again by itself; ask, then if need be `setledger send --month {entry.period} "
        f"{option} --force`."
    )


def _folder(workspace: Workspace, request: SendRequest) -> Path:
    """Where the mails are written: out/mail/ for a dry run, else a folder that is removed."""
    folder = workspace.out / "mail" if request.is_dry_run else _outbox(workspace)
    if not request.is_dry_run:
        shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    return folder


# The letters


def _client_messages(
    workspace: Workspace,
    settings: MailSettings,
    outcome: Outcome,
    request: SendRequest,
    clients: Sequence[Client],
    folder: Path,
    built: tuple[Path, date],
) -> list[MessageFile]:
    database, day = built
    names = PageNames(workspace, database, day, is_dated=True)
    jobs = [
        LetterJob(
            PageJob(workspace, database, client.id, day, names.of(client.id)),
            _envelope(workspace, settings, request, client),
            folder / f"{request.period}-{client.id}.eml",
        )
        for client in clients
    ]
    messages = []
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
            message = _message_file(attempt.job.envelope, client_id, request, attempt.job.path)
            messages.append(replace(message, first=done.first))
    return sorted(messages, key=lambda each: each.whose)


def _message_file(
    envelope: Envelope, client_id: str | None, request: SendRequest, path: Path
) -> MessageFile:
    return MessageFile(client_id, request.period, envelope.message_id, envelope.recipient, path)


def _envelope(
    workspace: Workspace, settings: MailSettings, request: SendRequest, client: Client | None
) -> Envelope:
    period = formats.month(request.day)
    if client is not None:
        subject = settings.subject.replace("{client}", client.name).replace("{period}", period)
    else:
        subject = f"{workspace.name}: clients, {period}"
    client_id = client.id if client else None
    return Envelope(
        sender=settings.sender,
        recipient=(client.email if client else settings.coach) or "",
        name=client.name if client else "",
        subject=subject,
        reply_to=settings.reply_to,
        message_id=message_id(workspace.name, settings.sender, client_id, request.period),
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
        alone = render.render_client(replace(page, earlier=(), years="", is_alone=True)).encode()
        name = f"{job.page.client_id}-{job.page.day:%Y-%m}.html"
        message = build_message(
            client_letter(page, job.page.day), job.envelope, Attachment(name, alone)
        )
        store.write_whole(job.path, as_bytes(message))
    first = (page.lead.first.code, page.lead.first.subject) if page.lead else None
    return LetterDone(PageDone(paths, time.perf_counter() - started), is_written, first)


def _coach_message(
    workspace: Workspace,
    settings: MailSettings,
    outcome: Outcome,
    request: SendRequest,
    folder: Path,
    database: Path,
) -> MessageFile:
    from pipeline.pages import render, roster

    with opened(database) as con:
        page = roster.read_roster(con, workspace, outcome.failures)
    html = render.render_roster(_without_links(page)).encode()
    envelope = _envelope(workspace, settings, request, None)
    message = build_message(
        coach_letter(page, request.day), envelope,
        Attachment(f"clients-{request.period}.html", html),
    )  # fmt: skip
    path = folder / f"{request.period}-{COACH_FILE}.eml"
    store.write_whole(path, as_bytes(message))
    return _message_file(envelope, None, request, path)


def _without_links(page: RosterPage) -> RosterPage:
    """The roster as it goes out by mail, where links to other pages lead nowhere."""
    table = page.table
    if table is not None:
        rows = tuple(tuple(replace(cell, href="") for cell in row) for row in table.rows)
        table = replace(table, rows=rows)
    return replace(page, table=table, earlier=())


# The batch, and what is said of it


def _note_deliveries(
    deliveries: Iterable[smtp.Delivery],
    messages: Sequence[MessageFile],
    sent_log: SentLog,
    outcome: Outcome,
) -> None:
    """What became of each mail; what kept several back for one reason is said once."""
    for message in messages:
        outcome.client(message.whose).mail = "not sent"
    kept_back: dict[str, list[MessageFile]] = {}
    try:
        for done in deliveries:
            outcome.client(done.message.whose).mail = done.state
            if done.state == "in doubt":
                entry = sent_log.in_doubt(done.message.client_id, done.message.period)
                assert entry is not None
                outcome.problems.append(_in_doubt(entry, "in this run"))
            elif done.state == "refused":
                outcome.problems.append(
                    f"{_mail_of(done.message)} was refused ({done.detail}); mend the address or "
                    "ask the server's keeper. The next `setledger send` tries again."
                )
            elif done.state == "not sent":
                kept_back.setdefault(done.detail, []).append(done.message)
    except MailError as error:
        outcome.problems.append(f"{error} What was not sent yet waits for the next `send`.")
    for reason, kept in kept_back.items():
        which = _mail_of(kept[0]) if len(kept) == 1 else _mails_of(kept)
        outcome.problems.append(
            f"{which} could not be sent ({reason}); the next `setledger send` tries again."
        )


def _mail_of(message: MessageFile) -> str:
    return f"{message.whose}: the mail of {message.period} to {message.recipient}"


def _mails_of(messages: Sequence[MessageFile]) -> str:
    names = [message.whose for message in messages]
    if len(names) > NAMES_MOST:
        names[NAMES_MOST - 1 :] = [f"{len(names) - NAMES_MOST + 1} more"]
    *before, last = names
    whose = f"{', '.join(before)} and {last}"
    return f"{len(messages)} mails of {messages[0].period} ({whose})"


def _tell_written(workspace: Workspace, outcome: Outcome, messages: Sequence[MessageFile]) -> None:
    for message in messages:
        outcome.client(message.whose).mail = "written"
        outcome.notes.append(str(message.path.relative_to(workspace.root)))


def _tell(outcome: Outcome, request: SendRequest) -> None:
    """The summary: how many mails, and who got none and why."""
    states = Counter(
        each.mail for each in outcome.clients.values() if each.mail and each.mail not in NO_MAIL
    )
    told = ", ".join(f"{amount} {state}" for state, amount in sorted(states.items())) or "none"
    outcome.notes.append(f"Mails of {formats.month(request.day)}: {told}.")
    outcome.notes += [
        f"{name}: no mail ({each.mail})."
        for name, each in sorted(outcome.clients.items())
        if each.mail in NO_MAIL and not request.is_dry_run  # there the checklist says it
    ]


def mirror(workspace: Workspace) -> None:
    """Bring ledger.mails up to the sent log; the database is published only if that changed it."""
    from pipeline.ledger.replay import opened_work

    with opened_work(workspace, is_locked=True) as work:
        work.publish()
