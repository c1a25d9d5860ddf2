"""Days and clock times as exports write them."""

from __future__ import annotations

from datetime import date, datetime, time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.reading.dates import Moment, names_a_day, read_by_format, read_clock, read_moment


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("1997-W01-1", date(1996, 12, 30)),
        ("2004-W53-6", date(2005, 1, 1)),
        ("2006-W52-7", date(2006, 12, 31)),
        ("2009-W01-1", date(2008, 12, 29)),
        ("2009-W53-7", date(2010, 1, 3)),
        ("2020-W01-1", date(2019, 12, 30)),
        ("2026-W53-4", date(2026, 12, 31)),
    ],
)
def test_week_dates_are_those_of_iso_8601(text: str, day: date) -> None:
    """ISO 8601: week 1 holds the first Thursday; examples from the standard's usual tables."""
    assert read_moment(text) == Moment(day)


@pytest.mark.parametrize(
    ("text", "moment"),
    [
        ("2026-08-31", Moment(date(2026, 8, 31))),
        ("20260831", Moment(date(2026, 8, 31))),
        ("2026-243", Moment(date(2026, 8, 31))),
        ("2026/08/31", Moment(date(2026, 8, 31))),
        ("2026-08-31T18:05", Moment(date(2026, 8, 31), datetime(2026, 8, 31, 18, 5))),
        ("2026-08-31 18:05:30.250", Moment(date(2026, 8, 31), datetime(2026, 8, 31, 18, 5, 30))),
        ("20260831T180530Z", Moment(date(2026, 8, 31), datetime(2026, 8, 31, 18, 5, 30))),
        ("2026-08-31T23:30:00-11:00", Moment(date(2026, 8, 31), datetime(2026, 8, 31, 23, 30))),
        ("2026-08-31 6:05 pm", Moment(date(2026, 8, 31), datetime(2026, 8, 31, 18, 5))),
    ],
)
def test_iso_8601_needs_no_format_and_a_zone_moves_no_day(text: str, moment: Moment) -> None:
    assert read_moment(text) == moment


@pytest.mark.parametrize(
    "text",
    [
        "2026-02-29",
        "2026-13-01",
        "2026-W54-1",
        "2025-366",
        "31.08.2026",
        "2026-08",
        "8",
        "2026-08-31T25:00",
    ],
)
def test_what_is_no_iso_day_is_not_read(text: str) -> None:
    assert read_moment(text) is None


@pytest.mark.parametrize(
    ("text", "at"),
    [
        ("18:05", time(18, 5)),
        ("18.05", time(18, 5)),
        ("18h05", time(18, 5)),
        ("18:05:30", time(18, 5, 30)),
        ("6:05 pm", time(18, 5)),
        ("12:00 AM", time(0)),
        ("12 pm", time(12)),
        ("1805", time(18, 5)),
    ],
)
def test_clock_times_are_read(text: str, at: time) -> None:
    assert read_clock(text) == at


@pytest.mark.parametrize("text", ["25:00", "18:60", "13:00 pm", "0:30 am", "noon", "18", ""])
def test_what_is_no_clock_time_is_not_read(text: str) -> None:
    assert read_clock(text) is None


def test_a_format_decides_between_day_and_month() -> None:
    assert read_by_format("05/06/2026", "%d/%m/%Y") == Moment(date(2026, 6, 5))
    assert read_by_format("05/06/2026", "%m/%d/%Y") == Moment(date(2026, 5, 6))
    assert read_by_format("31/06/2026", "%d/%m/%Y") is None


def test_epoch_numbers_are_moments_in_utc() -> None:
    """1 788 199 500 s = 2026-08-31T18:05:00Z: 20 696 days and 65 100 s after 1970-01-01."""
    moment = Moment(date(2026, 8, 31), datetime(2026, 8, 31, 18, 5))
    assert read_by_format(str(20_696 * 86_400 + 65_100), "epoch") == moment
    assert read_by_format(str((20_696 * 86_400 + 65_100) * 1000), "epoch_ms") == moment
    assert read_by_format("9" * 30, "epoch") is None


@pytest.mark.parametrize(
    ("pattern", "tells"),
    [
        ("%d.%m.%Y", True),
        ("%d/%m/%y %H:%M", True),
        ("%G-W%V-%u", True),
        ("%d.%m.", False),
        ("%Y", False),
        ("%H:%M", False),
        ("dd.mm.yyyy", False),
        ("", False),
        ("%", False),
    ],
)
def test_a_format_must_tell_year_month_and_day(pattern: str, tells: bool) -> None:
    assert names_a_day(pattern) is tells


@given(st.text(max_size=30))
def test_any_text_is_a_moment_or_none(text: str) -> None:
    for found in (read_moment(text), read_by_format(text, "%d.%m.%Y"), read_clock(text)):
        assert found is None or isinstance(found, Moment | time)
