"""From records to sets: every line gives sets or a weigh-in whole, or is set aside with a reason.

The work is done in polars expressions over whole columns. Texts that a plain cast cannot read
("82,5", "175 lb", "31.08.2026 18:05") go through `values`, once per distinct text.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

import polars as pl

from pipeline import values
from pipeline.clients import ClientIndex
from pipeline.errors import ConfigError
from pipeline.mapping import PER_SET_FIELDS, SETS_COLUMN, Mapping
from pipeline.notation import NotationError, parse_column
from pipeline.reading import SET_ASIDE_SCHEMA, RawExport, shortened
from pipeline.reasons import Reason
from pipeline.rules import Rules
from pipeline.units import KG_PER_LB, KG_PER_UNIT
from pipeline.values import Decimal

FIRST_DAY = date(1950, 1, 1)
"""An earlier day is taken for a slip."""

BODYWEIGHT_KG = (20.0, 400.0)
"""A bodyweight outside is taken for a slip."""

SETS_SCHEMA = {
    "set_id": pl.String(),
    "client_id": pl.String(),
    "performed_on": pl.Date(),
    "started_at": pl.Datetime("us"),
    "session_id": pl.String(),
    "exercise_raw": pl.String(),
    "day_order": pl.Int32(),
    "set_no": pl.Int32(),
    "side": pl.String(),
    "load_kg": pl.Float64(),
    "load_unit": pl.String(),
    "load_basis": pl.String(),
    "reps": pl.Int32(),
    "partial_reps": pl.Int32(),
    "rir": pl.Float64(),
    "rpe": pl.Float64(),
    "to_failure": pl.Boolean(),
    "set_kind": pl.String(),
    "notes": pl.String(),
    "source": pl.String(),
    "load_id": pl.Int32(),
    "source_line": pl.Int32(),
}
"""Columns of ledger.sets in their order, without replaced_by."""

BODYWEIGHTS_SCHEMA = {
    "client_id": pl.String(),
    "performed_on": pl.Date(),
    "bodyweight_kg": pl.Float64(),
    "source": pl.String(),
    "load_id": pl.Int32(),
    "source_line": pl.Int32(),
}

_LINE_FIELDS = ("client", "performed_on", "started_at", "exercise", "notes", "bodyweight")


@dataclass(frozen=True)
class Normalised:
    """One version of an export as rows of the ledger."""

    sets: pl.DataFrame
    """As SETS_SCHEMA, in the order of the file."""
    set_aside: pl.DataFrame
    """load_id, source_line, cells (JSON), reason, explanation; a row a line."""
    bodyweights: pl.DataFrame
    """As BODYWEIGHTS_SCHEMA; a weigh-in repeated on the lines of a day stands once."""
    first_on: date | None
    last_on: date | None
    lines_read: int
    lines_loaded: int
    lines_set_aside: int
    lines_skipped: int
    encoding: str
    delimiter: str
    decimal: Decimal
    """Decimal mark of the file: as the mapping says, else as found."""
    spellings: dict[str, str]
    """Ids that this file's spellings gave, with the first spelling: `known` of later files."""

    def numbered(self, load_id: int) -> Normalised:
        """The same rows as those of another version number."""
        number = pl.lit(load_id, dtype=pl.Int32).alias("load_id")
        set_id = pl.col("set_id").str.replace("^[0-9]+", str(load_id))
        return replace(
            self,
            sets=self.sets.with_columns(set_id, number),
            set_aside=self.set_aside.with_columns(number),
            bodyweights=self.bodyweights.with_columns(number),
        )


@dataclass(frozen=True)
class _Test:
    """A reason to set a line aside: where it applies, and how it is put."""

    reason: Reason
    applies: pl.Expr
    explanation: pl.Expr


@dataclass(frozen=True)
class _NumberStyle:
    """How the file writes numbers."""

    decimal: Decimal
    is_given: bool
    thousands: str | None


class _Faults:
    """Lines set aside so far: the first reason of each."""

    def __init__(self) -> None:
        self._frames: list[pl.DataFrame] = []

    def sift(self, frame: pl.DataFrame, tests: Sequence[_Test]) -> pl.DataFrame:
        """The rows of `frame` whose line no test sets aside."""
        if not tests or not frame.height:
            return frame
        first = pl.coalesce(
            pl.when(test.applies).then(pl.lit(place, dtype=pl.Int8))
            for place, test in enumerate(tests)
        )
        places = frame.select(first.alias("fault")).to_series()
        if places.null_count() == places.len():
            return frame
        bad = frame.with_columns(places).filter(pl.col("fault").is_not_null())
        found = [
            bad.filter(pl.col("fault") == place).select(
                "line",
                "n",
                pl.lit(test.reason.value).alias("reason"),
                test.explanation.alias("explanation"),
            )
            for place, test in enumerate(tests)
        ]
        faults = pl.concat(found).sort("line", "n").unique("line", keep="first")
        self._frames.append(faults.drop("n"))
        return frame.join(faults.select("line"), on="line", how="anti", maintain_order="left")

    def rows(self) -> pl.DataFrame:
        """line, reason, explanation: a row a line."""
        schema = {"line": pl.Int32, "reason": pl.String, "explanation": pl.String}
        return pl.concat([pl.DataFrame(schema=schema), *self._frames]).sort("line")


