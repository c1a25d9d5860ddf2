"""From .eml files to a server: one connection for the batch, TLS checked, nothing sent twice.

The end of a mail's data (the line with a single dot) is sent
apart: until then the server must not take the mail, so that any fault may be tried again; from
then on until its answer a fault leaves the mail in doubt, and it is never tried again by itself.

A server may be slow, never a jailer: each answer, each mail and the batch have an end in time,
whatever it sends meanwhile, for the workspace is locked until then.
"""

from __future__ import annotations

import contextlib
import os
import re
import smtplib
import ssl
import stat
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from email.utils import parseaddr
from pathlib import Path

from pipeline.errors import ConfigError, MailError
from pipeline.files import read_text
from pipeline.ledger.sent_mails import SentLog, State
from pipeline.mail.line import Line
from pipeline.mail.message import MessageFile, ascii_host
from pipeline.outcome import Progress, Tell, silent
from pipeline.settings.addresses import is_loopback
from pipeline.settings.workspace import CONFIG_NAME, MailSettings, Workspace

WAITS = (10.0, 60.0, 300.0)
"""Seconds before the second, third and fourth round over what the server would not take yet."""

CONNECT_SECONDS = 120.0
"""How long opening a connection may take, with greeting, TLS and login."""

MAIL_SECONDS = 300.0
"""How long one mail may take until its data are out."""

FINAL_ANSWER_SECONDS = 600.0
"""How long a server may think after the end of the data (RFC 5321, 4.5.3.2.6)."""

DOUBTS_MOST = 2
"""After so many mails in doubt, one after the other, nothing more is sent to that server."""

OUT_OF_TIME = "the time for one batch, total_seconds under [mail], was over"
DOUBTFUL = "the server left the mails before it in doubt"
_CHUNK = 65536
USER, PASSWORD = "SETLEDGER_SMTP_USER", "SETLEDGER_SMTP_PASSWORD"
_LINE_END = re.compile(rb"\r\n|\r|\n")
_NETWORK_FAULTS = OSError
"""smtplib's and ssl's errors are kinds of it."""
_CUT_SHORT = (ssl.SSLEOFError, ssl.SSLZeroReturnError, ssl.SSLSyscallError)


@dataclass(frozen=True)
class Secrets:
    """User and password, or None for a server that asks for none."""

    user: str
    password: str


@dataclass(frozen=True)
class Delivery:
    """What became of a mail."""

    message: MessageFile
    state: str
    """sent, refused, in doubt or not sent."""
    detail: str = ""
    """The server's words, or the fault."""


class Refused(Exception):
    """The server said no for good (5xx)."""


class NotNow(Exception):
    """The server said no for now (4xx), or the line failed before the end of the data."""


class InDoubt(Exception):
    """The line failed after the end of the data and before the answer."""


# Settings


def read_secrets(workspace: Workspace, settings: MailSettings) -> Secrets | None:
    """User and password from the environment, else from a file that only its owner can read."""
    user, password = os.environ.get(USER, ""), os.environ.get(PASSWORD, "")
    if settings.secrets_file and not (user or password):
        user, password = _read_secrets_file(workspace.root / settings.secrets_file)
    if bool(user) != bool(password):
        lacking = PASSWORD if user else USER
        raise ConfigError(f"{lacking} is not set, but its counterpart is; set both or neither.")
    return Secrets(user, password) if user else None


def _read_secrets_file(path: Path) -> tuple[str, str]:
    try:
        mode = stat.S_IMODE(path.stat().st_mode)
        if mode & 0o077:
            raise ConfigError(
                f"{path}: others can read this file of secrets (mode {mode:04o}); "
                f"`chmod 600 {path}` mends it."
            )
        text = read_text(path)
    except (OSError, UnicodeDecodeError) as error:
        raise ConfigError(f"{path}: this file of secrets cannot be read ({error}).") from error
    pairs = dict(line.strip().split("=", 1) for line in text.splitlines() if "=" in line)
    return pairs.get(USER, ""), pairs.get(PASSWORD, "")


def tls_context(workspace: Workspace, settings: MailSettings) -> ssl.SSLContext:
    """Certificates are always checked: against the machine's authorities, or those of ca_file."""
    if settings.ca_file is None:
        return ssl.create_default_context()
    path = workspace.root / settings.ca_file
    try:
        return ssl.create_default_context(cafile=str(path))
    except (OSError, ssl.SSLError) as error:
        raise ConfigError(
            f"{CONFIG_NAME}: [mail] ca_file: {path} holds no readable certificates ({error})."
        ) from error


# The connection


