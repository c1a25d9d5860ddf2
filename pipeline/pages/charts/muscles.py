"""Hard sets per muscle: a row a muscle, 26 weeks, its guide as a band, today's rate as a mark."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from typing import Any

import altair as alt

from pipeline.pages.charts.svg import (
    STRIP_WEEKS,
    Datasets,
    Spec,
    assembled,
    draw,
    layer,
    leaves,
    month_ticks,
    specification,
    word,
)
from pipeline.pages.theme import theme

_ROW_PX = 36
_STRIP_PX = 220
_LABEL_PX = 96
_LANE_PX = 52


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
    return specification(chart.properties(width=_STRIP_PX, height=100))


def strip_scale(strips: Sequence[MuscleStrip]) -> float:
    """Sets that a row is high: the same for every row, so that rows can be compared."""
    values = [value for each in strips for value in (*each.weekly, each.rate, each.high or 0.0)]
    return max(12.0, *values)


def muscle_strips(
    strips: Sequence[MuscleStrip], as_of: date, ticks: Sequence[dict[str, Any]] = ()
) -> str:
    """One figure, a row per muscle: 26 weeks, the guide as a band, today's rate as a mark.

    `ticks`: words at parts of the span, −1 to 0, for values that are no weeks.
    """
    span = 7 * (STRIP_WEEKS - 1)
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
        steps = max(1, len(each.weekly) - 1) if ticks else STRIP_WEEKS - 1
        first = steps + 1 - len(each.weekly)
        weeks += [
            {"row": place, "x": span * (nth / steps - 1), "y": base - value * scale}
            for nth, value in enumerate(each.weekly, start=first)
        ]
    height = len(strips) * _ROW_PX
    marked = (
        [tick | {"x": tick["x"] * span} for tick in ticks]
        if ticks
        else month_ticks(as_of, STRIP_WEEKS - 1, 1)
    )
    data: Datasets = {"rows": rows, "weeks": weeks, "edges": edges, "ticks": marked}
    marks = "".join(leaves(draw(_muscle_spec(), data, height=height)))
    letters = [
        word(x, place * _ROW_PX - 10, text, "ink", "end")
        for place, each in enumerate(strips, start=1)
        for x, text in ((-8.0, each.label), (float(_STRIP_PX + _LANE_PX), each.rate_text))
    ]
    letters += [
        word(_STRIP_PX * (1 + tick["x"] / span) + 2, height + 13, tick["text"], "soft")
        for tick in marked
    ]  # fmt: skip
    width = _LABEL_PX + _STRIP_PX + _LANE_PX
    return assembled(f"{-_LABEL_PX} 0 {width} {height + 18}", marks, letters)