def normalise(
    export: RawExport,
    mapping: Mapping,
    load_id: int,
    clients: ClientIndex,
    tomorrow: date,
    rules: Rules,
    period: tuple[date | None, date | None] = (None, None),
) -> Normalised:
    """The sets, weigh-ins and set-aside lines of an export.

    `tomorrow` is the last day that is believed; `period` the first and the last day that the
    source is to give (None: no bound). Raises ConfigError, naming the key, if the mapping
    does not fit the file or leaves open what the file does not tell.
    """
    faults = _Faults()
    lines = _line_texts(export, mapping)
    numbers = _number_style(export, mapping, lines, rules)
    lines, spellings = _read_lines(lines, mapping, export, clients, numbers)
    lines = faults.sift(lines, _line_tests(mapping, tomorrow, period))
    weighed, entries = _entries(lines, export, mapping, faults)
    entries = _read_entries(entries, export, mapping, numbers)
    entries = faults.sift(entries, _entry_tests(mapping, rules))
    entries = faults.sift(entries, _duplicates(entries, export))
    entries = _with_day_order(entries, faults)
    bad = faults.rows()
    sets = _sets(entries, mapping, load_id)
    set_aside = _set_aside(export, bad, load_id)
    weighed = pl.concat([weighed, _weigh_ins(entries)])
    bodyweights = _bodyweights(weighed, mapping, load_id)
    days = pl.concat([sets["performed_on"], bodyweights["performed_on"]])
    return Normalised(
        sets=sets,
        set_aside=set_aside,
        bodyweights=bodyweights,
        first_on=days.min(),  # type: ignore[arg-type]
        last_on=days.max(),  # type: ignore[arg-type]
        lines_read=export.lines_read,
        lines_loaded=export.lines_read - set_aside.height,
        lines_set_aside=set_aside.height,
        lines_skipped=export.lines_skipped,
        encoding=export.encoding,
        delimiter=export.delimiter,
        decimal=numbers.decimal,
        spellings=spellings,
    )


# Texts of the lines


def _text(name: str) -> pl.Expr:
    """The text of a field; null where the cell is empty or the field is not mapped."""
    return pl.col(f"t_{name}")


def _stripped(column: str) -> pl.Expr:
    text = pl.col(column).str.strip_chars()
    return pl.when(text != "").then(text)


def _line_texts(export: RawExport, mapping: Mapping) -> pl.DataFrame:
    """A row a record: `line` and a text for each field that is not numbered, in file order."""
    texts: dict[str, pl.Expr] = {}
    for name, column in mapping.columns.items():
        if "{n}" not in column:
            texts[name] = _stripped(export.column(column, _key(mapping, name)))
    for name, value in mapping.constants.items():
        texts[name] = pl.lit(value, dtype=pl.String)
    fields = (*_LINE_FIELDS, *PER_SET_FIELDS, SETS_COLUMN)
    frame = export.records.select(
        pl.col("source_line").alias("line"),
        pl.lit(1, dtype=pl.Int32).alias("n"),
        *(texts.get(name, pl.lit(None, dtype=pl.String)).alias(f"t_{name}") for name in fields),
    )
    return _translated(frame, mapping, ("exercise", "client"))


def _key(mapping: Mapping, name: str, section: str = "columns") -> str:
    return f"{mapping.path}: [{section}] {name}"


def _translated(frame: pl.DataFrame, mapping: Mapping, fields: Iterable[str]) -> pl.DataFrame:
    """`frame` with the export's values replaced as [values.<field>] says."""
    for name in fields:
        table = mapping.values.get(name)
        if table:
            folded = {key.strip().casefold(): value for key, value in table.items()}

            def told(
                text: str,
                table: dict[str, str] = table,
                folded: dict[str, str] = folded,
            ) -> str:
                return table.get(text, folded.get(text.casefold(), text))

            read = _by_distinct(frame[f"t_{name}"], told, pl.String())
            frame = frame.with_columns(read.alias(f"t_{name}"))
            if "" in folded:
                frame = frame.with_columns(_text(name).fill_null(folded[""]))
    return frame


def _by_distinct(texts: pl.Series, read: Callable[[str], Any], dtype: pl.DataType) -> pl.Series:
    """What `read` makes of each text, called once per distinct one; null stays null."""
    distinct = texts.drop_nulls().unique()
    if not distinct.len():
        return pl.Series(texts.name, [None], dtype=dtype).new_from_index(0, texts.len())
    told = pl.Series([read(text) for text in distinct.to_list()], dtype=dtype)
    return texts.replace_strict(distinct, told, default=None, return_dtype=dtype)


# What belongs to a whole line


def _read_lines(
    lines: pl.DataFrame,
    mapping: Mapping,
    export: RawExport,
    clients: ClientIndex,
    numbers: _NumberStyle,
) -> tuple[pl.DataFrame, dict[str, str]]:
    """Lines with client, day, start and bodyweight read; null where a text cannot be."""
    lines, spellings = _with_clients(lines, mapping, clients)
    lines = _with_days(lines, mapping, export)
    lines = _with_starts(lines, mapping)
    lines = _with_bodyweights(lines, mapping, numbers, export)
    return lines, spellings


def _with_clients(
    lines: pl.DataFrame, mapping: Mapping, clients: ClientIndex
) -> tuple[pl.DataFrame, dict[str, str]]:
    if not _has(mapping, "client"):
        return (
            lines.with_columns(
                pl.lit(clients.sole).alias("client_id"),
                pl.lit(None, dtype=pl.String).alias("client_doubt"),
            ),
            {},
        )
    found = clients.resolve(lines["t_client"].drop_nulls().unique().to_list())
    lines = lines.with_columns(
        _by_distinct(lines["t_client"], found.ids.get, pl.String()).alias("client_id"),
        _by_distinct(lines["t_client"], found.ambiguous.get, pl.String()).alias("client_doubt"),
    )
    spellings: dict[str, str] = {}
    for spelling, client_id in sorted(found.ids.items()):
        if client_id not in clients.ids:
            spellings.setdefault(client_id, spelling)
    return lines, spellings


def _has(mapping: Mapping, name: str) -> bool:
    return name in mapping.columns or name in mapping.constants


def _with_days(lines: pl.DataFrame, mapping: Mapping, export: RawExport) -> pl.DataFrame:
    """Adds `performed_on` and `moment`, the clock time that the day's cell carries."""
    texts = lines["t_performed_on"]
    if mapping.date_format is None:
        read = _iso_moments(texts)
        read = _with_order_free_days(texts, read, mapping, export)
    else:
        read = _formatted_moments(texts, mapping.date_format, mapping, "date")
    return lines.hstack(read)


