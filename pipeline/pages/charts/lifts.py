"""Lifts as small multiples: sessions of 52 weeks on their thread, records, and the trend."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache
from typing import Any

import altair as alt

from pipeline.pages.charts.svg import (
    Datasets,
    Spec,
    assembled,
    cut,
    draw,
    layer,
    month_ticks,
    specification,
    word,
)
from pipeline.pages.theme import theme

LIFT_WEEKS = 52
_PANEL_PX = (232, 84)
_AXIS_PX = 34
_FOOT_PX = 18
_HEAD_PX = 6
_PITCH_PX = _HEAD_PX + _PANEL_PX[1] + _FOOT_PX


@dataclass(frozen=True)
class LiftPoint:
    """One session of a lift."""

    day: date
    value: float
    is_record: bool = False
    is_light: bool = False
    """Light sessions are marked at the foot: they would stretch the scale and say nothing."""


@dataclass(frozen=True)
class Trend:
    """The trend as a line with its range, from `first_on` to `last_on` through an anchor."""

    first_on: date
    anchor_on: date
    last_on: date
    value: float
    """At the anchor."""
    change: float
    low: float
    high: float
    """Per week, as factors of growth minus 1."""


@dataclass(frozen=True)
class LiftPanel:
    """One small multiple."""

    points: tuple[LiftPoint, ...]
    trend: Trend | None
    layoff_days: int
    """From so many days between two sessions on the thread is broken [days]."""


@lru_cache(maxsize=1)
def _lift_spec() -> Spec:
    colour = theme().light

    left = alt.X("x:Q", scale=None, axis=None)
    top = alt.Y("y:Q", scale=None, axis=None)
    layers = [
        layer("bands").mark_area(fill=colour("band")).encode(
            x=left, y=top, y2="y2:Q", detail="panel:N"
        ),
        layer("rules").mark_rule(stroke=colour("hairline"), strokeWidth=0.75).encode(
            x=left, x2="x2:Q", y=top, y2="y2:Q"
        ),
        layer("light").mark_rule(stroke=colour("strand"), strokeWidth=1).encode(
            x=left, y=top, y2="y2:Q"
        ),
        layer("sessions").mark_line(stroke=colour("strand"), strokeWidth=0.75).encode(
            x=left, y=top, detail="thread:N"
        ),
        layer("sessions").mark_circle(fill=colour("ink"), size=9, opacity=1).encode(x=left, y=top),
        layer("records").mark_point(
            stroke=colour("ink"), filled=False, size=58, strokeWidth=1, opacity=1
        ).encode(x=left, y=top),
        layer("trends").mark_line(stroke=colour("pencil"), strokeWidth=2).encode(
            x=left, y=top, detail="panel:N"
        ),
    ]  # fmt: skip
    return specification(alt.layer(*layers).properties(width=_PANEL_PX[0], height=_PITCH_PX))


def lift_panels(panels: Sequence[LiftPanel], as_of: date) -> list[str]:
    """Small multiples over 52 weeks, each its own drawing.

    They are drawn as one view, a panel below the other, and cut apart: a facet of twelve costs
    four times as much, and twelve conversions six times.
    """
    data: Datasets = {
        name: [] for name in ("bands", "rules", "sessions", "records", "trends", "light")
    }
    ticks = month_ticks(as_of, LIFT_WEEKS, 3)
    letters = [
        _add_panel(data, place, panel, as_of, ticks) if panel.points else []
        for place, panel in enumerate(panels)
    ]
    whole = draw(_lift_spec(), data, height=_PITCH_PX * max(1, len(panels)))
    width = _PANEL_PX[0] + _AXIS_PX + 6
    return [
        assembled(f"{-_AXIS_PX} {place * _PITCH_PX} {width} {_PITCH_PX}", marks, letters[place])
        for place, marks in enumerate(cut(whole, len(panels), _PITCH_PX))
    ]


def _add_panel(
    data: Datasets,
    place: int,
    panel: LiftPanel,
    as_of: date,
    ticks: list[dict[str, Any]],
) -> list[str]:
    """Adds the marks of one panel, in pixels of the whole; hands back its letters."""
    letters: list[str] = []
    width, height = _PANEL_PX
    top = place * _PITCH_PX + _HEAD_PX
    bottom = top + height
    ends = list(_trend_ends(panel.trend, as_of)) if panel.trend else []
    middles = [middle for _, middle, _, _ in ends]
    usual = [point for point in panel.points if not point.is_light] or list(panel.points)
    levels = nice_ticks([point.value for point in usual] + middles)
    span = levels[-1] - levels[0]

    def across(day: int) -> float:
        return round(width * (1 + day / (7 * LIFT_WEEKS)), 1)

    def down(value: float) -> float:
        held = min(max(value, levels[0]), levels[-1])
        return round(bottom - (held - levels[0]) / span * height, 1)

    for level in levels:
        y = down(level)
        data["rules"].append({"x": 0, "x2": width, "y": y, "y2": y})
        letters.append(word(-5, y + 4, f"{level:g}", "soft", "end"))
    for tick in ticks:
        x = across(tick["x"])
        data["rules"].append({"x": x, "x2": x, "y": bottom, "y2": bottom + 4})
        letters.append(word(x + 3, bottom + 13, tick["text"], "soft"))
    data["bands"] += [
        {"panel": place, "x": across(day), "y": down(low), "y2": down(high)}
        for day, _, low, high in ends
    ]
    data["trends"] += [
        {"panel": place, "x": across(day), "y": down(middle)} for day, middle, _, _ in ends
    ]
    data["sessions"] += _sessions(place, usual, panel.layoff_days, as_of, across, down)
    data["light"] += [
        {"x": across((point.day - as_of).days), "y": bottom, "y2": bottom - 5}
        for point in panel.points
        if point.is_light
    ]
    data["records"] += [
        {"x": across((point.day - as_of).days), "y": down(point.value)}
        for point in usual
        if point.is_record
    ]
    return letters


def _sessions(
    place: int,
    points: Sequence[LiftPoint],
    layoff_days: int,
    as_of: date,
    across: Callable[[int], float],
    down: Callable[[float], float],
) -> Iterator[dict[str, Any]]:
    """Sessions with the thread that they hang on; a layoff starts a new one."""
    thread, before = 0, points[0].day
    for point in points:
        thread += (point.day - before).days >= layoff_days
        before = point.day
        yield {
            "x": across((point.day - as_of).days),
            "y": down(point.value),
            "thread": f"{place}/{thread}",
        }


def _trend_ends(trend: Trend, as_of: date) -> Iterator[tuple[int, float, float, float]]:
    """Day, middle, low and high of the trend where it starts, is anchored and ends."""
    start = max(trend.first_on, as_of - timedelta(weeks=LIFT_WEEKS))
    for day in sorted({start, trend.anchor_on, trend.last_on}):
        weeks = (day - trend.anchor_on).days / 7
        middle, low, high = (
            trend.value * (1 + rate) ** weeks for rate in (trend.change, trend.low, trend.high)
        )
        yield (day - as_of).days, middle, low, high


def nice_ticks(values: Sequence[float], most: int = 4) -> list[float]:
    """Round values 1, 2, 2.5 or 5 times a power of ten apart that span the values: 3 to `most`."""
    low, high = min(values), max(values)
    if high - low < 1e-9:
        low, high = low - 1, high + 1
    power = 10.0 ** math.floor(math.log10((high - low) / most))
    for factor in (1, 2, 2.5, 5, 10, 20, 25, 50, 100):
        step = factor * power
        first, last = math.floor(low / step), math.ceil(high / step)
        if last - first < most:
            return [round(place * step, 6) for place in range(first, last + 1)]
    raise AssertionError(values)  # 100 times a power of ten below the span spans it
