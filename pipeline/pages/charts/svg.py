"""What all drawings share: an Altair chart compiled, its marks as compact SVG, words and a name.

A chart's specification is compiled once per process and its data are swapped. Positions in time are
days before the as-of day, so that no locale and no time zone has a say in where a mark stands.
The drawings come back as compact inline SVG whose colours the page's CSS can turn (theme.py).
"""

from __future__ import annotations

import html
import re
from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

import altair as alt
import vl_convert

from pipeline.formats import MONTHS
from pipeline.pages.theme import theme

Spec = dict[str, Any]
Datasets = dict[str, list[dict[str, Any]]]

STRIP_WEEKS = 26
"""Weeks that strips and dots span."""


def layer(name: str) -> alt.Chart:
    """A chart of the data of that name; a mark and its places are still to be said."""
    return alt.Chart(alt.NamedData(name))


def draw(spec: Spec, datasets: Datasets, **changed: Any) -> str:
    """SVG of a compiled specification with its data."""
    data = [
        entry | {"values": datasets[entry["name"]]} if entry["name"] in datasets else entry
        for entry in spec["data"]
    ]
    svg: str = vl_convert.vega_to_svg(spec | {"data": data} | changed)
    return svg


def specification(chart: Any) -> Spec:
    """A chart compiled for its data; unvalidated, for the specifications are fixed and tested.

    Compiling is a third to a half of what a drawing costs, so it is done once.
    """
    spec: Spec = chart.to_dict(validate=False)
    names = {each["data"]["name"] for each in spec.get("layer", [spec])}
    spec |= {"config": theme().chart_config(), "datasets": {name: [] for name in names}}
    compiled: Spec = vl_convert.vegalite_to_vega(spec)
    return compiled


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


def leaves(svg: str) -> list[str]:
    """The marks alone, in fewer bytes; groups only repeat what the page's own markup says."""
    found = [_DROPPED.sub("", leaf) for leaf in _LEAF.findall(_DECIMALS.sub(r"\1", svg))]
    return [_DOT.sub(r'<circle cx="\1" cy="\2" r="\3"\4/>', leaf) for leaf in found]


def word(x: float, y: float, text: str, colour: str, anchor: str = "start") -> str:
    """A word in a drawing. Vega takes 0.3 ms to measure one, and the page sets its own faces."""
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" fill="{theme().light(colour)}" '
        f'font-size="{theme().chart_px}" text-anchor="{anchor}">{html.escape(text)}</text>'
    )


def dots(places: Sequence[tuple[float, float]], colour: str, diameter: float) -> str:
    """Dots of one size as one path: strokes of no length with round ends.

    Vega takes 20 µs a dot, and a page 40 bytes.
    """
    if not places:
        return ""
    spots = "".join(f"M{x:g},{y:g}h0" for x, y in places)
    return (
        f'<path d="{spots}" stroke="{theme().light(colour)}" stroke-width="{diameter:g}" '
        'stroke-linecap="round"/>'
    )


def assembled(box: str, marks: str, letters: Sequence[str]) -> str:
    """A drawing from its marks and letters; like dots in a row share their attributes."""
    marks = _DOTS.sub(_as_group, marks)
    return f'<svg viewBox="{box}"><g fill="none">{marks}</g>{"".join(letters)}</svg>'


def _as_group(run: re.Match[str]) -> str:
    return f"<g{run[3]}>{run[0].replace(run[3], '')}</g>"


def named(svg: str, key: str, title: str, description: str) -> str:
    """The drawing with its alternative text and size."""
    box = bounds(svg)
    return (
        f'<svg viewBox="{" ".join(box)}" width="{box[2]}" height="{box[3]}" role="img" '
        f'aria-labelledby="{key}-t {key}-d"><title id="{key}-t">{html.escape(title)}</title>'
        f'<desc id="{key}-d">{html.escape(description)}</desc>{inside(svg)}'
    )


def month_ticks(as_of: date, weeks: int, every: int) -> list[dict[str, Any]]:
    """First days of months in the span, each with its short name."""
    first = as_of - timedelta(weeks=weeks)
    days = (first + timedelta(days=offset) for offset in range(weeks * 7 + 1))
    return [
        {"x": (day - as_of).days, "text": MONTHS[day.month - 1]}
        for day in days
        if day.day == 1 and (day.month - 1) % every == 0
    ]


def time_ticks(as_of: date, days: int, width: int) -> list[tuple[date, str]]:
    """First days of months, or of years, as many as a width has room for, with their names."""
    room = max(2, width // 46)
    every = next((step for step in (1, 2, 3, 6) if days / 30.4 / step <= room), 12)
    first = as_of - timedelta(days=days)
    if every < 12:
        return [
            (as_of + timedelta(days=tick["x"]), tick["text"])
            for tick in month_ticks(as_of, days // 7, every)
            if as_of + timedelta(days=tick["x"]) >= first
        ]
    step = next(step for step in (1, 2, 5, 10, 20, 50, 100) if days / 365 / step <= room)
    years = range(first.year + 1, as_of.year + 1)
    return [(date(year, 1, 1), str(year)) for year in years if year % step == 0]


def cut(svg: str, amount: int, pitch: float) -> list[str]:
    """Marks of `amount` panels, drawn `pitch` pixels below each other, by where a mark begins."""
    panels: list[list[str]] = [[] for _ in range(amount)]
    for leaf in leaves(svg):
        place = _DOWN.search(leaf)
        if place is not None:
            down = float(place[1] or place[2] or place[3])
            panels[min(amount - 1, max(0, int(down // pitch)))].append(leaf)
    return ["".join(marks) for marks in panels]


def bounds(svg: str) -> list[str]:
    """Left, top, width and height of a drawing."""
    found = re.match(r'<svg viewBox="([^"]*)"', svg)
    if found is None:
        raise ValueError("not a drawing of this module")
    return found[1].split()


def inside(svg: str) -> str:
    """A drawing from behind its opening tag to its end."""
    return svg[svg.index(">") + 1 :]
