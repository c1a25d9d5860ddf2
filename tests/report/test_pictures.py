"""The picture beside the first change is of what it names; the strip of days holds each session."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

import pytest

from pipeline.pages.client_data import ClientData, data_of
from pipeline.pages.sections.days import days_strip
from pipeline.pages.sections.exports import set_aside_blocks, unread
from pipeline.pages.sections.lead import lead
from pipeline.pages.sections.lifts import read_lifts
from pipeline.pages.sections.muscles import read_muscles
from pipeline.pages.sections.picture import MEASURES, lead_picture
from pipeline.resources import resource
from tests.conftest import MONDAY, Log, day

if TYPE_CHECKING:
    from tests.report.conftest import Room


@pytest.fixture
def ines(room: Room) -> ClientData:
    return data_of(room.con, room.workspace, "ines")


@pytest.mark.parametrize(
    ("code", "subject", "title"),
    [
        ("volume", "upper_back", "Upper back, hard sets in seven days"),
        ("stall", "back squat", "Back squat, kg"),
        ("overlap", "", "Front delts, hard sets in seven days"),
        ("rest", "", MEASURES["rest"].title),
        ("extension", "", MEASURES["extension"].title),
        ("failure", "", MEASURES["failure"].title),
        ("attendance", "", MEASURES["attendance"].title),
        ("turnover", "", MEASURES["turnover"].title),
    ],
)
def test_the_picture_is_of_what_the_finding_names(
    ines: ClientData, code: str, subject: str, title: str
) -> None:
    found = {"code": code, "subject": subject}
    picture = lead_picture(ines, found, read_muscles(ines), read_lifts(ines))
    assert picture is not None
    assert picture.title == title
    assert picture.svg.count("h0") >= 20


@pytest.mark.parametrize("code", ["care", "pain_note"])
def test_what_is_talked_about_is_not_drawn(ines: ClientData, code: str) -> None:
    found = {"code": code, "subject": ""}
    assert lead_picture(ines, found, read_muscles(ines), read_lifts(ines)) is None


def test_without_a_change_a_lift_that_progresses_is_drawn(ines: ClientData) -> None:
    lifts = read_lifts(ines)
    progressing = {row["exercise"] for row in lifts if row["status"] == "progressing"}
    picture = lead_picture(ines, None, read_muscles(ines), lifts)
    assert picture is not None and progressing
    assert picture.title.removesuffix(", kg").lower() in progressing


def test_measures_are_of_findings_that_there_are() -> None:
    codes = {path.stem for path in (resource("sql") / "findings").glob("*.sql")}
    assert set(MEASURES) <= codes


def test_a_share_is_drawn_of_the_sets_of_each_week(log: Log) -> None:
    """Two of four hard sets go on after failure in the last week, none in the week before."""
    for week in range(3):
        on = MONDAY + timedelta(weeks=week)
        log.sets(on, "bench press", 80.0, 8, 2, rir=1.0)
        for _ in range(2):
            log.set(on, "bench press", 80.0, 8, rir=0.0, partial_reps=3 if week == 2 else None)
    log.build(MONDAY + timedelta(weeks=2))
    from pipeline.pages.client_data import read_client_data
    from pipeline.settings.workspace import Client

    on = MONDAY + timedelta(weeks=2)
    rows = read_client_data(log.con, Client(id="ines", name="Ines"), on).answer(
        "weekly_measures", last_on=on, weeks=26
    )
    assert [(row["day"], row["sessions"], row["extended_share"]) for row in rows] == [
        (MONDAY + timedelta(weeks=1), 1, 0.0),
        (on, 1, 0.5),
    ]


# Days


def test_the_strip_has_a_mark_a_session_and_tells_the_breaks(log: Log) -> None:
    """Mondays of twelve weeks but for two: 21 days lie between the sessions around them."""
    from pipeline.pages.client_data import read_client_data
    from pipeline.settings.workspace import Change, Client

    for week in (0, 1, 2, 3, 6, 7, 8, 9, 10, 11):
        log.sets(day(7 * week), "back squat", 100.0, 5, 3, rir=1.0)
    log.build(day(77))
    client = Client(id="ines", name="Ines", changes=(Change(day(30), "one rest day more"),))
    strip = days_strip(read_client_data(log.con, client, day(77)))
    assert strip is not None
    assert strip.numbers is not None
    assert [row[1].text for row in strip.numbers.rows] == ["3"] * 10
    assert strip.reading.startswith("10 sessions in twelve weeks, the largest with 3 hard sets; 21")
    assert "21 days away" in strip.reading and "21 days away" in strip.svg
    assert "one rest day more" in strip.key and ">a</text>" in strip.svg


def test_without_sessions_there_is_no_strip(room: Room) -> None:
    assert days_strip(data_of(room.con, room.workspace, "gone")) is None


# What waits


def test_more_than_three_stalled_lifts_are_a_table_with_as_many_rows_as_said(log: Log) -> None:
    from pipeline.pages.client_data import read_client_data
    from pipeline.settings.workspace import Client

    names = ("back squat", "bench press", "barbell row", "overhead press")
    for name in names:
        log.sets(MONDAY, name, 60.0, 5, 3, rir=1.0)
    log.build(MONDAY)
    log.con.execute("update review.lift_status set status = 'stalled'")
    log.con.execute("delete from review.findings")
    log.con.executemany(
        "insert into review.findings (client_id, code, subject, lever, severity, evidence,"
        " is_noticed, is_first_change, is_waived)"
        " values ('ines', 'stall', ?, 14, 1, '{}', true, false, false)",
        [[name] for name in names],
    )
    data = read_client_data(log.con, Client(id="ines", name="Ines"), MONDAY)
    (told,) = lead(data, read_muscles(data), read_lifts(data)).noticed
    assert told.headline == "Four lifts stall or lose strength"
    assert told.table is not None
    assert sorted(row[0].text.lower() for row in told.table.rows) == sorted(names)


# Lines set aside


def test_lines_set_aside_are_a_row_a_reason_the_commonest_first() -> None:
    lines = [
        {"reason": reason, "path": "exports/log.csv", "source_line": nth, "explanation": why}
        for nth, (reason, why) in enumerate(
            [("duplicate", "equal"), *[("no_reps", "'x' is no number")] * 5, ("no_date", "empty")],
            start=2,
        )
    ]
    (table,) = set_aside_blocks(lines)
    rows = [[cell.text for cell in row] for row in table.rows]  # type: ignore[union-attr]
    places = "exports/log.csv:3, exports/log.csv:4, exports/log.csv:5, 2 more"
    assert rows[0] == ["No reps", "5", places, "'x' is no number"]
    assert [row[0] for row in rows[1:]] == ["Duplicate", "No date"]
    assert unread(lines) == 6
