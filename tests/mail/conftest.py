"""A mail server on this machine, with certificates made for the test, and a small workspace."""

from __future__ import annotations

import asyncio
import email
import socket
import ssl
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from email.message import EmailMessage
from email.policy import default
from pathlib import Path
from typing import Any

import pytest
import trustme
from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, AuthResult, Envelope, LoginPassword, Session

from pipeline.mail import smtp as mail
from pipeline.outcome import Outcome
from pipeline.runs import run as runs
from pipeline.settings.workspace_file import find_workspace

PASSWORD = "north-quay"
MONTH = "2026-07"


@dataclass
class Post:
    """What the server was told and how it is to behave."""

    sessions: set[int] = field(default_factory=set)
    mails: list[tuple[str, EmailMessage]] = field(default_factory=list)
    raw: list[bytes] = field(default_factory=list)
    users: list[str] = field(default_factory=list)
    on_rcpt: Callable[[str], str | None] = lambda _address: None
    """An answer to a recipient, or None to take it."""
    on_data: Callable[[str], str | None] = lambda _address: None
    """An answer to the data, or None to take the mail; may be slow."""
    cuts: Callable[[str, str], bool] = lambda _step, _address: False
    """Whether to cut the line at a step: "rcpt", "data" (before taking) or "taken" (after)."""

    @property
    def recipients(self) -> list[str]:
        """To whom mails came, in order."""
        return [recipient for recipient, _ in self.mails]

    async def handle_RCPT(
        self, server: SMTP, session: Session, envelope: Envelope, address: str, options: list[str]
    ) -> str:
        self.sessions.add(id(session))
        if self.cuts("rcpt", address):
            server.transport.abort()
            return "421 gone"
        answer = self.on_rcpt(address)
        if answer is None:
            envelope.rcpt_tos.append(address)
        return answer or "250 OK"

    async def handle_DATA(self, server: SMTP, session: Session, envelope: Envelope) -> str:
        [address] = envelope.rcpt_tos
        if self.cuts("data", address):
            server.transport.abort()
            return "421 gone"
        content = envelope.original_content or b""
        loop = asyncio.get_running_loop()
        # in a thread, so that a client that is gone meanwhile does not undo the taking
        answer = await loop.run_in_executor(None, self._take, address, content)
        if answer is not None:
            return answer
        if self.cuts("taken", address):
            server.transport.abort()
        return "250 taken"

    def _take(self, address: str, content: bytes) -> str | None:
        answer = self.on_data(address)
        if answer is None:
            self.raw.append(content)
            message = email.message_from_bytes(content, policy=default)
            assert isinstance(message, EmailMessage)
            self.mails.append((address, message))
        return answer

    def authenticate(
        self, server: SMTP, session: Session, envelope: Envelope, mechanism: str, data: Any
    ) -> AuthResult:
        assert isinstance(data, LoginPassword)
        self.users.append(data.login.decode())
        return AuthResult(success=data.password.decode() == PASSWORD, handled=False)


@dataclass
class Place:
    """A running server and the settings that lead to it."""

    post: Post
    port: int
    security: str
    ca_file: Path

    def table(self, **more: str) -> str:
        """[mail] of setledger.toml."""
        lines = {
            "host": "localhost",
            "security": self.security,
            "from": "Harbour Lane Barbell Room <room@example.org>",
            "ca_file": self.ca_file.name,
        } | more
        told = "".join(f"{key} = '{value}'\n" for key, value in lines.items())
        return f"\n[mail]\nport = {self.port}\ntimeout_seconds = 2.0\n{told}"


@pytest.fixture(scope="session")
def authority() -> trustme.CA:
    """An authority that only these tests trust."""
    return trustme.CA()


