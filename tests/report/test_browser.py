"""The pages in a real browser: accessible, readable on a phone, without a request, sortable.

Rules of axe-core (WCAG 2.2 A and AA, and its best practices) are asked of every page state.
"""

from __future__ import annotations

import os
import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from pipeline.mail import letter
from pipeline.mail.letter_page import client_letter
from pipeline.pages import client_page, render
from pipeline.pages.next_sheet import KEY, NextSheet, SheetLine
from tests.report.conftest import AS_OF

if TYPE_CHECKING:
    from tests.report.conftest import Room

pytestmark = pytest.mark.browser
CHROMIUM = os.environ.get("SETLEDGER_CHROMIUM") or shutil.which("chromium") or ""
FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
NEXT = NextSheet(
    name="Ines Duarte",
    workspace_name="Harbour Lane & Sons",
    title="Next session: chest and arms",
    rests_on="By the weekdays.",
    unit="kg",
    notices=("Lighter today.",),
    lines=(
        SheetLine("Incline dumbbell press", "each hand", "4", "27.5 × 10, 9, 8; 25 × 12",
                  "24 Aug", "27.5 × 10", "29 June", "30 × 6, then 30 × 7", "on the way to 40 × 10"),
        SheetLine("Dip", "", "3", "bw × 8", "24 Aug", "bw × 9", "", "–", "after a layoff"),
    ),
    key=KEY,
    foot="As of 30 Aug 2026.",
)  # fmt: skip
NARROW, WIDE = (360, 740), (1280, 800)


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    """Chromium; where there is none the tests are skipped, unless they must run."""
    playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    if not CHROMIUM:
        if os.environ.get("SETLEDGER_NEEDS_BROWSER"):
            pytest.fail("SETLEDGER_NEEDS_BROWSER is set, but no chromium was found.")
        pytest.skip("browser tests were skipped: no chromium on the PATH (SETLEDGER_CHROMIUM)")
    with playwright.sync_playwright() as running:
        chromium = running.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield chromium
        chromium.close()


