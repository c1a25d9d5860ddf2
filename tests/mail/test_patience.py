"""Servers that stall, drip, never stop talking or are not there: every batch has an end.

A scripted server on this machine says what a test wants, byte by byte. All patience is cut to
fractions of a second; that nothing ends late is held against `SOON`, that nothing hangs against
what the server itself can bear.
"""

from __future__ import annotations

import contextlib
import os
import pty
import re
import socket
import ssl
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest
import trustme

from pipeline.errors import ConfigError
from pipeline.ledger.sent_mails import SentLog
from pipeline.mail import smtp
from pipeline.mail.line import ANSWER_LINES_MOST, Line
from pipeline.mail.message import MessageFile
from pipeline.settings.workspace import MailSettings
from pipeline.settings.workspace_file import find_workspace
from tests.mail.conftest import MONTH, Club, Place

Open = Callable[..., Place]
SOON = 6.0
"""Far more than any deadline here, far less than what a server that stalls would take."""
STALL = 30.0


class Talk:
    """One connection, from the server's side."""

    def __init__(self, office: Office, sock: socket.socket) -> None:
        self.office, self.sock, self.heard = office, sock, b""

    def say(self, text: bytes) -> None:
        self.sock.sendall(text)

    def drip(self, text: bytes) -> None:
        """A byte at a time, each sooner than the client's patience ends, as long as it bears it."""
        until = time.monotonic() + STALL
        for byte in text:
            if time.monotonic() > until or self.office.is_closing.wait(0.05):
                return
            self.sock.sendall(bytes([byte]))

    def line(self) -> bytes:
        while b"\n" not in self.heard:
            part = self.sock.recv(65536)
            if not part:
                raise ConnectionError
            self.heard += part
        line, _, self.heard = self.heard.partition(b"\n")
        return line.rstrip(b"\r")

    def serve(self) -> None:
        """An ordinary talk, but for the steps that the office answers in its own way."""
        self.answer("connect", b"220 quay\r\n")
        while True:
            command = self.line().upper()
            for verb, usual in (
                (b"EHLO", b"250-quay\r\n250 8BITMIME\r\n"), (b"MAIL", b"250 ok\r\n"),
                (b"RCPT", b"250 ok\r\n"), (b"RSET", b"250 ok\r\n"), (b"QUIT", b"221 bye\r\n"),
            ):  # fmt: skip
                if command.startswith(verb):
                    self.answer(verb.decode(), usual)
            if command.startswith(b"DATA"):
                self.answer("DATA", b"354 go\r\n")
                self.answer("content", b"")
                while self.line() != b".":
                    pass
                self.office.taken += 1
                self.answer("taken", b"250 taken\r\n")
            if command.startswith(b"QUIT"):
                return

    def answer(self, step: str, usual: bytes) -> None:
        self.office.steps.append(step)
        unusual = self.office.unusual.get(step)
        if unusual is None:
            self.say(usual)
        else:
            unusual(self)


@dataclass
class Office:
    """A scripted server."""

    port: int = 0
    unusual: dict[str, Callable[[Talk], None]] = field(default_factory=dict)
    """A step ("connect", a command, "content" or "taken") to its answer."""
    steps: list[str] = field(default_factory=list)
    taken: int = 0
    is_closing: threading.Event = field(default_factory=threading.Event)
    talks: list[socket.socket] = field(default_factory=list)

    def run(self, listener: socket.socket) -> None:
        with contextlib.suppress(OSError):
            while True:
                sock, _ = listener.accept()
                self.talks.append(sock)
                threading.Thread(target=self._talk, args=(sock,), daemon=True).start()

    def _talk(self, sock: socket.socket) -> None:
        with contextlib.suppress(OSError), sock:
            sock.settimeout(STALL)
            Talk(self, sock).serve()


@pytest.fixture
def office() -> Iterator[Office]:
    listener = socket.create_server(("127.0.0.1", 0))
    office = Office(listener.getsockname()[1])
    threading.Thread(target=office.run, args=(listener,), daemon=True).start()
    yield office
    office.is_closing.set()
    listener.close()
    for sock in office.talks:
        sock.close()


