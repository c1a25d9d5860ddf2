"""Mapping files: which export column fills which ledger field, as frozen classes."""

from __future__ import annotations

import hashlib
import tomllib
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

from pipeline.errors import ConfigError, OpenKeyError
from pipeline.names.nearest import nearest
from pipeline.settings.words import SIDE_WORDS

Rows = Literal["sets", "exercises", "wide", "days"]

FIELDS: tuple[str, ...] = (
    "performed_on",
    "exercise",
    "load",
    "reps",
    "client",
    "started_at",
    "set_no",
    "side",
    "rir",
    "rpe",
    "to_failure",
    "partial_reps",
    "set_kind",
    "load_unit",
    "load_basis",
    "notes",
    "bodyweight",
    "set_count",
)
"""Ledger fields that a column or a constant may fill."""

VALUE_FIELDS = (
    "set_kind",
    "side",
    "to_failure",
    "load_unit",
    "load_basis",
    "exercise",
    "client",
    "load",
    "reps",
    "rir",
    "rpe",
    "set_no",
)
"""Fields whose export values `[values.<field>]` may translate; to "" for an empty cell."""

OPEN_MARK = "#? "
"""Begins a line of a mapping that a person has to choose; see `_refuse_open`."""

LEDGER_WORDS: dict[str, tuple[str, ...]] = {
    "set_kind": ("work", "warmup", "extension"),
    "side": ("left", "right", "both"),
    "to_failure": ("true", "false"),
    "load_unit": ("kg", "lb"),
    "load_basis": ("total", "per_hand", "added", "assisted", "none"),
}
"""What `[values.<field>]` may translate to, where the ledger knows only certain words."""

PER_SET_FIELDS = (
    "load",
    "reps",
    "set_no",
    "side",
    "rir",
    "rpe",
    "to_failure",
    "partial_reps",
    "set_kind",
    "load_unit",
    "load_basis",
)
"""Fields that a numbered column ("kg{n}") may fill in the layout "wide"."""

CARRIED_FIELDS = ("performed_on", "client", "exercise", "started_at")
"""Fields of which `[layout] carried` may say that an empty cell repeats the one above."""

SETS_COLUMN = "sets"
"""Key under [columns] that names the cells with a list of sets, in "exercises" and "days"."""

NUMBER_MARK, SIDE_MARK, EXERCISE_MARK = "{n}", "{side}", "{exercise}"
"""What stands in a column's name for the number of a set, a side, an exercise."""

_SECTIONS = {
    "file": ("encoding", "delimiter", "quote", "decimal", "thousands", "skip_rows", "header"),
    "layout": ("rows", "carried", "skip_columns"),
    "formats": ("date", "year", "started_at", "load_unit", "bodyweight_unit"),
}


@dataclass(frozen=True)
class FileFormat:
    """How the bytes of an export are read; None means: detect it."""

    encoding: str | None = None
    delimiter: str | None = None
    quote: str | None = None
    decimal: str | None = None
    thousands: str | None = None
    skip_rows: int | None = None
    header: bool = True
    """False: the file has no header line; columns are then named column_1, column_2, …"""


@dataclass(frozen=True)
class Mapping:
    """One mapping file. `columns` and `constants` are keyed by ledger field."""

    name: str
    path: str
    """As written in setledger.toml: what messages name."""
    file: FileFormat
    rows: Rows
    columns: dict[str, str]
    """Ledger field to export column; numbered columns carry "{n}"; `sets` for "exercises"."""
    date_format: str | None
    """strptime pattern; None: ISO 8601 days or moments."""
    started_at_format: str | None
    load_unit: Literal["kg", "lb"] | None
    bodyweight_unit: Literal["kg", "lb"] | None
    """Unit of the bodyweight column; None: that of the loads."""
    carried: tuple[str, ...] = ()
    """Fields whose empty cells repeat the cell above."""
    day_columns: tuple[str, ...] = ()
    """The columns whose cells, joined by a space, are the day; empty: one column is."""
    year: int | None = None
    """Year of the first line's day, where days are written without one."""
    skip_columns: tuple[str, ...] = ()
    """In the layout "days": columns that are no exercise."""
    values: dict[str, dict[str, str]] = field(default_factory=dict)
    constants: dict[str, str] = field(default_factory=dict)
    text: str = ""
    """The file as it was read; kept with each version so that a rebuild reads the same."""

    @property
    def column_names(self) -> tuple[str, ...]:
        """Columns that the mapping names in so many words, or by the number of a set."""
        named = (*self.columns.values(), *self.day_columns)
        joined = self.columns.get("performed_on") if self.day_columns else None
        return tuple(
            each
            for each in named
            if each != joined and SIDE_MARK not in each and EXERCISE_MARK not in each
        )

    @property
    def side_words(self) -> tuple[str, ...]:
        """The words that {side} in a column's name may stand for."""
        known = (each for each, side in SIDE_WORDS.items() if side)
        return tuple(dict.fromkeys((*self.values.get("side", {}), *known)))

    @property
    def sha256(self) -> str:
        """Digest of the mapping file's text."""
        return hashlib.sha256(self.text.encode()).hexdigest()


