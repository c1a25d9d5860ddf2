"""The strip of days: a mark a session, as high as its hard sets; phases, layoffs and changes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache
from typing import Any

import altair as alt

from pipeline.pages.charts.svg import (
    Datasets,
    Spec,
    assembled,
    draw,
    layer,
    leaves,
    specification,
    time_ticks,
    word,
)
from pipeline.pages.theme import theme

_DAY_PX = 4.6
_TOP_PX, _HEIGHT_PX = 26, 46
_SIDE_PX = 14
_LETTER_PX = 6


@dataclass(frozen=True)
class TrainedDay:
    """One session."""

    day: date
    hard_sets: int


@dataclass(frozen=True)
class Stretch:
    """Days from the first to the last that are one thing: a phase, or a layoff."""

    first_on: date
    last_on: date
    word: str


@lru_cache(maxsize=1)
def _days_spec() -> Spec:
    colour = theme().light
    left = alt.X("x:Q", scale=None, axis=None)
    top = alt.Y("y:Q", scale=None, axis=None)
    rules = {"base": ("hairline", 0.75), "sessions": ("strand", 2.4), "changes": ("pencil", 1.25)}
    layers = [
        layer("phases").mark_rect(fill=colour("band")).encode(x=left, x2="x2:Q", y=top, y2="y2:Q"),
        *(
            layer(name)
            .mark_rule(stroke=colour(tone), strokeWidth=width)
            .encode(x=left, x2="x2:Q", y=top, y2="y2:Q")
            for name, (tone, width) in rules.items()
        ),
    ]
    return specification(alt.layer(*layers).properties(width=100, height=100))


def day_strip(
    sessions: Sequence[TrainedDay],
    phases: Sequence[Stretch],
    layoffs: Sequence[Stretch],
    changes: Sequence[tuple[date, str]],
    last_on: date,
    days: int,
) -> str:
    """One strip of time that ends with `last_on`."""
    first_on = last_on - timedelta(days=days - 1)
    width = days * _DAY_PX
    bottom = _TOP_PX + _HEIGHT_PX
    most = max((each.hard_sets for each in sessions), default=0) or 1

    def across(day: date) -> float:
        return (day - first_on).days * _DAY_PX

    def rule(x: float, x2: float, y: float, y2: float) -> dict[str, Any]:
        return {"x": x, "x2": x2, "y": y, "y2": y2}

    data: Datasets = {
        "phases": [
            rule(max(0.0, across(each.first_on)), across(each.last_on) + _DAY_PX, _TOP_PX, bottom)
            for each in phases
        ],
        "base": [rule(0, width, bottom, bottom)]
        + [rule(across(day), across(day), bottom, bottom + 5)
           for day, _ in time_ticks(last_on, days, round(width))],
        "sessions": [
            # a session without a hard set is seen, too
            rule(
                across(each.day) + _DAY_PX / 2, across(each.day) + _DAY_PX / 2, bottom,
                bottom - max(2.0, each.hard_sets / most * (_HEIGHT_PX - 4)),
            )
            for each in sessions
        ],
        "changes": [rule(across(day), across(day), _TOP_PX - 8, bottom) for day, _ in changes],
    }  # fmt: skip
    letters = [
        word(across(day) + 3, bottom + 14, text, "soft")
        for day, text in time_ticks(last_on, days, round(width))
    ]
    letters += [word(across(day), _TOP_PX - 11, name, "pencil", "middle") for day, name in changes]
    for each, y in [(each, _TOP_PX + 10) for each in phases] + [
        (each, bottom - 6) for each in layoffs
    ]:
        start, end = max(0.0, across(each.first_on)), across(each.last_on) + _DAY_PX
        if end - start >= _LETTER_PX * len(each.word):
            letters.append(word((start + end) / 2, y, each.word, "soft", "middle"))
    marks = "".join(leaves(draw(_days_spec(), data, width=width, height=bottom)))
    box = f"{-_SIDE_PX} 0 {width + 2 * _SIDE_PX:g} {bottom + 20}"
    return assembled(box, marks, letters)
