"""The message that goes out: headers, text, HTML with its pictures, and the page attached.

What it is made of follows RFC 5322 and MIME through Python's email package.
"""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass
from datetime import datetime
from email.header import Header
from email.headerregistry import Address
from email.message import EmailMessage
from email.policy import EmailPolicy
from email.utils import format_datetime, parseaddr
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.mail import letter
from pipeline.mail.letter_page import LetterPage
from pipeline.pages.charts.mail import png
from pipeline.visible import visible

if TYPE_CHECKING:
    _Policy = EmailPolicy[EmailMessage]
else:
    _Policy = EmailPolicy

_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029\ufeff]+")

COACH = "the coach"
"""Whose mail the roster is, in sentences and in the log."""


@dataclass(frozen=True)
class Envelope:
    """Who writes to whom about which month."""

    sender: str
    recipient: str
    name: str
    """Of the recipient; empty for a bare address."""
    subject: str
    reply_to: str | None
    message_id: str
    written_at: datetime


@dataclass(frozen=True)
class Attachment:
    """The page that goes with the mail."""

    file_name: str
    html: bytes


@dataclass(frozen=True)
class MessageFile:
    """One message, ready in a file."""

    client_id: str | None
    period: str
    message_id: str
    recipient: str
    path: Path
    first: tuple[str, str] | None = None
    """Code and subject of the first change that it tells of; empty: nothing to change."""

    @property
    def whose(self) -> str:
        """For sentences."""
        return self.client_id or COACH


def build_message(page: LetterPage, envelope: Envelope, attachment: Attachment) -> EmailMessage:
    """The mail, complete: text, HTML with its pictures, the page attached."""
    host = envelope.message_id.rpartition("@")[2].rstrip(">")
    pictures = [part.picture for part in page.parts if part.picture]
    message = EmailMessage(policy_for(envelope.recipient))
    _write_headers(message, envelope)
    message.set_content(letter.plain_text(page), charset="utf-8", cte="quoted-printable")
    cids = {each.key: f"{each.key}@{host}" for each in pictures}
    html = letter.html(page, cids)
    message.add_alternative(html, subtype="html", charset="utf-8", cte="quoted-printable")
    *_, shown = message.iter_parts()
    for each in pictures:
        shown.add_related(
            png(each.svg),
            "image",
            "png",
            cid=f"<{each.key}@{host}>",
            filename=f"{each.key}.png",
            disposition="inline",
        )
    message.add_attachment(
        attachment.html, "text", "html", filename=attachment.file_name, cte="base64",
        params={"charset": "utf-8"},
    )  # fmt: skip
    return message


def _write_headers(message: EmailMessage, envelope: Envelope) -> None:
    message["From"] = _address(*parseaddr(one_line(envelope.sender)))
    message["To"] = _address(one_line(envelope.name), one_line(envelope.recipient))
    if envelope.reply_to:
        message["Reply-To"] = _address(*parseaddr(one_line(envelope.reply_to)))
    message["Subject"] = one_line(envelope.subject)
    message["Date"] = format_datetime(envelope.written_at)
    message["Message-ID"] = envelope.message_id
    message["Auto-Submitted"] = "auto-generated"


class LetterPolicy(_Policy):
    """Folds headers beyond ASCII itself: the package loses spaces between long encoded words."""

    def fold(self, name: str, value: Any) -> str:
        """A header in lines of at most 78 letters."""
        text = str(value)
        if self.utf8 or text.isascii():
            return str(super().fold(name, value))
        if hasattr(value, "addresses"):
            [address] = value.addresses
            shown = _encoded(address.display_name, len(name) + 2)
            return f"{name}: {shown}{self.linesep} <{address.addr_spec}>{self.linesep}"
        return f"{name}: {_encoded(text, len(name) + 2)}{self.linesep}"

    def fold_binary(self, name: str, value: Any) -> bytes:
        """The same as bytes."""
        return self.fold(name, value).encode("utf-8" if self.utf8 else "ascii", "surrogateescape")


def _encoded(text: str, taken: int) -> str:
    """Encoded words of RFC 2047, a line each; `taken`: letters before them in their line."""
    return Header(text, "utf-8", maxlinelen=76, header_name=" " * taken).encode(linesep="\r\n")


def policy_for(recipient: str) -> LetterPolicy:
    """Lines end as RFC 5322 wants; headers are ASCII unless the address itself cannot be."""
    return LetterPolicy(linesep="\r\n", utf8=not ascii_host(recipient).isascii())


def _address(name: str, spec: str) -> Address:
    return Address(name, addr_spec=ascii_host(spec))


def mailbox(name: str, address: str) -> str:
    """Name and address as [mail] from holds them: in quotes where need be, never encoded."""
    return str(Address(one_line(name), addr_spec=address))


def ascii_host(address: str) -> str:
    """An address with its host as DNS knows it; the part before the @ stays as it is."""
    local, at, host = address.rpartition("@")
    return f"{local}{at}{host.encode('idna').decode() if not host.isascii() else host}"


def one_line(text: str) -> str:
    """Text that can stand in a header: nothing in it ends a line or reads as an encoded word."""
    return visible(_CONTROL.sub(" ", text)).replace("=?", "= ?").strip()


def message_id(workspace_name: str, sender: str, client_id: str | None, period: str) -> str:
    """The same for one workspace, client and period, whenever it is asked for."""
    told = "\n".join((workspace_name, client_id or "", period))
    digest = hashlib.sha256(told.encode()).hexdigest()[:24]
    host = ascii_host(parseaddr(sender)[1]).rpartition("@")[2] or "localhost"
    return f"<setledger.{period}.{digest}@{host}>"


def as_bytes(message: EmailMessage) -> bytes:
    """The mail as it goes out and as an .eml file holds it."""
    return message.as_bytes(policy=message.policy)