def read_mapping(path: Path, shown_as: str | None = None) -> Mapping:
    """The mapping in a TOML file; errors name file and key."""
    shown = shown_as or str(path)
    try:
        text = path.read_text(encoding="utf-8")
    except FileNotFoundError as error:
        raise ConfigError(
            f"{shown}: this mapping file does not exist; write it, or let "
            "`setledger draft-mapping` write one."
        ) from error
    except (OSError, UnicodeDecodeError) as error:
        raise ConfigError(f"{shown}: cannot be read as UTF-8 text ({error}).") from error
    return parse_mapping(text, shown)


def parse_mapping(text: str, shown: str) -> Mapping:
    """The mapping in a TOML text; `shown` is the file name that messages use."""
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise ConfigError(f"{shown}: this is not valid TOML ({error}).") from error
    known = ("name", "file", "layout", "columns", "formats", "values", "constants")
    _refuse_unknown(raw, known, shown, "")
    _refuse_open(text, raw, shown)
    for section, keys in _SECTIONS.items():
        _refuse_unknown(_table(raw, section, shown), keys, shown, f"[{section}] ")
    rows = _rows(_table(raw, "layout", shown).get("rows", "sets"), shown)
    day_columns, texts = _day_columns(_table(raw, "columns", shown), shown)
    columns = _texts(texts, shown, "columns")
    extra = (SETS_COLUMN,) if rows in ("exercises", "days") else ()
    _refuse_unknown(columns, FIELDS + extra, shown, "[columns] ")
    constants = _texts(_table(raw, "constants", shown), shown, "constants")
    _refuse_unknown(constants, FIELDS, shown, "[constants] ")
    formats = _table(raw, "formats", shown)
    mapping = Mapping(
        name=_text(raw.get("name", Path(shown).stem), shown, "name"),
        path=shown,
        file=_file_format(_table(raw, "file", shown), shown),
        rows=rows,
        columns=columns,
        date_format=_optional_text(formats, "date", shown),
        started_at_format=_optional_text(formats, "started_at", shown),
        load_unit=_unit(formats, "load_unit", shown),
        bodyweight_unit=_unit(formats, "bodyweight_unit", shown),
        carried=_carried(_table(raw, "layout", shown).get("carried", []), columns, shown),
        day_columns=day_columns,
        year=_year(formats, shown),
        skip_columns=_names(_table(raw, "layout", shown).get("skip_columns", []), shown),
        values=_values(_table(raw, "values", shown), shown),
        constants=constants,
        text=text,
    )
    _check_contradictions(mapping)
    return mapping


def _refuse_open(text: str, raw: dict[str, Any], shown: str) -> None:
    """Lines that begin with "#? " are readings to choose from: one of each group must be chosen.

    A group is the lines that follow each other. It is settled once a line of it stands without
    the mark, or once the group is deleted. The comment above it says what is open.
    """
    section = comment = ""
    readings: list[str] = []
    is_settled = False
    first = 0
    for number, line in enumerate((*text.splitlines(), ""), start=1):
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
        marks = {mark for name in numbered for mark in _MARKS if mark in columns[name]}
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


_MARKS = (NUMBER_MARK, SIDE_MARK)


def is_numbered(column: str) -> bool:
    """Whether a column's name stands for several columns of the layout "wide"."""
    return any(mark in column for mark in _MARKS)


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


def _file_format(raw: dict[str, Any], shown: str) -> FileFormat:
    for key in ("encoding", "delimiter", "quote", "decimal", "thousands"):
        if key in raw and not isinstance(raw[key], str):
            raise ConfigError(f"{shown}: [file] {key} must be a text in quotes.")
    for key in ("delimiter", "decimal"):
        if key in raw and len(raw[key]) != 1:
            raise ConfigError(f"{shown}: [file] {key} must be one character.")
    if len(raw.get("quote", "")) > 1:
        raise ConfigError(f'{shown}: [file] quote must be one character, or "" for none.')
    for key in ("delimiter", "quote"):
        if not raw.get(key, "").isascii() or raw.get(key) in ("\n", "\r", "\0"):
            raise ConfigError(f"{shown}: [file] {key} must be an ASCII character of the line.")
    if raw.get("quote") and raw.get("quote") == raw.get("delimiter"):
        raise ConfigError(f"{shown}: [file] quote and delimiter are the same character.")
    if raw.get("decimal", ".") not in (".", ","):
        raise ConfigError(f'{shown}: [file] decimal must be "." or ",".')
    if raw.get("thousands") and raw.get("thousands") == raw.get("decimal"):
        raise ConfigError(f"{shown}: [file] decimal and thousands are the same character.")
    skip = raw.get("skip_rows")
    if skip is not None and (not isinstance(skip, int) or isinstance(skip, bool) or skip < 0):
        raise ConfigError(f"{shown}: [file] skip_rows must be a whole number of lines, 0 or more.")
    if not isinstance(raw.get("header", True), bool):
        raise ConfigError(f"{shown}: [file] header must be true or false.")
    if raw.get("decimal") and raw.get("decimal") == raw.get("delimiter"):
        raise ConfigError(f"{shown}: [file] decimal and delimiter are the same character.")
    return FileFormat(**raw)


