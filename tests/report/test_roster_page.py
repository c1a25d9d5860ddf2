"""The roster: who needs a look first, what each row rests on, and that one failure shows."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline import formats
from pipeline.pages import render, roster
from pipeline.settings.workspace_file import parse_workspace

if TYPE_CHECKING:
    from tests.report.conftest import Page, Room

AS_OF = date(2026, 8, 30)


def rows(page: Page) -> list[list[str]]:
    """Cells of each client's row, the name first."""
    start = next(i for i, each in enumerate(page.elements) if "sortable" in each["class"])
    found: list[list[str]] = []
    for element in page.elements[start + 1 :]:
        if element.tag == "table":
            break
        if element.tag == "th" and element["scope"] == "row":
            found.append([element.text])
        elif element.tag == "td":
            found[-1].append(element.text)
    return found


def test_every_listed_client_has_a_row_that_leads_to_the_page(room: Room) -> None:
    page = room.roster()
    links = {link["href"] for link in page.all("a")}
    assert links == {f"{client.id}/latest.html" for client in room.workspace.clients}
    assert len(rows(page)) == len(room.workspace.clients)


def test_figures_are_those_of_the_tables(room: Room) -> None:
    sessions, hard_sets = room.ask(
        "select count(distinct performed_on), count(*) filter (is_hard) / 4"
        " from review.graded_sets where client_id = 'ines' and performed_on > '2026-08-02'"
    )[0]
    statuses = dict(
        room.ask(
            "select status, count(*) from review.lift_status where client_id = 'ines' group by all"
        )
    )
    row = next(row for row in rows(room.roster()) if row[0] == "Ines Duarte")
    assert row[3].startswith("28 Aug2 days ago")
    assert row[4].startswith(f"{sessions}before")
    assert row[5].startswith(f"{formats.number(hard_sets)}before")
    assert row[8] == str(statuses.get("progressing", 0))
    assert row[9] == str(statuses.get("stalled", 0))


def test_a_client_whose_report_failed_stands_first_with_the_reason(room: Room) -> None:
    found = rows(room.roster({"odalys": "ValueError: no such unit"}))
    assert found[0][0] == "Odalys Freeman"
    assert found[0][1] == (
        "This page could not be made: ValueError: no such unit. The last good page stays."
    )


def test_who_was_never_judged_has_no_count_of_zero(room: Room) -> None:
    """A dash is not a zero: "none below" would read as "all is well"."""
    row = next(row for row in rows(room.roster()) if row[0] == "Three Sessions")
    assert row[6:11] == [formats.NOTHING] * 5


def test_a_client_without_sets_stands_there(room: Room) -> None:
    row = next(row for row in rows(room.roster()) if row[0] == "Nothing Logged")
    assert roster.NO_SETS_YET in row


def test_a_strip_says_its_numbers_in_words(room: Room) -> None:
    strips = [each for each in room.roster().all("svg") if each["role"] == "img"]
    assert any(
        re.fullmatch(
            r"Ines Duarte: hard sets a week over 26 weeks, \d+ at first, .*", each["aria-label"]
        )
        for each in strips
    )


def test_all_lines_set_aside_stand_on_the_coach_s_page(room: Room) -> None:
    page = room.roster()
    for line in ("exports/shared.csv:7", "exports/shared.csv:9", "exports/shared.csv:11"):
        assert line in page.html


def test_two_hundred_clients_stay_under_a_megabyte(new_log: Callable[[], Any]) -> None:
    log = new_log()
    names = [f"client-{number}" for number in range(200)]
    for place, name in enumerate(names):
        for week in range(6):
            on = AS_OF - timedelta(days=7 * week + place % 5)
            log.sets(on, "bench press", 60, 8, 3, rir=2, client_id=name)
            log.sets(on, "back squat", 90, 6, 3, rir=2, client_id=name)
    log.build(AS_OF)
    workspace = parse_workspace('[workspace]\nname = "Large room"\n', Path("large"))
    html = render.render_roster(roster.read_roster(log.con, workspace, {}))
    assert html.count("latest.html") == 200
    assert len(html.encode()) < 1_000_000


def test_no_client_yet_is_said(new_log: Callable[[], Any]) -> None:
    log = new_log()
    log.build(AS_OF)
    workspace = parse_workspace('[workspace]\nname = "New"\n', Path("new"))
    html = render.render_roster(roster.read_roster(log.con, workspace, {}))
    assert "No client is in the ledger yet" in html