def _iso_moments(texts: pl.Series) -> pl.DataFrame:
    """Columns performed_on and moment of ISO 8601 texts; null where they are none."""
    text = pl.col("text")
    head = text.str.slice(0, 10).str.to_date("%Y-%m-%d", strict=False)
    clock = text.str.slice(10)
    has_moment = clock.str.contains(
        r"^[Tt ][0-2][0-9]:[0-5][0-9](?::[0-5][0-9](?:[.,][0-9]+)?)?"
        r"(?: ?(?:[Zz]|[+-][0-9]{2}:?(?:[0-9]{2})?))?$"
    )
    seconds = clock.str.extract(r"^.[0-9]{2}:[0-9]{2}:([0-9]{2})").fill_null("00")
    moment = pl.concat_str(text.str.slice(0, 10), pl.lit("T"), clock.str.slice(1, 5), pl.lit(":"),
                           seconds).str.to_datetime("%Y-%m-%dT%H:%M:%S", strict=False,
                                                    time_unit="us")  # fmt: skip
    is_dated = text.str.contains(r"^[0-9]{4}-[0-9]{2}-[0-9]{2}")
    frame = texts.alias("text").to_frame()
    plain = frame.select(
        pl.when(is_dated & (clock == "")).then(head).alias("performed_on"),
        pl.lit(None, dtype=pl.Datetime("us")).alias("moment"),
    )
    if plain["performed_on"].null_count() > texts.null_count():
        moments = frame.select(pl.when(is_dated & has_moment).then(moment)).to_series()
        plain = plain.with_columns(
            pl.col("performed_on").fill_null(moments.dt.date()), moments.alias("moment")
        )
    return _with_distinct_moments(texts, plain, values.read_moment)


def _with_distinct_moments(
    texts: pl.Series, read: pl.DataFrame, reader: Callable[[str], values.Moment | None]
) -> pl.DataFrame:
    """`read` with what is still null read text by text."""
    missing = read["performed_on"].is_null() & texts.is_not_null()
    left = texts.filter(missing).unique()
    if not left.len():
        return read
    found = {text: moment for text in left.to_list() if (moment := reader(text)) is not None}
    open_texts = texts.set(~missing, None)
    days = _by_distinct(
        open_texts, lambda text: found[text].day if text in found else None, pl.Date()
    )
    moments = _by_distinct(
        open_texts, lambda text: found[text].at if text in found else None, pl.Datetime("us")
    )
    return read.with_columns(
        pl.col("performed_on").fill_null(days), pl.col("moment").fill_null(moments)
    )


def _with_order_free_days(
    texts: pl.Series, read: pl.DataFrame, mapping: Mapping, export: RawExport
) -> pl.DataFrame:
    """Days such as 31.08.2026 without a format: read if only one order of day and month fits all.

    A few of them among ISO days are slips, and stay unread.
    """
    missing = read["performed_on"].is_null() & texts.is_not_null()
    left = texts.filter(missing)
    shaped = left.filter(
        left.str.contains(f"^(?:{values.ORDER_FREE.pattern.replace(chr(92) + '2', '[./-]')})$")
    )
    filled = texts.len() - texts.null_count()
    if not shaped.len() or 2 * shaped.len() < filled:
        return read
    distinct = sorted(shaped.unique().to_list())
    orders = [
        order for order in (True, False) if all(_order_fits(text, order) for text in distinct)
    ]
    column = mapping.columns.get("performed_on", "performed_on")
    if len(orders) != 1:
        trouble = (
            "reads as day/month and as month/day"
            if orders
            else "is written with the day first in some lines and the month first in others"
        )
        raise ConfigError(
            f"{mapping.path}: [formats] date is open: column '{column}' of {export.shown} "
            f"{trouble} (such as '{shortened(distinct[0])}'); write date = \"%d/%m/%Y\" or "
            '"%m/%d/%Y" under [formats], with the marks that the export has.'
        )
    day_first = orders[0]
    return _with_distinct_moments(texts, read, lambda text: _ordered(text, day_first))


def _order_fits(text: str, day_first: bool) -> bool:
    match = values.ORDER_FREE.fullmatch(text)
    return match is not None and int(match[3] if day_first else match[1]) <= 12


def _ordered(text: str, day_first: bool) -> values.Moment | None:
    match = values.ORDER_FREE.fullmatch(text)
    if match is None:
        return None
    day, month = (match[1], match[3]) if day_first else (match[3], match[1])
    year = match[4] if len(match[4]) == 4 else f"20{match[4]}"
    rest = text[match.end(4) :].lstrip(", ")
    return values.read_moment(f"{year}-{month}-{day}" + (f" {rest.lstrip('T')}" if rest else ""))


def _formatted_moments(texts: pl.Series, given: str, mapping: Mapping, key: str) -> pl.DataFrame:
    """Columns performed_on and moment of texts in a strptime pattern, or epoch numbers."""
    pattern = values.expanded(given)
    if not values.names_a_day(pattern):
        raise ConfigError(
            f"{mapping.path}: [formats] {key} = {given!r} does not tell year, month and day; "
            'write a strptime pattern such as "%d.%m.%Y", or "epoch".'
        )
    none = pl.lit(None, dtype=pl.Datetime("us")).alias("moment")
    frame = texts.alias("text").to_frame()
    empty = frame.select(pl.lit(None, dtype=pl.Date).alias("performed_on"), none)
    if frame.height and empty.height == 1:
        empty = empty.select(pl.all().repeat_by(frame.height).list.explode())
    read = empty
    text = pl.col("text")
    if pattern in ("epoch", "epoch_ms"):
        per_second = 1000 if pattern == "epoch_ms" else 1
        number = pl.when(text.str.contains(r"^-?[0-9]{1,14}$")).then(text)
        micros = number.cast(pl.Int64, strict=False) // per_second * 1_000_000
        moment = micros.cast(pl.Datetime("us"))
        read = frame.select(moment.dt.date().alias("performed_on"), moment.alias("moment"))
    elif not {"%z", "%Z", "%y"} & {pattern[at : at + 2] for at in range(len(pattern))}:
        try:
            if values.has_clock(pattern):
                moment = text.str.to_datetime(pattern, strict=False, time_unit="us")
                read = frame.select(
                    moment.dt.date().alias("performed_on"),
                    moment.dt.truncate("1s").alias("moment"),
                )
            else:
                days = text.str.to_date(pattern, strict=False)
                read = frame.select(days.alias("performed_on"), none)
        except pl.exceptions.PolarsError:
            read = empty
    return _with_distinct_moments(texts, read, lambda each: values.read_by_format(each, pattern))


