"""Mapping files read into the class of `mapping`; what contradicts itself is refused."""

from __future__ import annotations

import tomllib
from functools import partial
from pathlib import Path
from typing import Any, get_args

from pipeline.errors import ConfigError, OpenKeyError
from pipeline.files import lines_of
from pipeline.settings.mapping import (
    CARRIED_FIELDS,
    EXERCISE_MARK,
    FIELDS,
    LEDGER_WORDS,
    MARKS,
    OPEN_MARK,
    PER_SET_FIELDS,
    SETS_COLUMN,
    SIDE_MARK,
    VALUE_FIELDS,
    FileFormat,
    Mapping,
    Rows,
    is_numbered,
)
from pipeline.settings.toml_reader import TomlReader, read_toml, text_of
from pipeline.units import UNITS, Unit

KEYS = {
    "file": ("encoding", "delimiter", "quote", "decimal", "thousands", "skip_rows", "header"),
    "layout": ("rows", "carried", "skip_columns", "skip"),
    "client": ("label", "file_name", "without", "otherwise"),
    "formats": ("date", "year", "started_at", "load_unit", "bodyweight_unit"),
}
"""Table to its keys; [columns], [values] and [constants] have fields of the ledger as keys."""

_LAYOUTS: tuple[Rows, ...] = get_args(Rows)


def read_mapping(path: Path, shown_as: str | None = None) -> Mapping:
    """The mapping in a TOML file; errors name file and key."""
    shown = shown_as or str(path)
    try:
        text = text_of(path, shown)
    except FileNotFoundError as error:
        raise ConfigError(
            f"{shown}: this mapping file does not exist; write it, or let "
            "`setledger draft-mapping` write one."
        ) from error
    return parse_mapping(text, shown)


def parse_mapping(text: str, shown: str) -> Mapping:
    """The mapping in a TOML text; `shown` is the file name that messages use."""
    raw, reader = read_toml(text, shown)
    reader.only(raw, ("name", *KEYS, "columns", "values", "constants"), "")
    _refuse_open(text, raw, shown)
    for section, keys in KEYS.items():
        reader.within(section).only(reader.table(raw, section), keys, f"[{section}] ")
    layout, in_layout = reader.table(raw, "layout"), reader.within("layout")
    client, in_client = reader.table(raw, "client"), reader.within("client")
    formats, in_formats = reader.table(raw, "formats"), reader.within("formats")

    def form(key: str) -> str | None:
        return in_formats.get(formats, key, "[formats] ", in_formats.text_or_number)

    def unit(key: str) -> Unit | None:
        return in_formats.get(formats, key, "[formats] ", partial(in_formats.choice, known=UNITS))

    rows = in_layout.choice(layout.get("rows", "sets"), "[layout] rows", _LAYOUTS)
    day_columns, named = _day_columns(reader.within("columns"), reader.table(raw, "columns"))
    extra = (SETS_COLUMN,) if rows in ("exercises", "days") else ()
    columns = _texts(reader, "columns", named, FIELDS + extra)
    mapping = Mapping(
        name=reader.get(raw, "name", "", reader.text_or_number) or Path(shown).stem,
        path=shown,
        file=_file_format(reader.within("file"), reader.table(raw, "file")),
        rows=rows,
        columns=columns,
        date_format=form("date"),
        started_at_format=form("started_at"),
        load_unit=unit("load_unit"),
        bodyweight_unit=unit("bodyweight_unit"),
        carried=_carried(in_layout, layout, columns),
        day_columns=day_columns,
        year=_year(in_formats, formats),
        skip_columns=in_layout.texts(layout.get("skip_columns", []), "[layout] skip_columns"),
        skip=in_layout.texts(layout.get("skip", []), "[layout] skip"),
        client_label=in_client.get(client, "label", "[client] ", in_client.text),
        is_named_by_file=in_client.flag(client.get("file_name", False), "[client] file_name"),
        name_words=in_client.texts(client.get("without", []), "[client] without"),
        nameless_client=in_client.get(client, "otherwise", "[client] ", in_client.text),
        values=_values(reader, reader.table(raw, "values")),
        constants=_texts(reader, "constants", reader.table(raw, "constants"), FIELDS),
        text=text,
    )
    _check_contradictions(mapping)
    return mapping


def _texts(
    reader: TomlReader, section: str, table: dict[str, Any], known: tuple[str, ...]
) -> dict[str, str]:
    """Ledger field to a text."""
    inside, where = reader.within(section), f"[{section}] "
    inside.only(table, known, where)
    return {key: inside.text_or_number(value, where + key) for key, value in table.items()}


