"""Contrast is computed from the tokens, unrounded (WCAG 2.2, success criteria 1.4.3 and 1.4.11)."""

from __future__ import annotations

import pytest

from pipeline.pages.theme import theme

TEXT = ("ink", "soft", "pencil")
MARKS = ("ink", "strand", "guide", "pencil")
GROUNDS = ("paper", "wash")
SHEETS = ("light", "dark")


def contrast(one: str, other: str) -> float:
    """Contrast of two colours #rrggbb, unrounded, 1 to 21 (WCAG 2.2, success criterion 1.4.3)."""
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def luminance(colour: str) -> float:
    """Relative luminance of #rrggbb, 0 to 1 (WCAG 2.2, definition of relative luminance)."""
    red, green, blue = (_linear(int(colour[start : start + 2], 16) / 255) for start in (1, 3, 5))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _linear(share: float) -> float:
    """An sRGB channel without its gamma; 0.04045 is where the two pieces of the curve meet."""
    return float(share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4)


def test_the_checker_tells_apart_what_wcag_tells_apart() -> None:
    """Worked values on white: text needs 4.5 : 1, graphics 3 : 1, and nothing is rounded up."""
    assert contrast("#000000", "#ffffff") == 21
    assert contrast("#767676", "#ffffff") == pytest.approx(4.542, abs=0.001)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.478, abs=0.001)
    assert contrast("#949494", "#ffffff") == pytest.approx(3.033, abs=0.001)
    assert contrast("#959595", "#ffffff") == pytest.approx(2.995, abs=0.001)
    assert contrast("#767676", "#ffffff") >= 4.5 > contrast("#777777", "#ffffff")
    assert contrast("#949494", "#ffffff") >= 3 > contrast("#959595", "#ffffff")


@pytest.mark.parametrize("sheet", SHEETS)
@pytest.mark.parametrize("ground", GROUNDS)
@pytest.mark.parametrize("name", TEXT)
def test_text_stands_out_from_its_ground(name: str, ground: str, sheet: str) -> None:
    colours = theme().colours
    one, other = getattr(colours[name], sheet), getattr(colours[ground], sheet)
    assert contrast(one, other) >= 4.5


@pytest.mark.parametrize("sheet", SHEETS)
@pytest.mark.parametrize("name", MARKS)
def test_marks_stand_out_from_sheet_and_band(name: str, sheet: str) -> None:
    colours = theme().colours
    for ground in ("paper", "band"):
        assert contrast(getattr(colours[name], sheet), getattr(colours[ground], sheet)) >= 3


def test_every_token_reaches_css_on_both_sheets_and_turns_the_drawings() -> None:
    css = theme().css()
    for name, colour in theme().colours.items():
        assert f"--{name}:{colour.light};" in css
        assert f"--{name}:{colour.dark};" in css
        assert f'svg [fill="{colour.light}"]{{fill:var(--{name})}}' in css


def test_light_values_differ_so_that_a_drawing_s_colour_names_one_token() -> None:
    lights = [colour.light for colour in theme().colours.values()]
    assert len(set(lights)) == len(lights)