def _with_starts(lines: pl.DataFrame, mapping: Mapping) -> pl.DataFrame:
    """Adds `started_at`: from its own field, else from the day's cell; and `start_read`."""
    if not _has(mapping, "started_at"):
        return lines.with_columns(
            pl.col("moment").alias("started_at"), pl.lit(True).alias("start_read")
        )
    texts = lines["t_started_at"]
    pattern = mapping.started_at_format
    clock_only = pattern is not None and not values.names_a_day(values.expanded(pattern))
    if pattern is not None and not clock_only:
        whole = _formatted_moments(texts, pattern, mapping, "started_at")["moment"]
        clocks = pl.Series([None], dtype=pl.Time).new_from_index(0, texts.len())
    elif clock_only:
        written = values.expanded(pattern or "")
        whole = pl.Series([None], dtype=pl.Datetime("us")).new_from_index(0, texts.len())

        def by_format(text: str) -> Any:
            found = values.read_by_format(f"2026-11-23 {text}", f"%Y-%m-%d {written}")
            return found.at.time() if found and found.at else None

        clocks = _by_distinct(texts, by_format, pl.Time())
    else:
        short = texts.str.len_chars() <= 14
        clocks = _by_distinct(texts.set(~short.fill_null(True), None), values.read_clock, pl.Time())
        whole = _iso_moments(texts.set(clocks.is_not_null(), None))["moment"]
    return lines.with_columns(whole.alias("whole"), clocks.alias("clock")).with_columns(
        pl.coalesce("whole", pl.col("performed_on").dt.combine(pl.col("clock"), "us")).alias(
            "started_at"
        ),
        (
            _text("started_at").is_null()
            | pl.col("whole").is_not_null()
            | pl.col("clock").is_not_null()
        ).alias("start_read"),
    )


def _with_bodyweights(
    lines: pl.DataFrame, mapping: Mapping, numbers: _NumberStyle, export: RawExport
) -> pl.DataFrame:
    """Adds `bodyweight_kg`; null and a text: it cannot be read."""
    if not _has(mapping, "bodyweight"):
        return lines.with_columns(pl.lit(None, dtype=pl.Float64).alias("bodyweight_kg"))
    read = _numbers(lines["t_bodyweight"], numbers)
    row_unit = _by_distinct(lines["t_load_unit"], _unit_reader(mapping), pl.String())
    default = mapping.bodyweight_unit or mapping.load_unit
    given = (
        pl.coalesce(read["unit"], pl.lit(default, dtype=pl.String))
        if mapping.bodyweight_unit
        else pl.coalesce(read["unit"], row_unit, pl.lit(default, dtype=pl.String))
    )
    lines = lines.with_columns(read["value"].alias("bodyweight"), given.alias("bodyweight_unit"))
    if lines.filter(
        pl.col("bodyweight").is_not_null() & pl.col("bodyweight_unit").is_null()
    ).height:
        raise ConfigError(
            f"{mapping.path}: [formats] bodyweight_unit is open: column "
            f"'{mapping.columns.get('bodyweight', 'bodyweight')}' of {export.shown} does not say "
            'kg or lb; write bodyweight_unit = "kg" or "lb" under [formats].'
        )
    return lines.with_columns(
        (pl.col("bodyweight") * _factor("bodyweight_unit")).alias("bodyweight_kg")
    )


def _factor(unit: str) -> pl.Expr:
    return pl.when(pl.col(unit) == "lb").then(KG_PER_LB).otherwise(1.0)


def _unit_reader(mapping: Mapping) -> Callable[[str], str | None]:
    table = mapping.values.get("load_unit", {})

    def read(text: str) -> str | None:
        told = table.get(text, text)
        return values.UNIT_WORDS.get(values.word(told))

    return read


def _line_tests(
    mapping: Mapping, tomorrow: date, period: tuple[date | None, date | None]
) -> list[_Test]:
    day = pl.col("performed_on")
    client, on = _named(mapping, "client"), _named(mapping, "performed_on")
    form = f"in the form {mapping.date_format}" if mapping.date_format else "such as 2026-08-31"
    low, high = BODYWEIGHT_KG
    bodyweight = pl.col("bodyweight_kg")
    return [
        _Test(
            Reason.NO_CLIENT,
            pl.col("client_id").is_null() & pl.col("client_doubt").is_null(),
            _said(f"{client} is empty: whose line it is cannot be told."),
        ),
        _Test(
            Reason.CLIENT_AMBIGUOUS,
            pl.col("client_doubt").is_not_null(),
            pl.col("client_doubt"),
        ),
        _Test(Reason.NO_DATE, _text("performed_on").is_null(), _said(f"{on} is empty: no day.")),
        _Test(
            Reason.NOT_A_DATE,
            day.is_null(),
            _said("'", _text("performed_on"), f"' under {on} is not a day {form}."),
        ),
        _Test(
            Reason.DATE_IN_FUTURE,
            day > tomorrow,
            _said("'", _text("performed_on"), f"' under {on} lies beyond tomorrow ({tomorrow})."),
        ),
        _Test(
            Reason.DATE_TOO_EARLY,
            day < FIRST_DAY,
            _said("'", _text("performed_on"), f"' under {on} lies before {FIRST_DAY.year}."),
        ),
        _Test(
            Reason.OUTSIDE_PERIOD,
            ~day.is_between(period[0] or date.min, period[1] or date.max),
            _said(
                "'", _text("performed_on"), "' lies outside the from and until of its [[sources]]."
            ),
        ),
        _Test(
            Reason.NOT_A_TIME,
            ~pl.col("start_read"),
            _said(
                "'",
                _text("started_at"),
                f"' under {_named(mapping, 'started_at')} is not a clock time such as 18:05.",
            ),
        ),
        _Test(
            Reason.BODYWEIGHT_WRONG,
            _text("bodyweight").is_not_null()
            & (bodyweight.is_null() | ~bodyweight.is_between(low, high)),
            _said(
                "'",
                _text("bodyweight"),
                f"' under {_named(mapping, 'bodyweight')} is not a bodyweight of "
                f"{low:.0f} to {high:.0f} kg.",
            ),
        ),
    ]


def _named(mapping: Mapping, name: str) -> str:
    """A field as a person finds it: the export's column."""
    return f"'{mapping.columns[name]}'" if name in mapping.columns else f"'{name}'"


