"""What every stage of reading may ask: the export, its mapping, whose lines, what is believed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from functools import cached_property

from pipeline.names.clients import ClientIndex
from pipeline.reading.export import Export
from pipeline.reading.numbers import Decimal, NumberStyle, detect_decimal
from pipeline.settings.mapping import Mapping, is_numbered
from pipeline.settings.rules import Rules
from pipeline.units import KG_PER_UNIT


@dataclass(frozen=True)
class Context:
    """One export under its mapping."""

    export: Export
    mapping: Mapping
    clients: ClientIndex
    tomorrow: date
    """The last day that is believed."""
    rules: Rules
    period: tuple[date | None, date | None]
    """The first and the last day that the source is to give; None: no bound."""

    def gives(self, field: str) -> bool:
        """Whether the mapping says where a field stands or what it always is."""
        return field in self.mapping.columns or field in self.mapping.constants

    def column(self, field: str) -> str:
        """The column of the records that fills a field. Raises ConfigError if there is none."""
        return self.export.column(self.mapping.columns[field], self.key(field))

    def key(self, field: str) -> str:
        """The mapping's key for a field, as a message names it."""
        return f"{self.mapping.path}: [columns] {field}"

    def shown(self, field: str) -> str:
        """A field as a person finds it: the export's column."""
        return f"'{self.mapping.columns.get(field, field)}'"

    @cached_property
    def number_style(self) -> NumberStyle:
        """How the file writes numbers: as the mapping says, else as its number columns show."""
        form = self.mapping.file
        if form.decimal:
            mark: Decimal = "," if form.decimal == "," else "."
            return NumberStyle(mark, True, form.thousands)
        marked: set[str] = set()
        for field in ("load", "bodyweight", "rir", "rpe"):
            marked.update(self._marked_texts(field))
        load_max = self.rules.load_max_kg / KG_PER_UNIT[self.mapping.load_unit or "lb"]
        return NumberStyle(detect_decimal(sorted(marked), load_max), False, form.thousands)

    def _marked_texts(self, field: str) -> set[str]:
        """Distinct texts of a field that have a comma or a point."""
        if field in self.mapping.constants:
            return {self.mapping.constants[field]}
        written = self.mapping.columns.get(field)
        if written is None:
            return set()
        if is_numbered(written):
            found = self.export.columns_of(written, self.key(field), self.mapping.side_words)
            columns = list(found.values())
        else:
            columns = [self.column(field)]
        cells = (self.export.records[column] for column in columns)
        return {text for each in cells for text in each.filter(each.str.contains("[.,]")).unique()}
