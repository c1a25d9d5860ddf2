"""Before and after: a line from the one to the other, in parts of what is usual."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import altair as alt

from pipeline.pages.charts.svg import (
    Datasets,
    Spec,
    assembled,
    draw,
    layer,
    leaves,
    specification,
    word,
)
from pipeline.pages.theme import theme

_ROW_PX = 17
_LABEL_PX, _SPAN_PX, _TEXT_PX = 200, 200, 110
USUAL_MOST = 4.0
"""Differences are drawn up to so many times the usual one."""


@dataclass(frozen=True)
class Dumbbell:
    """One measure before and after."""

    label: str
    text: str
    """Both values, as printed."""
    difference: float | None
    """In parts of the largest usual difference; None: cannot be told."""


@lru_cache(maxsize=1)
def _dumbbell_spec() -> Spec:
    colour = theme().light
    left = alt.X("x:Q", scale=None, axis=None)
    top = alt.Y("y:Q", scale=None, axis=None)
    layers = [
        layer("usual")
        .mark_rect(fill=colour("band"))
        .encode(x=left, x2="x2:Q", y=top, y2="y2:Q"),
        *(
            layer(name)
            .mark_rule(stroke=colour(tone), strokeWidth=width)
            .encode(x=left, x2="x2:Q", y=top, y2="y2:Q")
            for name, tone, width in (("rules", "hairline", 0.75), ("ways", "strand", 1.5))
        ),
        layer("befores")
        .mark_point(size=34, filled=True, fill=colour("paper"), stroke=colour("ink"),
                    strokeWidth=1, opacity=1)
        .encode(x=left, y=top),
        layer("afters")
        .mark_circle(opacity=1, size=40)
        .encode(x=left, y=top, fill=alt.Fill("tone:N", scale=None, legend=None)),
    ]  # fmt: skip
    return specification(alt.layer(*layers).properties(width=100, height=100))


def dumbbells(rows: Sequence[Dumbbell]) -> str:
    """A row a measure: ○ before, ● after; the ground is what four weeks usually differ by."""
    height = len(rows) * _ROW_PX
    middle, usual = _SPAN_PX / 2, _SPAN_PX / 2 / USUAL_MOST
    colour = theme().light
    data: Datasets = {
        "usual": [{"x": middle - usual, "x2": middle + usual, "y": 0, "y2": height}],
        "rules": [{"x": middle, "x2": middle, "y": 0, "y2": height}],
        "ways": [],
        "befores": [],
        "afters": [],
    }
    letters = []
    for place, row in enumerate(rows):
        y = (place + 0.5) * _ROW_PX
        letters.append(word(-10, y + 4, row.label, "ink", "end"))
        letters.append(word(_SPAN_PX + 12, y + 4, row.text, "ink"))
        if row.difference is None:
            continue
        end = middle + usual * min(max(row.difference, -USUAL_MOST), USUAL_MOST)
        tone = colour("ink") if abs(row.difference) <= 1 else colour("pencil")
        data["ways"].append({"x": middle, "x2": end, "y": y, "y2": y})
        data["befores"].append({"x": middle, "y": y})
        data["afters"].append({"x": end, "y": y, "tone": tone})
    marks = "".join(leaves(draw(_dumbbell_spec(), data, width=_SPAN_PX, height=height)))
    width = _LABEL_PX + _SPAN_PX + _TEXT_PX
    return assembled(f"{-_LABEL_PX} 0 {width} {height + 2}", marks, letters)
