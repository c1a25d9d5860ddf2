"""The draft of a mapping under way: columns, guesses with reasons, keys left open."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

import polars as pl

from pipeline.drafting.cell_words import flag_values, kind_readings, number_values, plain_values
from pipeline.drafting.column_profiles import Column
from pipeline.drafting.header_words import LANGUAGES, SURE, main_languages
from pipeline.drafting.sniffer import Sniffed
from pipeline.reading.dates import read_by_format, read_moment
from pipeline.reading.numbers import Decimal
from pipeline.settings.mapping import Rows

Value = str | int | bool | list[str]

GUESS_FROM = 0.8
"""A reading of lower confidence is left for a person to choose."""

REPS_MOST = 50
"""A column with more repetitions in a set is none of repetitions, unless its header says so."""

FEW = 3
"""Fewer cases than these tell nothing; more readings than these are not listed."""


@dataclass(frozen=True)
class Guess:
    """A key of the mapping, how sure it is (0 to 1), and why."""

    section: str
    """Empty: a key before the first section."""
    key: str
    value: Value
    confidence: float
    reason: str


@dataclass(frozen=True)
class Open:
    """A key that a person must choose: readings that all fit."""

    section: str
    readings: tuple[tuple[str, Value], ...]
    """(key, value) of each reading, the likelier first."""
    reason: str
    """A phrase that names the column and what speaks for the readings."""


@dataclass(frozen=True)
class Unread:
    """A column that the mapping does not read, and why."""

    column: str
    reason: str
    is_filled: bool = True


@dataclass
class Draft:
    """An unknown export under way to its mapping; each column is taken once."""

    sniffed: Sniffed
    columns: list[Column]
    decimal: Decimal
    decimal_marks: dict[str, int]
    shown: str
    guesses: list[Guess] = field(default_factory=list)
    opens: list[Open] = field(default_factory=list)
    taken: dict[str, str] = field(default_factory=dict)
    """Column to the field that it fills."""
    unread_because: dict[str, str] = field(default_factory=dict)
    """Column to why it is not read, where a decision left it out."""
    rows: Rows = "sets"
    day: Column | None = None
    exercise: Column | None = None
    client: Column | None = None
    loads: list[Column] = field(default_factory=list)
    """Columns that hold loads, or lists of sets with loads."""
    unread: list[Unread] = field(default_factory=list)
    doubts: list[str] = field(default_factory=list)
    """Sentences on columns that are called like a field and are not read: a person must look."""

    def __post_init__(self) -> None:
        self.languages: Sequence[str] = main_languages(each.header for each in self.columns)

    def guess(self, section: str, key: str, value: Value, confidence: float, reason: str) -> None:
        """Note a key of the mapping."""
        self.guesses.append(Guess(section, key, value, round(min(confidence, 0.99), 2), reason))

    def take(
        self, key: str, column: Column, confidence: float, why: str = "", name: str | None = None
    ) -> None:
        """Let a column (or, by `name`, a numbered pattern) fill a field."""
        reason = "; ".join(part for part in (self.header_reason(column), why) if part)
        self.guess("columns", key, name or column.name, confidence, reason)
        self.taken[column.name] = key

    def ask(self, section: str, readings: Iterable[tuple[str, Value]], reason: str) -> None:
        """Leave a key to a person; `reason` names the column."""
        self.opens.append(Open(section, tuple(readings), reason))

    def header_reason(self, column: Column) -> str:
        """What of a guess rests on the header, in words."""
        header = column.header
        if header.says_nothing:
            return "no known header word" if self.sniffed.has_header else "no header"
        named = [LANGUAGES[each] for each in LANGUAGES if each in header.languages]
        spoken = "/".join(named[:3]) if len(named) < 5 else "many languages"
        return f"header word ({spoken})" if named else "header"

    def free(self) -> list[Column]:
        """Columns that fill no field yet and hold something."""
        return [each for each in self.columns if each.name not in self.taken and each.counts]

    def headed(
        self, fields: Sequence[str], fits: Callable[[Column], float], least: float
    ) -> list[Column]:
        """Free columns whose header names a field and whose cells allow it, best first."""
        found = [
            each
            for each in self.free()
            if each.header.strength(*fields) >= SURE
            and each.header.strength(*fields) >= each.header.strength(*each.header.strengths)
            and fits(each) >= least
        ]
        return sorted(
            found,
            key=lambda each: (
                -each.header.strength(*fields),
                -round(each.filled_share, 1),
                each.place,
            ),
        )

    def best_or_ask(self, key: str, found: list[Column]) -> Column | None:
        """The best column, or None after asking which of several equal ones it is."""
        if not found:
            return None
        best = found[0]
        strength = best.header.strength(key)
        rivals = [
            each
            for each in found[1:]
            if each.header.strength(key) >= strength - 0.05
            and each.filled_share >= 0.3 * best.filled_share
            and not each.texts.equals(best.texts)
        ]
        if not rivals:
            return best
        options = [best, *rivals]
        listed = " and ".join(f"'{each.name}'" for each in options)
        self.ask(
            "columns",
            [(key, each.name) for each in options],
            f"the headers {listed} both name this field",
        )
        for each in options:
            self.taken[each.name] = key
        return None

    def free_numbers(self) -> list[Column]:
        """Free columns of numbers whose header says nothing."""
        return [
            each
            for each in self.free()
            if each.number_share >= 0.5 and each.days is None and each.header.says_nothing
        ]

    def translate_values(self, key: str, table: dict[str, tuple[str, str]]) -> None:
        """[values.<key>]: each text once, though several columns may hold it."""
        section = f"values.{key}"
        known = {each.key for each in self.guesses if each.section == section}
        for text, (value, reason) in table.items():
            if text not in known:
                self.guess(section, text, value, 0.9, reason)

    def translate(self, key: str, column: Column) -> None:
        """What the ledger is to read for words and for cells that are no plain number."""
        if key in ("load", "reps", "rir", "rpe"):
            self.translate_values(key, number_values(column, key))
        elif key in ("warmup", "set_kind"):
            told, _ = kind_readings(column, self.languages, {})
            flagged = flag_values(column, "warmup", self.languages) if key == "warmup" else {}
            self.translate_values("set_kind", flagged or told)
        elif key in ("side", "load_unit", "to_failure", "load_basis"):
            self.translate_values(key, plain_values(column, key, self.languages))

    def explained_by_exercise(self, column: Column) -> float:
        """Share of the variance that the exercise explains (eta squared), 0 to 1."""
        if self.exercise is None:
            return 0.0
        frame = pl.DataFrame(
            {"exercise": self.exercise.texts.forward_fill(), "value": numbers_of(column)}
        ).drop_nulls()
        total = frame.select((pl.col("value") - pl.col("value").mean()).pow(2).sum()).item()
        if not total:
            return 0.0
        within = frame.select(
            (pl.col("value") - pl.col("value").mean().over("exercise")).pow(2).sum()
        ).item()
        return float(max(0.0, 1 - within / total))


def days_of(column: Column) -> pl.Series:
    """The calendar days of a column; null where a cell is none."""
    pattern = column.days.pattern if column.days else None
    read = {
        text: found.day
        for text in column.counts
        if (found := read_by_format(text, pattern) if pattern else read_moment(text))
    }
    return column.texts.replace_strict(
        list(read), list(read.values()), default=None, return_dtype=pl.Date
    )


def numbers_of(column: Column) -> pl.Series:
    """The numbers of a column; null where a cell is none."""
    read = {text: number.value for text, number in column.numbers.items()}
    return column.texts.replace_strict(
        list(read), list(read.values()), default=None, return_dtype=pl.Float64
    )


def reps_fit(column: Column) -> float:
    """Share of the cells that are repetitions, or become so by [values.reps]."""
    words = number_values(column, "reps")
    plain = column.number_share * column.within(0, 100, whole=True)
    return plain + column.share(lambda text: text in words)


def fits(column: Column, name: str) -> float:
    """Whether the cells may be what the header says: 0 to 1."""
    if name == "reps":
        return reps_fit(column) >= 0.6
    if name == "load":
        words = number_values(column, "load")
        return (column.days is None) and (
            column.number_share + column.share(lambda text: text in words)
        )
    if name in ("rir", "rpe", "effort"):
        words = number_values(column, "rir") | number_values(column, "rpe")
        share = column.number_share + column.share(lambda text: text in words or text.endswith("+"))
        return share if column.within(0, 20) > 0.9 or not column.values else 0.0
    if name == "partial_reps":
        return column.number_share
    marks = {
        "side": ("left", "right", "both"),
        "load_unit": ("kg", "lb"),
        "to_failure": ("true", "false"),
        "set_kind": ("warmup", "work", "extension", "failure"),
        "warmup": ("true", "false", "warmup", "work"),
    }
    return column.mark_share(*marks[name])
