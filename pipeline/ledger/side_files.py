"""The workspace's own files in the ledger: bodyweight.csv, corrections.csv, and who weighs what."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any

from pipeline.errors import ConfigError
from pipeline.ledger import store
from pipeline.ledger.forgotten import Forgotten
from pipeline.ledger.versions import Context
from pipeline.ledger.work import Work
from pipeline.names.clients import ClientIndex, plain
from pipeline.names.workspace_csv import Row, read_table
from pipeline.settings.rules import Rules
from pipeline.settings.workspace import Workspace
from pipeline.units import to_kg

CONFIG_SOURCE = "setledger.toml"
WEIGH_INS = "bodyweight.csv"
CORRECTIONS = "corrections.csv"
CORRECTABLE = ("load", "reps", "rir", "rpe", "set_kind", "to_failure", "partial_reps")


def write_side_files(work: Work) -> str:
    """Weigh-ins and corrections of the workspace into the ledger; gives a digest of them."""
    workspace, con = work.workspace, work.con
    forgotten = Forgotten.of(work.journal)
    weigh_ins = [
        row
        for row in _config_weigh_ins(workspace) + file_weigh_ins(workspace)
        if not forgotten.has(row[0])
    ]
    corrections = [row for row in read_corrections(workspace) if not forgotten.has(row[1])]
    con.execute("delete from ledger.bodyweights where load_id is null")
    con.execute("delete from ledger.corrections")
    if weigh_ins:
        con.executemany(
            "insert into ledger.bodyweights values (?, ?, ?, ?, null, ?, null)", weigh_ins
        )
    if corrections:
        con.executemany(
            "insert into ledger.corrections values (?, ?, ?, ?, ?, ?, ?, ?)", corrections
        )
    return store.digest_of_value([[str(cell) for cell in row] for row in weigh_ins + corrections])


def _config_weigh_ins(workspace: Workspace) -> list[tuple[Any, ...]]:
    return [
        (client.id, None, client.bodyweight_kg, CONFIG_SOURCE, None)
        for client in workspace.clients
        if client.bodyweight_kg is not None
    ]


def file_weigh_ins(workspace: Workspace) -> list[tuple[Any, ...]]:
    """Rows of bodyweight.csv: client_id, day, kg, file, line."""
    configured = _configured(workspace)
    rows: list[tuple[Any, ...]] = []
    for line, cells in _rows(workspace, WEIGH_INS, ("client", "day", "bodyweight_kg")):
        where = f"{WEIGH_INS}:{line}"
        weight = _number(cells["bodyweight_kg"], where, "bodyweight_kg")
        if not 20 <= weight <= 400:
            raise ConfigError(f"{where}: {weight:g} kg is no bodyweight; write it in kilograms.")
        client_id = configured.get(plain(cells["client"]), cells["client"])
        rows.append((client_id, _day(cells["day"], where), weight, WEIGH_INS, line))
    return rows


def read_corrections(workspace: Workspace) -> list[tuple[Any, ...]]:
    """Rows of corrections.csv, as ledger.corrections stores them."""
    configured = _configured(workspace)
    rows: list[tuple[Any, ...]] = []
    columns = ("client", "day", "exercise", "n", "field", "value", "reason")
    for line, cells in _rows(workspace, CORRECTIONS, columns):
        where = f"{CORRECTIONS}:{line}"
        if cells["field"] not in CORRECTABLE:
            raise ConfigError(
                f"{where}: '{cells['field']}' cannot be corrected; it is one of "
                f"{', '.join(CORRECTABLE)}."
            )
        if not cells["n"].isdigit() or int(cells["n"]) < 1:
            raise ConfigError(
                f"{where}: n = '{cells['n']}' is no set's place; write 1 for the first set of "
                "that exercise on that day."
            )
        client_id = configured.get(plain(cells["client"]), cells["client"])
        rows.append(
            (
                line,
                client_id,
                _day(cells["day"], where),
                cells["exercise"],
                int(cells["n"]),
                cells["field"],
                _corrected_value(cells["field"], cells["value"], where, workspace.rules),
                cells["reason"],
            )
        )
    return rows


def lines_of(
    workspace: Workspace, client_id: str, spellings: Iterable[str]
) -> dict[str, list[int]]:
    """File to the lines on which records of a client start, named by any of the spellings.

    ConfigError for a file that cannot be read.
    """
    configured = _configured(workspace)
    theirs = {plain(spelling) for spelling in spellings}
    found = {}
    for name in (WEIGH_INS, CORRECTIONS):
        found[name] = [
            line
            for line, cells in _rows(workspace, name, ("client",))
            if configured.get(plain(cells["client"])) == client_id
            or (plain(cells["client"]) in theirs and plain(cells["client"]) not in configured)
        ]
    return found


def _configured(workspace: Workspace) -> Mapping[str, str]:
    """Plain id, name or alias, by which a side file may name a client, to the client's id."""
    return ClientIndex.of(Context.of(workspace).clients).configured


def _corrected_value(name: str, text: str, where: str, rules: Rules) -> str:
    """The value as the ledger stores it; a load may carry its unit ("225 lb")."""
    lowered = text.strip().lower()
    if name == "set_kind":
        if lowered not in ("work", "warmup", "extension"):
            raise ConfigError(f"{where}: '{text}' is no set kind; work, warmup or extension.")
        return lowered
    if name == "to_failure":
        if lowered not in ("true", "false"):
            raise ConfigError(f"{where}: '{text}' is neither true nor false.")
        return lowered
    unit = "lb" if lowered.endswith("lb") else "kg"
    number = _number(lowered.removesuffix("lb").removesuffix("kg").strip(), where, name)
    limits = {
        "load": (0, rules.load_max_kg),
        "reps": (1, rules.reps_max),
        "partial_reps": (0, rules.reps_max),
        "rir": (0, rules.rir_max),
        "rpe": (1, 10),
    }
    low, high = limits[name]
    value = to_kg(number, "lb" if unit == "lb" else "kg") if name == "load" else number
    is_whole = name in ("reps", "partial_reps")
    if not low <= value <= high or (is_whole and value != int(value)):
        raise ConfigError(f"{where}: {name} = '{text}' is outside {low:g} to {high:g}.")
    return str(int(value)) if is_whole else repr(float(value))


def _rows(workspace: Workspace, name: str, columns: tuple[str, ...]) -> tuple[Row, ...]:
    """Lines of one of the workspace's files; none if it is absent."""
    path = workspace.root / name
    return read_table(path, columns).rows if path.exists() else ()


def _number(text: str, where: str, name: str) -> float:
    try:
        number = float(text.replace(",", "."))
    except ValueError as error:
        raise ConfigError(f"{where}: {name} = '{text}' is no number.") from error
    if number != number or abs(number) == float("inf"):
        raise ConfigError(f"{where}: {name} = '{text}' is no number.")
    return number


def _day(text: str, where: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise ConfigError(f"{where}: '{text}' is no day; write it as 2026-09-01.") from error