@pytest.fixture(scope="module")
def out(room: Room, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The pages as a run lays them out."""
    folder = tmp_path_factory.mktemp("out")
    for client in room.workspace.clients:
        (folder / client.id).mkdir()
        pages = {
            "latest": room.page(client.id),
            "evidence": room.evidence(client.id),
            "years": room.years(client.id),
        }
        for name, page in pages.items():
            (folder / client.id / f"{name}.html").write_text(page.html, "utf-8")
    (folder / "index.html").write_text(room.roster().html, "utf-8")
    (folder / "ines/next.html").write_text(render.render_next(NEXT), "utf-8")
    page = client_page.read_client(room.con, room.workspace, "ines")
    mail = letter.html(client_letter(page, AS_OF), {"muscles": "muscles", "lifts": "lifts"})
    (folder / "ines/mail.html").write_text(mail, "utf-8")
    return folder


def opened(browser: Any, path: Path, size: tuple[int, int] = WIDE, **options: Any) -> Any:
    page = browser.new_page(viewport={"width": size[0], "height": size[1]}, **options)
    page.goto(path.as_uri())
    return page


def violations(page: Any) -> list[tuple[str, list[str]]]:
    """What axe-core finds wrong: rule, and the first elements concerned."""
    from axe_playwright_python.base import AXE_FILE_PATH

    page.evaluate(AXE_FILE_PATH.read_text(encoding="utf-8"))
    found = page.evaluate("async () => (await axe.run()).violations")
    return [(each["id"], [node["html"][:120] for node in each["nodes"][:3]]) for each in found]


def test_axe_would_find_what_is_wrong(browser: Any, tmp_path: Path) -> None:
    """The checker is checked: a picture without text and pale letters must be found."""
    path = tmp_path / "bad.html"
    path.write_text(
        '<html><body><img src="data:,"><p style="color:#aaa;background:#fff">pale</p></body></html>'
    )
    rules = {rule for rule, _ in violations(opened(browser, path))}
    assert {"image-alt", "color-contrast", "html-has-lang"} <= rules


@pytest.mark.parametrize(
    ("name", "scheme"),
    [
        ("index.html", "light"),
        ("index.html", "dark"),
        ("empty/latest.html", "dark"),
        ("three/latest.html", "light"),
        ("three/years.html", "dark"),
        ("three/evidence.html", "light"),
        # large pages: a quarter of a minute each
        pytest.param("ines/latest.html", "light", marks=pytest.mark.slow),
        pytest.param("ines/latest.html", "dark", marks=pytest.mark.slow),
        pytest.param("ines/evidence.html", "dark", marks=pytest.mark.slow),
        pytest.param("ines/years.html", "light", marks=pytest.mark.slow),
        pytest.param("ines/years.html", "dark", marks=pytest.mark.slow),
        pytest.param("care/latest.html", "light", marks=pytest.mark.slow),
        pytest.param("hostile/latest.html", "dark", marks=pytest.mark.slow),
    ],
)
def test_axe_finds_nothing(browser: Any, out: Path, name: str, scheme: str) -> None:
    page = opened(browser, out / name, color_scheme=scheme, bypass_csp=True)
    page.evaluate("document.querySelectorAll('details').forEach((each) => { each.open = true; })")
    assert violations(page) == []
    page.close()


@pytest.mark.parametrize(
    "name",
    ["index.html", "three/latest.html", "three/evidence.html", "three/years.html",
     "ines/next.html", "ines/mail.html"],
)  # fmt: skip
def test_axe_finds_nothing_at_any_width_in_the_dark_and_on_paper(
    browser: Any, out: Path, name: str
) -> None:
    page = opened(browser, out / name, bypass_csp=True)
    found = {}
    for scheme, media in (("light", "screen"), ("dark", "screen"), ("light", "print")):
        for width in (360, 800, 1280):
            page.emulate_media(color_scheme=scheme, media=media)
            page.set_viewport_size({"width": width, "height": 800})
            found[scheme, media, width] = violations(page)
    assert {state: each for state, each in found.items() if each} == {}
    page.close()


def test_no_page_weighs_more_than_500_kb(out: Path) -> None:
    heavy = {path.name: path.stat().st_size for path in out.rglob("*.html")}
    assert max(heavy.values()) < 500_000, heavy


@pytest.mark.parametrize(
    "name",
    ["index.html", "ines/latest.html", "hostile/latest.html", "hostile/evidence.html",
     "hostile/years.html"],
)  # fmt: skip
def test_a_page_asks_for_nothing_and_runs_nothing_foreign(
    browser: Any, out: Path, name: str
) -> None:
    page = browser.new_page()
    asked: list[str] = []
    said: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.on("console", lambda message: said.append(message.text))
    page.on("dialog", lambda dialog: said.append(dialog.message))
    page.on("pageerror", lambda error: said.append(str(error)))
    page.goto((out / name).as_uri())
    assert asked == [(out / name).as_uri()]
    assert said == []
    page.close()


@pytest.mark.parametrize(
    "name",
    ["index.html", "ines/latest.html", "odalys/latest.html", "ines/evidence.html",
     "hostile/evidence.html", "ines/years.html", "ines/next.html", "ines/mail.html"],
)  # fmt: skip
def test_a_phone_scrolls_down_only(browser: Any, out: Path, name: str) -> None:
    page = opened(browser, out / name, NARROW)
    assert page.evaluate("document.documentElement.scrollWidth") == NARROW[0]
    page.close()


def test_the_roster_fits_a_desk_with_all_its_columns(browser: Any, out: Path) -> None:
    page = opened(browser, out / "index.html")
    scroll = page.locator("#roster .scroll")
    assert scroll.evaluate("(each) => each.scrollWidth - each.clientWidth") <= 0
    page.close()


def test_the_first_screen_answers(browser: Any, out: Path) -> None:
    """The first change stands with its picture at its side within 1280 × 800, unscrolled."""
    page = opened(browser, out / "ines/latest.html")
    change = page.locator("section.first").bounding_box()
    picture = page.locator("figure.large").bounding_box()
    assert picture["y"] + picture["height"] <= WIDE[1]
    assert picture["x"] >= change["x"] + change["width"]
    assert picture["width"] > 400
    page.close()


def test_drawings_follow_the_dark_sheet(browser: Any, out: Path) -> None:
    fills = {}
    for scheme in ("light", "dark"):
        page = opened(browser, out / "ines/latest.html", color_scheme=scheme)
        fills[scheme] = page.evaluate(
            "getComputedStyle(document.querySelector('#muscles svg text')).fill"
        )
        page.close()
    assert fills == {"light": "rgb(26, 30, 34)", "dark": "rgb(232, 233, 230)"}


def test_the_roster_sorts_by_keyboard_and_says_so(browser: Any, out: Path) -> None:
    page = opened(browser, out / "index.html")
    names = "[...document.querySelectorAll('#roster tbody th')].map((cell) => cell.innerText)"
    before = page.evaluate(names)
    heading = page.locator("#roster table.sortable thead th", has_text="Hard sets a week")
    heading.locator("button").focus()
    page.keyboard.press("Enter")
    assert heading.get_attribute("aria-sort") == "ascending"
    rising = page.evaluate(names)
    page.keyboard.press("Enter")
    assert heading.get_attribute("aria-sort") == "descending"
    assert page.evaluate(names) == rising[::-1]
    assert sorted(rising) == sorted(before)
    page.locator("#roster table.sortable thead th button").first.click()
    assert page.evaluate(names) == before
    page.close()


def test_without_script_the_roster_is_a_plain_table(browser: Any, out: Path) -> None:
    page = opened(browser, out / "index.html", java_script_enabled=False)
    assert page.locator("thead button").count() == 0
    assert page.locator("#roster table.sortable tbody tr").count() == 9
    page.close()


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("client_id", ["ines", "care", "hanging", "gone"])
def test_a_client_s_page_is_five_sheets_at_most_and_the_first_stands_by_itself(
    browser: Any, out: Path, paper: str, client_id: str, tmp_path: Path
) -> None:
    pdfium = pytest.importorskip("pypdfium2")
    page = opened(browser, out / client_id / "latest.html")
    (tmp_path / "page.pdf").write_bytes(page.pdf(format=paper))
    page.close()
    sheets = list(pdfium.PdfDocument(tmp_path / "page.pdf"))
    assert len(sheets) <= 5
    first = sheets[0].get_textpage().get_text_range()
    if client_id in ("ines", "care"):
        assert "Change first" in first and "sessions in twelve weeks" in first
        assert "Sets per muscle" not in first


MARK_FIGURES = """
document.querySelectorAll("figure").forEach((figure, place) => {
  const mark = (end) => Object.assign(document.createElement("small"),
                                      {textContent: `[${end}${place}]`});
  figure.prepend(mark("from"));
  figure.append(mark("to"));
})
"""
POINTS_PER_MM = 72 / 25.4


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_print_breaks_no_drawing_and_cuts_nothing_off(
    browser: Any, out: Path, paper: str, tmp_path: Path
) -> None:
    """Each figure begins and ends on one sheet; no sheet is empty, and all margins are clean."""
    pdfium = pytest.importorskip("pypdfium2")
    page = opened(browser, out / "ines/latest.html")
    page.evaluate(MARK_FIGURES)
    figures = page.locator("figure:visible").count()
    (tmp_path / "page.pdf").write_bytes(page.pdf(format=paper))
    page.close()
    sheets = list(pdfium.PdfDocument(tmp_path / "page.pdf"))
    texts = [sheet.get_textpage().get_text_range() for sheet in sheets]
    ends = {
        end: {
            int(place): number
            for number, text in enumerate(texts)
            for place in re.findall(rf"\[{end}(\d+)\]", text)
        }
        for end in ("from", "to")
    }
    assert len(ends["from"]) == figures > 10
    assert ends["from"] == ends["to"]
    margin = round(12 * POINTS_PER_MM)
    for sheet in sheets:
        drawn = sheet.render(scale=1, grayscale=True).to_numpy().squeeze()
        assert drawn[margin:-margin, margin:-margin].min() < 100
        drawn[margin:-margin, margin:-margin] = 255
        assert drawn.min() > 240
