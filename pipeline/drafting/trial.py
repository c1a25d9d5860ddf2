"""A drafted mapping tried on its export: what it would load, and what not."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import polars as pl

from pipeline import clock
from pipeline.drafting.draft import Draft
from pipeline.drafting.mapping_text import settled
from pipeline.errors import ConfigError, ExportError
from pipeline.names.clients import ClientIndex
from pipeline.reading.cells import shortened
from pipeline.reading.export import read_export
from pipeline.reading.normalise import Normalised, normalise
from pipeline.reading.reasons import NO_FAULTS
from pipeline.settings.mapping_file import parse_mapping
from pipeline.settings.rules import Rules
from pipeline.settings.workspace import Workspace

SHOWN_ROWS = 5
"""First rows that are shown as they would load."""


@dataclass(frozen=True)
class Trial:
    """What a mapping makes of its export, with the first reading of each open key."""

    loaded: Normalised | None
    """None: the mapping cannot be tried, and `trouble` says why."""
    trouble: str | None = None


def rules_and_tomorrow(workspace: Workspace | None) -> tuple[Rules, date]:
    """The workspace's rules, else the usual ones, and the last day that is believed."""
    tomorrow = clock.today(workspace.timezone if workspace else None) + timedelta(days=1)
    return workspace.rules if workspace else Rules(), tomorrow


def try_mapping(text: str, shown: str, data: bytes, workspace: Workspace | None) -> Trial:
    """What a drafted mapping makes of its export."""
    clients = workspace.clients if workspace else ()
    index = ClientIndex.of((each.id, each.name, each.aliases) for each in clients)
    rules, tomorrow = rules_and_tomorrow(workspace)
    try:
        mapping = parse_mapping(settled(text), shown)
        export = read_export(data, mapping.file, shown, mapping.column_names)
        return Trial(normalise(export, mapping, 0, index, tomorrow, rules))
    except (ConfigError, ExportError) as error:
        return Trial(None, str(error))


def lines_at_fault(loaded: Normalised) -> int:
    """Lines set aside for what speaks against the draft; holds do not."""
    return loaded.set_aside.filter(~pl.col("reason").is_in(list(NO_FAULTS))).height


def counted_lines(loaded: Normalised, shown: str) -> str:
    """How many lines give how many sets, and why others would not."""
    told = f"{shown}: {loaded.lines_loaded} of {loaded.lines_read} lines give "
    told += f"{loaded.sets.height} sets"
    if loaded.lines_set_aside:
        told += f"; {loaded.lines_set_aside} would be set aside: {commonest_reasons(loaded)}"
    return told if told.endswith(".") else f"{told}."


def commonest_reasons(loaded: Normalised) -> str:
    """The first line of each of the commonest reasons."""
    grouped = loaded.set_aside.group_by("reason", maintain_order=True).first()
    parts = [
        f"line {row['source_line']}: {row['explanation'].rstrip('.')}"
        for row in grouped.head(3).iter_rows(named=True)
    ]
    return "; ".join(parts) + "."


def preview_of(loaded: Normalised, draft: Draft) -> tuple[str, ...]:
    """The first sets as a table of text."""
    columns = ("source_line", "client_id", "performed_on", "exercise_raw", "set_kind", "load_kg",
               "reps", "rir", "rpe")  # fmt: skip
    names = ("line", "client", "day", "exercise", "kind", "load kg", "reps", "RIR", "RPE")
    spelled = pl.col("client_id").replace(loaded.spellings)
    rows = loaded.sets.select(columns).head(SHOWN_ROWS).with_columns(spelled)
    kept = [
        place
        for place, column in enumerate(columns)
        if column not in ("rir", "rpe") or loaded.sets[column].null_count() < loaded.sets.height
    ]
    table = [[names[place] for place in kept]]
    table += [[_shown(row[place]) for place in kept] for row in rows.iter_rows()]
    widths = [max(len(line[place]) for line in table) for place in range(len(kept))]
    lines = [
        "  ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)).rstrip()
        for line in table
    ]
    if draft.opens:
        lines.insert(0, "With the first reading of what is open:")
    return tuple(lines)


def _shown(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, float):
        return f"{value:.2f}".rstrip("0").rstrip(".")
    return shortened(str(value), 32)
