"""Frames to drawings: the only room that knows Altair, one theme for every chart.

A chart's specification is built once per process and its data are swapped. Positions in time are
days before the as-of day, so that no locale and no time zone has a say in where a mark stands.
The drawings come back as compact inline SVG whose colours the page's CSS can turn (theme.py).
"""

from __future__ import annotations

import html
import math
import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache
from typing import Any

import altair as alt
import vl_convert

from pipeline.pages.theme import theme

Spec = dict[str, Any]
Datasets = dict[str, list[dict[str, Any]]]

STRIP_WEEKS = 26
LIFT_WEEKS = 52


@dataclass(frozen=True)
class MuscleStrip:
    """One row of the figure of sets per muscle."""

    label: str
    weekly: tuple[float, ...]
    """Running 7-day counts at the end of each week, the earliest first [sets]."""
    rate: float
    """Today's weekly rate [sets a week]."""
    rate_text: str
    low: float | None
    high: float | None
    standing: str | None


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


@dataclass(frozen=True)
class EffortDot:
    """Recorded sets of one week, movement and reserve."""

    week: date
    movement: str
    reserve: int
    """0 to 5; 5 means 5 or more."""
    sets: float


@dataclass(frozen=True)
class FadeDot:
    """Output of the nth set against the first, with its interval; shares of 1."""

    muscle: str
    nth: int
    output: float
    low: float | None
    high: float | None


# Drawing


def _draw(spec: Spec, datasets: Datasets, **changed: Any) -> str:
    """SVG of a specification with its data."""
    svg: str = vl_convert.vegalite_to_svg(spec | {"datasets": datasets} | changed)
    return svg


def _spec(chart: Any) -> Spec:
    """A chart as a plain dictionary; unvalidated, for the specifications are fixed and tested."""
    spec: Spec = chart.to_dict(validate=False)
    return spec | {"config": theme().chart_config()}


_LEAF = re.compile(r"<(?:path|line|circle)\b[^>]*(?:fill|stroke)=[^>]*/>")
_DROPPED = re.compile(
    r' (?:aria-[a-z]+|role|class|pointer-events|opacity="1"|stroke-width="2"(?=[^>]*fill))'
    r'(?:="[^"]*")?'
)
_DECIMALS = re.compile(r"(\d+\.\d)\d+")
_DOT = re.compile(
    r'<path transform="translate\((-?[\d.]+),(-?[\d.]+)\)" '
    r'd="M([\d.]+),0A\3,\3,0,1,1,-\3,0A\3,\3,0,1,1,\3,0"([^>]*)/>'
)
_DOTS = re.compile(r'<circle (cx="[^"]*" cy="[^"]*") r="([^"]*)"([^>]*)/>'
                   r'(?:<circle cx="[^"]*" cy="[^"]*" r="\2"\3/>)+')  # fmt: skip
_DOWN = re.compile(r'translate\(-?[\d.]+,(-?[\d.]+)\)| cy="(-?[\d.]+)"| d="M-?[\d.]+,(-?[\d.]+)')


def _leaves(svg: str) -> list[str]:
    """The marks alone, in fewer bytes; groups only repeat what the page's own markup says."""
    leaves = [_DROPPED.sub("", leaf) for leaf in _LEAF.findall(_DECIMALS.sub(r"\1", svg))]
    return [_DOT.sub(r'<circle cx="\1" cy="\2" r="\3"\4/>', leaf) for leaf in leaves]


def _letter(x: float, y: float, text: str, colour: str, anchor: str = "start") -> str:
    """A word in a drawing. Vega takes 0.3 ms to measure one, and the page sets its own faces."""
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" fill="{theme().light(colour)}" '
        f'font-size="{theme().chart_px}" text-anchor="{anchor}">{html.escape(text)}</text>'
    )


def _assembled(box: str, marks: str, letters: Sequence[str]) -> str:
    """A drawing from its marks and letters; like dots in a row share their attributes."""
    marks = _DOTS.sub(_as_group, marks)
    return f'<svg viewBox="{box}"><g fill="none">{marks}</g>{"".join(letters)}</svg>'


def _as_group(run: re.Match[str]) -> str:
    return f"<g{run[3]}>{run[0].replace(run[3], '')}</g>"


_HEAD = re.compile(r'<svg viewBox="([^"]*)">')


