"""Kilograms and pounds: the one place where a unit is turned into another."""

from __future__ import annotations

from typing import Literal

Unit = Literal["kg", "lb"]
UNITS: tuple[Unit, ...] = ("kg", "lb")

KG_PER_LB = 0.45359237
"""Exactly, by the international yard and pound agreement of 1959 (NIST SP 811, appendix B)."""

KG_PER_UNIT: dict[str, float] = {"kg": 1.0, "lb": KG_PER_LB}


def to_kg(load: float, unit: Unit) -> float:
    """A load in kilograms."""
    return load * KG_PER_UNIT[unit]


def from_kg(load_kg: float, unit: Unit) -> float:
    """A load in kilograms, in the unit a client reads."""
    return load_kg / KG_PER_UNIT[unit]