class Server:
    """A connection that is opened when it is needed and again when it was lost."""

    def __init__(
        self, settings: MailSettings, secrets: Secrets | None, context: ssl.SSLContext
    ) -> None:
        self.settings, self.secrets, self.context = settings, secrets, context
        self._smtp: Line | None = None
        self.connections = 0

    def connected(self) -> Line:
        """The connection, ready for a mail. MailError if no mail can ever go through it; NotNow
        if it cannot be had at the moment."""
        if self._smtp is None:
            try:
                self._smtp = self._open()
            except _CUT_SHORT as error:
                raise NotNow(f"no connection to {self._place()}: {_reason(error)}") from error
            except ssl.SSLError as error:
                raise MailError(
                    f"{self._place()}: no safe connection ({error}); check host, port and "
                    "security under [mail], and ca_file if the certificate is your own."
                ) from error
            except smtplib.SMTPAuthenticationError as error:
                if 400 <= error.smtp_code < 500:
                    raise NotNow(_words(error.smtp_code, error.smtp_error)) from error
                raise MailError(
                    f"{self._place()}: the server does not take user and password "
                    f"({_words(error.smtp_code, error.smtp_error)}); check {USER} and {PASSWORD}."
                ) from error
            except smtplib.SMTPNotSupportedError as error:
                raise MailError(
                    f"{self._place()}: {error} Nothing is sent without protection, and no password "
                    "without being asked; check port and security under [mail], and the secrets."
                ) from error
            except smtplib.SMTPResponseException as error:
                words = _words(error.smtp_code, error.smtp_error)
                if error.smtp_code >= 500:
                    raise MailError(f"{self._place()}: the server said {words}.") from error
                raise NotNow(words) from error
            except _NETWORK_FAULTS as error:
                raise NotNow(f"no connection to {self._place()}: {_reason(error)}") from error
            self.connections += 1
        return self._smtp

    def _place(self) -> str:
        return f"{self.settings.host}:{self.settings.port}"

    def _open(self) -> Line:
        settings = self.settings
        if settings.security == "none" and not is_loopback(settings.host):
            raise MailError(
                f'{CONFIG_NAME}: [mail] security = "none" is for a server on this machine only.'
            )
        smtp = Line(settings, self.context if settings.security == "tls" else None, CONNECT_SECONDS)
        try:
            if settings.security == "starttls":
                smtp.protect(self.context)
            smtp.ehlo_or_helo_if_needed()
            if self.secrets is not None:
                smtp.login(self.secrets.user, self.secrets.password)
        except BaseException:
            smtp.close()
            raise
        return smtp

    def drop(self) -> None:
        """Close the connection without a word; the next mail opens another."""
        if self._smtp is not None:
            self._smtp.close()
            self._smtp = None

    def reset(self) -> None:
        """Make ready for the next mail after one was not taken."""
        if self._smtp is not None:
            try:
                self._smtp.allow(0)
                self._smtp.rset()
            except _NETWORK_FAULTS:
                self.drop()

    def quit(self) -> None:
        """Take leave."""
        if self._smtp is not None:
            with contextlib.suppress(_NETWORK_FAULTS):
                self._smtp.allow(0)
                self._smtp.quit()
            self.drop()


def _reason(error: BaseException) -> str:
    return str(getattr(error, "strerror", None) or error or type(error).__name__)


def _words(code: int, said: bytes | str) -> str:
    """A server's answer as text: the only place where one becomes text."""
    text = said.decode("utf-8", "replace") if isinstance(said, bytes) else said
    return f"{code} {' '.join(text.split())}"[:300]


# The batch


def deliver(
    server: Server,
    sender: str,
    messages: Sequence[MessageFile],
    sent_log: SentLog,
    progress: Progress = silent,
    tell: Tell = silent,
) -> Iterator[Delivery]:
    """Send all; what the server would not take yet is tried again in later rounds.

    No mail and no round begins after the settings' total_seconds. MailError if nothing more can be
    sent at all; what was sent is in the sent log.
    """
    waiting = [(message, "") for message in messages]
    until = time.monotonic() + server.settings.total_seconds
    doubts = 0
    try:
        for place, wait in enumerate((0.0, *WAITS)):
            if not waiting or doubts >= DOUBTS_MOST or time.monotonic() + wait > until:
                break
            if place == 1:
                tell(_said_of_waiting([why for _, why in waiting], until))
            time.sleep(wait)
            round_, waiting = waiting, []
            stop = ""
            for message, why in round_:
                if not stop and time.monotonic() > until:
                    stop = OUT_OF_TIME
                if stop:
                    waiting.append((message, why or stop))
                    continue
                try:
                    server.connected()
                except NotNow as fault:
                    stop = str(fault)
                    waiting.append((message, stop))
                    continue
                try:
                    _send_one(server, sender, message, sent_log)
                except NotNow as fault:
                    waiting.append((message, str(fault)))
                    continue
                except Refused as fault:
                    yield Delivery(message, "refused", str(fault))
                except InDoubt as fault:
                    doubts += 1
                    stop = DOUBTFUL if doubts >= DOUBTS_MOST else ""
                    yield Delivery(message, "in doubt", str(fault))
                else:
                    doubts = 0
                    yield Delivery(message, "sent")
                progress(message.whose)
        for message, why in waiting:
            yield Delivery(message, "not sent", why)
            progress(message.whose)
    finally:
        server.quit()