@pytest.fixture
def open_place(authority: trustme.CA, tmp_path: Path) -> Iterator[Callable[..., Place]]:
    """Starts servers: open_place(security="tls", host="localhost", with_auth=True)."""
    running: list[Controller] = []

    def start(security: str = "starttls", host: str = "localhost", with_auth: bool = True) -> Place:
        post = Post()
        context = ssl.create_default_context(ssl.Purpose.CLIENT_AUTH)
        authority.issue_cert(host).configure_cert(context)
        options: dict[str, Any] = {"hostname": "127.0.0.1", "port": 0, "server_hostname": "test"}
        if security == "tls":
            options |= {"ssl_context": context}
        elif security == "starttls":
            options |= {"tls_context": context, "require_starttls": True}
        if with_auth:
            options |= {
                "authenticator": post.authenticate,
                "auth_required": True,
                "auth_require_tls": security == "starttls",
            }
        controller = _Controller(post, **options)
        controller.start()
        running.append(controller)
        port = controller.server.sockets[0].getsockname()[1]
        ca_file = tmp_path / "club" / "authority.pem"
        ca_file.parent.mkdir(exist_ok=True)
        authority.cert_pem.write_to_path(str(ca_file))
        return Place(post, port, security, ca_file)

    yield start
    for controller in running:
        controller.stop(no_assert=True)


class _Controller(Controller):
    """Tries itself out without TLS, for it trusts no certificate of ours."""

    def _trigger_server(self) -> None:
        assert self.server is not None
        socket.create_connection(self.server.sockets[0].getsockname()).close()


CLIENTS = """
[workspace]
name = "Harbour Lane Barbell Room"
as_of = 2026-07-31
[[sources]]
files = "exports/*.csv"
mapping = "mappings/log.toml"
[[clients]]
id = "ines"
name = "Ines Duarte"
email = "ines@example.org"
[[clients]]
id = "kofi"
name = "Kofi Asante, \\"the Quay\\""
email = "kofi@example.org"
[[clients]]
id = "matthis"
name = "Matthis Röwe-Łącki"
email = "matthis@bücher.example"
"""

MAPPING = """
name = "log"
[columns]
client = "who"
performed_on = "day"
exercise = "lift"
load = "kg"
reps = "reps"
[formats]
load_unit = "kg"
"""


@dataclass
class Club:
    """A workspace with a few weeks of three clients' logs."""

    folder: Path

    def write(self, table: str, clients: str = CLIENTS) -> None:
        """setledger.toml."""
        (self.folder / "setledger.toml").write_text(clients + table, encoding="utf-8")

    def send(self, month: str | None = MONTH, **wanted: Any) -> Outcome:
        """As `setledger send` does it."""
        from pipeline.mail import send as sending

        workspace = find_workspace(self.folder)
        return runs.send(workspace, sending.send_request(workspace, month, **wanted))

    def states(self) -> list[tuple[str | None, str]]:
        """The sent log: client and state of each line."""
        from pipeline.ledger.sent_mails import SentLog

        log = SentLog.of(self.folder / ".setledger")
        return [(entry.client_id, entry.state) for entry in log.entries]


@pytest.fixture(scope="session")
def built_club(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The workspace, loaded and built once."""
    folder = tmp_path_factory.mktemp("built") / "club"
    (folder / "exports").mkdir(parents=True)
    (folder / "mappings").mkdir()
    (folder / "mappings/log.toml").write_text(MAPPING, encoding="utf-8")
    lines = ["who,day,lift,kg,reps"]
    for who in ("ines", "kofi", "matthis"):
        for day in ("2026-06-22", "2026-06-29", "2026-07-06", "2026-07-13", "2026-07-20"):
            lines += [f"{who},{day},{lift},60,8" for lift in ("back squat", "bench press")] * 3
    (folder / "exports/log.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    club = Club(folder)
    club.write("")
    assert runs.run(find_workspace(folder)).problems == []
    return folder


@pytest.fixture
def club(built_club: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Club:
    """A copy of it, with the secrets in the environment and short waits between rounds."""
    import shutil

    monkeypatch.setenv(mail.USER, "room")
    monkeypatch.setenv(mail.PASSWORD, PASSWORD)
    monkeypatch.setattr(mail, "WAITS", (0.01, 0.01))
    shutil.copytree(built_club, tmp_path / "club", dirs_exist_ok=True)
    return Club(tmp_path / "club")


def slowly(seconds: float) -> Callable[[str], str | None]:
    """Takes every mail, after a while."""

    def answer(_address: str) -> str | None:
        time.sleep(seconds)
        return None

    return answer
