"""What a mail is made of: parts, headers, lines, names of all scripts, and no header injected."""

from __future__ import annotations

import email
import os
import re
import shutil
from datetime import UTC, datetime
from email.message import EmailMessage
from email.policy import default
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.mail import letter
from pipeline.mail import send as sending
from pipeline.mail.letter_page import LetterPage
from pipeline.mail.message import (
    Attachment,
    Envelope,
    as_bytes,
    build_message,
    mailbox,
    message_id,
    one_line,
)
from pipeline.pages.page_data import Column, Figure, Table
from pipeline.pages.sections.muscles import TABLE_CAPTION
from pipeline.runs import run as runs
from pipeline.settings.workspace_file import find_workspace
from tests.conftest import examples
from tests.mail.conftest import CLIENTS, Club

CHROMIUM = os.environ.get("SETLEDGER_CHROMIUM") or shutil.which("chromium") or ""
EMPTY = LetterPage("Title", "House", ("Line",), None, (), (), (), "Closing", (), "foot")


def envelope(**more: Any) -> Envelope:
    given_ = {
        "sender": "Harbour Lane Barbell Room <room@example.org>",
        "recipient": "ines@example.org",
        "name": "Ines Duarte",
        "subject": "Ines Duarte: training review July 2026",
        "reply_to": None,
        "message_id": "<one@example.org>",
        "written_at": datetime(2026, 8, 1, 6, tzinfo=UTC),
    }
    return Envelope(**(given_ | more))


def parsed(**more: Any) -> tuple[bytes, EmailMessage]:
    """A mail as a mail program reads it."""
    message = build_message(EMPTY, envelope(**more), Attachment("page.html", b"<p>\xc3\xa9"))
    content = as_bytes(message)
    read = email.message_from_bytes(content, policy=default)
    assert isinstance(read, EmailMessage)
    return content, read