def _refuse_open(text: str, raw: dict[str, Any], shown: str) -> None:
    """Lines that begin with "#? " are readings to choose from: one of each group must be chosen.

    A group is the lines that follow each other. It is settled once a line of it stands without
    the mark, or once the group is deleted. The comment above it says what is open.
    """
    section = comment = ""
    readings: list[str] = []
    is_settled = False
    first = 0
    for number, line in enumerate((*lines_of(text), ""), start=1):
        stripped = line.strip()
        if stripped.startswith(OPEN_MARK):
            first = first or number
            readings.append(stripped.removeprefix(OPEN_MARK).strip())
            continue
        if stripped and stripped[0] not in "#[":
            is_settled = True
            continue
        if readings and not (is_settled or any(_is_chosen(raw, section, one) for one in readings)):
            raise OpenKeyError(
                f"{shown}:{first}: {section} {' or '.join(readings)} is still to be chosen"
                f"{f' ({comment})' if comment else ''}. "
                f'Take the "{OPEN_MARK.strip()}" away before the line that is right.'
            )
        readings, is_settled, first = [], False, 0
        comment = stripped.removeprefix("#").strip() if stripped.startswith("#") else ""
        section = stripped if stripped.startswith("[") else section


def _is_chosen(raw: dict[str, Any], section: str, reading: str) -> bool:
    """Whether the mapping sets a key of this line, whatever to."""
    try:
        wanted = tomllib.loads(f"{section}\n{reading}")
    except tomllib.TOMLDecodeError:
        return False
    return _shares_key(wanted, raw)


def _shares_key(wanted: dict[str, Any], given: dict[str, Any]) -> bool:
    for key, value in wanted.items():
        if key in given:
            if not isinstance(value, dict):
                return True
            if isinstance(given[key], dict) and _shares_key(value, given[key]):
                return True
    return False


def _check_contradictions(mapping: Mapping) -> None:
    shown, columns = mapping.path, mapping.columns
    given = set(columns) | set(mapping.constants)
    both = sorted(set(columns) & set(mapping.constants))
    if both:
        raise ConfigError(
            f"{shown}: '{both[0]}' stands under [columns] and under [constants]; keep one."
        )
    if "client" in given and (mapping.client_label or mapping.is_named_by_file):
        raise ConfigError(
            f"{shown}: [client] says where a client's name stands that no column holds, but "
            "'client' has a column or a constant; keep one."
        )
    for key, value in (("without", mapping.name_words), ("otherwise", mapping.nameless_client)):
        if value and not mapping.is_named_by_file:
            raise ConfigError(f"{shown}: [client] {key} needs file_name = true.")
    needed = ["performed_on"] if mapping.rows == "days" else ["performed_on", "exercise"]
    needed += [SETS_COLUMN] if mapping.rows in ("exercises", "days") else ["reps"]
    missing = [name for name in needed if name not in given]
    if missing:
        raise ConfigError(
            f"{shown}: [columns] lacks '{missing[0]}'; name the export column that holds it "
            f"(found: {', '.join(sorted(columns)) or 'nothing'})."
        )
    _check_days(mapping, given)
    numbered = sorted(name for name, column in columns.items() if is_numbered(column))
    if mapping.rows == "wide":
        if "reps" not in numbered:
            raise ConfigError(
                f'{shown}: layout "wide" needs a numbered column for reps, such as '
                'reps = "reps_{n}" (or "reps {side}") under [columns].'
            )
        marks = {mark for name in numbered for mark in MARKS if mark in columns[name]}
        if len(marks) > 1:
            raise ConfigError(
                f"{shown}: '{numbered[0]}' and others name columns by {{n}} and by {{side}}; "
                "only one of them can tell the sets of a row apart."
            )
        if SIDE_MARK in marks and "side" in given:
            raise ConfigError(
                f"{shown}: 'side' stands by itself and as {{side}} in a column's name; keep one."
            )
        wrong = [name for name in numbered if name not in PER_SET_FIELDS]
        if wrong:
            raise ConfigError(f"{shown}: '{wrong[0]}' cannot be a numbered column.")
    elif [name for name in numbered if (mapping.rows, name) != ("exercises", SETS_COLUMN)]:
        raise ConfigError(
            f"{shown}: '{numbered[0]}' names a numbered column, which only "
            'layout rows = "wide" has.'
        )
    if mapping.rows in ("exercises", "days") and "reps" in columns:
        raise ConfigError(
            f"{shown}: with rows = \"{mapping.rows}\" the cell under 'sets' gives the reps; "
            "take 'reps' out of [columns]."
        )
    if mapping.rows != "sets" and "set_count" in given:
        raise ConfigError(
            f"{shown}: 'set_count' needs rows = \"sets\": how many alike sets a row stands for."
        )


