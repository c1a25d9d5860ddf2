"""A draft as a mapping file: TOML with the reason beside each guess."""

from __future__ import annotations

import json
import re

from pipeline.drafting.draft import Draft, Guess, Open, Value
from pipeline.reading.export import read_export
from pipeline.settings.mapping import OPEN_MARK
from pipeline.settings.mapping_file import parse_mapping

_SECTIONS = ("file", "layout", "client", "columns", "formats", "values", "constants")
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+\Z")


def mapping_text(draft: Draft, name: str, shown: str, data: bytes) -> str:
    """The mapping as TOML, with a comment on each guess."""
    lines = [
        f"# Drafted from {_one_line(shown)}. The number before a reason is how sure it is, 0 to 1.",
    ]
    if draft.opens:
        lines.append(
            f'# Lines that begin with "{OPEN_MARK}" are still to be chosen: take the mark away '
            "before the right one."
        )
    lines += ["", f"name = {quoted(name)}"]
    sections: dict[str, list[str]] = {
        "file": _file_lines(draft, data),
        "layout": _layout_lines(draft),
    }
    for guess in draft.guesses:
        if guess.section not in ("file", "layout"):
            sections.setdefault(guess.section, []).extend(_guess_lines(guess))
    for each in draft.opens:
        sections.setdefault(each.section, []).extend(_open_lines(each))
    if draft.unread:
        sections.setdefault("columns", []).append("")
        sections["columns"].append("# Not read:")
        sections["columns"] += [
            f"#   {quoted(each.column)}: {_one_line(each.reason)}" for each in draft.unread
        ]
    for section in sorted(sections, key=lambda each: _SECTIONS.index(each.split(".")[0])):
        if sections[section]:
            lines += ["", f"[{section}]", *sections[section]]
    return "\n".join(lines) + "\n"


def _file_lines(draft: Draft, data: bytes) -> list[str]:
    sniffed = draft.sniffed
    lines = [
        line for guess in draft.guesses if guess.section == "file" for line in _guess_lines(guess)
    ]
    if not sniffed.has_header:
        lines += [f"# 0.95: {sniffed.header_reason}", "header = false"]
    is_found = sniffed.has_header and _finds_header(draft, data)
    if not is_found and (sniffed.has_header or sniffed.skip_rows):
        lines += [f"# 0.9: {sniffed.skip_rows} lines stand before the first that counts",
                  f"skip_rows = {sniffed.skip_rows}"]  # fmt: skip
    elif sniffed.skip_rows:
        lines.append(
            f"# The header is line {sniffed.skip_rows + 1}: {sniffed.header_reason}. It is found "
            "by its names, wherever it stands."
        )
    return lines


def _finds_header(draft: Draft, data: bytes) -> bool:
    """Whether the reader finds the header by the columns' names."""
    form = {guess.key: guess.value for guess in draft.guesses if guess.section == "file"}
    text = "\n".join(f"{key} = {quoted(value)}" for key, value in form.items())
    mapping = parse_mapping(f"[file]\n{text}\n{_STUB}", "draft")
    names = [str(guess.value) for guess in draft.guesses if guess.section == "columns"]
    read = read_export(data, mapping.file, "draft", names)
    return read.written_header == draft.sniffed.export.written_header


_STUB = '[columns]\nperformed_on = "a"\nexercise = "b"\nreps = "c"\n'


def _layout_lines(draft: Draft) -> list[str]:
    meant = {
        "sets": "a row is one set, or several alike ones",
        "exercises": "one cell lists the sets of a row",
        "wide": "several columns hold the sets of a row",
        "days": "a row is a day, and each other column an exercise whose cells list the sets",
    }
    lines = [f"# {meant[draft.rows]}", f"rows = {quoted(draft.rows)}"]
    for guess in draft.guesses:
        if guess.section == "layout":
            lines += _guess_lines(guess)
    return lines


def _guess_lines(guess: Guess) -> list[str]:
    return [
        f"# {guess.confidence:g}: {_one_line(guess.reason)}",
        f"{_key(guess.key)} = {quoted(guess.value)}",
    ]


def _open_lines(each: Open) -> list[str]:
    return [
        "",
        f"# {_one_line(each.reason)}",
        *(f"{OPEN_MARK}{_key(key)} = {quoted(value)}" for key, value in each.readings),
        "",
    ]


def _key(key: str) -> str:
    return key if _BARE_KEY.match(key) else quoted(key)


def quoted(value: Value) -> str:
    """A value as TOML writes it: JSON's strings are basic strings of TOML, but for DEL."""
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007F")


def _one_line(text: str) -> str:
    """A comment of one line, without control characters."""
    return "".join(char if char.isprintable() else " " for char in " ".join(text.split()))


def settled(text: str) -> str:
    """A mapping's text with the first reading of each group that is still open chosen."""
    lines: list[str] = []
    group: list[str] = []
    for line in (*text.split("\n"), ""):
        if line.strip() and (line.startswith(OPEN_MARK) or line[0] not in "#["):
            group.append(line)
            continue
        chosen = [each for each in group if not each.startswith(OPEN_MARK)]
        lines += chosen or [each.removeprefix(OPEN_MARK) for each in group[:1]]
        group = []
        lines.append(line)
    return "\n".join(lines)


def open_sentence(each: Open, where: str) -> str:
    """A key that is left open, for a person who reads the terminal."""
    readings = " or ".join(f"{_key(key)} = {quoted(value)}" for key, value in each.readings)
    return f"{where}: [{each.section}] {readings} is left open: {each.reason}."
