"""The first screen with findings, and a noted change, on rows as the contract names them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

import pytest

from pipeline.pages import client_page, evidence_page, render, roster
from pipeline.pages.client_data import data_of
from pipeline.settings.workspace import Change, Waived

if TYPE_CHECKING:
    from tests.report.conftest import Page, Room

FINDINGS = """
    create table review.findings as
    from (values
        ('ines', 'rest', null, 7, 3.0,
         '{"days_without_rest": 19, "share": 0.68,
           "arithmetic": "8 sets in 4 days are 14 a week"}',
         'Add one rest day to the rotation.', true, true, false),
        ('ines', 'volume', 'upper_back', 10, 1.0, '{"weekly_rate": 6.5, "top_load_kg": 82.5}',
         'Two more sets a week.', true, false, false),
        ('ines', 'stall', 'back squat', 14, 0.5, '{}', 'Wait.', false, false, false),
        ('ines', 'jump', 'glutes', 15, 0.5, '{"weekly_rate_sets": 15, "month_before_sets": 8}',
         'Ask.', false, false, true)
    ) as rows (client_id, code, subject, lever, severity, evidence, suggestion, is_noticed,
               is_first_change, is_waived)
"""
BEFORE_AFTER = """
    create table review.before_after as
    from (values
        ('ines', date '2026-06-01', 'weekly_hard_sets', 40.0, 46.5, 6.5, false, 5.1, 28, 28, 1),
        ('ines', date '2026-06-01', 'recorded_share', 0.5, 0.75, 0.25, true, 0.3, 28, 28, 1)
    ) as rows (client_id, changed_on, measure, before, after, difference, is_usual_variation,
               usual_difference, days_before, days_after, other_changes)