def _said_of_waiting(whys: Sequence[str], until: float) -> str:
    """For who watches: why nothing happens for a while."""
    moment, seconds = time.monotonic(), []
    for wait in WAITS:
        moment += wait
        if moment <= until:
            seconds.append(f"{wait:g}")
    *before, last = seconds
    times = f"{', '.join(before)} and {last}" if before else last
    mails = "1 mail waits and is" if len(whys) == 1 else f"{len(whys)} mails wait and are"
    return f"{whys[0]}; {mails} tried again after {times} seconds."


def _send_one(server: Server, sender: str, message: MessageFile, sent_log: SentLog) -> None:
    """One mail, by single steps, each with its line in the sent log where it matters."""
    is_begun = False

    def note(state: State, detail: str | None = None) -> None:
        sent_log.note(
            message.client_id,
            message.period,
            message.message_id,
            message.recipient,
            state,
            detail,
            message.first,
        )

    try:
        smtp = server.connected()
        smtp.allow(MAIL_SECONDS)
        _address(smtp, sender, message.recipient)
        data = _dotted(message.path.read_bytes())
        note("sending")
        is_begun = True
        for start in range(0, len(data), _CHUNK):
            smtp.send(data[start : start + _CHUNK])
    except Refused as fault:
        server.reset()
        note("refused", str(fault))
        raise
    except NotNow as fault:
        server.reset()
        if is_begun:
            note("deferred", str(fault))
        raise
    except _NETWORK_FAULTS as error:
        server.drop()
        if is_begun:
            note("deferred", _reason(error))
        raise NotNow(f"the connection failed: {_reason(error)}") from error
    _conclude(server, smtp, note)


def _conclude(server: Server, smtp: Line, note: Callable[..., None]) -> None:
    """The dot that ends the data, and the server's answer."""
    try:
        smtp.send(b".\r\n")
        code, said = smtp.final_answer(FINAL_ANSWER_SECONDS)
    except _NETWORK_FAULTS as error:
        server.drop()
        raise InDoubt(_reason(error)) from error
    words = _words(code, said)
    if 200 <= code < 300:
        note("sent")
        return
    if 400 <= code < 500:
        note("deferred", words)
        server.reset()
        raise NotNow(words)
    if 500 <= code < 600:
        note("refused", words)
        server.reset()
        raise Refused(words)
    server.drop()
    raise InDoubt(f"an answer that is none: {words}")


def _address(smtp: Line, sender: str, recipient: str) -> None:
    """Sender and recipient, and leave to send data; Refused or NotNow by the server's answer."""
    recipient = ascii_host(recipient)
    options = []
    if not recipient.isascii():
        if not smtp.has_extn("smtputf8"):
            raise Refused("this server takes no addresses with letters beyond ASCII")
        options = ["SMTPUTF8", "BODY=8BITMIME"]
        smtp.command_encoding = "utf-8"
    try:
        _demand(smtp.mail(ascii_host(parseaddr(sender)[1]), options), (250,))
        _demand(smtp.rcpt(recipient), (250, 251))
        _demand(smtp.docmd("DATA"), (354,))
    finally:
        smtp.command_encoding = "ascii"


def _demand(answer: tuple[int, bytes], wanted: tuple[int, ...]) -> None:
    code, said = answer
    if code in wanted:
        return
    if 500 <= code < 600:
        raise Refused(_words(code, said))
    raise NotNow(_words(code, said))


def _dotted(content: bytes) -> bytes:
    """The data as SMTP carries them: CRLF, and a dot before each dot that begins a line."""
    lines = _LINE_END.sub(b"\r\n", content)
    dotted = re.sub(rb"(?m)^\.", b"..", lines)
    return dotted if dotted.endswith(b"\r\n") else dotted + b"\r\n"
