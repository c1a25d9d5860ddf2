"""A mapping: which export column fills which ledger field, as frozen classes."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field
from typing import Literal

from pipeline.settings.words import SIDE_WORDS
from pipeline.units import Unit

Rows = Literal["sets", "exercises", "wide", "days"]

FIELDS: tuple[str, ...] = (
    "performed_on",
    "exercise",
    "load",
    "reps",
    "client",
    "started_at",
    "set_no",
    "side",
    "rir",
    "rpe",
    "to_failure",
    "partial_reps",
    "set_kind",
    "load_unit",
    "load_basis",
    "notes",
    "bodyweight",
    "set_count",
)
"""Ledger fields that a column or a constant may fill."""

VALUE_FIELDS = (
    "set_kind",
    "side",
    "to_failure",
    "load_unit",
    "load_basis",
    "exercise",
    "client",
    "load",
    "reps",
    "rir",
    "rpe",
    "set_no",
)
"""Fields whose export values `[values.<field>]` may translate; to "" for an empty cell."""

OPEN_MARK = "#? "
"""Begins a line of a mapping that a person has to choose; see `mapping_file`."""

LEDGER_WORDS: dict[str, tuple[str, ...]] = {
    "set_kind": ("work", "warmup", "extension"),
    "side": ("left", "right", "both"),
    "to_failure": ("true", "false"),
    "load_unit": ("kg", "lb"),
    "load_basis": ("total", "per_hand", "added", "assisted", "none"),
}
"""What `[values.<field>]` may translate to, where the ledger knows only certain words."""

PER_SET_FIELDS = (
    "load",
    "reps",
    "set_no",
    "side",
    "rir",
    "rpe",
    "to_failure",
    "partial_reps",
    "set_kind",
    "load_unit",
    "load_basis",
)
"""Fields that a numbered column ("kg{n}") may fill in the layout "wide"."""

CARRIED_FIELDS = ("performed_on", "client", "exercise", "started_at")
"""Fields of which `[layout] carried` may say that an empty cell repeats the one above."""

SETS_COLUMN = "sets"
"""Key under [columns] that names the cells with a list of sets, in "exercises" and "days"."""

NUMBER_MARK, SIDE_MARK, EXERCISE_MARK = "{n}", "{side}", "{exercise}"
"""What stands in a column's name for the number of a set, a side, an exercise."""

MARKS = (NUMBER_MARK, SIDE_MARK)
"""Marks by which one name stands for several columns of the layout "wide"."""


@dataclass(frozen=True)
class FileFormat:
    """How the bytes of an export are read; None means: detect it."""

    encoding: str | None = None
    delimiter: str | None = None
    quote: str | None = None
    decimal: str | None = None
    thousands: str | None = None
    skip_rows: int | None = None
    header: bool = True
    """False: the file has no header line; columns are then named column_1, column_2, …"""


@dataclass(frozen=True)
class Mapping:
    """One mapping file. `columns` and `constants` are keyed by ledger field."""

    name: str
    path: str
    """As written in setledger.toml: what messages name."""
    file: FileFormat
    rows: Rows
    columns: dict[str, str]
    """Ledger field to export column; numbered columns carry "{n}"; `sets` for "exercises"."""
    date_format: str | None
    """strptime pattern; None: ISO 8601 days or moments."""
    started_at_format: str | None
    load_unit: Unit | None
    bodyweight_unit: Unit | None
    """Unit of the bodyweight column; None: that of the loads."""
    carried: tuple[str, ...] = ()
    """Fields whose empty cells repeat the cell above."""
    day_columns: tuple[str, ...] = ()
    """The columns whose cells, joined by a space, are the day; empty: one column is."""
    year: int | None = None
    """Year of the first line's day, where days are written without one."""
    skip_columns: tuple[str, ...] = ()
    """In the layout "days": columns that are no exercise."""
    skip: tuple[str, ...] = ()
    """Words that are the whole day or exercise cell of rows that are no sets."""
    client_label: str | None = None
    """What stands before the client's name on a line above the header."""
    is_named_by_file: bool = False
    """Whether the file's name says whose sets these are, where no line above the header does."""
    name_words: tuple[str, ...] = ()
    """Words of files' names that are no part of a client's name."""
    nameless_client: str | None = None
    """Whose sets they are where a file's name leaves nothing."""
    values: dict[str, dict[str, str]] = field(default_factory=dict)
    constants: dict[str, str] = field(default_factory=dict)
    text: str = ""
    """The file as it was read; kept with each version so that a rebuild reads the same."""

    @property
    def column_names(self) -> tuple[str, ...]:
        """Columns that the mapping names in so many words, or by the number of a set."""
        named = (*self.columns.values(), *self.day_columns)
        joined = self.columns.get("performed_on") if self.day_columns else None
        return tuple(
            each
            for each in named
            if each != joined and SIDE_MARK not in each and EXERCISE_MARK not in each
        )

    @property
    def side_words(self) -> tuple[str, ...]:
        """The words that {side} in a column's name may stand for."""
        known = (each for each, side in SIDE_WORDS.items() if side)
        return tuple(dict.fromkeys((*self.values.get("side", {}), *known)))

    @property
    def sha256(self) -> str:
        """Digest of the mapping file's text."""
        return hashlib.sha256(self.text.encode()).hexdigest()


def is_numbered(column: str) -> bool:
    """Whether a column's name stands for several columns of the layout "wide"."""
    return any(mark in column for mark in MARKS)