def _said(*parts: str | pl.Expr) -> pl.Expr:
    """An explanation of fixed words and values; values are cut to one line."""
    return pl.concat_str(
        [
            pl.lit(part)
            if isinstance(part, str)
            else part.cast(pl.String).fill_null("").str.replace_all(r"\s+", " ").str.slice(0, 60)
            for part in parts
        ]
    )


# Numbers


def _number_style(
    export: RawExport, mapping: Mapping, lines: pl.DataFrame, rules: Rules
) -> _NumberStyle:
    """The decimal mark: given, else found in all number columns of the file."""
    form = mapping.file
    if form.decimal:
        mark: Decimal = "," if form.decimal == "," else "."
        return _NumberStyle(mark, True, form.thousands)
    marked: set[str] = set()
    for name in ("load", "bodyweight", "rir", "rpe"):
        column = mapping.columns.get(name, "")
        if "{n}" in column:
            found = export.numbered(column, _key(mapping, name)).values()
            texts = [export.records[each] for each in found]
        else:
            texts = [lines[f"t_{name}"]]
        for series in texts:
            marked.update(series.filter(series.str.contains("[.,]")).unique().to_list())
    load_max = rules.load_max_kg / KG_PER_UNIT[mapping.load_unit or "lb"]
    return _NumberStyle(values.detect_decimal(sorted(marked), load_max), False, form.thousands)


def _numbers(texts: pl.Series, style: _NumberStyle) -> pl.DataFrame:
    """Columns value, unit, is_added, is_read of number texts."""
    clean = r"^[0-9]+$" if style.decimal == "," else r"^[0-9]+(?:\.[0-9]+)?$"
    text = pl.col("text")
    frame = (
        texts.alias("text")
        .to_frame()
        .select(
            "text",
            pl.when(text.str.contains(clean))
            .then(text)
            .cast(pl.Float64, strict=False)
            .alias("value"),
        )
    )
    missing = frame["value"].is_null() & texts.is_not_null()
    if not missing.any():
        return frame.select(
            "value",
            pl.lit(None, dtype=pl.String).alias("unit"),
            pl.lit(False).alias("is_added"),
            pl.lit(True).alias("is_read"),
        )
    left = texts.filter(missing).unique().to_list()
    read = {
        each: values.read_number(each, style.decimal, style.is_given, style.thousands)
        for each in left
    }
    told = pl.DataFrame(
        [
            (each, number.value, number.unit, number.is_added, True)
            for each, number in read.items()
            if number is not None
        ],
        schema={
            "text": pl.String,
            "told": pl.Float64,
            "unit": pl.String,
            "is_added": pl.Boolean,
            "is_read": pl.Boolean,
        },
        orient="row",
    )
    joined = frame.join(told, on="text", how="left", maintain_order="left")
    return joined.select(
        pl.coalesce("value", "told").alias("value"),
        "unit",
        pl.col("is_added").fill_null(False),
        (pl.col("is_read").fill_null(False) | pl.col("value").is_not_null() | text.is_null()).alias(
            "is_read"
        ),
    )


# Lines to entries: a row a set, as text


_NOTED = {
    "cell": pl.String,
    "n": pl.Int32,
    "noted_load": pl.Float64,
    "noted_unit": pl.String,
    "noted_basis": pl.String,
    "noted_reps": pl.Int32,
    "noted_partial_reps": pl.Int32,
    "noted_rir": pl.Float64,
    "noted_rpe": pl.Float64,
    "noted_to_failure": pl.Boolean,
    "noted_kind": pl.String,
}


def _entries(
    lines: pl.DataFrame, export: RawExport, mapping: Mapping, faults: _Faults
) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Weigh-ins of lines without a set, and a row for each set of the other lines."""
    if mapping.rows == "exercises":
        lines, weighed = _parted(lines, mapping, faults, _text(SETS_COLUMN).is_null())
        return weighed, _noted_entries(lines, mapping, faults)
    if mapping.rows == "wide":
        entries, filled = _wide_entries(lines, export, mapping)
        has_none = ~pl.col("line").is_in(filled["line"].implode())
        lines, weighed = _parted(lines, mapping, faults, has_none)
        entries = entries.join(lines.select("line"), on="line", how="semi", maintain_order="left")
        return weighed, faults.sift(entries, [_no_exercise(mapping)])
    mapped = [name for name in ("load", "reps", "set_no", "rir", "rpe") if name in mapping.columns]
    empty = pl.all_horizontal(_text(name).is_null() for name in mapped)
    lines, weighed = _parted(
        lines, mapping, faults, empty & _text("exercise").is_null() if mapped else pl.lit(False)
    )
    return weighed, faults.sift(lines, [_no_exercise(mapping)])


def _parted(
    lines: pl.DataFrame, mapping: Mapping, faults: _Faults, without_sets: pl.Expr
) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Lines with sets, and the weigh-ins of those without; neither: set aside."""
    if mapping.rows != "sets":
        test = _Test(
            Reason.NO_SETS,
            without_sets & pl.col("bodyweight_kg").is_null(),
            _said("the line lists no set."),
        )
        lines = faults.sift(lines, [test])
    weighs = without_sets & pl.col("bodyweight_kg").is_not_null()
    return lines.filter(~weighs), _weigh_ins(lines.filter(weighs))


def _weigh_ins(frame: pl.DataFrame) -> pl.DataFrame:
    return frame.filter(pl.col("bodyweight_kg").is_not_null()).select(
        "client_id", "performed_on", "bodyweight_kg", "line"
    )


def _no_exercise(mapping: Mapping) -> _Test:
    return _Test(
        Reason.NO_EXERCISE,
        _text("exercise").is_null(),
        _said(f"{_named(mapping, 'exercise')} is empty: no exercise."),
    )


