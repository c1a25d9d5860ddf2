"""Values on a thread through time: lifts as small multiples, one large picture, years."""

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
    dots,
    draw,
    layer,
    specification,
    time_ticks,
    word,
)
from pipeline.pages.theme import theme

LIFT_WEEKS = 52
_DOT_PX = 3.4
LEAST_DAYS = 42
"""The shortest span that a panel shows: two sessions of one week are no course."""


@dataclass(frozen=True)
class Frame:
    """Size of a panel, and of what stands around it [px]."""

    width: int = 232
    height: int = 84
    axis: int = 34
    side: int = 6
    head: int = 6
    foot: int = 18

    @property
    def pitch(self) -> int:
        """Height of a panel with its surroundings."""
        return self.head + self.height + self.foot


SMALL, LARGE = Frame(), Frame(400, 190)
YEARS, BROAD = Frame(360, 110, side=26), Frame(640, 110)


@dataclass(frozen=True)
class LiftPoint:
    """One session of a lift, or another value of a day."""

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
    """One panel; its axes fit what it holds."""

    points: tuple[LiftPoint, ...]
    trend: Trend | None = None
    layoff_days: int = 10**6
    """From so many days between two points on the thread is broken [days]."""
    guide: tuple[float | None, float | None] = (None, None)
    """Low and high end of a band behind the thread."""
    is_from_zero: bool = False
    marked_on: tuple[date, ...] = ()
    """Days with a line from top to bottom: changes."""
    first_on: date | None = None
    """Where the axis begins; None: at the first point."""
    threads: tuple[tuple[str, tuple[LiftPoint, ...]], ...] = ()
    """Further threads, each with a word at its end."""
    name: str = ""
    """The word at the end of the first thread."""

    @property
    def every_point(self) -> list[LiftPoint]:
        """The points of all threads."""
        return [*self.points, *(point for _, points in self.threads for point in points)]


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
            x=left, x2="x2:Q", y=top, y2="y2:Q"
        ),
        layer("sessions").mark_line(stroke=colour("strand"), strokeWidth=0.75).encode(
            x=left, y=top, detail="thread:N"
        ),
        layer("records").mark_point(
            stroke=colour("ink"), filled=False, size=58, strokeWidth=1, opacity=1
        ).encode(x=left, y=top),
        layer("trends").mark_line(stroke=colour("pencil"), strokeWidth=2).encode(
            x=left, y=top, detail="panel:N"
        ),
    ]  # fmt: skip
    return specification(alt.layer(*layers).properties(width=100, height=100))


def lift_panels(panels: Sequence[LiftPanel], as_of: date, frame: Frame = SMALL) -> list[str]:
    """Panels from the first day of each to the as-of day, each its own drawing.

    They are drawn as one view, a panel below the other, and cut apart: a facet of twelve costs
    four times as much, and twelve conversions six times.
    """
    data: Datasets = {
        name: [] for name in ("bands", "rules", "sessions", "records", "trends", "light")
    }
    drawn = [
        _Drawn(data, place, panel, as_of, frame) if panel.every_point else None
        for place, panel in enumerate(panels)
    ]
    whole = draw(_lift_spec(), data, width=frame.width, height=frame.pitch * max(1, len(panels)))
    width = frame.width + frame.axis + frame.side
    return [
        assembled(
            f"{-frame.axis} {place * frame.pitch} {width} {frame.pitch}",
            marks + (dots(panel.spots, "ink", _DOT_PX) if panel else ""),
            panel.letters if panel else (),
        )
        for place, (marks, panel) in enumerate(
            zip(cut(whole, len(panels), frame.pitch), drawn, strict=True)
        )
    ]


