"""setledger.toml edited by commands: what is new is put in, all else stays byte for byte.

tomlkit knows where in a file an entry belongs and how it is written there, also where a list is
written as one line. What it gives is held against what the file then has to say.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT, InlineTable

from pipeline.errors import ConfigError, UsageError
from pipeline.settings.toml_reader import TomlReader, read_toml
from pipeline.settings.workspace import CONFIG_NAME
from pipeline.settings.workspace_file import parse_workspace

Fields = Mapping[str, Any]
"""Keys and values of a new entry, in the order in which they are written."""

_LONG_TEXT = re.compile(r'"""[\s\S]*?"""|\'\'\'[\s\S]*?\'\'\'')


@dataclass(frozen=True)
class Edit:
    """A file's new text, and the lines in it that are new."""

    text: str
    block: str
    line: int
    """Where the block begins, from 1."""


def with_client(text: str, fields: Fields) -> Edit:
    """The text with one more [[clients]], after the last one."""
    held = len(_said(text).get("clients", []))
    return _edited(text, held - 1, lambda document: _append(document, "clients", fields))


def with_entry(text: str, client_id: str, kind: str, fields: Fields) -> Edit:
    """The text with one more [[clients.<kind>]] of a client."""

    def change(document: Any) -> None:
        _append(_client(document, client_id), kind, fields)

    return _edited(text, _place_of(text, client_id), change)


def with_key(text: str, client_id: str, key: str, value: Any) -> Edit:
    """The text with a key of a client set, or its value replaced."""

    def change(document: Any) -> None:
        _client(document, client_id)[key] = value

    return _edited(text, _place_of(text, client_id), change)


def _said(text: str) -> dict[str, Any]:
    return read_toml(text, CONFIG_NAME)[0]


def _place_of(text: str, client_id: str) -> int:
    return next(
        place for place, each in enumerate(_said(text)["clients"]) if each["id"] == client_id
    )


def _client(document: Any, client_id: str) -> Any:
    return next(each for each in document["clients"] if each["id"] == client_id)


def _append(holder: Any, key: str, fields: Fields) -> None:
    """One more entry in a list of tables, in whichever of TOML's ways the list is written."""
    if isinstance(holder, dict) and type(holder) is dict:
        holder.setdefault(key, []).append(dict(fields))
        return
    if key not in holder:
        holder[key] = tomlkit.array() if isinstance(holder, InlineTable) else tomlkit.aot()
    entry = tomlkit.table() if isinstance(holder[key], AoT) else tomlkit.inline_table()
    entry.update(fields)
    holder[key].append(entry)


def _edited(text: str, place: int, change: Callable[[Any], None]) -> Edit:
    """The text after a change to the client in this place, from 0; ConfigError where it would
    not say just what it is to say.

    tomlkit is shown the lines of that client alone, for it would move others that stand apart.
    """
    ending = "\r\n" if "\r\n" in text else "\n"
    old = text if text.endswith("\n") or not text else text + ending
    wanted = _said(old)
    change(wanted)
    if wanted == _said(old):
        raise UsageError(f"{CONFIG_NAME} says so already; nothing was written.")
    lines = _lines(old)
    block = _reader(old).within("clients", place).lines if place >= 0 else []
    first, last = (block[0][0] - 1, block[-1][0]) if block else (0, len(lines))
    part = lines[first:last]
    try:
        document = tomlkit.parse("".join(part))
        change(document)
        new = _lines(tomlkit.dumps(document))
    except (TOMLKitError, LookupError, StopIteration) as error:
        raise _refused() from error
    edit = _placed(lines[:first], part, new, lines[last:], ending, is_first=place < 0)
    try:
        said = tomllib.loads(edit.text)
    except tomllib.TOMLDecodeError as error:
        raise _refused() from error
    if said != wanted:
        raise _refused()
    try:
        parse_workspace(edit.text, Path())
    except ConfigError as error:
        raise ConfigError(f"{error} Nothing was written.") from error
    return edit


def _reader(text: str) -> TomlReader:
    """A reader of the text's tables, in which no text of many lines looks like one."""
    plain = _LONG_TEXT.sub(lambda found: "\n" * found[0].count("\n"), text)
    return TomlReader(plain, CONFIG_NAME)


def _refused() -> ConfigError:
    return ConfigError(
        f"{CONFIG_NAME}: it is written in a way in which a command cannot put this in without "
        "changing other lines; nothing was written. Put it in with an editor."
    )


def _placed(
    before: list[str],
    old: list[str],
    new: list[str],
    after: list[str],
    ending: str,
    *,
    is_first: bool,
) -> Edit:
    """The file with what is new in `new` against `old`: after what it belongs to, a blank line
    around each table.

    A comment below a blank line belongs to what follows it, so what is new stands before it; the
    first client of a file stands at its end.
    """
    start = _alike(old, new)
    rest = min(_alike(old[::-1], new[::-1]), len(old) - start, len(new) - start)
    taken, put = old[start : len(old) - rest], new[start : len(new) - rest]
    put = [line.rstrip("\r\n") + ending for line in put]
    if taken:  # a value that is replaced, or a list in one line
        if len(taken) > 1 or len(put) > 1:
            raise _refused()
        return _joined(before + old[:start], put, old[start + 1 :] + after)
    put = _without_blank_ends(put)
    if not put:
        raise _refused()
    place = start if is_first else _end_of_block(old, start)
    above, below = before + old[:place], old[place:] + after
    if put[0].startswith("["):
        above += [ending] if above and above[-1].strip() else []
        below = ([ending] if below and below[0].strip() else []) + below
    return _joined(above, put, below)


def _joined(above: list[str], block: list[str], below: list[str]) -> Edit:
    return Edit("".join((*above, *block, *below)), "".join(block), len(above) + 1)


def _without_blank_ends(lines: list[str]) -> list[str]:
    said = [place for place, line in enumerate(lines) if line.strip()]
    return lines[said[0] : said[-1] + 1] if said else []


def _end_of_block(lines: list[str], place: int) -> int:
    """After the last line above that says something, and the comments right below it."""
    end = place
    while end and not _says_something(lines[end - 1]):
        end -= 1
    while end < place and lines[end].strip():
        end += 1
    return end


def _says_something(line: str) -> bool:
    return bool(line.strip()) and not line.lstrip().startswith("#")


def _alike(lines: list[str], others: list[str]) -> int:
    """How many lines are equal from the beginning on."""
    pairs = enumerate(zip(lines, others, strict=False))
    return next((place for place, (one, other) in pairs if one != other),
                min(len(lines), len(others)))  # fmt: skip


def _lines(text: str) -> list[str]:
    """Lines with their ends: a line ends nowhere but where TOML says so."""
    return re.findall(r"[^\n]*\n|[^\n]+", text)