@pytest.fixture(autouse=True)
def _short(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(smtp, "WAITS", (0.01,))
    monkeypatch.setattr(smtp, "CONNECT_SECONDS", 1.0)
    monkeypatch.setattr(smtp, "MAIL_SECONDS", 1.0)
    monkeypatch.setattr(smtp, "FINAL_ANSWER_SECONDS", 0.5)


@dataclass
class Batch:
    """What one batch came to."""

    states: list[tuple[str, str]]
    seconds: float
    told: list[str]
    log: SentLog


def deliver(
    folder: Path, port: int, mails: int = 2, size: int = 100, total_seconds: float = 60.0
) -> Batch:
    told: list[str] = []
    letters = []
    for number in range(mails):
        path = folder / f"{number}.eml"
        path.write_bytes(b"Subject: x\r\n\r\n" + (b"x" * 70 + b"\r\n") * (size // 72))
        address = f"client{number}@example.org"
        letters.append(MessageFile(f"client{number}", MONTH, f"<{number}@x>", address, path))
    settings = MailSettings(
        "127.0.0.1", port, "none", "room@example.org", timeout_seconds=0.4,
        total_seconds=total_seconds,
    )  # fmt: skip
    server = smtp.Server(settings, None, ssl.create_default_context())
    log = SentLog.of(folder)
    started = time.monotonic()
    states = [
        (done.state, done.detail)
        for done in smtp.deliver(server, settings.sender, letters, log, tell=told.append)
    ]
    return Batch(states, time.monotonic() - started, told, log)


def many_lines(code: bytes) -> Callable[[Talk], None]:
    def answer(talk: Talk) -> None:
        until = time.monotonic() + STALL
        while time.monotonic() < until:
            talk.say(code + b"-and another thing\r\n")

    return answer


def test_an_ordinary_server_takes_all(office: Office, tmp_path: Path) -> None:
    batch = deliver(tmp_path, office.port)
    assert batch.states == [("sent", ""), ("sent", "")]
    assert (office.taken, batch.told) == (2, [])
    assert office.steps.count("connect") == 1


# One answer


@pytest.mark.parametrize("step", ["connect", "EHLO", "MAIL", "RCPT", "DATA"])
@pytest.mark.parametrize("how", ["drips", "never ends"])
def test_an_answer_that_has_no_end_sends_nothing_and_ends(
    office: Office, tmp_path: Path, step: str, how: str
) -> None:
    """Drip-fed, each byte comes in time and the answer never; or line after line without a last."""
    code = {"connect": b"220", "DATA": b"354"}.get(step, b"250")
    office.unusual[step] = (
        (lambda talk: talk.drip(code + b"-" + b"." * 5000)) if how == "drips" else many_lines(code)
    )
    batch = deliver(tmp_path, office.port, mails=1)
    [(state, detail)] = batch.states
    assert state == "not sent"
    assert batch.seconds < SOON
    wanted = "took too long|timed out" if how == "drips" else f"more than {ANSWER_LINES_MOST} lines"
    assert re.search(wanted, detail), detail
    assert office.taken == 0
    assert [entry.state for entry in batch.log.entries] == []


def test_a_line_without_an_end_is_not_kept_in_memory(office: Office, tmp_path: Path) -> None:
    def answer(talk: Talk) -> None:
        while True:
            talk.say(b"2" * 65536)

    office.unusual["connect"] = answer
    batch = deliver(tmp_path, office.port, mails=1)
    assert "a line without an end" in batch.states[0][1]
    assert batch.seconds < SOON


@pytest.mark.parametrize("how", ["drips", "never ends"])
def test_a_last_answer_that_has_no_end_is_a_doubt(office: Office, tmp_path: Path, how: str) -> None:
    office.unusual["taken"] = (
        (lambda talk: talk.drip(b"250-" + b"." * 5000)) if how == "drips" else many_lines(b"250")
    )
    batch = deliver(tmp_path, office.port, mails=3)
    assert [state for state, _ in batch.states] == ["in doubt", "in doubt", "not sent"]
    assert batch.states[2][1] == smtp.DOUBTFUL
    assert batch.seconds < SOON
    assert office.taken == 2, "each was handed over once"
    assert [entry.state for entry in batch.log.entries] == ["sending", "sending"]


def test_an_answer_may_come_in_pieces_and_have_many_lines(office: Office, tmp_path: Path) -> None:
    lines = b"".join(b"250-%d\r\n" % number for number in range(ANSWER_LINES_MOST - 1))
    office.unusual["EHLO"] = lambda talk: talk.say(lines + b"250 8BITMIME\r\n")
    office.unusual["RCPT"] = lambda talk: [talk.say(each) for each in (b"25", b"0 o", b"k\r\n")]
    assert deliver(tmp_path, office.port, mails=1).states == [("sent", "")]


def test_a_goodbye_without_an_answer_holds_nobody(office: Office, tmp_path: Path) -> None:
    office.unusual["QUIT"] = lambda talk: talk.drip(b"221-" + b"." * 5000)
    batch = deliver(tmp_path, office.port)
    assert [state for state, _ in batch.states] == ["sent", "sent"]
    assert batch.seconds < SOON


# One mail, one batch


def test_a_server_that_stops_reading_gets_no_half_mail_for_good(
    office: Office, tmp_path: Path
) -> None:
    """Twenty megabytes are more than any buffer between the two."""
    office.unusual["content"] = lambda talk: bool(talk.office.is_closing.wait(STALL))
    batch = deliver(tmp_path, office.port, mails=1, size=20_000_000)
    assert batch.states[0][0] == "not sent"
    assert batch.seconds < SOON
    assert [entry.state for entry in batch.log.entries] == ["sending", "deferred"] * 2
    assert office.taken == 0


def test_one_mail_has_a_limit_of_its_own_however_quick_each_step(
    office: Office, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The answer before the limit comes in its own time; the next has only what is left."""
    monkeypatch.setattr(smtp, "MAIL_SECONDS", 0.5)
    for step in ("MAIL", "RCPT", "DATA"):
        office.unusual[step] = lambda talk: (
            None if talk.office.is_closing.wait(0.3) else talk.say(b"250 ok\r\n")
        )
    batch = deliver(tmp_path, office.port, mails=1)
    assert batch.states[0][0] == "not sent"
    assert re.search("took too long|timed out", batch.states[0][1])
    assert batch.seconds < SOON


def test_after_the_time_of_a_batch_no_mail_is_begun(office: Office, tmp_path: Path) -> None:
    """Each mail takes a tenth of a second; there is time for a few of the hundred."""

    def answer(talk: Talk) -> None:
        talk.office.is_closing.wait(0.1)
        talk.say(b"250 taken\r\n")

    office.unusual["taken"] = answer
    batch = deliver(tmp_path, office.port, mails=100, total_seconds=0.5)
    states = [state for state, _ in batch.states]
    assert 1 <= states.count("sent") <= 6
    assert states.count("sent") + states.count("not sent") == 100
    assert office.taken == states.count("sent")
    assert {detail for state, detail in batch.states if state == "not sent"} == {smtp.OUT_OF_TIME}
    assert batch.seconds < SOON


def test_no_wait_is_begun_that_ends_after_the_time_of_a_batch(
    office: Office, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(smtp, "WAITS", (0.01, 600.0, 600.0))
    office.unusual["RCPT"] = lambda talk: talk.say(b"452 full\r\n")
    batch = deliver(tmp_path, office.port, mails=2, total_seconds=5.0)
    assert batch.states == [("not sent", "452 full")] * 2
    assert batch.told == ["452 full; 2 mails wait and are tried again after 0.01 seconds."]
    assert batch.seconds < SOON
    assert office.steps.count("RCPT") == 4, "both of both rounds"


def test_the_settings_take_both_limits(club: Club) -> None:
    table = "[mail]\nhost = 'localhost'\nfrom = 'room@example.org'\n"
    club.write(table)
    mail = find_workspace(club.folder).mail
    assert mail is not None
    assert (mail.timeout_seconds, mail.total_seconds) == (30.0, 1800.0)
    club.write(table + "timeout_seconds = 1e300\ntotal_seconds = 7200\n")
    mail = find_workspace(club.folder).mail
    assert mail is not None
    assert mail.total_seconds == 7200.0
    club.write(table + "total_seconds = 0\n")
    with pytest.raises(ConfigError, match=r"\[mail\] total_seconds"):
        find_workspace(club.folder)


def test_patience_beyond_what_a_socket_takes_is_cut(office: Office) -> None:
    settings = MailSettings(
        "127.0.0.1", office.port, "none", "room@example.org", timeout_seconds=1e300
    )
    line = Line(settings, None, 1.0)
    assert line.ehlo()[0] == 250
    line.close()


# Said once


def test_a_server_that_is_not_there_is_said_at_once_and_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Before the first wait, not after the last; and the same reason for every mail."""
    events: list[str] = []
    monkeypatch.setattr(smtp, "WAITS", (10.0, 60.0, 300.0))
    monkeypatch.setattr(time, "sleep", lambda seconds: events.append(f"waits {seconds:g}"))
    with socket.create_server(("127.0.0.1", 0)) as closed:
        port = closed.getsockname()[1]
    batch = deliver(tmp_path, port, mails=7, total_seconds=900.0)
    reason = f"no connection to 127.0.0.1:{port}: Connection refused"
    assert batch.states == [("not sent", reason)] * 7
    assert batch.told == [
        f"{reason}; 7 mails wait and are tried again after 10, 60 and 300 seconds."
    ]
    assert events == ["waits 0", "waits 10", "waits 60", "waits 300"]


def _send(club: Club, is_at_terminal: bool) -> tuple[int, str]:
    """`setledger send` with short waits; what it says on stderr."""
    code = (
        "from pipeline.mail import smtp; smtp.WAITS = (0.01, 0.02)\n"
        "from pipeline.cli import main; main()"
    )
    command = [sys.executable, "-c", code, "send", "-w", str(club.folder), "--month", MONTH]
    environment = os.environ | {"PYTHONPATH": str(Path(__file__).parents[2]), "TERM": "xterm"}
    if not is_at_terminal:
        done = subprocess.run(command, env=environment, capture_output=True, text=True, timeout=120)
        return done.returncode, done.stderr
    ours, theirs = pty.openpty()
    process = subprocess.Popen(command, env=environment, stdout=subprocess.DEVNULL, stderr=theirs)
    os.close(theirs)
    shown = b""
    with contextlib.suppress(OSError):  # the terminal is closed with its last writer
        while part := os.read(ours, 4096):
            shown += part
    os.close(ours)
    return process.wait(timeout=120), shown.decode()


def test_the_command_says_it_in_one_line_at_the_end_and_one_more_at_a_terminal(
    club: Club,
) -> None:
    with socket.create_server(("127.0.0.1", 0)) as closed:
        port = closed.getsockname()[1]
    club.write(
        f'[mail]\nhost = "127.0.0.1"\nport = {port}\nsecurity = "none"\nfrom = "room@example.org"\n'
    )
    reason = f"no connection to 127.0.0.1:{port}: Connection refused"
    last = (
        f"3 mails of 2026-07 (ines, kofi and matthis) could not be sent ({reason}); "
        "the next `setledger send` tries again."
    )
    assert _send(club, is_at_terminal=False) == (1, last + "\n")
    exit_code, shown = _send(club, is_at_terminal=True)
    assert exit_code == 1
    lines = [line.strip() for line in shown.splitlines() if reason in line]
    assert lines == [
        f"{reason}; 3 mails wait and are tried again after 0.01 and 0.02 seconds.",
        last,
    ]


def test_a_server_s_words_do_not_steer_the_terminal(
    office: Office, club: Club, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Neither at once nor at the end; the bar's own codes do not clear the screen."""
    for name in (smtp.USER, smtp.PASSWORD):
        monkeypatch.delenv(name)
    office.unusual["RCPT"] = lambda talk: talk.say(b"452 \x1b[2Jfull\r\n")
    club.write(
        f'[mail]\nhost = "127.0.0.1"\nport = {office.port}\nsecurity = "none"\n'
        'from = "room@example.org"\n'
    )
    exit_code, shown = _send(club, is_at_terminal=True)
    assert exit_code == 1
    assert shown.count("full") == 2
    assert "\x1b[2J" not in shown


# The line is protected from its first protected byte


def test_what_is_said_before_the_protection_counts_no_more(
    authority: trustme.CA, tmp_path: Path
) -> None:
    """A stranger on the line adds an answer in the clear; it must not stand for a safe one."""
    context = ssl.create_default_context(ssl.Purpose.CLIENT_AUTH)
    authority.issue_cert("localhost").configure_cert(context)
    trusting = ssl.create_default_context()
    authority.configure_trust(trusting)
    listener = socket.create_server(("127.0.0.1", 0))
    port = listener.getsockname()[1]
    told: list[bytes] = []

    def serve() -> None:
        with contextlib.suppress(OSError):
            sock, _ = listener.accept()
            sock.settimeout(STALL)
            sock.sendall(b"220 quay\r\n")
            sock.recv(1000)
            sock.sendall(b"250-quay\r\n250 STARTTLS\r\n")
            sock.recv(1000)
            sock.sendall(b"220 go\r\n250-stranger\r\n250 X-STRANGER\r\n")
            with context.wrap_socket(sock, server_side=True) as safe:
                told.append(safe.recv(1000))
                safe.sendall(b"250-quay\r\n250 X-SAFE\r\n")
                told.append(safe.recv(1000))

    thread = threading.Thread(target=serve, daemon=True)
    thread.start()
    settings = MailSettings("localhost", port, "starttls", "room@example.org", timeout_seconds=5.0)
    line = Line(settings, None, 10.0)
    line.protect(trusting)
    line.ehlo()
    assert line.has_extn("X-SAFE")
    assert not line.has_extn("X-STRANGER")
    line.close()
    listener.close()
    thread.join(SOON)
    assert told[0].startswith(b"ehlo")
