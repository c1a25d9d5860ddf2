"""A line no larger than a word, for one row of the roster."""

from __future__ import annotations

import html
from collections.abc import Sequence

from pipeline.pages.theme import theme

_WORD_PX = (104, 18)


def word_strip(values: Sequence[float], title: str) -> str:
    """A line no larger than a word, for one row of the roster.

    Written as a path without Vega: two hundred conversions would cost more than all pages.
    """
    width, height = _WORD_PX
    top = max([1.0, *values])
    step = (width - 2) / max(1, len(values) - 1)
    spots = [
        f"{1 + step * place:.0f},{height - 1 - value / top * (height - 3):.0f}"
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
