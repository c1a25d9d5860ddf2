"""Words that exports use for the kind of a set, its side, the load's basis and unit, yes and no."""

from __future__ import annotations

from pipeline.units import Unit

UNIT_WORDS: dict[str, Unit] = {
    **dict.fromkeys(("kg", "kgs", "kilo", "kilos", "kilogram", "kilograms"), "kg"),
    **dict.fromkeys(("lb", "lbs", "pound", "pounds"), "lb"),
}


KIND_WORDS = {
    **dict.fromkeys(("work", "working", "work set", "working set", "normal"), "work"),
    **dict.fromkeys(("warmup", "warm up", "warm-up", "wu", "w", "warmup set"), "warmup"),
    **dict.fromkeys(
        ("extension", "drop", "drop set", "dropset", "drop-set", "rest-pause", "rest pause",
         "partials", "d"),
        "extension",
    ),
}  # fmt: skip


SIDE_WORDS: dict[str, str | None] = {
    **dict.fromkeys(("left", "l"), "left"),
    **dict.fromkeys(("right", "r"), "right"),
    "both": None,
}


BASIS_WORDS = {
    "total": "total",
    **dict.fromkeys(("per_hand", "per hand", "per-hand"), "per_hand"),
    **dict.fromkeys(("added", "weighted"), "added"),
    **dict.fromkeys(("assisted", "assistance"), "assisted"),
    **dict.fromkeys(("none", "no load"), "none"),
}


TRUTH_WORDS = {
    **dict.fromkeys(("true", "t", "yes", "y", "1", "x", "✓", "✔", "ja", "oui", "si", "sí",
                     "sì", "sim"), True),
    **dict.fromkeys(("false", "f", "no", "n", "0", "nein", "non", "não", "nao", "-"), False),
}  # fmt: skip


def word(text: str) -> str:
    """A word as the tables above list it."""
    return " ".join(text.casefold().replace("_", " ").split())