def _check_days(mapping: Mapping, given: set[str]) -> None:
    """What [formats] says of days, and the layout "days"."""
    shown, form = mapping.path, mapping.date_format
    if mapping.year is not None and (form is None or "%Y" in form or "%y" in form):
        raise ConfigError(
            f"{shown}: [formats] year is for days that are written without one; it needs a date "
            'such as "%d.%m." and does not go with %Y.'
        )
    if mapping.day_columns and form is None:
        raise ConfigError(
            f"{shown}: [columns] performed_on names several columns; their cells are joined by a "
            'space, and [formats] date says how to read that, such as "%Y %m %d".'
        )
    is_days = mapping.rows == "days"
    if mapping.skip_columns and not is_days:
        raise ConfigError(f'{shown}: [layout] skip_columns needs rows = "days".')
    if is_days and "exercise" in given:
        raise ConfigError(
            f'{shown}: with rows = "days" the columns\' names are the exercises; take '
            "'exercise' out."
        )
    if is_days and EXERCISE_MARK not in mapping.columns.get(SETS_COLUMN, EXERCISE_MARK):
        raise ConfigError(
            f'{shown}: with rows = "days" [columns] sets names the columns of exercises; write '
            'sets = "{exercise}".'
        )


def _file_format(reader: TomlReader, table: dict[str, Any]) -> FileFormat:
    def must_be(key: str, what: str) -> ConfigError:
        return reader.must_be(f"[file] {key}", what)

    for key in ("encoding", "delimiter", "quote", "decimal", "thousands"):
        if key in table and not isinstance(table[key], str):
            raise must_be(key, "a text in quotes")
    for key in ("delimiter", "decimal"):
        if key in table and len(table[key]) != 1:
            raise must_be(key, "one character")
    if len(table.get("quote", "")) > 1:
        raise must_be("quote", 'one character, or "" for none')
    for key in ("delimiter", "quote"):
        if not table.get(key, "").isascii() or table.get(key) in ("\n", "\r", "\0"):
            raise must_be(key, "an ASCII character of the line")
    if table.get("decimal", ".") not in (".", ","):
        raise must_be("decimal", '"." or ","')
    skip = table.get("skip_rows")
    if skip is not None and (not isinstance(skip, int) or isinstance(skip, bool) or skip < 0):
        raise must_be("skip_rows", "a whole number of lines, 0 or more")
    if not isinstance(table.get("header", True), bool):
        raise must_be("header", "true or false")
    for one, other in (("quote", "delimiter"), ("decimal", "thousands"), ("decimal", "delimiter")):
        if table.get(one) and table.get(one) == table.get(other):
            place = reader.place(f"[file] {one}")
            raise ConfigError(f"{place} and {other} are the same character.")
    return FileFormat(**table)


def _values(reader: TomlReader, table: dict[str, Any]) -> dict[str, dict[str, str]]:
    reader.within("values").only(table, VALUE_FIELDS, "[values] ")
    values = {}
    for name, words in table.items():
        inside = reader.within(f"values.{name}")
        if not isinstance(words, dict):
            raise inside.must_be(f"[values] {name}", "a table: export value = ledger value")
        values[name] = {
            key: str(value).lower() if isinstance(value, bool) else str(value)
            for key, value in words.items()
        }
        known = LEDGER_WORDS.get(name)
        for key, value in values[name].items():
            if known and value not in known:
                raise ConfigError(
                    f"{inside.place(f'[values.{name}] {key!r}', key)} = {value!r} is not known; "
                    f"it is one of {', '.join(known)}."
                )
    return values


def _carried(
    reader: TomlReader, layout: dict[str, Any], columns: dict[str, str]
) -> tuple[str, ...]:
    key = "[layout] carried"
    fields = reader.texts(layout.get("carried", []), key)
    for each in fields:
        if each not in CARRIED_FIELDS or each not in columns:
            raise ConfigError(
                f"{reader.place(key)} names '{each}'; it may name those of "
                f"{', '.join(CARRIED_FIELDS)} that stand under [columns]."
            )
    return fields


def _day_columns(
    reader: TomlReader, table: dict[str, Any]
) -> tuple[tuple[str, ...], dict[str, Any]]:
    """The columns that make up the day, and [columns] with one name for them."""
    named = table.get("performed_on")
    if not isinstance(named, list):
        return (), table
    if len(named) < 2 or not all(isinstance(each, str) and each for each in named):
        raise ConfigError(
            f"{reader.place('[columns] performed_on')} is a column, or a list such as "
            '["Year", "Month", "Day"].'
        )
    return tuple(named), {**table, "performed_on": " + ".join(named)}


def _year(reader: TomlReader, formats: dict[str, Any]) -> int | None:
    year = formats.get("year")
    if year is None or (type(year) is int and 1950 <= year <= 2200):
        return year
    raise reader.must_be("[formats] year", "a year such as 2026")
