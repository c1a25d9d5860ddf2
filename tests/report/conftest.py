"""A small room of clients whose pages show every state: logged here, built by the models."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, timedelta
from functools import cached_property
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import duckdb
import pytest

from pipeline.pages import client_page, evidence_page, render, roster, years_page
from pipeline.pages.client_data import data_of
from pipeline.pages.page_data import SidePage
from pipeline.settings.workspace import Workspace
from pipeline.settings.workspace_file import parse_workspace

AS_OF = date(2026, 8, 30)
HOSTILE = "<script>alert(1)</script>\"'><img src=x onerror=alert(2)>{{ 7*7 }}"
CONFIG = f"""
[workspace]
name = "Harbour Lane & Sons"

[[clients]]
id = "ines"
name = "Ines Duarte"

[[clients]]
id = "odalys"
name = "Odalys Freeman"
units = "lb"

[[clients]]
id = "three"
name = "Three Sessions"

[[clients]]
id = "hanging"
name = "Only Bodyweight"

[[clients]]
id = "long-sets"
name = "No Estimate"

[[clients]]
id = "gone"
name = "Left a Year Ago"

[[clients]]
id = "care"
name = "In Care"
[[clients.phases]]
kind = "care"
from = 2026-08-01

[[clients]]
id = "empty"
name = "Nothing Logged"

[[clients]]
id = "hostile"
name = '''{HOSTILE}'''
"""
VOID = {"area", "base", "br", "col", "hr", "img", "input", "link", "meta", "source"}


@dataclass
class Element:
    """One element of a page, with the text directly and indirectly inside."""

    tag: str
    attributes: dict[str, str]
    path: tuple[str, ...]
    text: str = ""

    def __getitem__(self, name: str) -> str:
        return self.attributes.get(name, "")


class Page(HTMLParser):
    """A page read back: its elements in order, each with its text."""

    def __init__(self, html: str) -> None:
        super().__init__(convert_charrefs=True)
        self.html = html
        self.elements: list[Element] = []
        self._open: list[Element] = []
        self.feed(html)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        ends = {"td": ("td", "th"), "th": ("td", "th"), "tr": ("td", "th", "tr")}
        while self._open and self._open[-1].tag in ends.get(tag, ()):
            self._open.pop()
        element = Element(
            tag,
            {name: value or "" for name, value in attrs},
            tuple(each.tag for each in self._open),
        )
        self.elements.append(element)
        if tag not in VOID:
            self._open.append(element)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append(Element(tag, {name: value or "" for name, value in attrs}, ()))

    def handle_endtag(self, tag: str) -> None:
        while self._open and self._open.pop().tag != tag:
            pass

    def handle_data(self, data: str) -> None:
        for element in self._open:
            element.text += data

    def all(self, tag: str, **attributes: str) -> list[Element]:
        """Elements of a tag whose attributes have these values."""
        return [
            element
            for element in self.elements
            if element.tag == tag
            and all(element[name.rstrip("_")] == value for name, value in attributes.items())
        ]

    @cached_property
    def titles(self) -> dict[str, str]:
        """Title text of figures to what they show."""
        return {
            element["title"]: element.text.strip()
            for element in self.elements
            if element["title"].startswith("setledger trace")
        }


@dataclass
class Room:
    """The built room, and its pages."""

    con: duckdb.DuckDBPyConnection
    workspace: Workspace
    _pages: dict[str, Page] = field(default_factory=dict)

    def html(self, client_id: str) -> str:
        """A client's page as written now."""
        return render.render_client(client_page.read_client(self.con, self.workspace, client_id))

    def page(self, client_id: str) -> Page:
        """A client's page, written once and read back."""
        if client_id not in self._pages:
            self._pages[client_id] = Page(self.html(client_id))
        return self._pages[client_id]

    def evidence(self, client_id: str) -> Page:
        """The coach's page of a client, written once and read back."""
        return self._beside(client_id, "evidence", evidence_page.read_evidence)

    def years(self, client_id: str) -> Page:
        """The page of all years of a client, written once and read back."""
        return self._beside(client_id, "years", years_page.read_years)

    def _beside(self, client_id: str, name: str, read: Callable[..., SidePage]) -> Page:
        key = f"{client_id}/{name}"
        if key not in self._pages:
            data = data_of(self.con, self.workspace, client_id)
            page = client_page.read_page(data, self.workspace)
            self._pages[key] = Page(render.render_side(read(data, page)))
        return self._pages[key]

    def roster(self, failures: dict[str, str] | None = None) -> Page:
        """The roster, read back."""
        page = roster.read_roster(self.con, self.workspace, failures or {})
        return Page(render.render_roster(page))

    def ask(self, sql: str) -> list[tuple[Any, ...]]:
        """Rows of a query."""
        return self.con.execute(sql).fetchall()