"""


@pytest.fixture
def told(room: Room) -> Iterator[Room]:
    """The room with findings and a noted change."""
    kept = {}
    for name, sql in (("findings", FINDINGS), ("before_after", BEFORE_AFTER)):
        kind = room.ask(
            "select table_type from information_schema.tables"
            f" where table_schema = 'review' and table_name = '{name}'"
        )
        kept[name] = bool(kind)
        if kind:
            room.con.execute(f"alter table review.{name} rename to {name}_kept")
        room.con.execute(sql)
    client = replace(
        room.workspace.client("ines"),
        changes=(Change(date(2026, 6, 1), "one rest day more"),),
        waived=(Waived("jump", "glutes", date(2026, 9, 20), "meant, for the autumn"),),
    )
    others = tuple(each for each in room.workspace.clients if each.id != "ines")
    yield replace(room, workspace=replace(room.workspace, clients=(client, *others)), _pages={})
    for name, was_there in kept.items():
        room.con.execute(f"drop table review.{name}")
        if was_there:
            room.con.execute(f"alter table review.{name}_kept rename to {name}")


def text(page: Page, tag: str, class_: str) -> str:
    return page.all(tag, class_=class_)[0].text.strip()


def test_what_the_coach_put_aside_stands_among_the_evidence_with_its_reason(told: Room) -> None:
    data = data_of(told.con, told.workspace, "ines")
    page = client_page.read_page(data, told.workspace)
    evidence = evidence_page.read_evidence(data, page)
    section = next(each for each in evidence.sections if each.key == "waived")
    ((headline, until, why),) = section.blocks[0].rows  # type: ignore[union-attr]
    assert headline.text == "Sets for glutes jumped against the month before"
    assert headline.note == "15 hard sets a week over about four weeks, 8 over as many before"
    assert (until.text, why.text) == ("20 Sept 2026", "meant, for the autumn")
    assert page.lead is not None
    assert "jumped" not in str(page.lead)


def test_a_note_of_pain_is_quoted_among_the_evidence_and_nowhere_else(told: Room) -> None:
    con, note = told.con, "sharp pain, the doctor knows"
    set_id = told.ask("select min(set_id) from ledger.current_sets where client_id = 'ines'")[0][0]
    con.execute("begin")
    con.execute("update ledger.sets set notes = ? where set_id = ?", [note, set_id])
    con.execute(
        "insert into review.pain_notes by name select set_id, client_id, performed_on, exercise"
        " from ledger.current_sets where set_id = ?",
        [set_id],
    )
    data = data_of(con, told.workspace, "ines")
    page = client_page.read_page(data, told.workspace)
    evidence = evidence_page.read_evidence(data, page)
    con.execute("rollback")
    assert note not in render.render_client(page)
    html = render.render_side(evidence)
    assert html.count(note) == 1
    assert html.index(note) > html.index("Notes that speak of pain")


def test_every_finding_stands_among_the_evidence_with_its_numbers(told: Room) -> None:
    data = data_of(told.con, told.workspace, "ines")
    page = client_page.read_page(data, told.workspace)
    evidence = evidence_page.read_evidence(data, page)
    section = next(each for each in evidence.sections if each.key == "findings")
    rows = [[cell.text for cell in row] for row in section.blocks[0].rows]  # type: ignore[union-attr]
    assert [row[:2] for row in rows] == [
        ["Too few rest days", "change first"],
        ["Sets for upper back are outside the guide", "noticed"],
        ["Back squat has stalled", "not said"],
    ]
    assert rows[1][2:] == ["Weekly rate: 6.5. Top load: 82.5 kg", "Two more sets a week."]


def test_the_first_change_has_evidence_step_and_arithmetic(told: Room) -> None:
    page = told.page("ines")
    assert text(page, "p", "headline") == "Too few rest days"
    assert text(page, "p", "step") == "Add one rest day to the rotation."
    assert text(page, "p", "arithmetic") == "8 sets in 4 days are 14 a week."
    evidence = [line.strip() for line in text(page, "ul", "evidence").splitlines() if line.strip()]
    assert evidence == ["Days without rest: 19", "Share: 68%"]


def test_what_was_noticed_waits_and_the_rest_is_silent(told: Room) -> None:
    page = told.page("ines")
    noticed = next(each for each in page.all("section") if each["aria-labelledby"] == "noticed-h")
    assert "Sets for upper back are outside the guide." in noticed.text
    assert "Top load: 82.5 kg." in noticed.text
    assert "stalls" not in noticed.text


def test_without_a_first_change_the_page_says_so(told: Room) -> None:
    told.con.execute("delete from review.findings")
    page = told.page("ines")
    assert text(page, "p", "headline") == "Nothing to change"
    assert not page.all("ul", class_="evidence")


def test_the_roster_names_the_first_change(told: Room) -> None:
    page = told.roster()
    start = next(i for i, each in enumerate(page.elements) if "sortable" in each["class"])
    cells = [each.text for each in page.elements[start:] if each.tag in ("th", "td")]
    names = [cell for cell in cells if cell in {c.name for c in told.workspace.clients}]
    assert names[0] == "Ines Duarte"
    assert "Too few rest days" in cells
    assert roster.NO_FIRST_CHANGE in cells


def test_a_change_is_shown_with_its_note_and_both_sides(told: Room) -> None:
    page = client_page.read_client(told.con, told.workspace, "ines")
    section = next(each for each in page.sections if each.key == "changes")
    _, heading, chart = section.blocks
    assert heading.text == "1 June 2026: one rest day more"  # type: ignore[union-attr]
    assert chart.reading == (  # type: ignore[union-attr]
        "One measure of 2 differs by more than four weeks of this client usually do: hard sets a "
        "week. One other change falls into these weeks; the figures cannot tell them apart."
    )
    table = chart.numbers  # type: ignore[union-attr]
    rows = [[cell.text for cell in row] for row in table.rows]
    assert rows == [
        ["Hard sets a week", "40.0", "46.5", "+6.5", "more than usual"],
        ["Sets with recorded effort", "50%", "75%", "+25 points", "usual variation"],
    ]
    notes = [row[-1].note for row in table.rows]
    assert "40.0 → 46.5" in chart.svg and "50% → 75%" in chart.svg  # type: ignore[union-attr]
    assert notes == ["up to ±5.1 is usual", "up to ±30 points is usual"]
    assert "Before and after" in render.render_client(page)
