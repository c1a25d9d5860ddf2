"""The board on which a draft is made: columns, guesses so far, keys left open."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

import polars as pl

from pipeline.drafting.cell_words import flag_values, kind_readings, number_values, plain_values
from pipeline.drafting.column_profiles import Profile
from pipeline.drafting.guesses import Guess, Open, Value
from pipeline.drafting.header_words import LANGUAGES, SURE, main_languages
from pipeline.drafting.sniffer import Sniffed
from pipeline.reading.dates import read_by_format, read_moment
from pipeline.reading.numbers import Decimal
from pipeline.settings.mapping import Rows

REPS_MOST = 50
"""A column with more repetitions in a set is none of repetitions, unless its header says so."""

FEW = 3
"""Fewer cases than these tell nothing; more readings than these are not listed."""


@dataclass
class Board:
    """An unknown export under way to its mapping; each column is taken once."""

    sniffed: Sniffed
    profiles: list[Profile]
    decimal: Decimal
    decimal_marks: dict[str, int]
    shown: str
    guesses: list[Guess] = field(default_factory=list)
    opens: list[Open] = field(default_factory=list)
    taken: dict[str, str] = field(default_factory=dict)
    """Column to the field that it fills."""
    said: dict[str, str] = field(default_factory=dict)
    """Column to why it is not read."""
    rows: Rows = "sets"
    day: Profile | None = None
    exercise: Profile | None = None
    client: Profile | None = None
    loads: list[Profile] = field(default_factory=list)
    """Columns that hold loads, or lists of sets with loads."""

    def __post_init__(self) -> None:
        self.languages: Sequence[str] = main_languages(each.header for each in self.profiles)

    def guess(self, section: str, key: str, value: Value, confidence: float, reason: str) -> None:
        """Note a key of the mapping."""
        self.guesses.append(Guess(section, key, value, round(min(confidence, 0.99), 2), reason))

    def take(
        self, key: str, profile: Profile, confidence: float, why: str = "", name: str | None = None
    ) -> None:
        """Let a column (or, by `name`, a numbered pattern) fill a field."""
        reason = "; ".join(part for part in (self.header_reason(profile), why) if part)
        self.guess("columns", key, name or profile.name, confidence, reason)
        self.taken[profile.name] = key

    def ask(self, section: str, readings: Iterable[tuple[str, Value]], reason: str) -> None:
        """Leave a key to a person; `reason` names the column."""
        self.opens.append(Open(section, tuple(readings), reason))

    def header_reason(self, profile: Profile) -> str:
        """What of a guess rests on the header, in words."""
        header = profile.header
        if header.says_nothing:
            return "no known header word" if self.sniffed.has_header else "no header"
        named = [LANGUAGES[each] for each in LANGUAGES if each in header.languages]
        spoken = "/".join(named[:3]) if len(named) < 5 else "many languages"
        return f"header word ({spoken})" if named else "header"

    def free(self) -> list[Profile]:
        """Columns that fill no field yet and hold something."""
        return [each for each in self.profiles if each.name not in self.taken and each.counts]

    def headed(
        self, fields: Sequence[str], fits: Callable[[Profile], float], least: float
    ) -> list[Profile]:
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

    def only(self, key: str, found: list[Profile]) -> Profile | None:
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

    def numeric_free(self) -> list[Profile]:
        """Free columns of numbers whose header says nothing."""
        return [
            each
            for each in self.free()
            if each.number_share >= 0.5 and each.days is None and each.header.says_nothing
        ]

    def values(self, key: str, table: dict[str, tuple[str, str]]) -> None:
        """[values.<key>]: each text once, though several columns may hold it."""
        section = f"values.{key}"
        known = {each.key for each in self.guesses if each.section == section}
        for text, (value, reason) in table.items():
            if text not in known:
                self.guess(section, text, value, 0.9, reason)

    def translate(self, key: str, each: Profile) -> None:
        """What the ledger is to read for words and for cells that are no plain number."""
        if key in ("load", "reps", "rir", "rpe"):
            self.values(key, number_values(each, key))
        elif key in ("warmup", "set_kind"):
            told, _ = kind_readings(each, self.languages, {})
            flagged = flag_values(each, "warmup", self.languages) if key == "warmup" else {}
            self.values("set_kind", flagged or told)
        elif key in ("side", "load_unit", "to_failure", "load_basis"):
            self.values(key, plain_values(each, key, self.languages))

    def explained(self, each: Profile) -> float:
        """Share of the variance that the exercise explains (eta squared), 0 to 1."""
        if self.exercise is None:
            return 0.0
        frame = pl.DataFrame(
            {"exercise": self.exercise.texts.forward_fill(), "value": numbers_of(each)}
        ).drop_nulls()
        total = frame.select((pl.col("value") - pl.col("value").mean()).pow(2).sum()).item()
        if not total:
            return 0.0
        within = frame.select(
            (pl.col("value") - pl.col("value").mean().over("exercise")).pow(2).sum()
        ).item()
        return float(max(0.0, 1 - within / total))


def days_of(each: Profile) -> pl.Series:
    """The calendar days of a column; null where a cell is none."""
    pattern = each.days.pattern if each.days else None
    read = {
        text: found.day
        for text in each.counts
        if (found := read_by_format(text, pattern) if pattern else read_moment(text))
    }
    return each.texts.replace_strict(
        list(read), list(read.values()), default=None, return_dtype=pl.Date
    )


def numbers_of(each: Profile) -> pl.Series:
    """The numbers of a column; null where a cell is none."""
    read = {text: number.value for text, number in each.numbers.items()}
    return each.texts.replace_strict(
        list(read), list(read.values()), default=None, return_dtype=pl.Float64
    )


def reps_fit(each: Profile) -> float:
    """Share of the cells that are repetitions, or become so by [values.reps]."""
    words = number_values(each, "reps")
    plain = each.number_share * each.within(0, 100, whole=True)
    return plain + each.share(lambda text: text in words)


def fits(each: Profile, name: str) -> float:
    """Whether the cells may be what the header says: 0 to 1."""
    if name == "reps":
        return reps_fit(each) >= 0.6
    if name == "load":
        words = number_values(each, "load")
        return (each.days is None) and (each.number_share + each.share(lambda text: text in words))
    if name in ("rir", "rpe", "effort"):
        words = number_values(each, "rir") | number_values(each, "rpe")
        share = each.number_share + each.share(lambda text: text in words or text.endswith("+"))
        return share if each.within(0, 20) > 0.9 or not each.values else 0.0
    if name == "partial_reps":
        return each.number_share
    marks = {
        "side": ("left", "right", "both"),
        "load_unit": ("kg", "lb"),
        "to_failure": ("true", "false"),
        "set_kind": ("warmup", "work", "extension", "failure"),
        "warmup": ("true", "false", "warmup", "work"),
    }
    return each.mark_share(*marks[name])
