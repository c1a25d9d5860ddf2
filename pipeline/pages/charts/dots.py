"""Dots on ruled lines: recorded effort week by week, and the output of later sets."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache
from typing import Any

import altair as alt

from pipeline.pages.charts.svg import (
    STRIP_WEEKS,
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

_WEEK_PX = 11
_RESERVE_PX = 15
_EFFORT_LABEL_PX = 62
RESERVES = 6
_NTH_PX = 16
_FADE_PX = 72
_FADE_DOT = 26.0
_FADE_PITCH_PX = _FADE_PX + 26
FADE_SETS_MOST = 7


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


@lru_cache(maxsize=1)
def _dot_spec() -> Spec:
    """Dots of a given area, rules and bars: effort and fade are drawn with it."""
    colour = theme().light
    left = alt.X("x:Q", scale=None, axis=None)
    top = alt.Y("y:Q", scale=None, axis=None)
    layers = [
        layer("rules")
        .mark_rule(stroke=colour("hairline"), strokeWidth=0.75)
        .encode(x=left, x2="x2:Q", y=top, y2="y2:Q"),
        layer("bars")
        .mark_rule(stroke=colour("strand"), strokeWidth=1.5)
        .encode(x=left, x2="x2:Q", y=top, y2="y2:Q"),
        layer("dots")
        .mark_circle(fill=colour("ink"), opacity=1)
        .encode(x=left, y=top, size=alt.Size("area:Q", scale=None, legend=None)),
    ]
    return specification(alt.layer(*layers).properties(width=100, height=100))


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
            lines.append(word(-6, y + 4, label, "soft", "end"))
        lines += [
            word(width * (1 + tick["x"] / (7 * STRIP_WEEKS)) + 2, place * pitch + height + 13,
                    tick["text"], "soft")
            for tick in month_ticks(as_of, STRIP_WEEKS, 1)
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
    whole = draw(_dot_spec(), data, width=width, height=pitch * max(1, len(movements)))
    box_width = width + _EFFORT_LABEL_PX + 4
    return {
        movement: assembled(
            f"{-_EFFORT_LABEL_PX} {place * pitch} {box_width} {pitch}", inside, letters[place]
        )
        for place, (movement, inside) in enumerate(
            zip(movements, cut(whole, len(movements), pitch), strict=True)
        )
    }


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
            lines.append(word(-5, y + 4, f"{twentieth * 5}%", "soft", "end"))
        for nth in range(1, last + 1):
            x = (nth - 0.5) * _NTH_PX
            lines.append(word(x, top + _FADE_PX + 14, str(nth), "soft", "middle"))
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
    whole = draw(_dot_spec(), data, width=width, height=_FADE_PITCH_PX * max(1, len(muscles)))
    return {
        muscle: assembled(
            f"-40 {place * _FADE_PITCH_PX} {width + 44} {_FADE_PITCH_PX}", inside, letters[place]
        )
        for place, (muscle, inside) in enumerate(
            zip(muscles, cut(whole, len(muscles), _FADE_PITCH_PX), strict=True)
        )
    }
