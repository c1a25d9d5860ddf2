"""Design tokens: one source of colours, type and spacing for the pages' CSS and for the charts."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from pipeline.resources import resource


@dataclass(frozen=True)
class Colour:
    """One token: its value on a light and on a dark sheet, as #rrggbb."""

    name: str
    light: str
    dark: str


@dataclass(frozen=True)
class Theme:
    """All tokens of reports/theme.toml."""

    colours: dict[str, Colour]
    text_face: str
    figures_face: str
    chart_px: int
    """Size of letters in charts [px]."""
    space: dict[str, float]
    """Lengths [rem]; `line` is a factor of the size of the letters."""

    def light(self, name: str) -> str:
        """A colour as charts are drawn in it; the page's CSS turns it where the sheet is dark."""
        return self.colours[name].light

    def css(self) -> str:
        """Custom properties for both sheets, and the rules that make inline charts follow them.

        Charts carry their light colours as attributes: they stay right where CSS is lost, and a
        rule that matches the attribute overrules it where CSS is there.
        """
        light = _properties(self.colours, "light")
        dark = _properties(self.colours, "dark")
        faces = f"--text-face:{self.text_face};--figures-face:{self.figures_face};"
        spaces = "".join(f"--{name}:{_length(name, value)};" for name, value in self.space.items())
        follow = "".join(
            f'svg [{part}="{colour.light}"]{{{part}:var(--{colour.name})}}'
            for colour in self.colours.values()
            for part in ("fill", "stroke")
        )
        return (
            f":root{{color-scheme:light dark;{faces}{spaces}{light}}}\n"
            f"@media screen and (prefers-color-scheme:dark){{:root{{{dark}}}}}\n{follow}\n"
        )

    def chart_config(self) -> dict[str, Any]:
        """The configuration that every chart shares."""
        letters = {"fontSize": self.chart_px, "font": "sans-serif", "fontWeight": "normal"}
        return {
            "background": "transparent",
            "aria": False,
            "padding": 2,
            "font": "sans-serif",
            "view": {"stroke": None},
            "text": letters | {"color": self.light("ink")},
            "axis": {
                "labelFontSize": self.chart_px,
                "titleFontSize": self.chart_px,
                "titleFontWeight": "normal",
                "labelColor": self.light("soft"),
                "titleColor": self.light("soft"),
                "domainColor": self.light("guide"),
                "tickColor": self.light("guide"),
                "gridColor": self.light("hairline"),
                "tickSize": 3,
                "labelPadding": 3,
            },
        }


def _properties(colours: dict[str, Colour], sheet: str) -> str:
    return "".join(f"--{name}:{getattr(colour, sheet)};" for name, colour in colours.items())


def _length(name: str, value: float) -> str:
    return f"{value:g}" if name == "line" else f"{value:g}rem"


@lru_cache(maxsize=1)
def theme() -> Theme:
    """The tokens as reports/theme.toml holds them."""
    text = (resource("reports") / "theme.toml").read_text(encoding="utf-8")
    raw = tomllib.loads(text)
    return Theme(
        colours={
            name: Colour(name, value["light"], value["dark"])
            for name, value in raw["colours"].items()
        },
        text_face=raw["type"]["text"],
        figures_face=raw["type"]["figures"],
        chart_px=raw["type"]["chart_px"],
        space=raw["space"],
    )
