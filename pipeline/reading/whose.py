"""Whose sets an export holds that has no column for it: by a line above the header or its name."""

from __future__ import annotations

from pipeline.reading.export import Export
from pipeline.reading.file_names import name_in
from pipeline.reading.month_names import fold_name
from pipeline.settings.mapping import Mapping


def labelled(line: str, delimiter: str) -> tuple[str, str] | None:
    """A label and what it names, of a line such as "Athlete: Mara Lind" or "Athlete;Mara Lind"."""
    cells = [cell.strip(" \t\"'#") for cell in line.split(delimiter)]
    cells = [cell for cell in cells if cell]
    if not cells:
        return None
    label, mark, value = cells[0].partition(":")
    value = value.strip() or (cells[1] if len(cells) > 1 else "")
    return (label.strip(), value) if value and (mark or len(cells) > 1) else None


def name_of_client(export: Export, mapping: Mapping) -> str:
    """The client's name as the file tells it; empty where the mapping names no place or it is bare.

    A line above the header wins over the file's name.
    """
    if mapping.client_label:
        wanted = fold_name(mapping.client_label)
        for line in export.preamble:
            found = labelled(line, export.delimiter)
            if found and fold_name(found[0]) == wanted:
                return found[1]
    if not mapping.is_named_by_file:
        return ""
    return name_in(export.shown, mapping.name_words) or mapping.nameless_client or ""
