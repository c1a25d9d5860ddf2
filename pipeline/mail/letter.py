"""From a page to a mail: what it shows in short, as plain text and as HTML, with the page attached.

Everything is taken from the page data, so that mail and page say the same. What a mail is made of
follows RFC 5322 and MIME through Python's email package; css-inline moves the styles to where mail
programs keep them.
"""

from __future__ import annotations

import hashlib
import re
import textwrap
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from email.header import Header
from email.headerregistry import Address
from email.message import EmailMessage
from email.policy import EmailPolicy
from email.utils import format_datetime, parseaddr
from typing import TYPE_CHECKING, Any

from pipeline import formats
from pipeline.pages import charts, render, texts
from pipeline.pages.page_data import Beside, ClientPage, Figure, Finding, Panels, RosterPage, Table

if TYPE_CHECKING:
    _Policy = EmailPolicy[EmailMessage]
else:
    _Policy = EmailPolicy

WIDTH = 76
"""Letters in a line of plain text."""

MUSCLE_COLUMNS = ("Muscle", "Weekly rate", "4 weeks before", "Guide", "Standing")
LIFT_COLUMNS = ("Lift", "Status", "Change a week", "Best e1RM")
ROSTER_COLUMNS = ("Client", "Change first", "Last session", "Sessions", "Hard sets a week", "Data")
LIFTS_DRAWN = 4
LIFTS_LISTED = 12

_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029\ufeff]+")


@dataclass(frozen=True)
class Picture:
    """A drawing inside the mail."""

    key: str
    """Its Content-ID without the host; also its file name."""
    svg: str
    width: int
    alt: str
    reading: str


@dataclass(frozen=True)
class Part:
    """A heading with a drawing, a table, or both."""

    heading: str
    picture: Picture | None
    table: Table | None


@dataclass(frozen=True)
class LetterPage:
    """What one mail shows, in reading order."""

    title: str
    house: str
    lines: tuple[str, ...]
    """Period, what the figures rest on, notices."""
    first: Finding | None
    noticed: tuple[str, ...]
    works: tuple[str, ...]
    parts: tuple[Part, ...]
    closing: str
    cautions: tuple[str, ...]
    foot: str


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


# What a mail shows


def client_letter(page: ClientPage, month: date) -> LetterPage:
    """A client's month in short."""
    lead = page.lead
    sections = {section.key: section for section in page.sections}
    parts = [Part(page.month.caption, None, page.month)] if page.month else []
    for block in sections["muscles"].blocks if "muscles" in sections else ():
        if isinstance(block, Beside):
            drawn = _picture("muscles", block.chart.svg, texts.MUSCLES_TITLE, block.chart.reading)
            parts.append(
                Part(sections["muscles"].title, drawn, _narrowed(block.table, MUSCLE_COLUMNS))
            )
    if "lifts" in sections:
        parts.append(_lifts(sections["lifts"].title, sections["lifts"].blocks))
    return LetterPage(
        title=f"{page.name}: {formats.month(month)}",
        house=page.workspace_name,
        lines=(page.period, *([page.rests_on.text] if page.rests_on else []), *page.notices),
        first=lead.first if lead else None,
        noticed=tuple(each.headline for each in lead.noticed) if lead else (),
        works=tuple(each.text for each in lead.works) if lead else (),
        parts=tuple(parts),
        closing=texts.LETTER_CLOSING,
        cautions=page.cautions,
        foot=page.foot,
    )


def coach_letter(page: RosterPage, month: date) -> LetterPage:
    """The roster in short, for the coach."""
    parts = [
        Part(table.caption, None, narrowed)
        for table, narrowed in (
            (page.table, _narrowed(page.table, ROSTER_COLUMNS) if page.table else None),
            (page.month, page.month),
        )
        if table is not None
    ]
    return LetterPage(
        title=f"{page.workspace_name}: {formats.month(month)}",
        house=page.workspace_name,
        lines=(page.as_of,),
        first=None,
        noticed=(),
        works=(),
        parts=tuple(parts),
        closing=texts.COACH_CLOSING,
        cautions=page.cautions,
        foot=page.foot,
    )


def _lifts(title: str, blocks: Iterable[object]) -> Part:
    panels = [panel for block in blocks if isinstance(block, Panels) for panel in block.panels]
    tables = [
        block for block in blocks if isinstance(block, Table) and block.columns[0].label == "Lift"
    ]
    drawn = None
    if panels:
        shown = panels[:LIFTS_DRAWN]
        svg = charts.beside([(f"{each.heading} ({each.unit})", each.svg) for each in shown])
        reading = " ".join(f"{each.heading}: {each.word or 'no status'}." for each in shown)
        drawn = _picture("lifts", svg, texts.LIFTS_PICTURE, reading)
    table = _narrowed(tables[0], LIFT_COLUMNS, LIFTS_LISTED) if tables else None
    return Part(title, drawn, table)