def _wide_entries(
    lines: pl.DataFrame, export: RawExport, mapping: Mapping
) -> tuple[pl.DataFrame, pl.DataFrame]:
    """A row for each group of numbered cells that is not empty; n counts them within the line."""
    numbered = {
        name: export.numbered(column, _key(mapping, name))
        for name, column in mapping.columns.items()
        if "{n}" in column
    }
    records = export.records.join(
        lines.select(pl.col("line").alias("source_line")),
        on="source_line",
        how="semi",
        maintain_order="left",
    )
    groups = []
    for number in range(max(max(found) for found in numbered.values()) + 1):
        cells = {name: found[number] for name, found in numbered.items() if number in found}
        if not cells:
            continue
        texts = records.select(
            *(_stripped(column).alias(f"t_{name}") for name, column in cells.items())
        )
        absent = [
            pl.lit(None, dtype=pl.String).alias(f"t_{name}")
            for name in numbered
            if name not in cells
        ]
        group = lines.with_columns(*texts.get_columns(), *absent).with_columns(
            pl.lit(number, dtype=pl.Int32).alias("n")
        )
        groups.append(group.filter(pl.any_horizontal(_text(name).is_not_null() for name in cells)))
    entries = pl.concat(groups).sort("line", "n")
    entries = entries.with_columns(
        (pl.col("line").cum_count().over("line")).cast(pl.Int32).alias("n")
    )
    return entries, entries.select("line").unique()


def _noted_entries(lines: pl.DataFrame, mapping: Mapping, faults: _Faults) -> pl.DataFrame:
    """A row for each set that a cell lists."""
    lines = faults.sift(lines, [_no_exercise(mapping)])
    read = parse_column(lines[f"t_{SETS_COLUMN}"].unique().to_list())
    refused = {
        cell: found.reason for cell, found in read.items() if isinstance(found, NotationError)
    }
    doubts = _by_distinct(lines[f"t_{SETS_COLUMN}"], refused.get, pl.String())
    lines = faults.sift(
        lines.with_columns(doubts.alias("doubt")),
        [
            _Test(
                Reason.SETS_UNREADABLE,
                pl.col("doubt").is_not_null(),
                pl.concat_str(
                    _said("'", _text(SETS_COLUMN), f"' under {_named(mapping, SETS_COLUMN)}: "),
                    pl.col("doubt"),
                    pl.lit("."),
                ),
            )
        ],
    )
    noted = pl.DataFrame(
        [
            (
                cell,
                n,
                each.load,
                each.unit,
                each.basis,
                each.reps,
                each.partial_reps,
                each.rir,
                each.rpe,
                each.to_failure,
                None if each.kind == "work" else each.kind,
            )
            for cell, found in read.items()
            if not isinstance(found, NotationError)
            for n, each in enumerate(found, start=1)
        ],
        schema=_NOTED,
        orient="row",
    )
    entries = lines.drop("n", "doubt").join(
        noted, left_on=f"t_{SETS_COLUMN}", right_on="cell", how="inner"
    )
    return entries.sort("line", "n")


# What belongs to a set


def _read_entries(
    entries: pl.DataFrame, export: RawExport, mapping: Mapping, numbers: _NumberStyle
) -> pl.DataFrame:
    """Entries with their texts read; null and a text: it cannot be read."""
    entries = _translated(
        entries, mapping, ("set_kind", "side", "to_failure", "load_unit", "load_basis")
    )
    load = _numbers(entries["t_load"], numbers)
    rir_texts = entries["t_rir"].str.strip_suffix("+")
    rir, rpe = (_numbers(texts, numbers)["value"] for texts in (rir_texts, entries["t_rpe"]))
    counts = {
        name: _numbers(entries[f"t_{name}"], numbers)["value"]
        for name in ("reps", "partial_reps", "set_no")
    }
    words = {
        name: _by_distinct(entries[f"t_{name}"], _word_reader(table), dtype)
        for name, table, dtype in (
            ("set_kind", values.KIND_WORDS, pl.String()),
            ("load_basis", values.BASIS_WORDS, pl.String()),
            ("load_unit", values.UNIT_WORDS, pl.String()),
            ("to_failure", values.TRUTH_WORDS, pl.Boolean()),
            ("side", values.SIDE_WORDS, pl.String()),
        )
    }
    side_known = _by_distinct(
        entries["t_side"], lambda text: values.word(text) in values.SIDE_WORDS, pl.Boolean()
    )
    entries = entries.with_columns(
        load["value"].alias("load"),
        load["is_read"].alias("load_read"),
        load["unit"].alias("cell_unit"),
        load["is_added"].alias("is_added"),
        rir.alias("rir"),
        rpe.alias("rpe"),
        *(series.alias(name) for name, series in (counts | words).items()),
        side_known.alias("side_known"),
    )
    if _has(mapping, "to_failure"):
        entries = entries.with_columns(
            pl.when(_text("to_failure").is_null())
            .then(pl.lit(False))
            .otherwise("to_failure")
            .alias("to_failure")
        )
    entries = _with_noted(entries)
    entries = entries.with_columns(
        pl.coalesce("cell_unit", "load_unit", pl.lit(mapping.load_unit, dtype=pl.String)).alias(
            "unit"
        ),
        pl.when(pl.col("is_added") & pl.col("load_basis").is_null())
        .then(pl.lit("added"))
        .otherwise("load_basis")
        .alias("load_basis"),
    )
    _refuse_open_unit(entries, export, mapping)
    return entries.with_columns((pl.col("load") * _factor("unit")).alias("load_kg"))


def _with_noted(entries: pl.DataFrame) -> pl.DataFrame:
    """What a cell lists wins over what holds for the whole line."""
    if "noted_reps" not in entries.columns:
        return entries
    return entries.with_columns(
        pl.col("noted_load").alias("load"),
        pl.col("noted_unit").alias("cell_unit"),
        pl.coalesce("noted_basis", "load_basis").alias("load_basis"),
        pl.col("noted_reps").cast(pl.Float64).alias("reps"),
        pl.col("noted_reps").cast(pl.String).alias("t_reps"),
        pl.col("noted_load").cast(pl.String).alias("t_load"),
        pl.coalesce(pl.col("noted_partial_reps").cast(pl.Float64), "partial_reps").alias(
            "partial_reps"
        ),
        pl.coalesce("noted_rir", "rir").alias("rir"),
        pl.coalesce("noted_rpe", "rpe").alias("rpe"),
        pl.coalesce("noted_to_failure", "to_failure").alias("to_failure"),
        pl.coalesce("noted_kind", "set_kind").alias("set_kind"),
        pl.coalesce(pl.col("noted_partial_reps").cast(pl.String), "t_partial_reps").alias(
            "t_partial_reps"
        ),
        pl.coalesce(pl.col("noted_rir").cast(pl.String), "t_rir").alias("t_rir"),
        pl.coalesce(pl.col("noted_rpe").cast(pl.String), "t_rpe").alias("t_rpe"),
    )


