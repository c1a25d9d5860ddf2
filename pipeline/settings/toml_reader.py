"""TOML that the user writes: values checked, and errors that name file, line and key."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any, TypeVar

from pipeline import clock
from pipeline.errors import ConfigError
from pipeline.files import lines_of, read_text
from pipeline.names.nearest import nearest

T = TypeVar("T")


def text_of(path: Path, shown: str) -> str:
    """The text of a file that is there; `shown` is the name that messages use."""
    try:
        return read_text(path)
    except FileNotFoundError:
        raise
    except (OSError, UnicodeDecodeError) as error:
        raise ConfigError(f"{shown}: cannot be read as UTF-8 text ({error}).") from error


def read_toml(text: str, shown: str) -> tuple[dict[str, Any], TomlReader]:
    """What a TOML text says, and the reader that checks its values."""
    try:
        return tomllib.loads(text), TomlReader(text, shown)
    except tomllib.TOMLDecodeError as error:
        raise ConfigError(f"{shown}: this is not valid TOML ({error}).") from error


def _opens(line: str) -> str:
    """The header that a line is, without spaces; empty for any other line."""
    found = re.match(r"\s*(\[\[?[\w.\s\"'-]+\]\]?)", line)
    return re.sub(r"\s", "", found[1]) if found else ""


def _is_part(header: str, table: str) -> bool:
    """Whether a header opens a table inside a block: [[clients.targets]], [clients.guide]."""
    return header.lstrip("[").startswith(f"{table}.")


class TomlReader:
    """Checks values of one file, or of one table in it, and finds the line an error is about.

    A key is named with its table before it: "[rules] hard_rir", "[[clients]] ines: units".
    """

    def __init__(self, text: str, shown: str) -> None:
        self.shown = shown
        self.lines = list(enumerate(lines_of(text), start=1))

    def within(self, table: str, place: int = 0) -> TomlReader:
        """The same for one [table] or [[table]], so that a line is looked for in the right one."""
        headers = (f"[{table}]", f"[[{table}]]")
        starts = [index for index, (_, line) in enumerate(self.lines) if _opens(line) in headers]
        block = TomlReader("", self.shown)
        if place < len(starts):
            start = starts[place]
            ends = (
                index
                for index in range(start + 1, len(self.lines))
                if (opened := _opens(self.lines[index][1])) and not _is_part(opened, table)
            )
            block.lines = self.lines[start : next(ends, len(self.lines))]
        else:  # written as one line: clients = [{ … }, { … }]
            block.lines = self.lines
        return block

    def place(self, key: str, name: str | None = None) -> str:
        """The file with the first line that sets the key, and the key; `name`: its last part."""
        name = re.escape(name or key.split()[-1])
        patterns = (
            rf"\s*(\[+[\w.]*)?[\"']?{name}[\"']?\s*(=|\])",
            rf".*[\s{{,.][\"']?{name}[\"']?\s*=",
            r"\s*\[\[",
        )
        for pattern in patterns[: 3 if key.startswith("[[") else 2]:
            for number, line in self.lines:
                if re.match(pattern, line):
                    return f"{self.shown}:{number}: {key}"
        return f"{self.shown}: {key}"

    def wrong(self, key: str, what: str, mend: str) -> ConfigError:
        end = "" if mend.endswith(("?", ".")) else "."
        return ConfigError(f"{self.place(key)}: {what}; {mend}{end}")

    def must_be(self, key: str, what: str) -> ConfigError:
        return ConfigError(f"{self.place(key)} must be {what}.")

    def only(self, table: dict[str, Any], known: tuple[str, ...], where: str) -> None:
        for key in table:
            if key not in known:
                near = nearest(key, known)
                mend = f"did you mean '{near[0]}'?" if near else f"known are {', '.join(known)}."
                place = self.place(where + key, key)
                raise ConfigError(f"{place}: this key is unknown; {mend}")

    def table(self, raw: dict[str, Any], key: str, where: str = "") -> dict[str, Any]:
        value = raw.get(key, {})
        if not isinstance(value, dict):
            raise self.wrong(where + key, "this is no table", f"write [{key}] and its keys below")
        return value

    def tables(self, raw: dict[str, Any], key: str, where: str = "") -> list[dict[str, Any]]:
        value = raw.get(key, [])
        if not isinstance(value, list) or not all(isinstance(item, dict) for item in value):
            raise self.wrong(where + key, "this is no list of tables", f"write [[{key}]]")
        return value

    def get(
        self, table: dict[str, Any], key: str, where: str, read: Callable[[Any, str], T]
    ) -> T | None:
        return read(table[key], where + key) if key in table else None

    def need(self, table: dict[str, Any], key: str, where: str, read: Callable[[Any, str], T]) -> T:
        if key not in table:
            at = f":{self.lines[0][0]}" if where.startswith("[[") and self.lines else ""
            raise ConfigError(f"{self.shown}{at}: {where}lacks '{key}'; add it.")
        return read(table[key], where + key)

    def text(self, value: Any, key: str) -> str:
        if not isinstance(value, str) or not value.strip():
            raise self.wrong(key, "this is no text", 'write it in quotes, such as "text"')
        return value

    def header_text(self, value: Any, key: str) -> str:
        text = self.text(value, key)
        if any(ord(mark) < 32 or ord(mark) == 127 for mark in text):
            raise self.wrong(key, "it holds a line break or control character", "take it out")
        return text

    def text_or_number(self, value: Any, key: str) -> str:
        """A text; a number is taken for the text that it is written as."""
        is_number = isinstance(value, (int, float)) and not isinstance(value, bool)
        return str(value) if is_number else self.text(value, key)

    def texts(self, value: Any, key: str) -> tuple[str, ...]:
        if not isinstance(value, list) or not all(isinstance(item, str) for item in value):
            raise self.must_be(key, 'a list of texts such as ["one", "two"]')
        return tuple(value)

    def choice(self, value: Any, key: str, known: tuple[T, ...]) -> T:
        if value not in known:
            words = " or ".join(f'"{each}"' for each in known)
            raise self.wrong(key, f"{value!r} is not known", f"write {words}")
        return known[known.index(value)]

    def number(self, value: Any, key: str) -> float:
        if isinstance(value, bool) or not isinstance(value, (int, float)) or value != value:
            raise self.wrong(key, f"{value!r} is no number", "write a number without quotes")
        return float(value)

    def positive(self, value: Any, key: str) -> float:
        number = self.number(value, key)
        if not 0 < number < float("inf"):
            raise self.wrong(key, f"{value!r} is not above 0", "write a number above 0")
        return number

    def whole(self, value: Any, key: str) -> int:
        if isinstance(value, bool) or not isinstance(value, int) or value < 1:
            raise self.wrong(key, f"{value!r} is no whole number above 0", "write one")
        return value

    def day(self, value: Any, key: str) -> date:
        if type(value) is not date:
            raise self.wrong(key, f"{value!r} is no day", "write it as 2026-09-01, without quotes")
        return value

    def flag(self, value: Any, key: str) -> bool:
        if not isinstance(value, bool):
            raise self.wrong(key, f"{value!r} is neither true nor false", "write true or false")
        return value

    def day_that_came(self, value: Any, key: str) -> date:
        """An as-of day."""
        found = self.day(value, key)
        if why := clock.why_no_as_of(found):
            raise self.wrong(key, f"{found} {why}", "write a day that has come")
        return found

    def pair(self, value: Any, key: str) -> tuple[float, float]:
        is_pair = isinstance(value, list) and len(value) == 2
        low, high = (self.number(end, key) for end in value) if is_pair else (1.0, 0.0)
        if not 0 <= low <= high:
            raise self.wrong(key, f"{value!r} is no range", "write [low, high], such as [8, 20]")
        return low, high
