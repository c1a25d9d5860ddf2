"""The whole log at a look: spans in which lifts moved, bests and amounts by year, by hand."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING

import pytest

from pipeline.pages import client_page, render, years_page
from pipeline.pages.client_data import ClientData, data_of
from pipeline.pages.page_data import Panels, SidePage, Table
from pipeline.settings.workspace_file import parse_workspace

if TYPE_CHECKING:
    from pathlib import Path

    from tests.conftest import Log
    from tests.report.conftest import Room

LIFTS = ("back squat", "bench press", "barbell row", "overhead press")
CONFIG = """
[[clients]]
id = "ines"
name = "Ines"
"""


def trained(log: Log, first: date, last: date, load: float, growth: float) -> float:
    """Mondays and Thursdays, four lifts a session, three sets of five to failure each.

    Loads grow by `growth` a week; hands back the load at which the next span goes on.
    """
    day = first
    while day <= last:
        if day.weekday() in (0, 3):
            weeks = (day - first).days / 7
            for exercise in LIFTS:
                log.sets(day, exercise, load * (1 + growth) ** weeks, 5, 3, rir=0.0)
        day += timedelta(days=1)
    return load * (1 + growth) ** ((last - first).days / 7)


def data(log: Log, root: Path, as_of: date) -> ClientData:
    workspace = parse_workspace(CONFIG, root)
    log.build(as_of, clients=workspace.clients)
    return data_of(log.con, workspace, "ines")


def shown(of: ClientData, root: Path) -> SidePage:
    page = client_page.read_page(of, parse_workspace(CONFIG, root))
    return years_page.read_years(of, page)


def table(page: SidePage, key: str, nth: int = 0) -> list[list[str]]:
    section = next(each for each in page.sections if each.key == key)
    tables = [block for block in section.blocks if isinstance(block, Table)]
    return [[cell.text for cell in row] for row in tables[nth].rows]


def test_quarters_that_did_the_same_are_one_span(log: Log, tmp_path: Path) -> None:
    """Two quarters at 1 % a week, one flat, one falling by 1 %; two sessions of twelve sets."""
    load = trained(log, date(2025, 1, 1), date(2025, 6, 30), 60.0, 0.01)
    load = trained(log, date(2025, 7, 1), date(2025, 9, 30), load, 0.0)
    trained(log, date(2025, 10, 1), date(2025, 12, 31), load, -0.01)
    for day, weight in ((date(2025, 1, 10), 70.0), (date(2025, 5, 10), 74.0)):
        log.bodyweight(weight, performed_on=day)
    page = shown(data(log, tmp_path, date(2025, 12, 29)), tmp_path)
    rows = table(page, "moved")
    assert [row[:3] for row in rows] == [
        ["Oct 2025 to Dec 2025", "fell", "−1.00%"],
        ["July 2025 to Sept 2025", "did not move", "0.00%"],
        ["Jan 2025 to June 2025", "rose", "+1.00%"],
    ]
    # 52 sessions from 2 January to 30 June, 180 days
    assert [row[3:] for row in rows][-1] == ["2.0", "24.3", "70.0 → 74.0"]
    text = page.sections[0].blocks[0].text  # type: ignore[union-attr]
    assert text.startswith("The lifts rose from Jan 2025 to June 2025. The lifts did not move from")


def test_too_few_lifts_tell_nothing(log: Log, tmp_path: Path) -> None:
    for week in range(12):
        day = date(2025, 1, 6) + timedelta(weeks=week)
        for exercise in LIFTS[:2]:
            log.sets(day, exercise, 60.0 + week, 5, 3, rir=0.0)
    page = shown(data(log, tmp_path, date(2025, 3, 30)), tmp_path)
    assert [row[:3] for row in table(page, "moved")] == [["Jan 2025 to Mar 2025", "unclear", "–"]]


def test_bests_are_the_heaviest_of_the_year_for_so_many_or_more(log: Log, tmp_path: Path) -> None:
    """2024: 100 × 5 and 90 × 8; 2025: 110 × 3; a load of ten times that is a slip."""
    for day, load, reps in (
        (date(2024, 3, 4), 100.0, 5),
        (date(2024, 5, 6), 90.0, 8),
        (date(2025, 2, 3), 110.0, 3),
        (date(2025, 2, 10), 1100.0, 3),
        (date(2025, 2, 17), 105.0, 3),
    ):
        log.set(day, "back squat", load, reps, rir=0.0)
    page = shown(data(log, tmp_path, date(2025, 3, 2)), tmp_path)
    section = next(each for each in page.sections if each.key == "bests")
    panels = next(block for block in section.blocks if isinstance(block, Panels))
    assert [[cell.text for cell in row] for row in panels.numbers[0].rows] == [
        ["2025", "110.0", "110.0", "–", "–"],
        ["2024", "100.0", "100.0", "100.0", "90.0"],
    ]
    # Epley at 3 is 121, Brzycki 116.5: their mean; at 5 of 100 116.7 and 112.5
    assert table(page, "moved", 1) == [
        ["Back squat", "2025", "118.7", "3 Feb 2025", "2025", "+3.6%"]
    ]


def test_year_stands_against_year(log: Log, tmp_path: Path) -> None:
    """2024 is logged from 4 March on (303 days), with two sessions; 2025 has one in 60 days."""
    for day in (date(2024, 3, 4), date(2024, 5, 6), date(2025, 2, 3)):
        log.sets(day, "back squat", 100.0, 5, 6, rir=0.0)
    log.exported(date(2025, 3, 1))
    page = shown(data(log, tmp_path, date(2025, 3, 1)), tmp_path)
    rows = table(page, "years")
    assert [row[:2] for row in rows] == [["2025", "1"], ["2024", "2"]]
    assert rows[1][3] == "0.3"  # 12 sets in 303 days: 0.277 a week


@pytest.mark.parametrize("client_id", ["ines", "hanging", "long-sets", "empty", "hostile", "gone"])
def test_each_client_has_the_page_and_it_stays_small(room: Room, client_id: str) -> None:
    page = room.years(client_id)
    assert len(page.html.encode()) < 500_000
    assert page.all("footer") == []
    if client_id == "empty":
        assert years_page.NOTHING_LOGGED in page.all("p", class_="period")[0].text


def test_ten_years_draw_no_more_points_than_two(log: Log, tmp_path: Path) -> None:
    """By weeks up to 400 days, by months beyond: 520 weeks are 120 points a lift."""
    for week in range(520):
        day = date(2016, 1, 4) + timedelta(weeks=week)
        log.set(day, "back squat", 100.0 + week % 7, 5, rir=0.0)
    page = shown(data(log, tmp_path, date(2025, 12, 20)), tmp_path)
    section = next(each for each in page.sections if each.key == "lifts")
    (panel,) = next(block for block in section.blocks if isinstance(block, Panels)).panels
    assert panel.svg.count("h0") == 120
    assert "of each month" in render.render_side(page)