def _values(raw: dict[str, Any], shown: str) -> dict[str, dict[str, str]]:
    _refuse_unknown(raw, VALUE_FIELDS, shown, "[values] ")
    values = {}
    for name, table in raw.items():
        if not isinstance(table, dict):
            raise ConfigError(
                f"{shown}: [values.{name}] must be a table: export value = ledger value."
            )
        values[name] = {
            key: str(value).lower() if isinstance(value, bool) else str(value)
            for key, value in table.items()
        }
        known = LEDGER_WORDS.get(name)
        for key, value in values[name].items():
            if known and value not in known:
                raise ConfigError(
                    f"{shown}: [values.{name}] {key!r} = {value!r} is not known; "
                    f"it is one of {', '.join(known)}."
                )
    return values


def _carried(value: object, columns: dict[str, str], shown: str) -> tuple[str, ...]:
    if not isinstance(value, list) or not all(isinstance(each, str) for each in value):
        raise ConfigError(f'{shown}: [layout] carried must be a list such as ["performed_on"].')
    for each in value:
        if each not in CARRIED_FIELDS or each not in columns:
            raise ConfigError(
                f"{shown}: [layout] carried names '{each}'; it may name those of "
                f"{', '.join(CARRIED_FIELDS)} that stand under [columns]."
            )
    return tuple(value)


def _day_columns(table: dict[str, Any], shown: str) -> tuple[tuple[str, ...], dict[str, Any]]:
    """The columns that make up the day, and [columns] with one name for them."""
    named = table.get("performed_on")
    if not isinstance(named, list):
        return (), table
    if len(named) < 2 or not all(isinstance(each, str) and each for each in named):
        raise ConfigError(
            f'{shown}: [columns] performed_on is a column, or a list such as ["Year", "Month", '
            '"Day"].'
        )
    return tuple(named), {**table, "performed_on": " + ".join(named)}


def _year(table: dict[str, Any], shown: str) -> int | None:
    year = table.get("year")
    if year is None or (isinstance(year, int) and not isinstance(year, bool) and
                        1950 <= year <= 2200):  # fmt: skip
        return year
    raise ConfigError(f"{shown}: [formats] year must be a year such as 2026.")


def _names(value: object, shown: str) -> tuple[str, ...]:
    if isinstance(value, list) and all(isinstance(each, str) for each in value):
        return tuple(value)
    raise ConfigError(f'{shown}: [layout] skip_columns must be a list such as ["Mood"].')


def _rows(value: object, shown: str) -> Rows:
    if value in ("sets", "exercises", "wide", "days"):
        return value
    raise ConfigError(
        f"{shown}: [layout] rows = {value!r} is not known; it is "
        '"sets", "exercises", "wide" or "days".'
    )


def _unit(table: dict[str, Any], key: str, shown: str) -> Literal["kg", "lb"] | None:
    value = table.get(key)
    if value in (None, "kg", "lb"):
        return value
    raise ConfigError(f'{shown}: [formats] {key} = {value!r} is not known; it is "kg" or "lb".')


def _table(raw: dict[str, Any], key: str, shown: str) -> dict[str, Any]:
    value = raw.get(key, {})
    if not isinstance(value, dict):
        raise ConfigError(f"{shown}: [{key}] must be a table.")
    return value


def _texts(table: dict[str, Any], shown: str, section: str) -> dict[str, str]:
    return {key: _text(value, shown, f"[{section}] {key}") for key, value in table.items()}


def _text(value: object, shown: str, key: str) -> str:
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return str(value)
    if not isinstance(value, str) or not value:
        raise ConfigError(f"{shown}: {key} must be a text in quotes.")
    return value


def _optional_text(table: dict[str, Any], key: str, shown: str) -> str | None:
    return _text(table[key], shown, f"[formats] {key}") if key in table else None


def _refuse_unknown(table: dict[str, Any], known: tuple[str, ...], shown: str, where: str) -> None:
    for key in table:
        if key not in known:
            near = nearest(key, known)
            hint = f"; did you mean '{near[0]}'?" if near else f" (known: {', '.join(known)})."
            raise ConfigError(f"{shown}: {where}unknown key '{key}'{hint}")