def named(svg: str, key: str, title: str, description: str) -> str:
    """The drawing with its alternative text and size."""
    head = _HEAD.match(svg)
    if head is None:
        raise ValueError("not a drawing of this module")
    width, height = head[1].split()[2:]
    return (
        f'<svg viewBox="{head[1]}" width="{width}" height="{height}" role="img" '
        f'aria-labelledby="{key}-t {key}-d"><title id="{key}-t">{html.escape(title)}</title>'
        f'<desc id="{key}-d">{html.escape(description)}</desc>{svg[head.end() :]}'
    )


def _month_ticks(as_of: date, weeks: int, every: int) -> list[dict[str, Any]]:
    """First days of months in the span, each with its short name."""
    from pipeline.formats import MONTHS

    first = as_of - timedelta(weeks=weeks)
    days = (first + timedelta(days=offset) for offset in range(weeks * 7 + 1))
    return [
        {"x": (day - as_of).days, "text": MONTHS[day.month - 1]}
        for day in days
        if day.day == 1 and (day.month - 1) % every == 0
    ]


# Sets per muscle

_ROW_PX = 25
_STRIP_PX = 196
_LABEL_PX = 96
_LANE_PX = 52


@lru_cache(maxsize=1)
def _muscle_spec() -> Spec:
    colour = theme().light
    time = alt.X(
        "x:Q",
        axis=None,
        scale=alt.Scale(domain=[-7 * (STRIP_WEEKS - 1), 0], nice=False, zero=False),
    )

    def row(field: str) -> alt.Y:
        return alt.Y(f"{field}:Q", scale=None, axis=None)

    def layer(name: str) -> alt.Chart:
        return alt.Chart(alt.NamedData(name))

    strip_end = alt.value(_STRIP_PX)
    rate_shape = {"below": "triangle-down", "above": "triangle-up", "within": "circle"}
    shape = alt.Shape(
        "standing:N",
        legend=None,
        scale=alt.Scale(domain=[*rate_shape, "none"], range=[*rate_shape.values(), "circle"]),
    )
    tone = alt.Scale(
        domain=["below", "above", "within", "none"],
        range=[colour("pencil"), colour("pencil"), colour("ink"), colour("paper")],
    )
    edge = alt.Scale(
        domain=["below", "above", "within", "none"],
        range=[colour("pencil"), colour("pencil"), colour("ink"), colour("soft")],
    )
    layers = [
        layer("rows")
        .mark_rect(fill=colour("band"))
        .encode(x=alt.value(0), x2=strip_end, y=row("band_top"), y2="band_bottom:Q"),
        layer("edges")
        .mark_rule(stroke=colour("guide"), strokeWidth=0.75)
        .encode(x=alt.value(0), x2=strip_end, y=row("y")),
        layer("ticks").mark_rule(stroke=colour("hairline"), strokeWidth=0.75).encode(x=time),
        layer("rows")
        .mark_rule(stroke=colour("hairline"), strokeWidth=0.75)
        .encode(x=alt.value(-_LABEL_PX), x2=alt.value(_STRIP_PX + _LANE_PX), y=row("base")),
        layer("weeks")
        .mark_line(stroke=colour("ink"), strokeWidth=1.25, interpolate="monotone")
        .encode(x=time, y=row("y"), detail="row:N"),
        layer("rows")
        .mark_point(size=46, strokeWidth=1.25, filled=False, opacity=1)
        .encode(
            x=alt.value(_STRIP_PX + 10),
            y=row("mark"),
            shape=shape,
            fill=alt.Fill("standing:N", scale=tone, legend=None),
            stroke=alt.Stroke("standing:N", scale=edge, legend=None),
        ),
    ]
    chart = alt.layer(*layers).resolve_scale(shape="independent", fill="independent")
    return _spec(chart.properties(width=_STRIP_PX, height=100))


def strip_scale(strips: Sequence[MuscleStrip]) -> float:
    """Sets that a row is high: the same for every row, so that rows can be compared."""
    values = [value for each in strips for value in (*each.weekly, each.rate, each.high or 0.0)]
    return max(24.0, *values)


