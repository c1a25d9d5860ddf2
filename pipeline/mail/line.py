"""A line to a mail server on which every answer has an end: in time, in lines and in bytes."""

from __future__ import annotations

import smtplib
import socket
import ssl
import time
from typing import Any

from pipeline.settings.workspace import MailSettings

ANSWER_LINES_MOST = 100
ANSWER_LINE_BYTES_MOST = 8192
"""More than any server has to say; RFC 5321 (4.5.3.1.5) wants lines of up to 512 bytes."""

ANSWER_SECONDS_MOST = 3600.0
"""Whatever the settings say: a socket takes no number of any size."""


class Line(smtplib.SMTP):
    """A connection on which nothing takes longer than it may.

    The library's limit of time begins anew with every byte that comes, and it reads an answer of
    any number of lines. Here an answer has to be whole in its time, and all since the last call of
    `allow` too.
    """

    def __init__(
        self, settings: MailSettings, context: ssl.SSLContext | None, seconds: float
    ) -> None:
        """Connect and make ready in so many seconds; with a context TLS comes before any byte."""
        self._context = context
        self._answer_seconds = min(settings.timeout_seconds, ANSWER_SECONDS_MOST)
        self._heard = bytearray()
        self.allow(seconds)
        super().__init__(settings.host, settings.port, timeout=self._answer_seconds)

    def allow(self, seconds: float) -> None:
        """So long from now for all that follows, but never less than for one answer."""
        self._until = time.monotonic() + max(seconds, self._answer_seconds)

    def final_answer(self, seconds: float) -> tuple[int, bytes]:
        """The answer to the end of the data, for which a server may think for long."""
        self.allow(seconds)
        return self._answer(self._until)

    def protect(self, context: ssl.SSLContext) -> None:
        """STARTTLS; what was heard before it counts no more (RFC 3207)."""
        self.starttls(context=context)
        self._heard.clear()

    def getreply(self) -> tuple[int, bytes]:
        """Code and text of an answer; -1 for what is none."""
        return self._answer(self._answer_end())

    def send(self, s: Any) -> None:
        """Send a command or a piece of the data."""
        if self.sock is None:
            raise smtplib.SMTPServerDisconnected("the connection is closed")
        data = s.encode(self.command_encoding) if isinstance(s, str) else s
        try:
            self.sock.settimeout(_left(self._answer_end()))
            self.sock.sendall(data)
        except OSError:
            self.close()
            raise

    def _answer_end(self) -> float:
        return min(self._until, time.monotonic() + self._answer_seconds)

    def _answer(self, until: float) -> tuple[int, bytes]:
        texts: list[bytes] = []
        try:
            for _ in range(ANSWER_LINES_MOST):
                line = self._read_line(until)
                code = int(line[:3]) if line[:3].isdigit() else -1
                texts.append(line[4:].strip())
                if code < 0 or line[3:4] != b"-":
                    return code, b"\n".join(texts)
            raise smtplib.SMTPServerDisconnected(
                f"the server gave an answer of more than {ANSWER_LINES_MOST} lines"
            )
        except OSError:
            self.close()
            raise

    def _read_line(self, until: float) -> bytes:
        while (end := self._heard.find(b"\n")) < 0:
            if len(self._heard) > ANSWER_LINE_BYTES_MOST:
                raise smtplib.SMTPServerDisconnected("the server gave a line without an end")
            if self.sock is None:
                raise smtplib.SMTPServerDisconnected("the connection is closed")
            self.sock.settimeout(_left(until))
            part = self.sock.recv(4096)
            if not part:
                raise smtplib.SMTPServerDisconnected("the server closed the connection")
            self._heard += part
        line = bytes(self._heard[: end + 1])
        del self._heard[: end + 1]
        return line

    def _get_socket(self, host: str, port: int, timeout: float) -> socket.socket:
        """The first of the host's addresses that answers, all within the time."""
        fault: OSError = OSError("the host has no address")
        for family, kind, protocol, _, address in socket.getaddrinfo(
            host, port, type=socket.SOCK_STREAM
        ):
            sock = socket.socket(family, kind, protocol)
            try:
                sock.settimeout(_left(self._answer_end()))
                sock.connect(address)
                break
            except OSError as error:
                fault = error
                sock.close()
        else:
            raise fault
        if self._context is None:
            return sock
        try:
            return self._context.wrap_socket(sock, server_hostname=host)
        except OSError:
            sock.close()
            raise


def _left(until: float) -> float:
    """Seconds until then; TimeoutError if there are none."""
    seconds = until - time.monotonic()
    if seconds <= 0:
        raise TimeoutError("the server took too long")
    return seconds