def _word_reader(table: dict[str, Any]) -> Callable[[str], Any]:
    folded = {values.word(key): value for key, value in table.items()}
    return lambda text: folded.get(values.word(text))


def _refuse_open_unit(entries: pl.DataFrame, export: RawExport, mapping: Mapping) -> None:
    """A load of no known unit is never guessed at; zero is zero in either."""
    if mapping.load_unit or _has(mapping, "load_unit"):
        return
    bare = entries.filter((pl.col("load") != 0) & pl.col("unit").is_null())
    if not bare.height:
        return
    name = SETS_COLUMN if mapping.rows == "exercises" else "load"
    raise ConfigError(
        f"{mapping.path}: [formats] load_unit is open: column {_named(mapping, name)} of "
        f"{export.shown} does not say kg or lb (line {bare['line'][0]}); write "
        'load_unit = "kg" or "lb" under [formats].'
    )


def _entry_tests(mapping: Mapping, rules: Rules) -> list[_Test]:
    def wrong(name: str, said: str) -> pl.Expr:
        return _said("'", _text(name), f"' under {_named(mapping, name)} is {said}.")

    def unknown(name: str, known: pl.Expr) -> pl.Expr:
        return _text(name).is_not_null() & ~known

    def whole(name: str) -> pl.Expr:
        return pl.col(name) == pl.col(name).floor()

    reps, load, partials = pl.col("reps"), pl.col("load_kg"), pl.col("partial_reps")
    rir, rpe, set_no = pl.col("rir"), pl.col("rpe"), pl.col("set_no")
    most = rules.reps_max
    return [
        _Test(
            Reason.NO_REPS,
            _text("reps").is_null(),
            _said(f"{_named(mapping, 'reps')} is empty: no repetitions."),
        ),
        _Test(
            Reason.REPS_NOT_WHOLE,
            reps.is_null() | ~whole("reps"),
            wrong("reps", "not a whole number of repetitions"),
        ),
        _Test(
            Reason.REPS_OUT_OF_RANGE,
            ~reps.is_between(1, most),
            wrong("reps", f"outside 1 to {most} repetitions ([rules] reps_max)"),
        ),
        _Test(
            Reason.PARTIALS_WRONG,
            unknown(
                "partial_reps",
                (partials.is_between(0, most) & whole("partial_reps")).fill_null(False),
            ),
            wrong("partial_reps", f"not a whole number of partial repetitions, 0 to {most}"),
        ),
        _Test(
            Reason.LOAD_NOT_A_NUMBER,
            ~pl.col("load_read"),
            wrong("load", "not a number that is a load"),
        ),
        _Test(
            Reason.LOAD_NEGATIVE,
            load < 0,
            wrong("load", 'a negative load; assistance is a load with load_basis = "assisted"'),
        ),
        _Test(
            Reason.UNIT_UNKNOWN,
            unknown("load_unit", pl.col("load_unit").is_not_null()),
            wrong("load_unit", "not kg or lb; [values.load_unit] says what it means"),
        ),
        _Test(
            Reason.NO_UNIT,
            (load != 0) & pl.col("unit").is_null(),
            _said(
                f"{_named(mapping, 'load_unit')} is empty: the unit of the load '",
                _text("load"),
                "' cannot be told; [formats] load_unit can say it.",
            ),
        ),
        _Test(
            Reason.LOAD_TOO_HIGH,
            load > rules.load_max_kg,
            wrong("load", f"above {rules.load_max_kg:g} kg ([rules] load_max_kg)"),
        ),
        _Test(
            Reason.BASIS_UNKNOWN,
            unknown("load_basis", pl.col("load_basis").is_not_null()),
            wrong("load_basis", "not total, per_hand, added, assisted or none"),
        ),
        _Test(
            Reason.RIR_WRONG,
            unknown("rir", rir.is_between(0, rules.rir_max).fill_null(False)),
            wrong("rir", f"not repetitions in reserve, 0 to {rules.rir_max:g} ([rules] rir_max)"),
        ),
        _Test(
            Reason.RPE_WRONG,
            unknown("rpe", rpe.is_between(1, 10).fill_null(False)),
            wrong("rpe", "not a perceived exertion, 1 to 10"),
        ),
        _Test(
            Reason.FAILURE_UNKNOWN,
            unknown("to_failure", pl.col("to_failure").is_not_null()),
            wrong("to_failure", "neither yes nor no; [values.to_failure] says what it means"),
        ),
        _Test(
            Reason.SET_KIND_UNKNOWN,
            unknown("set_kind", pl.col("set_kind").is_not_null()),
            wrong(
                "set_kind", "not work, warmup or extension; [values.set_kind] says what it means"
            ),
        ),
        _Test(
            Reason.SIDE_UNKNOWN,
            unknown("side", pl.col("side_known")),
            wrong("side", "neither left nor right; [values.side] says what it means"),
        ),
        _Test(
            Reason.SET_NO_WRONG,
            unknown("set_no", (whole("set_no") & set_no.is_between(0, 100_000)).fill_null(False)),
            wrong("set_no", "not a whole set number"),
        ),
    ]


# Lines beside each other


def _duplicates(entries: pl.DataFrame, export: RawExport) -> list[_Test]:
    """Lines equal in every cell to an earlier one, if they carry a set number or a start time.

    A clock time in the day's own cell counts only if no unequal line of the client has the same:
    else it is when the session began, and alike sets are sets.
    """
    numbered = pl.col("set_no").is_not_null()
    own_start = _text("started_at").is_not_null()
    moment = pl.col("moment").is_not_null()
    marked = entries.filter(numbered | own_start | moment)
    if not marked.height:
        return []
    cells = [name for name in export.records.columns if name != "source_line"]
    hashes = export.records.select(
        pl.col("source_line").alias("line"), pl.struct(cells).hash().alias("hash")
    )
    marked = marked.join(hashes, on="line", how="left", maintain_order="left")
    alike = marked.filter(pl.col("hash").is_duplicated())["line"].unique()
    if not alike.len():
        return []
    shared = pl.col("hash").n_unique().over("client_id", "moment") > 1
    chosen = marked.filter(numbered | own_start | (moment & ~shared))["line"].unique()
    first = (
        export.records.filter(pl.col("source_line").is_in(alike.implode()))
        .with_columns(pl.col("source_line").min().over(cells).alias("first"))
        .filter(
            (pl.col("first") != pl.col("source_line"))
            & pl.col("source_line").is_in(chosen.implode())
        )
    )
    if not first.height:
        return []
    lines, firsts = first["source_line"], first["first"]
    earlier = pl.col("line").replace_strict(lines, firsts, default=None, return_dtype=pl.Int32)
    return [
        _Test(
            Reason.DUPLICATE,
            earlier.is_not_null(),
            _said("every cell equals line ", earlier, ", with its set number or start time."),
        )
    ]