@pytest.fixture(scope="module")
def written(built_club: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a dry run."""
    folder = tmp_path_factory.mktemp("written") / "club"
    shutil.copytree(built_club, folder)
    club = Club(folder)
    club.write("", CLIENTS)
    workspace = find_workspace(folder)
    outcome = runs.send(workspace, sending.send_request(workspace, "2026-07", is_dry_run=True))
    assert outcome.problems == []
    return folder / "out" / "mail"


def read_eml(path: Path) -> EmailMessage:
    message = email.message_from_bytes(path.read_bytes(), policy=default)
    assert isinstance(message, EmailMessage)
    return message


def test_a_dry_run_writes_a_mail_a_client_and_no_book(written: Path) -> None:
    assert sorted(path.name for path in written.iterdir()) == [
        "2026-07-ines.eml", "2026-07-kofi.eml", "2026-07-matthis.eml",
    ]  # fmt: skip
    assert not (written.parents[1] / ".setledger/mails.jsonl").exists()


def test_a_mail_holds_text_html_two_pictures_and_the_page(written: Path) -> None:
    message = read_eml(written / "2026-07-ines.eml")
    assert [part.get_content_type() for part in message.walk()] == [
        "multipart/mixed",
        "multipart/alternative",
        "text/plain",
        "multipart/related",
        "text/html",
        "image/png",
        "image/png",
        "text/html",
    ]
    html = message.get_body(("html",))
    assert html is not None
    shown = set(re.findall(r'src="cid:([^"]+)"', html.get_content()))
    pictures = [part for part in message.walk() if part.get_content_type() == "image/png"]
    assert {part["Content-ID"].strip("<>") for part in pictures} == shown
    assert all(part.get_content().startswith(b"\x89PNG") for part in pictures)
    [page] = [part for part in message.iter_attachments() if part.get_filename()]
    assert page.get_filename() == "ines-2026-07.html"
    assert 'href="../' not in page.get_content()
    assert "<svg" in page.get_content()


def test_text_and_html_say_the_same(written: Path) -> None:
    """Every number and word of the HTML's tables and sentences stands in the text, too."""
    message = read_eml(written / "2026-07-kofi.eml")
    text, html = message.get_body(("plain",)), message.get_body(("html",))
    assert text is not None
    assert html is not None
    import html as escapes

    body = re.sub(r"<head>.*?</head>", "", html.get_content(), flags=re.DOTALL)
    shown = escapes.unescape(re.sub(r"<[^>]+>", " ", body)).split()
    plain = re.sub(r"[():]", " ", text.get_content()).split()
    missing = {word for each in shown for word in re.sub(r"[():]", " ", each).split()} - set(plain)
    # a heading, and captions of tables, stand in the HTML only
    captions = f"{TABLE_CAPTION} Lifts, those that need a look first"
    assert missing <= {"Cautions", *captions.split()}
    assert "July 2026 against June 2026" in text.get_content()
    assert "Sessions a week" in text.get_content()


def test_no_mail_holds_another_client_s_name(written: Path) -> None:
    """Every part of every mail, headers included, against the names of the two others."""
    names = {"ines": "Ines", "kofi": "Kofi", "matthis": "Matthis"}
    for path in written.iterdir():
        message = read_eml(path)
        told = str(message["To"]) + str(message["Subject"])
        for part in message.walk():
            if part.get_content_maintype() == "text":
                told += part.get_content()
        found = {client for client, name in names.items() if re.search(rf"(?i)\b{name}\b", told)}
        assert found == {path.stem.removeprefix("2026-07-")}


def test_styles_stand_at_the_elements_and_nothing_is_fetched(written: Path) -> None:
    html = read_eml(written / "2026-07-ines.eml").get_body(("html",))
    assert html is not None
    content = html.get_content()
    assert "<style" not in content
    assert re.search(r'<h1 style="[^"]*font-size: 26px', content)
    assert re.findall(r'(?:src|href)="(?!cid:)[^"]*', content) == []


def test_lines_are_as_the_standard_wants_them(written: Path) -> None:
    """RFC 5322, 2.1.1 and 2.3: at most 998 letters, CR and LF only together; ASCII throughout."""
    for path in written.iterdir():
        content = path.read_bytes()
        assert max(map(len, content.split(b"\r\n"))) <= 78
        assert content.count(b"\n") == content.count(b"\r\n") == content.count(b"\r")
        assert content.isascii()


def test_names_and_hosts_of_other_scripts_arrive(written: Path) -> None:
    message = read_eml(written / "2026-07-matthis.eml")
    assert message["To"].addresses[0].display_name == "Matthis Röwe-Łącki"
    assert message["To"].addresses[0].addr_spec == "matthis@xn--bcher-kva.example"
    assert message["Subject"] == "Matthis Röwe-Łącki: training review July 2026"
    quoted = read_eml(written / "2026-07-kofi.eml")
    assert quoted["To"].addresses[0].display_name == 'Kofi Asante, "the Quay"'
    assert len(quoted["To"].addresses) == 1


def test_the_message_id_is_the_same_whenever_it_is_asked_for() -> None:
    made = message_id("Room", "Room <room@example.org>", "ines", "2026-07")
    assert made == message_id("Room", "room@example.org", "ines", "2026-07")
    assert re.fullmatch(r"<setledger\.2026-07\.[0-9a-f]{24}@example\.org>", made)
    others = {
        message_id("Room", "room@example.org", client, period)
        for client in ("ines", "kofi", None)
        for period in ("2026-07", "2026-08")
    }
    assert len(others) == 6
    assert "ines" not in made


@settings(deadline=None)
@given(st.text(max_size=200), st.text(max_size=200))
def test_no_name_or_subject_adds_a_header(name: str, subject: str) -> None:
    """Whatever stands in them: the headers are these seven, and the name comes back whole."""
    content, message = parsed(name=name, subject=subject)
    head = content.partition(b"\r\n\r\n")[0]
    names = [line.split(b":")[0] for line in head.split(b"\r\n") if line[:1] not in b" \t"]
    assert names == [
        b"From", b"To", b"Subject", b"Date", b"Message-ID", b"Auto-Submitted", b"MIME-Version",
        b"Content-Type",
    ]  # fmt: skip
    [address] = message["To"].addresses
    assert address.addr_spec == "ines@example.org"
    # Python's reader keeps the space between two encoded words of a name, which is none
    assert "".join(address.display_name.split()) == "".join(one_line(name).split())
    assert message["Subject"].split() == one_line(subject).split()
    assert max(map(len, head.split(b"\r\n"))) <= 998


@pytest.mark.parametrize("hostile", [
    "Ines\r\nBcc: all@example.org", "Ines\nBcc: x@example.org", "Ines\x0bBcc: x", "a\u2028Bcc: x@y",
    "x\r\n\r\n<html>", '" <evil@example.org>, "', "=?utf-8?q?a=0D=0ABcc:_x@y.z?=",
])  # fmt: skip
def test_a_hostile_name_stays_one_name(hostile: str) -> None:
    _, message = parsed(name=hostile, subject=hostile)
    assert message["Bcc"] is None
    assert [each.addr_spec for each in message["To"].addresses] == ["ines@example.org"]


@pytest.mark.parametrize("name", [
    "Kraftraum Süd", 'Halle „Nord“, Tor 3 (hinten)', "Зал у причала", '"Quay" \\ Co.', "Room",
])  # fmt: skip
def test_a_dry_run_is_from_the_workspace_whatever_its_letters(
    built_club: Path, tmp_path: Path, name: str
) -> None:
    """RFC 5322 and 2047: one address, and the name as it stands in setledger.toml."""
    shutil.copytree(built_club, tmp_path / "club")
    club = Club(tmp_path / "club")
    told = name.replace("\\", "\\\\").replace('"', '\\"')
    club.write("", CLIENTS.replace("Harbour Lane Barbell Room", told))
    club.send(is_dry_run=True, only=("ines",))
    [path] = (club.folder / "out/mail").glob("*.eml")
    head = path.read_bytes().partition(b"\r\n\r\n")[0]
    assert head.isascii()
    sender = read_eml(path)["From"]
    assert sender.defects == ()
    [address] = sender.addresses
    assert (address.display_name, address.addr_spec) == (name, "setledger@localhost")


@settings(deadline=None, max_examples=examples(200))
@given(name=st.text(max_size=80))
def test_any_name_makes_one_well_formed_sender(name: str) -> None:
    sender = parsed(sender=mailbox(name, "setledger@localhost"))[1]["From"]
    assert sender.defects == ()
    [address] = sender.addresses
    assert address.addr_spec == "setledger@localhost"
    # Python's reader keeps the space between two encoded words of a name, which is none
    assert "".join(address.display_name.split()) == "".join(one_line(name).split())


def test_a_long_subject_of_another_script_comes_back_whole() -> None:
    subject = "Ångström-Łódź Ženský " * 12 + "конец"
    assert parsed(subject=subject)[1]["Subject"] == subject.strip()


def test_a_text_table_sets_numbers_under_each_other() -> None:
    table = Table(
        "Sets",
        (Column("Muscle", is_number=False), Column("Rate")),
        ((Figure("Quads"), Figure("11.5")), (Figure("Upper back"), Figure("8", note="low"))),
    )
    assert letter.text_table(table) == [
        "Muscle         Rate",
        "Quads          11.5",
        "Upper back  8 (low)",
    ]


@pytest.mark.browser
def test_the_html_shows_its_pictures_in_a_browser(written: Path, tmp_path: Path) -> None:
    """Chromium lays the HTML part out at 360 px: both pictures load, nothing is cut off."""
    import base64

    if not CHROMIUM:
        pytest.skip("no chromium on the PATH (SETLEDGER_CHROMIUM)")
    from playwright.sync_api import sync_playwright

    message = read_eml(written / "2026-07-ines.eml")
    html = message.get_body(("html",))
    assert html is not None
    content = html.get_content()
    for part in message.walk():
        if part.get_content_type() == "image/png":
            data = base64.b64encode(part.get_content()).decode()
            cid = part["Content-ID"].strip("<>")
            content = content.replace(f"cid:{cid}", f"data:image/png;base64,{data}")
    (tmp_path / "mail.html").write_text(content, encoding="utf-8")
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        page = browser.new_page(viewport={"width": 360, "height": 800})
        page.goto((tmp_path / "mail.html").as_uri())
        sizes = page.evaluate(
            "[...document.images].map(image => [image.naturalWidth > 300, image.width <= 360])"
        )
        overflow = page.evaluate("document.documentElement.scrollWidth")
        browser.close()
    assert sizes == [[True, True], [True, True]]
    assert overflow <= 360
