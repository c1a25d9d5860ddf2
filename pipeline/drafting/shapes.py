"""Files of one shape: the same columns, cut the same way, with days, units and decimals alike."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

import polars as pl

from pipeline.drafting.draft import Draft
from pipeline.drafting.steps import draft_export, draft_sniffed
from pipeline.names.catalogue import Catalogue
from pipeline.settings.mapping import Mapping
from pipeline.settings.rules import Rules

_ASCII = "only ASCII characters"


@dataclass(frozen=True)
class Candidate:
    """An unknown file with the draft that it gives by itself."""

    path: Path
    """As a person named it."""
    shown: str
    """Relative to the workspace."""
    data: bytes
    draft: Draft

    @property
    def cut(self) -> tuple[object, ...]:
        """How it is cut into columns, and their names; without a header what they are taken for."""
        sniffed = self.draft.sniffed
        columns: tuple[object, ...] = sniffed.export.written_header
        if not sniffed.has_header:
            columns = tuple(
                (each.key, each.value) for each in self.draft.guesses if each.section == "columns"
            )
        return (sniffed.has_header, sniffed.delimiter, sniffed.quote, self.draft.rows, columns)

    @property
    def encoding(self) -> str | None:
        """Its encoding; None if any would do."""
        sniffed = self.draft.sniffed
        return None if sniffed.encoding_reason == _ASCII else sniffed.encoding.removesuffix("-sig")

    def readings(self, section: str, key: str) -> tuple[object, ...]:
        """The values of a key that fit the file, the likelier first; empty: it needs none."""
        for guess in self.draft.guesses:
            if (guess.section, guess.key) == (section, key):
                return (guess.value,)
        return tuple(
            value
            for each in self.draft.opens
            if each.section == section
            for name, value in each.readings
            if name == key
        )

    @property
    def days(self) -> tuple[object, ...]:
        """Forms in which its days may be written; None: one that needs no pattern."""
        return self.readings("formats", "date") or (None,)


_KEYS = (("formats", "load_unit"), ("file", "decimal"))


def _agree(one: Candidate, other: Candidate) -> bool:
    """Whether two files may be of one shape: what one tells, the other does not deny."""
    if one.cut != other.cut or not set(one.days) & set(other.days):
        return False
    if one.encoding and other.encoding and one.encoding != other.encoding:
        return False
    for section, key in _KEYS:
        mine, theirs = one.readings(section, key), other.readings(section, key)
        if mine and theirs and not set(mine) & set(theirs):
            return False
    return True


def _is_open(one: Candidate) -> bool:
    return len(one.days) > 1 or any(len(one.readings(*key)) > 1 for key in _KEYS)


def grouped(candidates: Sequence[Candidate]) -> list[list[Candidate]]:
    """The files by shape, each group in the order given.

    A file that leaves a key open joins the files that tell it, if they are all of one mind.
    """
    order = {candidate.shown: place for place, candidate in enumerate(candidates)}
    groups: list[list[Candidate]] = []
    for each in sorted(candidates, key=_is_open):
        fitting = [group for group in groups if all(_agree(each, other) for other in group)]
        if len(fitting) == 1:
            fitting[0].append(each)
        else:
            groups.append([each])
    for group in groups:
        group.sort(key=lambda each: order[each.shown])
    return sorted(groups, key=lambda group: order[group[0].shown])


def joint_draft(
    group: Sequence[Candidate], catalogue: Catalogue, rules: Rules, tomorrow: date
) -> Draft:
    """One draft from the lines of all files of a shape."""
    if len(group) == 1:
        return group[0].draft
    first = next((each for each in group if each.encoding), group[0]).draft.sniffed
    records = pl.concat([each.draft.sniffed.export.records for each in group])
    preamble = tuple(line for each in group for line in each.draft.sniffed.preamble)
    sniffed = replace(
        first,
        export=replace(first.export, records=records),
        delimiter_share=min(each.draft.sniffed.delimiter_share for each in group),
        preamble=preamble,
    )
    return draft_sniffed(sniffed, group[0].shown, catalogue, rules, tomorrow)


def told_by_others(group: Sequence[Candidate], draft: Draft) -> list[str]:
    """A sentence for each file that leaves open what the other files of its shape tell."""
    told = {(each.section, each.key): each.value for each in draft.guesses}
    said = []
    for each in group:
        for key in (("formats", "date"), *_KEYS):
            readings = each.readings(*key)
            if len(readings) > 1 and key in told:
                listed = " or ".join(str(value) for value in readings)
                said.append(
                    f"{each.shown}: by itself it could be {listed} ([{key[0]}] {key[1]}); read as "
                    f"{told[key]}, like the other files of its shape. If that is wrong, draft it "
                    "by itself."
                )
    return said


@dataclass(frozen=True)
class Known:
    """What one source reads: its mapping, and how a file that it has read is cut."""

    mapping: Mapping
    header: tuple[str, ...]
    delimiter: str


def is_of_shape(known: Known, candidate: Candidate, *, is_known_client: bool) -> bool:
    """Whether a file may join a source by itself: nothing in it speaks for another reading.

    What the file leaves open is the source's only if its client has files there already.
    """
    sniffed, mapping = candidate.draft.sniffed, known.mapping
    is_cut_alike = (
        sniffed.has_header
        and mapping.file.header
        and sniffed.export.written_header == known.header
        and sniffed.delimiter == known.delimiter
        and candidate.draft.rows == mapping.rows
    )
    if not is_cut_alike:
        return False
    units = candidate.readings("formats", "load_unit")
    decimals = candidate.readings("file", "decimal")
    if any(len(each) > 1 for each in (candidate.days, units, decimals)) and not is_known_client:
        return False
    return (
        mapping.date_format in candidate.days
        and (not units or mapping.load_unit in units)
        and (not decimals or mapping.file.decimal in (None, *decimals))
    )


def candidate_of(
    path: Path, shown: str, data: bytes, catalogue: Catalogue, rules: Rules, tomorrow: date
) -> Candidate:
    """An unknown file with its draft. Raises ExportError if it holds no log."""
    return Candidate(path, shown, data, draft_export(data, shown, catalogue, rules, tomorrow))