def _with_day_order(entries: pl.DataFrame, faults: _Faults) -> pl.DataFrame:
    """Adds `day_order`, after the extensions without a set before them are set aside."""
    while True:
        ordered = _ordered_in_day(entries)
        if not (ordered["set_kind"] == "extension").any():
            return ordered
        in_order = ordered.sort("day_key", "day_order")
        is_work = pl.col("set_kind").fill_null("work") == "work"
        lift = _text("exercise").str.to_lowercase()
        before = is_work.cast(pl.Int32).cum_sum().over("day_key", lift)
        marked = in_order.with_columns(before.alias("before"))
        kept = faults.sift(
            marked,
            [
                _Test(
                    Reason.EXTENSION_WITHOUT_SET,
                    (pl.col("set_kind") == "extension") & (pl.col("before") == 0),
                    _said(
                        "an extension of '",
                        _text("exercise"),
                        "' without a work set of it before on that day.",
                    ),
                )
            ],
        )
        if kept.height == marked.height:
            return ordered
        entries = kept.drop("before", "day_order", "day_key").sort("line", "n")


def _ordered_in_day(entries: pl.DataFrame) -> pl.DataFrame:
    """Adds `day_key` (client and day as a number) and `day_order`; rows stay in file order.

    Order: start time, then file order. A client's lines count as written last to first if that
    client's set numbers mostly descend from line to line within a day's exercise; without set
    numbers, if the days mostly descend. A set without start time goes with the line before it.
    """
    codes = entries["client_id"].unique(maintain_order=True)
    code = entries["client_id"].replace_strict(
        codes, pl.Series(range(codes.len()), dtype=pl.Int64), return_dtype=pl.Int64
    ) if entries.height else pl.Series([], dtype=pl.Int64)  # fmt: skip
    entries = entries.with_columns(
        (code * 1_000_000 + entries["performed_on"].cast(pl.Int32)).alias("day_key")
    )
    backwards = entries.select(_runs_backwards(entries)).to_series()
    has_starts = entries["started_at"].null_count() < entries.height
    if not has_starts and not backwards.any():
        order = pl.col("day_key").cum_count().over("day_key")
        return entries.with_columns(order.cast(pl.Int32).alias("day_order"))
    at = pl.when(backwards).then(-pl.col("line")).otherwise("line")
    placed = entries.with_row_index("row").with_columns(at.alias("at")).sort("day_key", "at", "n")
    placed = placed.with_columns(pl.col("started_at").forward_fill().over("day_key").alias("start"))
    placed = placed.sort("day_key", "start", "at", "n", nulls_last=False)
    placed = placed.with_columns(
        pl.col("day_key").cum_count().over("day_key").cast(pl.Int32).alias("day_order")
    )
    return placed.sort("row").drop("row", "at", "start")


def _runs_backwards(entries: pl.DataFrame) -> pl.Expr:
    """Whether the row's client wrote the last set first."""
    step = pl.col("performed_on").cast(pl.Int32).diff().sign().over("client_id")
    by_days = step.sum().over("client_id") < 0
    if entries["set_no"].null_count() == entries.height:
        return by_days
    number = pl.col("set_no").diff().sign().over("day_key", _text("exercise"))
    ups = number.sum().over("client_id")
    return pl.when(ups != 0).then(ups < 0).otherwise(by_days)


# Rows of the ledger


def _sets(entries: pl.DataFrame, mapping: Mapping, load_id: int) -> pl.DataFrame:
    found: dict[str, pl.Expr] = {
        "set_id": pl.concat_str(pl.lit(f"{load_id}:"), pl.col("line"), pl.lit(":"), pl.col("n")),
        "session_id": pl.concat_str(
            "client_id", pl.lit("/"), pl.col("performed_on").dt.to_string("%Y-%m-%d")
        ),
        "exercise_raw": _text("exercise"),
        "load_unit": pl.when(pl.col("load_kg").is_not_null()).then("unit"),
        "set_kind": pl.col("set_kind").fill_null("work"),
        "notes": _text("notes"),
        "source": pl.lit(mapping.name),
        "load_id": pl.lit(load_id, dtype=pl.Int32),
        "source_line": pl.col("line"),
    }
    return entries.select(
        found.get(name, pl.col(name)).cast(dtype).alias(name) for name, dtype in SETS_SCHEMA.items()
    )


def _bodyweights(weighed: pl.DataFrame, mapping: Mapping, load_id: int) -> pl.DataFrame:
    once = weighed.sort("line").unique(
        ["client_id", "performed_on", "bodyweight_kg"], keep="first", maintain_order=True
    )
    return once.select(
        "client_id",
        "performed_on",
        "bodyweight_kg",
        pl.lit(mapping.name).alias("source"),
        pl.lit(load_id, dtype=pl.Int32).alias("load_id"),
        pl.col("line").alias("source_line"),
    )


def _set_aside(export: RawExport, bad: pl.DataFrame, load_id: int) -> pl.DataFrame:
    """Structural faults of the reader and faults found here, as rows of ledger.set_aside."""
    records = export.records.join(
        bad.rename({"line": "source_line"}).select("source_line"),
        on="source_line",
        how="semi",
        maintain_order="left",
    )
    cells = records.select(
        "source_line",
        pl.struct(pl.exclude("source_line").fill_null("")).struct.json_encode().alias("cells"),
    )
    told = cells.join(
        bad, left_on="source_line", right_on="line", how="left", maintain_order="left"
    )
    return (
        pl.concat([export.set_aside, told.select(tuple(SET_ASIDE_SCHEMA))])
        .sort("source_line")
        .select(pl.lit(load_id, dtype=pl.Int32).alias("load_id"), pl.all())
    )