@pytest.fixture(scope="session")
def room(new_log: Callable[[], Any]) -> Room:
    """Nine clients, from four years of training to none."""
    workspace = parse_workspace(CONFIG, Path("room"))
    log = new_log()
    for client_id, units in (("ines", "kg"), ("odalys", "lb"), ("care", "kg")):
        _train(log, client_id, weeks=40, load_unit=units)
    _train(log, "gone", weeks=20, until=AS_OF - timedelta(days=365))
    _train(log, "three", weeks=1)
    for week in range(20):
        on = AS_OF - timedelta(days=7 * week + 2)
        log.sets(on, "pull-up", None, 6 + week % 3, 3, client_id="hanging", load_basis="added")
        log.sets(on, "leg extension", 40, 25, 4, client_id="long-sets", rir=1)
        log.sets(on, HOSTILE, 60, 8, 3, client_id="hostile", rir=2, notes=HOSTILE, load_id=2)
        log.sets(on, "bench press", 60, 8, 3, client_id="hostile", rir=2, load_id=2)
    log.bodyweight(70, client_id="hanging")
    for load_id, path in ((1, "exports/shared.csv"), (2, f"exports/{HOSTILE}.csv")):
        log.con.execute(
            "insert into ledger.loads values (?, 'test', ?, 'a', 'b', 1, 'utf-8', ',', 'loaded',"
            " '2025-01-01', '2026-08-30', 100, 97, 3, 1, 97, '2026-08-30')",
            [load_id, path],
        )
    for load_id, line, cells, why in (
        (1, 7, '{"who": "Ines Duarte", "reps": "eight"}', "'eight' is not a whole number."),
        (1, 9, '{"who": "Odalys Freeman", "reps": "ten"}', "'ten' is not a whole number."),
        (1, 11, '{"reps": "?"}', "no client."),
        (2, 13, '{"reps": "x"}', HOSTILE),
    ):
        log.con.execute(
            "insert into ledger.set_aside values (?, ?, ?, 'no_reps', ?)",
            [load_id, line, cells, why],
        )
    log.build(AS_OF, clients=workspace.clients)
    return Room(log.con, workspace)


def _train(
    log: Any, client_id: str, weeks: int, until: date = AS_OF, load_unit: str = "kg"
) -> None:
    """Three days a week: presses creep up, squats stand still; all with recorded effort."""
    for week in range(weeks):
        monday = until - timedelta(days=7 * (weeks - week) - 1)
        step = week // 2 * 0.5 + (week % 3) * 0.25
        own = {"client_id": client_id, "load_unit": load_unit}
        log.sets(monday, "bench press", 60 + step, 8, 3, rir=2, **own)
        log.sets(monday, "barbell row", 50 + step, 9, 3, rir=2, **own)
        log.sets(monday + timedelta(days=2), "back squat", 90 + week % 3, 6, 4, rir=1, **own)
        log.sets(monday + timedelta(days=2), "leg curl", 35, 12, 2, rir=0, **own)
        log.sets(monday + timedelta(days=4), "overhead press", 40 + step / 2, 7, 3, rir=2, **own)
        log.sets(monday + timedelta(days=4), "lateral raise", 8, 15, 3, rir=1, **own)