def muscle_strips(strips: Sequence[MuscleStrip], as_of: date) -> str:
    """One figure, a row per muscle: 26 weeks, the guide as a band, today's rate as a mark."""
    scale = (_ROW_PX - 4) / strip_scale(strips)
    rows: list[dict[str, Any]] = []
    weeks: list[dict[str, Any]] = []
    edges: list[dict[str, Any]] = []
    for place, each in enumerate(strips, start=1):
        base = place * _ROW_PX
        bottom, top = base - (each.low or 0.0) * scale, base - (each.high or 0.0) * scale
        rows.append(
            {
                "base": base,
                "band_top": top if each.high is not None else bottom,
                "band_bottom": bottom,
                "mark": base - each.rate * scale,
                "standing": each.standing or "none",
            }
        )
        edges += [{"y": base - end * scale} for end in (each.low, each.high) if end]
        first = -7 * (len(each.weekly) - 1)
        weeks += [
            {"row": place, "x": first + 7 * week, "y": base - value * scale}
            for week, value in enumerate(each.weekly)
        ]
    height = len(strips) * _ROW_PX
    ticks = _month_ticks(as_of, STRIP_WEEKS - 1, 1)
    data: Datasets = {"rows": rows, "weeks": weeks, "edges": edges, "ticks": ticks}
    marks = "".join(_leaves(_draw(_muscle_spec(), data, height=height)))
    letters = [
        _letter(x, place * _ROW_PX - 8, text, "ink", "end")
        for place, each in enumerate(strips, start=1)
        for x, text in ((-8.0, each.label), (float(_STRIP_PX + _LANE_PX), each.rate_text))
    ]
    letters += [
        _letter(_STRIP_PX * (1 + tick["x"] / (7 * (STRIP_WEEKS - 1))) + 2, height + 13,
                tick["text"], "soft")
        for tick in ticks
    ]  # fmt: skip
    width = _LABEL_PX + _STRIP_PX + _LANE_PX
    return _assembled(f"{-_LABEL_PX} 0 {width} {height + 18}", marks, letters)


# Lifts

_PANEL_PX = (232, 84)
_AXIS_PX = 34
_FOOT_PX = 18
_HEAD_PX = 6
_PITCH_PX = _HEAD_PX + _PANEL_PX[1] + _FOOT_PX


@lru_cache(maxsize=1)
def _lift_spec() -> Spec:
    colour = theme().light

    def layer(name: str) -> alt.Chart:
        return alt.Chart(alt.NamedData(name))

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
    return _spec(alt.layer(*layers).properties(width=_PANEL_PX[0], height=_PITCH_PX))


