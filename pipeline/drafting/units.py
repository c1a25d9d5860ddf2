"""Whether bare loads of an unknown export are kilograms or pounds.

What the file says wins: a header, a cell, a unit column, a line above the header. Else the
values may tell: plates come as 20, 15, 10, 5, 2.5, 1.25 kg on a 20 kg bar and as 45, 35, 25, 10,
5, 2.5 lb on a 45 lb bar (usual gym equipment). That is a guess, and said to be one.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence

from pipeline.drafting.draft import GUESS_FROM
from pipeline.drafting.header_words import LANGUAGES
from pipeline.units import Unit

POUND_BARS = frozenset((135, 185, 225, 275, 315, 365, 405, 455, 495))
"""A 45 lb bar with 45 lb plates, with or without a pair of 25 lb plates."""

_FEW = 20
_UNIT_WORD = re.compile(r"(?<![^\W\d_])(kgs?|kilos?|kilogram\w*|lbs?|pounds?)(?![^\W\d_])", re.I)


def told_unit(texts: Iterable[str]) -> Unit | None:
    """The one unit that some texts name; None if they name none or both."""
    found: set[Unit] = {
        "kg" if match[1].casefold().startswith("k") else "lb"
        for text in texts
        for match in _UNIT_WORD.finditer(text)
    }
    return found.pop() if len(found) == 1 else None


def plausible_unit(
    loads: dict[float, int], languages: Sequence[str], has_decimal_comma: bool
) -> tuple[Unit, float, str]:
    """The likelier unit of bare loads, its confidence (0 to 1) and what speaks for it.

    `loads` holds each load with its number of cells; `languages` are those of the header.
    """
    nonzero = {value: times for value, times in loads.items() if value > 0}
    total = sum(nonzero.values())
    if not total:
        return "kg", 0.5, "no load tells"

    def share(test: Callable[[float], bool]) -> float:
        return sum(times for value, times in nonzero.items() if test(value)) / total

    bars = {value for value in nonzero if value in POUND_BARS}
    on_bars = share(lambda value: value in POUND_BARS)
    fives = share(lambda value: value % 5 == 0)
    halves = share(lambda value: value % 5 == 2.5)
    quarters = share(lambda value: value % 2.5 == 1.25)
    is_pounds = on_bars >= 0.08 and len(bars) >= 2 and fives >= 0.9 and not quarters
    is_enough = total >= _FEW
    if is_pounds and is_enough:
        listed = ", ".join(f"{value:g}" for value in sorted(bars)[:4])
        reason = f"{on_bars:.0%} of the loads are full pound bars ({listed}), {fives:.0%} fives"
        is_metric = "en" not in languages and bool(languages)
        return "lb", 0.6 if is_metric else 0.85, reason
    if languages and "en" not in languages and fives <= 0.95 and on_bars < 0.05:
        named = " or ".join(LANGUAGES[each] for each in languages)
        reason = f"the header is {named}, and {1 - fives:.0%} of the loads are no multiples of 5"
        return "kg", 0.85, reason
    if quarters >= 0.01 and is_enough and not bars:
        return "kg", 0.85, f"{quarters:.0%} of the loads end on 1.25 kg plates"
    if halves >= 0.15 and is_enough and not bars:
        return "kg", GUESS_FROM, f"{halves:.0%} of the loads go by 2.5, none is a usual pound bar"
    if has_decimal_comma and not bars:
        return "kg", GUESS_FROM, "a decimal comma, as countries with kilograms write"
    return "kg", 0.5, "the values fit kilograms and pounds"
