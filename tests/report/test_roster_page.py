"""The roster: who needs a look first, what each row rests on, and that one failure shows."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from pipeline import formats
from pipeline.pages import before_sending, render, roster
from pipeline.settings.workspace_file import parse_workspace
from tests.report.conftest import Page

if TYPE_CHECKING:
    from tests.report.conftest import Room

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
    ids = [client.id for client in room.workspace.clients]
    assert links == {
        *(f"{each}/latest.html" for each in ids),
        *(f"{each}/evidence.html" for each in ids if each != "empty"),
    }
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


def test_two_hundred_clients_stay_under_five_hundred_kilobytes(new_log: Callable[[], Any]) -> None:
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
    assert len(html.encode()) < 500_000


def month_room(new_log: Callable[[], Any], config: str, folder: Path) -> list[list[str]]:
    """Rows of a roster as of 30 Aug: ines trains to the end, kofi's export ends 10 Aug."""
    log = new_log()
    for week in range(8):
        log.sets(AS_OF - timedelta(days=7 * week), "bench press", 60, 8, 3, client_id="ines", rir=2)
        on = date(2026, 8, 10) - timedelta(days=7 * week)
        log.sets(on, "bench press", 60, 8, 3, client_id="kofi", rir=2, load_id=2)
        log.sets(on, "harbour drag", 60, 8, 3, client_id="kofi", rir=2, load_id=2)
    for load_id, last_on in ((1, AS_OF), (2, date(2026, 8, 10))):
        log.con.execute(
            "insert into ledger.loads values (?, 'test', ?, 'a', 'b', 1, 'utf-8', ',', 'loaded',"
            " '2026-05-01', ?, 100, 97, 3, 1, 97, '2026-08-30')",
            [load_id, f"exports/{load_id}.csv", last_on],
        )
    log.con.execute("insert into ledger.set_aside values (2, 9, '{}', 'not_a_date', 'no date')")
    workspace = parse_workspace(f'[workspace]\nname = "Month"\n{config}', folder)
    log.build(AS_OF, clients=workspace.clients)
    page = roster.read_roster(log.con, workspace, {})
    assert page.before is not None
    terms = [[what, who] for what, who in page.before.terms]
    return [[page.before.heading], *terms, *rows(Page(render.render_roster(page)))]


def test_the_month_s_checklist_names_what_to_look_at(
    new_log: Callable[[], Any], tmp_path: Path
) -> None:
    """Of 97 + 3 lines of kofi's export one could not be read; ines has the note of August."""
    (tmp_path / "notes/ines").mkdir(parents=True)
    (tmp_path / "notes/ines/2026-08.md").write_text("Well done.")
    found = month_room(
        new_log,
        '[mail]\nhost = "localhost"\nfrom = "a@example.org"\n'
        '[[clients]]\nid = "ines"\nname = "Ines Duarte"\nemail = "ines@example.org"\n',
        tmp_path,
    )
    assert found[:6] == [
        ["Before you send August 2026"],
        ["No new export", "kofi (since 10 Aug)"],
        ["Lines that could not be read", "kofi 1.0%"],
        ["Unknown exercises, counted for no muscle", "harbour drag (24 sets)"],
        ["No mail", "kofi (not listed)"],
        ["No note for August 2026", "kofi"],
    ]
    assert [row[0] for row in found[6:]] == [
        "Ines Duarte",
        "kofino new export since 10 Aug; not listed: no mail",
    ]
    assert found[-1][11] == "one unknown exercise1.0% not read"


def test_who_has_left_stands_last_and_is_asked_for_nothing(
    new_log: Callable[[], Any], tmp_path: Path
) -> None:
    clients = '[[clients]]\nid = "ines"\nuntil = 2026-08-12\n[[clients]]\nid = "kofi"\n'
    found = month_room(new_log, clients, tmp_path)
    assert [row[0] for row in found if row[0].startswith(("ines", "kofi"))] == [
        "kofino new export since 10 Aug",
        "inesleft 12 Aug 2026",
    ]
    assert ["No note for August 2026", "kofi"] in found
    assert not any(row[0] == "No mail" for row in found), "no [mail]: nobody expects one"


@pytest.mark.parametrize(
    ("as_of", "month"),
    [(date(2026, 8, 20), 7), (date(2026, 8, 21), 8), (date(2026, 8, 31), 8), (date(2026, 9, 1), 8)],
)
def test_the_month_to_send_is_the_one_that_ended_or_is_about_to(as_of: date, month: int) -> None:
    assert before_sending.month_to_send(as_of).month == month


@pytest.mark.parametrize(
    ("row", "reason"),
    [
        ({"below": 0, "above": 0, "progressing": 3}, ""),
        (
            {"below": 2, "progressing": 3},
            "muscles outside their guide can wait while lifts gain",
        ),
        ({"above": 1}, "no lift is shown to suffer from it"),
        (
            {"below": 1, "stalled": 1, "progressing": 2},
            "no lift that has clearly stalled points to the muscles outside their guide",
        ),
    ],
)
def test_why_nothing_follows_from_a_muscle_outside_its_guide(
    row: dict[str, int], reason: str
) -> None:
    assert roster.why_nothing_follows(row) == reason


def test_the_lever_goes_before_the_number_of_lifts(room: Room) -> None:
    """A layoff before any stall; among equal levers the more lifts that stall or regress."""
    client = room.workspace.clients[0]
    on = {"last_on": AS_OF, "is_late": False, "covered_on": AS_OF}
    ranked = [
        on | {"lever": 3},
        on | {"lever": 14, "stalled": 14, "severity": 0.1},
        on | {"lever": 14, "stalled": 2, "severity": 9.0},
        on | {"stalled": 3},
        on | {"lever": 1, "is_late": True, "covered_on": date(2026, 7, 1)},
    ]
    keys = [roster._need(client, row, {}, AS_OF) for row in ranked]
    assert keys == sorted(keys)


def test_no_client_yet_is_said(new_log: Callable[[], Any]) -> None:
    log = new_log()
    log.build(AS_OF)
    workspace = parse_workspace('[workspace]\nname = "New"\n', Path("new"))
    html = render.render_roster(roster.read_roster(log.con, workspace, {}))
    assert "No client is in the ledger yet" in html
