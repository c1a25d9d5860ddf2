"""What the cells of a column hold, whatever its header says: numbers, lifts, days, set lists."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from functools import cached_property

import polars as pl

from pipeline.drafting.date_formats import DayForm, day_form, serial_form
from pipeline.drafting.header_words import LOOKED_AT, OTHER, SURE, HeaderReading, Vocabulary
from pipeline.names.catalogue import Catalogue
from pipeline.reading.dates import read_clock
from pipeline.reading.noted_sets import NotationError
from pipeline.reading.numbers import Decimal, Number, detect_decimal, read_number
from pipeline.reading.set_notation import parse_column
from pipeline.reading.word_lists import words

_TRIED = 300
_MANY = 5000
_LIST = re.compile(
    # between two numbers a mark or spaces, never both by turns: that would take time without end
    r"[1-9][0-9]?(?:(?:\s*[,;/|+]\s*|\s+)[1-9][0-9]?)+|[1-9][0-9]?(?:\s*[–-]\s*[1-9][0-9]?){2,}"
)
_COUNTED = re.compile(r"[1-9][0-9]? ?[x×*X] ?[1-9][0-9]?")
_NUMERIC = re.compile(r"[+-]?\s?[0-9][0-9.,' ]*\s?(?:[A-Za-z]{1,5}\.?)?")
_MAY_LIST = re.compile(r"[0-9a-z]\W{0,3}[x×X*@:(-]? ?[0-9]", re.IGNORECASE)
"""Something with a number behind it: what no cell that lists sets lacks."""
_LIKE_SETS = re.compile(r"[0-9] ?(?:kg|lbs?)?\)? ?[x×*@] ?\(?[0-9]", re.IGNORECASE)
_BLANKS = words("blank")
_INSIDE = re.compile(r"[0-9]+(?:[.,][0-9]+)?")


@dataclass(frozen=True)
class Column:
    """A column of an unknown export."""

    place: int
    """From 0."""
    name: str
    header: HeaderReading
    texts: pl.Series
    """Stripped cells in file order, of each what drafting looks at; null where empty."""
    counts: dict[str, int]
    """Each distinct text with its number of cells, the most frequent first."""
    decimal: Decimal
    catalogue: Catalogue
    vocabulary: Vocabulary
    tomorrow: date

    @property
    def filled(self) -> int:
        """Cells that hold something."""
        return sum(self.counts.values())

    @property
    def filled_share(self) -> float:
        """Share of the records whose cell holds something."""
        return self.filled / max(self.texts.len(), 1)

    def share(self, test: Callable[[str], object], most: int | None = None) -> float:
        """Share of the filled cells that pass a test, by the most frequent texts."""
        items = list(self.counts.items())[:most]
        total = sum(times for _, times in items)
        return sum(times for text, times in items if test(text)) / total if total else 0.0

    @cached_property
    def days(self) -> DayForm | None:
        """The form of its days; None if it holds none."""
        if not any(char.isdigit() for text in list(self.counts)[:5] for char in text):
            return None
        changes = self.texts.drop_nulls()
        changes = changes.filter((changes != changes.shift()).fill_null(True))
        found = day_form(self.counts, changes.head(20_000).to_list(), self.tomorrow)
        is_called = self.header.strength("performed_on", "started_at") >= SURE
        if found is None and (is_called or self.header.says_nothing):
            return serial_form(self.counts, self.tomorrow)
        return found

    @cached_property
    def numbers(self) -> dict[str, Number]:
        """The texts that read as numbers."""
        texts = list(self.counts)
        if len(texts) > _MANY and not any(_NUMERIC.fullmatch(text) for text in texts[:_TRIED]):
            return {}
        read = {text: read_number(text, self.decimal) for text in texts}
        return {text: number for text, number in read.items() if number is not None}

    @cached_property
    def values(self) -> dict[float, int]:
        """Each number with its number of cells, in rising order."""
        counted: Counter[float] = Counter()
        for text, number in self.numbers.items():
            if number.value is not None:
                counted[number.value] += self.counts[text]
        return dict(sorted(counted.items()))

    @cached_property
    def number_share(self) -> float:
        """Share of the cells that are numbers, with a unit or not."""
        return self.share(
            lambda text: text in self.numbers and self.numbers[text].value is not None
        )

    def within(self, low: float, high: float, *, whole: bool = False) -> float:
        """Share of the numbers that lie in a range."""
        total = sum(self.values.values())
        inside = sum(
            times
            for value, times in self.values.items()
            if low <= value <= high and (not whole or value == int(value))
        )
        return inside / total if total else 0.0

    def quantile(self, at: float) -> float:
        """A quantile of the numbers."""
        left = at * sum(self.values.values())
        for value, times in self.values.items():
            left -= times
            if left <= 0:
                return value
        return max(self.values, default=0.0)

    @cached_property
    def clock_share(self) -> float:
        """Share of the cells that are clock times with a colon or an h."""
        return self.share(lambda text: re.search(r"\d[:h.]\d\d", text) and read_clock(text), _TRIED)

    @cached_property
    def known_share(self) -> float:
        """Share of the cells that name a known exercise."""
        if self.number_share > 0.5:
            return 0.0
        return self.share(lambda text: self.catalogue.resolve(text).how != "unknown", _TRIED)

    @cached_property
    def notation_share(self) -> float:
        """Share of the cells that list sets with loads, such as 80x8, 75x10@1."""
        tried = list(self.counts)[:_TRIED]
        marked = [text for text in tried if _MAY_LIST.search(text[:LOOKED_AT])]
        if not marked:
            return 0.0
        read = parse_column(marked)
        good = {text for text, found in read.items() if not isinstance(found, NotationError)}
        blank = self.share(is_blank_mark, _TRIED)
        return self.share(lambda text: text in good, _TRIED) / (1 - blank)

    @cached_property
    def list_share(self) -> float:
        """Share of the cells that list reps alone, such as 8, 8, 7 or 3x8."""
        return self.share(lambda text: _LIST.fullmatch(text) or _COUNTED.fullmatch(text), _TRIED)

    @cached_property
    def set_like_share(self) -> float:
        """Share of the cells that look like sets, whether they can be read or not."""
        return self.share(lambda text: bool(_LIKE_SETS.search(text[:LOOKED_AT])), _TRIED)

    @cached_property
    def unread_list(self) -> tuple[str, str] | None:
        """A cell that is refused as a list of sets, and why: one that looks like it if any does."""
        tried = list(self.counts)[:_TRIED]
        liked = [text for text in tried if _LIKE_SETS.search(text[:LOOKED_AT])]
        for text, found in parse_column(liked or tried).items():
            if isinstance(found, NotationError):
                return text, found.reason
        return None

    def mark_share(self, *meanings: str) -> float:
        """Share of the cells that are marks of some meanings in any language."""
        wanted = set(meanings)
        return self.share(lambda text: self.vocabulary.meanings(text) & wanted, _TRIED)

    @property
    def is_text(self) -> bool:
        """Whether most cells are neither numbers nor days nor clock times."""
        return self.number_share < 0.5 and self.days is None and self.clock_share < 0.5


def inner_number(text: str) -> str | None:
    """The one number in a cell such as "RIR 2" or "12 reps"; the middle of "1-2"."""
    found = _INSIDE.findall(text)
    if len(found) == 1:
        return str(found[0])
    if re.fullmatch(r"\D*[0-9](?:[.,]5)? ?[–-] ?[0-9](?:[.,]5)?\D*", text):
        low, high = (float(each.replace(",", ".")) for each in found)
        return f"{(low + high) / 2:g}"
    return None


def is_blank_mark(text: str) -> bool:
    """Whether a cell says in so many signs that it is empty."""
    return text.casefold() in _BLANKS


def columns_of(
    records: pl.DataFrame,
    headers: list[HeaderReading],
    catalogue: Catalogue,
    vocabulary: Vocabulary,
    load_max: float,
    tomorrow: date,
) -> tuple[list[Column], Decimal, dict[str, int]]:
    """The columns, the file's decimal mark, and how many cells show each mark."""
    series = {
        header.name: records[header.name]
        .str.strip_chars()
        .str.slice(0, LOOKED_AT)
        .replace("", None)
        for header in headers
    }
    counts = {name: _counts(texts) for name, texts in series.items()}
    numeric = [
        text
        for header in headers
        if header.strength(OTHER, "performed_on", "started_at") < SURE
        for each in (counts[header.name],)
        if _numeric_share(each) > 0.5
        for text in each
        if re.search(r"[.,]", text) and _NUMERIC.fullmatch(text)
    ]
    decimal = detect_decimal(sorted(set(numeric)), load_max)
    marks = Counter(
        text[match.start()]
        for text in numeric
        if (match := re.search(r"[.,](?=[0-9]{1,2}(?![0-9.,]))", text))
    )
    columns = [
        Column(place, header.name, header, series[header.name], counts[header.name], decimal,
                catalogue, vocabulary, tomorrow)
        for place, header in enumerate(headers)
    ]  # fmt: skip
    return columns, decimal, dict(marks)


def _counts(texts: pl.Series) -> dict[str, int]:
    counted = (
        texts.drop_nulls()
        .alias("text")
        .value_counts(sort=False)
        .sort(["count", "text"], descending=[True, False])
    )
    return dict(counted.iter_rows())


def _numeric_share(counts: dict[str, int]) -> float:
    total = sum(counts.values())
    fits = sum(times for text, times in counts.items() if _NUMERIC.fullmatch(text))
    return fits / total if total else 0.0
