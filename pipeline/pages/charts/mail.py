"""Drawings for mails: beside each other in one, and as pictures where no SVG is shown."""

from __future__ import annotations

import math
from collections.abc import Sequence

import vl_convert

from pipeline.pages.charts.svg import bounds, inside, word
from pipeline.pages.theme import theme
from pipeline.visible import visible

_COLUMNS = 2
_HEAD_PX = 20


def width_of(svg: str) -> int:
    """Width of a drawing [px]."""
    return math.ceil(float(bounds(svg)[2]))


def png(svg: str, scale: float = 2.0) -> bytes:
    """A drawing as an opaque picture, for programs that show no SVG."""
    left, top, width, height = bounds(svg)
    ground = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{left} {top} {width} {height}" '
        f'width="{width}" height="{height}" font-family="sans-serif"><rect x="{left}" y="{top}" '
        f'width="{width}" height="{height}" fill="{theme().light("paper")}"/>'
    )
    picture: bytes = vl_convert.svg_to_png(visible(ground + inside(svg)), scale=scale)
    return picture


def beside(drawings: Sequence[tuple[str, str]]) -> str:
    """Drawings in two columns, each below its heading, as one."""
    sizes = [bounds(svg) for _, svg in drawings]
    cell_width = max(float(size[2]) for size in sizes) + 16
    cell_height = max(float(size[3]) for size in sizes) + _HEAD_PX + 8
    cells = []
    for place, (heading, svg) in enumerate(drawings):
        left, top, width, height = sizes[place]
        x = place % _COLUMNS * cell_width
        y = place // _COLUMNS * cell_height
        cells.append(
            f'{word(x + 2, y + 13, heading, "ink")}<svg x="{x:g}" y="{y + _HEAD_PX:g}" '
            f'width="{width}" height="{height}" viewBox="{left} {top} {width} {height}">'
            f"{inside(svg)}"
        )
    columns = min(len(drawings), _COLUMNS)
    rows = math.ceil(len(drawings) / _COLUMNS)
    box = f"0 0 {columns * cell_width:g} {rows * cell_height:g}"
    return f'<svg viewBox="{box}">{"".join(cells)}</svg>'
