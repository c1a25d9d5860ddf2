"""The coach's own word: on the page of its month and no other, and nothing raw in it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from pipeline.errors import ConfigError
from pipeline.mail import letter
from pipeline.mail.letter_page import client_letter
from pipeline.pages import client_page, render
from tests.report.conftest import AS_OF, HOSTILE

if TYPE_CHECKING:
    from pipeline.pages.page_data import ClientPage
    from tests.report.conftest import Room

Read = Callable[..., "ClientPage"]

NOTE = """\
# August

Well **rowed**, Ines: three weeks in a row, and the press went up although you slept little.

- two sets of curls fewer, for the sake of the elbow that you spoke of on the first Monday of August
- [the Saturday plan](https://example.org/plan)

> Sleep first.
"""


@pytest.fixture
def read(room: Room, tmp_path: Path) -> Read:
    """Writes notes (client, month, text) and reads a client's page."""

    def page(client_id: str, *notes: tuple[str, str, str]) -> ClientPage:
        for whose, month, text in notes:
            path = tmp_path / "notes" / whose / f"{month}.md"
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, encoding="utf-8")
        return client_page.read_client(room.con, replace(room.workspace, root=tmp_path), client_id)

    return page


def test_the_word_of_the_month_stands_before_the_change(read: Read) -> None:
    html = render.render_client(read("ines", ("ines", "2026-08", NOTE)))
    assert html.index("</header>") < html.index("From your coach") < html.index("Change first")
    assert "<p>Well <strong>rowed</strong>, Ines: three weeks" in html
    assert "<h3>August</h3>" in html
    assert '<a href="https://example.org/plan">the Saturday plan</a>' in html


@pytest.mark.parametrize(
    "note", [("ines", "2026-07", NOTE), ("odalys", "2026-08", NOTE), ("ines", "2026-08", " \n\n")]
)
def test_another_month_s_another_client_s_and_an_empty_word_do_not(
    read: Read, note: tuple[str, str, str]
) -> None:
    page = read("ines", note)
    assert page.note is None
    assert "From your coach" not in render.render_client(page)


def test_the_month_is_that_of_the_last_day_that_an_export_covers(read: Read) -> None:
    """The last set was a year ago; the export goes to the end of August."""
    page = read("gone", ("gone", f"{AS_OF:%Y-%m}", "Come back!"), ("gone", "2025-08", "Bye."))
    assert page.note is not None
    assert page.note.text == "Come back!"


@pytest.mark.parametrize(
    "text",
    [
        HOSTILE,
        "<b onmouseover=alert(1)>x</b>",
        "![x](https://example.org/pixel.png)",
        "[x](javascript:alert(1))",
        "<!-- hidden -->",
    ],
)
def test_nothing_in_a_word_is_markup_of_its_own_or_fetched(read: Read, text: str) -> None:
    page = read("ines", ("ines", "2026-08", text))
    assert page.note is not None
    page_html = render.render_client(page)
    mail_html = letter.html(client_letter(page, AS_OF), {"muscles": "m", "lifts": "l"})
    for html in (page_html, mail_html):
        shown = (
            html.split("From your coach</h2>")[1].split("</section>")[0].split("Change first")[0]
        )
        assert "<script" not in shown
        assert "<img" not in shown
        assert "<b " not in shown
        assert "<!--" not in shown
        assert 'href="javascript' not in shown


def test_the_mail_says_it_in_text_and_html(read: Read) -> None:
    mail = client_letter(read("ines", ("ines", "2026-08", NOTE)), AS_OF)
    html = letter.html(mail, {"muscles": "m", "lifts": "l"})
    assert html.index("From your coach") < html.index("Change first")
    assert "<strong>rowed</strong>" in html
    text = letter.plain_text(mail)
    lines = text.split("From your coach\n---------------\n")[1].split("\n")
    assert lines[:8] == [
        "# August",
        "",
        "Well **rowed**, Ines: three weeks in a row, and the press went up although",
        "you slept little.",
        "",
        "- two sets of curls fewer, for the sake of the elbow that you spoke of on",
        "  the first Monday of August",
        "- [the Saturday plan](https://example.org/plan)",
    ]
    assert text.index("From your coach") < text.index("Change first")


def test_a_word_that_is_no_text_is_named(read: Read, tmp_path: Path) -> None:
    path = tmp_path / "notes/ines/2026-08.md"
    path.parent.mkdir(parents=True)
    path.write_bytes(b"\xff\xfe caf\xe9")
    with pytest.raises(ConfigError, match=r"notes/ines/2026-08\.md: cannot be read as UTF-8 text"):
        read("ines")