def lift_panels(panels: Sequence[LiftPanel], as_of: date) -> list[str]:
    """Small multiples over 52 weeks, each its own drawing.

    They are drawn as one view, a panel below the other, and cut apart: a facet of twelve costs
    four times as much, and twelve conversions six times.
    """
    data: Datasets = {
        name: [] for name in ("bands", "rules", "sessions", "records", "trends", "light")
    }
    ticks = _month_ticks(as_of, LIFT_WEEKS, 3)
    letters = [
        _add_panel(data, place, panel, as_of, ticks) if panel.points else []
        for place, panel in enumerate(panels)
    ]
    whole = _draw(_lift_spec(), data, height=_PITCH_PX * max(1, len(panels)))
    width = _PANEL_PX[0] + _AXIS_PX + 6
    return [
        _assembled(f"{-_AXIS_PX} {place * _PITCH_PX} {width} {_PITCH_PX}", marks, letters[place])
        for place, marks in enumerate(_cut(whole, len(panels), _PITCH_PX))
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
        letters.append(_letter(-5, y + 4, f"{level:g}", "soft", "end"))
    for tick in ticks:
        x = across(tick["x"])
        data["rules"].append({"x": x, "x2": x, "y": bottom, "y2": bottom + 4})
        letters.append(_letter(x + 3, bottom + 13, tick["text"], "soft"))
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


def _cut(svg: str, amount: int, pitch: float) -> list[str]:
    """Marks of `amount` panels, drawn `pitch` pixels below each other, by where a mark begins."""
    inside: list[list[str]] = [[] for _ in range(amount)]
    for leaf in _leaves(svg):
        place = _DOWN.search(leaf)
        if place is not None:
            down = float(place[1] or place[2] or place[3])
            inside[min(amount - 1, max(0, int(down // pitch)))].append(leaf)
    return ["".join(leaves) for leaves in inside]


# Effort

_WEEK_PX = 11
_RESERVE_PX = 15
_EFFORT_LABEL_PX = 62
RESERVES = 6


@lru_cache(maxsize=1)
def _dot_spec() -> Spec:
    """Dots of a given area, rules and bars: effort and fade are drawn with it."""
    colour = theme().light
    left = alt.X("x:Q", scale=None, axis=None)
    top = alt.Y("y:Q", scale=None, axis=None)
    rules = alt.Chart(alt.NamedData("rules"))
    bars = alt.Chart(alt.NamedData("bars"))
    dots = alt.Chart(alt.NamedData("dots"))
    layers = [
        rules.mark_rule(stroke=colour("hairline"), strokeWidth=0.75).encode(
            x=left, x2="x2:Q", y=top, y2="y2:Q"
        ),
        bars.mark_rule(stroke=colour("strand"), strokeWidth=1.5).encode(
            x=left, x2="x2:Q", y=top, y2="y2:Q"
        ),
        dots.mark_circle(fill=colour("ink"), opacity=1).encode(
            x=left, y=top, size=alt.Size("area:Q", scale=None, legend=None)
        ),
    ]
    return _spec(alt.layer(*layers).properties(width=100, height=100))


def effort_dots(dots: Sequence[EffortDot], as_of: date) -> dict[str, str]:
    """For each movement a drawing: a dot a week and reserve, its area the number of sets."""
    this_week = as_of - timedelta(days=as_of.weekday())
    movements = sorted({dot.movement for dot in dots})
    most = max((dot.sets for dot in dots), default=1.0)
    width, height = STRIP_WEEKS * _WEEK_PX, RESERVES * _RESERVE_PX
    pitch = height + 18
    rules, letters = [], []
    for place in range(len(movements)):
        lines: list[str] = []
        for reserve in range(RESERVES):
            y = place * pitch + (reserve + 0.5) * _RESERVE_PX
            rules.append({"x": 0, "x2": width, "y": y, "y2": y})
            label = f"{reserve} or more" if reserve == RESERVES - 1 else str(reserve)
            lines.append(_letter(-6, y + 4, label, "soft", "end"))
        lines += [
            _letter(width * (1 + tick["x"] / (7 * STRIP_WEEKS)) + 2, place * pitch + height + 13,
                    tick["text"], "soft")
            for tick in _month_ticks(as_of, STRIP_WEEKS, 1)
        ]  # fmt: skip
        letters.append(lines)
    marks = [
        {
            "x": width - (0.5 + (this_week - dot.week).days / 7) * _WEEK_PX,
            "y": movements.index(dot.movement) * pitch + (dot.reserve + 0.5) * _RESERVE_PX,
            "area": round(math.pi * (_RESERVE_PX / 2 - 0.5) ** 2 * dot.sets / most, 1),
        }
        for dot in dots
    ]
    data = {"rules": rules, "bars": [], "dots": marks}
    whole = _draw(_dot_spec(), data, width=width, height=pitch * max(1, len(movements)))
    box_width = width + _EFFORT_LABEL_PX + 4
    return {
        movement: _assembled(
            f"{-_EFFORT_LABEL_PX} {place * pitch} {box_width} {pitch}", inside, letters[place]
        )
        for place, (movement, inside) in enumerate(
            zip(movements, _cut(whole, len(movements), pitch), strict=True)
        )
    }


# Fade inside the session

_NTH_PX = 16
_FADE_PX = 72
_FADE_DOT = 26.0
_FADE_PITCH_PX = _FADE_PX + 26
FADE_SETS_MOST = 7


def fade_panels(dots: Sequence[FadeDot]) -> dict[str, str]:
    """For each muscle a small drawing: output of the nth set against the first, one scale."""
    muscles = list(dict.fromkeys(dot.muscle for dot in dots))
    ends = [end for dot in dots for end in (dot.low, dot.output, dot.high) if end is not None]
    low = max(0.5, math.floor(min([0.95, *ends]) * 20) / 20)
    high = min(1.2, math.ceil(max([1.0, *ends]) * 20) / 20)
    last = max((dot.nth for dot in dots), default=2)
    width = last * _NTH_PX

    def down(share: float, top: float) -> float:
        held = min(max(share, low), high)
        return round(top + _FADE_PX * (high - held) / (high - low), 1)

    rules: list[dict[str, Any]] = []
    bars: list[dict[str, Any]] = []
    marks: list[dict[str, Any]] = []
    letters: list[list[str]] = []
    for place, muscle in enumerate(muscles):
        top = place * _FADE_PITCH_PX + 8
        lines: list[str] = []
        for twentieth in range(round(low * 20), round(high * 20) + 1):
            y = down(twentieth / 20, top)
            rules.append({"x": 0, "x2": width, "y": y, "y2": y})
            lines.append(_letter(-5, y + 4, f"{twentieth * 5}%", "soft", "end"))
        for nth in range(1, last + 1):
            x = (nth - 0.5) * _NTH_PX
            lines.append(_letter(x, top + _FADE_PX + 14, str(nth), "soft", "middle"))
        marks.append({"x": 0.5 * _NTH_PX, "y": down(1.0, top), "area": _FADE_DOT})
        for dot in dots:
            if dot.muscle != muscle:
                continue
            x = (dot.nth - 0.5) * _NTH_PX
            if dot.low is not None and dot.high is not None:
                bars.append({"x": x, "x2": x, "y": down(dot.high, top), "y2": down(dot.low, top)})
            marks.append({"x": x, "y": down(dot.output, top), "area": _FADE_DOT})
        letters.append(lines)
    data = {"rules": rules, "bars": bars, "dots": marks}
    whole = _draw(_dot_spec(), data, width=width, height=_FADE_PITCH_PX * max(1, len(muscles)))
    return {
        muscle: _assembled(
            f"-40 {place * _FADE_PITCH_PX} {width + 44} {_FADE_PITCH_PX}", inside, letters[place]
        )
        for place, (muscle, inside) in enumerate(
            zip(muscles, _cut(whole, len(muscles), _FADE_PITCH_PX), strict=True)
        )
    }


# Pictures for mails


_TEXT = 'font-family="sans-serif"'
_BESIDE_COLUMNS = 2
_BESIDE_HEAD_PX = 20


def width_of(svg: str) -> int:
    """Width of a drawing [px]."""
    return math.ceil(float(_box(svg)[2]))


def png(svg: str, scale: float = 2.0) -> bytes:
    """A drawing as an opaque picture, for programs that show no SVG."""
    left, top, width, height = _box(svg)
    inner = svg[svg.index(">") + 1 :]
    ground = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{left} {top} {width} {height}" '
        f'width="{width}" height="{height}" {_TEXT}><rect x="{left}" y="{top}" width="{width}" '
        f'height="{height}" fill="{theme().light("paper")}"/>'
    )
    picture: bytes = vl_convert.svg_to_png(ground + inner, scale=scale)
    return picture


def beside(drawings: Sequence[tuple[str, str]]) -> str:
    """Drawings in two columns, each below its heading, as one."""
    sizes = [_box(svg) for _, svg in drawings]
    cell_width = max(float(size[2]) for size in sizes) + 16
    cell_height = max(float(size[3]) for size in sizes) + _BESIDE_HEAD_PX + 8
    cells = []
    for place, (heading, svg) in enumerate(drawings):
        left, top, width, height = sizes[place]
        x = place % _BESIDE_COLUMNS * cell_width
        y = place // _BESIDE_COLUMNS * cell_height
        inner = svg[svg.index(">") + 1 :]
        cells.append(
            f'{_letter(x + 2, y + 13, heading, "ink")}<svg x="{x:g}" y="{y + _BESIDE_HEAD_PX:g}" '
            f'width="{width}" height="{height}" viewBox="{left} {top} {width} {height}">{inner}'
        )
    columns = min(len(drawings), _BESIDE_COLUMNS)
    rows = math.ceil(len(drawings) / _BESIDE_COLUMNS)
    box = f"0 0 {columns * cell_width:g} {rows * cell_height:g}"
    return f'<svg viewBox="{box}">{"".join(cells)}</svg>'


def _box(svg: str) -> list[str]:
    """Left, top, width and height of a drawing."""
    found = re.match(r'<svg viewBox="([^"]*)"', svg)
    if found is None:
        raise ValueError("not a drawing of this module")
    return found[1].split()


# Word-sized strips

_WORD_PX = (104, 18)


def word_strip(values: Sequence[float], title: str) -> str:
    """A line no larger than a word, for one row of the roster.

    Written as a path without Vega: two hundred conversions would cost more than all pages.
    """
    width, height = _WORD_PX
    top = max([1.0, *values])
    step = (width - 2) / max(1, len(values) - 1)
    spots = [
        f"{1 + step * place:.1f},{height - 1 - value / top * (height - 3):.1f}"
        for place, value in enumerate(values)
    ]
    colour = theme().light
    last = spots[-1].split(",") if spots else ["0", "0"]
    return (
        f'<svg viewBox="0 0 {width} {height}" width="{width}" height="{height}" role="img" '
        f'aria-label="{html.escape(title)}">'
        f'<polyline points="{" ".join(spots)}" fill="none" stroke="{colour("ink")}"/>'
        f'<circle cx="{last[0]}" cy="{last[1]}" r="1.6" fill="{colour("pencil")}"/></svg>'
    )
