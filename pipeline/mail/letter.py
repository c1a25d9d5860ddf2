"""What a mail shows, written out: as plain text for every program, and as HTML with pictures."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Mapping

from pipeline.mail.letter_page import LetterPage
from pipeline.pages.page_data import Figure, Table
from pipeline.pages.render import render_mail
from pipeline.visible import visible

WIDTH = 76
"""Letters in a line of plain text."""

_MARK = re.compile(r"\s*(?:[-*+>]|\d{1,9}[.)])\s+")
"""What begins an item or a quotation in Markdown."""


def html(page: LetterPage, content_ids: Mapping[str, str]) -> str:
    """The letter with its pictures, which stand in the mail under these content ids."""
    return render_mail("letter.html", page=page, cids=content_ids)


def plain_text(page: LetterPage) -> str:
    """The letter for programs and readers that want no HTML."""
    head_lines = page.lines if page.house in page.title else (page.house, *page.lines)
    blocks = [page.title, "=" * min(WIDTH, len(page.title)), "\n".join(map(_wrapped, head_lines))]
    if page.note is not None:
        blocks.append(
            "\n".join(["From your coach", "-" * 15, *map(_kept, page.note.text.split("\n"))])
        )
    if page.last:
        blocks.append(_wrapped(page.last))
    if page.first is not None:
        first = [f"Change first: {page.first.headline}"]
        first += [f"- {line.text}" for line in page.first.evidence]
        first += [line for line in (page.first.step, page.first.arithmetic) if line]
        first += page.plan
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
    return visible("\n\n".join([f"{head}\n{rule}", *rest]) + "\n")


def _wrapped(text: str) -> str:
    return textwrap.fill(text, WIDTH, break_long_words=False, break_on_hyphens=False)


def _kept(line: str) -> str:
    """A line of Markdown, which reads well as it is; what it goes on with stands below its text."""
    mark = _MARK.match(line)
    indent = "" if mark is None else mark[0] if ">" in mark[0] else " " * len(mark[0])
    return textwrap.fill(
        line,
        WIDTH,
        subsequent_indent=indent,
        break_long_words=False,
        break_on_hyphens=False,
    )


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
