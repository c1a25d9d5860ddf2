"""Drawings put marks where the numbers say."""

from __future__ import annotations

import re
from datetime import date, timedelta

import pytest

from pipeline.pages.charts.dots import EffortDot, effort_dots
from pipeline.pages.charts.lifts import LiftPanel, LiftPoint, Trend, lift_panels, nice_ticks
from pipeline.pages.charts.muscles import MuscleStrip, muscle_strips
from pipeline.pages.charts.sparkline import word_strip
from pipeline.pages.charts.svg import named
from pipeline.pages.theme import theme

AS_OF = date(2026, 8, 30)


@pytest.mark.parametrize(
    ("values", "ticks"),
    [
        ([61, 78], [60, 70, 80]),
        ([61, 89], [60, 70, 80, 90]),
        ([100, 100], [99, 100, 101]),
        ([0, 1000], [0, 500, 1000]),
        ([12.1, 12.9], [12, 12.5, 13]),
        ([0.4, 0.41], [0.4, 0.405, 0.41]),
    ],
)
def test_ticks_are_round_and_span_the_values(values: list[float], ticks: list[float]) -> None:
    found = nice_ticks(values)
    assert found[0] <= min(values) and max(values) <= found[-1]
    assert 3 <= len(found) <= 4
    assert found == ticks


def strip(**other: object) -> MuscleStrip:
    row = {
        "label": "Chest",
        "weekly": (0.0,) * 25 + (12.0,),
        "rate": 12.0,
        "rate_text": "12.0",
        "low": 8.0,
        "high": 16.0,
        "standing": "within",
    }
    return MuscleStrip(**(row | other))  # type: ignore[arg-type]


def test_the_mark_of_the_rate_stands_between_the_edges_of_the_guide() -> None:
    """A row is 36 px and 16 sets high, 32 px of it used: 12 sets are 24 px above the base."""
    svg = muscle_strips([strip()], AS_OF)
    marks = re.findall(r'<circle cx="[\d.]+" cy="([\d.]+)"', svg)
    assert [float(mark) for mark in marks] == pytest.approx([36 - 24], abs=0.1)


@pytest.mark.parametrize(("standing", "colour"), [("below", "pencil"), ("within", "ink")])
def test_only_what_is_outside_is_marked_with_the_pencil(standing: str, colour: str) -> None:
    svg = muscle_strips([strip(standing=standing)], AS_OF)
    assert (theme().light("pencil") in svg) is (colour == "pencil")


def test_standing_is_told_by_shape_and_not_by_colour_alone() -> None:
    drawings = {
        standing: muscle_strips([strip(standing=standing)], AS_OF)
        for standing in ("below", "above", "within")
    }
    shapes = {
        standing: re.findall(r' d="(M[^"]*Z)"', svg)[-1:] for standing, svg in drawings.items()
    }
    assert shapes["below"] != shapes["above"]
    assert "<circle" in drawings["within"] and "<circle" not in drawings["below"]


def panel(points: list[LiftPoint], trend: Trend | None = None) -> LiftPanel:
    return LiftPanel(tuple(points), trend, layoff_days=21)


def test_a_layoff_breaks_the_thread_between_sessions() -> None:
    weekly = [AS_OF - timedelta(weeks=week) for week in reversed(range(10))]
    whole = lift_panels([panel([LiftPoint(day, 100.0) for day in weekly])], AS_OF)[0]
    torn = [LiftPoint(day, 100.0) for day in (*weekly[:4], *weekly[7:])]
    broken = lift_panels([panel(torn)], AS_OF)[0]
    thread = f'stroke="{theme().light("strand")}"'
    assert whole.count(thread) == 1
    assert broken.count(thread) == 2


def test_panels_hold_their_own_sessions_only() -> None:
    days = [AS_OF - timedelta(weeks=week) for week in reversed(range(6))]
    drawn = lift_panels(
        [
            panel([LiftPoint(day, 100.0) for day in days]),
            panel([LiftPoint(day, 50.0) for day in days[:3]]),
        ],
        AS_OF,
    )
    assert [svg.count("h0") for svg in drawn] == [6, 3]


def test_a_light_session_is_a_tick_and_does_not_stretch_the_scale() -> None:
    days = [AS_OF - timedelta(weeks=week) for week in reversed(range(6))]
    points = [LiftPoint(day, 100.0 + place) for place, day in enumerate(days)]
    points[2] = LiftPoint(days[2], 40.0, is_light=True)
    svg = lift_panels([panel(points)], AS_OF)[0]
    assert svg.count("h0") == 5
    assert ">40<" not in svg


def test_a_trend_is_drawn_with_its_range() -> None:
    days = [AS_OF - timedelta(weeks=week) for week in reversed(range(12))]
    points = [LiftPoint(day, 100.0) for day in days]
    trend = Trend(days[0], days[6], days[-1], 100.0, 0.01, 0.005, 0.015)
    svg = lift_panels([panel(points, trend)], AS_OF)[0]
    assert svg.count(f'stroke="{theme().light("pencil")}"') == 1
    assert svg.count(f'fill="{theme().light("band")}"') == 1


def test_the_area_of_a_dot_is_the_number_of_sets() -> None:
    monday = AS_OF - timedelta(days=AS_OF.weekday())
    svg = effort_dots(
        [EffortDot(monday, "compound", 2, 16.0), EffortDot(monday, "compound", 0, 4.0)], AS_OF
    )["compound"]
    large, small = sorted(
        (float(radius) for radius in re.findall(r'<circle[^>]* r="([\d.]+)"', svg)), reverse=True
    )
    assert large / small == pytest.approx(2, rel=0.05)


def test_words_in_a_drawing_are_escaped() -> None:
    hostile = '<script>"&'
    svg = named(muscle_strips([strip(label=hostile)], AS_OF), "key", hostile, hostile)
    assert "<script" not in svg
    assert "<script" not in word_strip([1.0, 2.0], hostile)


def test_a_drawing_names_its_title_and_description() -> None:
    svg = named(muscle_strips([strip()], AS_OF), "strips", "What", "Reading")
    assert 'role="img" aria-labelledby="strips-t strips-d"' in svg
    assert '<title id="strips-t">What</title><desc id="strips-d">Reading</desc>' in svg


def test_drawings_use_the_tokens_colours_only() -> None:
    days = [AS_OF - timedelta(weeks=week) for week in reversed(range(12))]
    drawn = [
        muscle_strips([strip(), strip(standing="below")], AS_OF),
        *lift_panels([panel([LiftPoint(day, 100.0, True) for day in days])], AS_OF),
    ]
    known = {colour.light for colour in theme().colours.values()}
    for svg in drawn:
        assert set(re.findall(r"#[0-9a-fA-F]{3,6}", svg)) <= known
