"""Numbers as exports write them: 82.5, 82,5, 1'250, 175 lb, +20, BW.

Plain ones are cast at once; the others are read once per distinct text.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

import polars as pl

from pipeline.reading.notation_words import OWN_WEIGHT, folded
from pipeline.settings.words import UNIT_WORDS
from pipeline.units import KG_PER_LB, Unit

Decimal = Literal[".", ","]


@dataclass(frozen=True)
class Number:
    """A number with what the cell says beside it."""

    value: float | None
    """None: the cell says bodyweight, which is no load."""
    unit: Unit | None = None
    is_added: bool = False
    """A leading "+", or "BW+": a load added to bodyweight."""
    is_assisted: bool = False
    """"BW-10": a load taken off bodyweight."""


_NUMBER = re.compile(
    rf"(?P<bw>{OWN_WEIGHT})? ?(?P<sign>[+-])? ?"
    r"(?P<digits>[0-9][0-9.,' ’]*|[.,][0-9]+)? ?(?P<unit>[a-z]+)?\.?"
)


def read_number(
    text: str, decimal: Decimal, is_given: bool = False, thousands: str | None = None
) -> Number | None:
    """A number with an optional sign and unit; `is_given`: the mapping names the decimal mark."""
    shown = " ".join(folded(text).replace("−", "-").split())
    match = _NUMBER.fullmatch(shown)
    if not match or len(shown) > 60:
        return None
    unit = UNIT_WORDS.get(match["unit"]) if match["unit"] else None
    if match["unit"] and unit is None:
        return None
    if not match["digits"]:
        return Number(None) if match["bw"] and not match["sign"] and not unit else None
    if match["bw"] and not match["sign"]:
        return None
    value = _digits(match["digits"].strip(), decimal, is_given, thousands)
    if value is None:
        return None
    if match["bw"] and match["sign"] == "-":
        return Number(value, unit, is_assisted=True)
    return Number(-value if match["sign"] == "-" else value, unit, match["sign"] == "+")


def _digits(digits: str, decimal: Decimal, is_given: bool, thousands: str | None) -> float | None:
    if thousands:
        whole = digits.split(decimal)[0]
        if thousands in whole and not _is_grouped(whole, thousands):
            return None
        digits = digits.replace(thousands, "")
    else:
        for mark in ("'", "’", " "):
            whole = re.split(r"[.,]", digits)[0]
            if mark in whole and _is_grouped(whole, mark):
                digits = digits.replace(mark, "")
    other = "," if decimal == "." else "."
    if digits.count(decimal) and digits.count(other):
        last = max(decimal, other, key=digits.rfind)
        if last != decimal and is_given:
            return None
        return _grouped_value(digits, last, other if last == decimal else decimal)
    if digits.count(other):
        if _is_grouped(digits, other):
            return float(digits.replace(other, ""))
        return None if is_given else _plain_value(digits, other)
    if digits.count(decimal) > 1:
        return float(digits.replace(decimal, "")) if _is_grouped(digits, decimal) else None
    return _plain_value(digits, decimal)


def _grouped_value(digits: str, decimal: str, grouping: str) -> float | None:
    whole, _, rest = digits.rpartition(decimal)
    if not _is_grouped(whole, grouping):
        return None
    return _plain_value(f"{whole.replace(grouping, '')}{decimal}{rest}", decimal)


def _is_grouped(digits: str, mark: str) -> bool:
    escaped = re.escape(mark)
    return re.fullmatch(rf"[1-9][0-9]{{0,2}}(?:{escaped}[0-9]{{3}})+", digits) is not None


def _plain_value(digits: str, decimal: str) -> float | None:
    if not re.fullmatch(rf"[0-9]*(?:{re.escape(decimal)}[0-9]*)?", digits) or digits == decimal:
        return None
    return float(digits.replace(decimal, "."))


def detect_decimal(texts: Iterable[str], load_max: float) -> Decimal:
    """The decimal mark of a file, from the distinct texts of its number columns.

    A comma or point before one or two digits, or more than three, is a decimal mark; so is the
    later of two kinds. Where only numbers such as 1,250 are found, the comma groups thousands,
    unless that would put one of them above `load_max`.
    """
    commas = points = 0
    grouped: list[float] = []
    for text in texts:
        match = re.search(r"[0-9][0-9.,]*", text)
        digits = match[0].rstrip(".,") if match else ""
        comma, point = digits.rfind(","), digits.rfind(".")
        if comma >= 0 and point >= 0:
            commas += comma > point
            points += point > comma
        elif comma >= 0 and _is_grouped(digits, ","):
            grouped.append(float(digits.replace(",", "")))
        elif comma >= 0:
            commas += digits.count(",") == 1
        elif point >= 0 and not _is_grouped(digits, "."):
            points += digits.count(".") == 1
    if commas or points:
        return "," if commas > points else "."
    return "," if any(value > load_max for value in grouped) else "."


@dataclass(frozen=True)
class NumberStyle:
    """How the file writes numbers."""

    decimal: Decimal
    is_given: bool
    thousands: str | None


def in_kg(number: str, unit: str) -> pl.Expr:
    """The column `number` in kilograms; `unit` names the column of its units."""
    return pl.col(number) * pl.when(pl.col(unit) == "lb").then(KG_PER_LB).otherwise(1.0)


def number_columns(texts: pl.Series, style: NumberStyle) -> pl.DataFrame:
    """Columns value, unit, is_added, is_assisted, is_read of number texts."""
    clean = r"^[0-9]+$" if style.decimal == "," else r"^[0-9]+(?:\.[0-9]+)?$"
    text = pl.col("text")
    frame = (
        texts.alias("text")
        .to_frame()
        .select(
            "text",
            pl.when(text.str.contains(clean))
            .then(text)
            .cast(pl.Float64, strict=False)
            .alias("value"),
        )
    )
    missing = frame["value"].is_null() & texts.is_not_null()
    if not missing.any():
        return frame.select(
            "value",
            pl.lit(None, dtype=pl.String).alias("unit"),
            pl.lit(False).alias("is_added"),
            pl.lit(False).alias("is_assisted"),
            pl.lit(True).alias("is_read"),
        )
    left = texts.filter(missing).unique().to_list()
    read = {
        each: read_number(each, style.decimal, style.is_given, style.thousands) for each in left
    }
    told = pl.DataFrame(
        [
            (each, number.value, number.unit, number.is_added, number.is_assisted, True)
            for each, number in read.items()
            if number is not None
        ],
        schema={
            "text": pl.String,
            "told": pl.Float64,
            "unit": pl.String,
            "is_added": pl.Boolean,
            "is_assisted": pl.Boolean,
            "is_read": pl.Boolean,
        },
        orient="row",
    )
    joined = frame.join(told, on="text", how="left", maintain_order="left")
    return joined.select(
        pl.coalesce("value", "told").alias("value"),
        "unit",
        pl.col("is_added", "is_assisted").fill_null(False),
        (pl.col("is_read").fill_null(False) | pl.col("value").is_not_null() | text.is_null()).alias(
            "is_read"
        ),
    )