class _Drawn:
    """The marks of one panel, in pixels of the whole, added to the data; and its letters."""

    def __init__(
        self, data: Datasets, place: int, panel: LiftPanel, as_of: date, frame: Frame
    ) -> None:
        self.data, self.place, self.panel, self.as_of = data, place, panel, as_of
        self.letters: list[str] = []
        self.spots: list[tuple[float, float]] = []
        self.frame, self.top = frame, place * frame.pitch + frame.head
        self.bottom = self.top + frame.height
        points = panel.every_point
        first = panel.first_on or min(point.day for point in points)
        self.days = max(LEAST_DAYS, (as_of - first).days)
        self.ends = list(_trend_ends(panel.trend, self.days, as_of)) if panel.trend else []
        self.usual = [point for point in points if not point.is_light] or points
        values = [point.value for point in self.usual] + [middle for _, middle, _, _ in self.ends]
        values += [end for end in panel.guide if end is not None]
        most = 4 if frame.height < YEARS.height else 5
        self.levels = nice_ticks([*values, 0.0] if panel.is_from_zero else values, most)
        self._axes()
        self._guide()
        self._trend()
        self._threads()

    def across(self, day: date) -> float:
        """Where a day stands."""
        return round(self.frame.width * (1 + (day - self.as_of).days / self.days), 1)

    def down(self, value: float) -> float:
        """Where a value stands; one beyond the axis at its end."""
        low, high = self.levels[0], self.levels[-1]
        held = min(max(value, low), high)
        return round(self.bottom - (held - low) / (high - low) * self.frame.height, 1)

    def _axes(self) -> None:
        width = self.frame.width
        for level in self.levels:
            y = self.down(level)
            self.data["rules"].append({"x": 0, "x2": width, "y": y, "y2": y})
            self.letters.append(word(-5, y + 4, f"{level:g}", "soft", "end"))
        for day, text in time_ticks(self.as_of, self.days, width):
            x = self.across(day)
            self.data["rules"].append({"x": x, "x2": x, "y": self.bottom, "y2": self.bottom + 4})
            self.letters.append(word(x + 3, self.bottom + 13, text, "soft"))
        for day in self.panel.marked_on:
            if 0 <= (self.as_of - day).days <= self.days:
                x = self.across(day)
                self._line(x, x, self.top, self.bottom)

    def _line(self, x: float, x2: float, y: float, y2: float) -> None:
        self.data["light"].append({"x": x, "x2": x2, "y": y, "y2": y2})

    def _guide(self) -> None:
        low, high = self.panel.guide
        for end in (low, high):
            if end is not None:
                self._line(0, self.frame.width, self.down(end), self.down(end))
        if high is not None:
            bottom, top = self.down(low or 0.0), self.down(high)
            self.data["bands"] += [
                {"panel": f"{self.place}g", "x": x, "y": bottom, "y2": top}
                for x in (0, self.frame.width)
            ]

    def _trend(self) -> None:
        self.data["bands"] += [
            {"panel": self.place, "x": self.across(day), "y": self.down(low), "y2": self.down(high)}
            for day, _, low, high in self.ends
        ]
        self.data["trends"] += [
            {"panel": self.place, "x": self.across(day), "y": self.down(middle)}
            for day, middle, _, _ in self.ends
        ]

    def _threads(self) -> None:
        panel = self.panel
        named = [(panel.name, panel.points), *panel.threads]
        ends: list[tuple[float, float, str]] = []
        for nth, (name, points) in enumerate(named):
            usual = [point for point in points if not point.is_light]
            if panel.points and not usual:
                usual = list(points)
            hung = list(
                _sessions(f"{self.place}/{nth}", usual, panel.layoff_days, self.across, self.down)
            )
            self.data["sessions"] += hung
            self.spots += [(each["x"], each["y"]) for each in hung]
            self.data["records"] += [
                {"x": self.across(point.day), "y": self.down(point.value)}
                for point in usual
                if point.is_record
            ]
            for point in points:
                if point.is_light:
                    x = self.across(point.day)
                    self._line(x, x, self.bottom, self.bottom - 5)
            if name and usual:
                ends.append((self.across(usual[-1].day), self.down(usual[-1].value), name))
        self.letters += _apart(ends)


def _apart(ends: Sequence[tuple[float, float, str]]) -> list[str]:
    """Words at the ends of threads, moved apart where they would lie on each other."""
    letters, lowest = [], -math.inf
    for x, y, text in sorted(ends, key=lambda end: end[1]):
        lowest = max(y + 4, lowest + 11)
        letters.append(word(x + 5, lowest, text, "soft"))
    return letters


def _sessions(
    key: str,
    points: Sequence[LiftPoint],
    layoff_days: int,
    across: Callable[[date], float],
    down: Callable[[float], float],
) -> Iterator[dict[str, Any]]:
    """Sessions with the thread that they hang on; a layoff starts a new one."""
    thread, before = 0, None
    for point in points:
        thread += before is not None and (point.day - before).days >= layoff_days
        before = point.day
        yield {"x": across(point.day), "y": down(point.value), "thread": f"{key}/{thread}"}


def _trend_ends(trend: Trend, days: int, as_of: date) -> Iterator[tuple[date, float, float, float]]:
    """Day, middle, low and high of the trend where it starts, is anchored and ends."""
    start = max(trend.first_on, as_of - timedelta(days=days))
    for day in sorted({start, trend.anchor_on, trend.last_on}):
        weeks = (day - trend.anchor_on).days / 7
        middle, low, high = (
            trend.value * (1 + rate) ** weeks for rate in (trend.change, trend.low, trend.high)
        )
        yield day, middle, low, high


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