def _picture(key: str, svg: str, alt: str, reading: str) -> Picture:
    return Picture(key, svg, charts.width_of(svg), alt, reading)


def _narrowed(table: Table, labels: Sequence[str], most: int | None = None) -> Table:
    """The columns of these names (or beginnings), and the first rows."""
    places = [
        place
        for place, column in enumerate(table.columns)
        if any(column.label == label or column.label.startswith(f"{label} (") for label in labels)
    ]
    return Table(
        table.caption,
        tuple(table.columns[place] for place in places),
        tuple(tuple(row[place] for place in places) for row in table.rows[:most]),
    )


# Plain text


def plain_text(page: LetterPage) -> str:
    """The letter for programs and readers that want no HTML."""
    head_lines = page.lines if page.house in page.title else (page.house, *page.lines)
    blocks = [page.title, "=" * min(WIDTH, len(page.title)), "\n".join(map(_wrapped, head_lines))]
    if page.first is not None:
        first = [f"Change first: {page.first.headline}"]
        first += [f"- {line.text}" for line in page.first.evidence]
        first += [line for line in (page.first.step, page.first.arithmetic) if line]
        blocks.append("\n".join(map(_wrapped, first)))
    if page.noticed:
        blocks.append("\n".join(["Noticed, and waits:", *map(_item, page.noticed)]))
    if page.works:
        blocks.append(_wrapped(f"Works, and stays: {', '.join(page.works)}."))
    for part in page.parts:
        lines = [part.heading, "-" * min(WIDTH, len(part.heading))]
        lines += [_wrapped(part.picture.reading), ""] if part.picture else []
        lines += text_table(part.table) if part.table else []
        blocks.append("\n".join(lines).rstrip())
    blocks += [_wrapped(page.closing), "\n".join(map(_item, page.cautions)), page.foot]
    head, rule, *rest = blocks
    return "\n\n".join([f"{head}\n{rule}", *rest]) + "\n"


def _wrapped(text: str) -> str:
    return textwrap.fill(text, WIDTH, break_long_words=False, break_on_hyphens=False)


def _item(text: str) -> str:
    return textwrap.fill(
        text, WIDTH, initial_indent="- ", subsequent_indent="  ", break_on_hyphens=False
    )


def text_table(table: Table) -> list[str]:
    """A table in lines of one width a column, numbers at the right."""
    cells = [[column.label for column in table.columns]]
    cells += [[_cell(figure) for figure in row] for row in table.rows]
    widths = [max(len(row[place]) for row in cells) for place in range(len(table.columns))]
    return [
        "  ".join(
            text.rjust(width) if column.is_number else text.ljust(width)
            for text, width, column in zip(row, widths, table.columns, strict=True)
        ).rstrip()
        for row in cells
    ]


def _cell(figure: Figure) -> str:
    return f"{figure.text} ({figure.note})" if figure.note else figure.text


# The message


def build_message(
    page: LetterPage, envelope: Envelope, attachment: Attachment, extra_style: str = ""
) -> EmailMessage:
    """The mail, complete: text, HTML with its pictures, the page attached."""
    host = envelope.message_id.rpartition("@")[2].rstrip(">")
    pictures = [part.picture for part in page.parts if part.picture]
    message = EmailMessage(policy_for(envelope.recipient))
    _write_headers(message, envelope)
    message.set_content(plain_text(page), charset="utf-8", cte="quoted-printable")
    cids = {each.key: f"{each.key}@{host}" for each in pictures}
    html = render.render_mail("letter.html", page=page, cids=cids)
    message.add_alternative(html, subtype="html", charset="utf-8", cte="quoted-printable")
    *_, shown = message.iter_parts()
    for each in pictures:
        shown.add_related(
            charts.png(each.svg),
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


def ascii_host(address: str) -> str:
    """An address with its host as DNS knows it; the part before the @ stays as it is."""
    local, at, host = address.rpartition("@")
    return f"{local}{at}{host.encode('idna').decode() if not host.isascii() else host}"


def one_line(text: str) -> str:
    """Text that can stand in a header: nothing in it ends a line or reads as an encoded word."""
    return _CONTROL.sub(" ", text).replace("=?", "= ?").strip()


def message_id(workspace_name: str, sender: str, client_id: str | None, period: str) -> str:
    """The same for one workspace, client and period, whenever it is asked for."""
    told = "\n".join((workspace_name, client_id or "", period))
    digest = hashlib.sha256(told.encode()).hexdigest()[:24]
    host = ascii_host(parseaddr(sender)[1]).rpartition("@")[2] or "localhost"
    return f"<setledger.{period}.{digest}@{host}>"


def as_bytes(message: EmailMessage) -> bytes:
    """The mail as it goes out and as an .eml file holds it."""
    return message.as_bytes(policy=message.policy)
