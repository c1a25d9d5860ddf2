"""setledger.toml read into the classes of `workspace`."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from pipeline.errors import ConfigError, UsageError
from pipeline.files import what_is_odd
from pipeline.names.clients import OUR_FOLDERS
from pipeline.names.nearest import did_you_mean
from pipeline.resources import resource
from pipeline.settings.addresses import is_loopback
from pipeline.settings.rules import Rules, all_rules, retired_rules
from pipeline.settings.toml_reader import TomlReader, read_toml, text_of
from pipeline.settings.workspace import (
    CONFIG_NAME,
    PHASE_KINDS,
    Change,
    Client,
    Guide,
    MailSettings,
    Phase,
    Security,
    Source,
    Target,
    Waived,
    Workspace,
)
from pipeline.units import UNITS, Unit, to_kg

HEALTH_CODES = ("care", "strength_drop", "pain_note", "return")
"""Findings that are put aside only for a time and for a reason."""
_FILES = (
    "exercises.csv",
    "bodyweight.csv",
    "corrections.csv",
    "run-log.jsonl",
    "setledger.duckdb",
    "setledger.duckdb.wal",
)
"""Files of a workspace beside its settings."""

_CLIENT_ID = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*\Z")


def find_workspace(folder: Path) -> Workspace:
    """The workspace in `folder`."""
    path = folder / CONFIG_NAME
    if not path.is_file():
        raise UsageError(
            f"{folder}: there is no {CONFIG_NAME} here; go to a workspace, name one with -w, "
            "or make one with `setledger init DIR`."
        )
    _refuse_odd_files(folder)
    return parse_workspace(text_of(path, str(path)), folder)


def _refuse_odd_files(root: Path) -> None:
    """ConfigError where a pipe, a device or a broken link stands in the place of a file of ours.

    Opening a pipe might never end, and a link that leads nowhere would be passed over.
    """
    store = root / ".setledger"
    folders = [root / name for name in ("exports", "mappings", "notes", "models", "out")]
    folders += [store, store / "exports"]
    files = [root / name for name in _FILES]
    if store.is_dir():
        files += [path for path in sorted(store.iterdir()) if not path.is_dir()]
    for path in (*folders, *files):
        odd = what_is_odd(path, is_folder=path in folders)
        if odd is not None:
            shown = path.relative_to(root)
            raise ConfigError(f"{shown}: {odd}; move it away, or put the right one in its place.")


def parse_workspace(text: str, root: Path) -> Workspace:
    """The workspace that a setledger.toml's text describes; errors name line and key."""
    raw, reader = read_toml(text, CONFIG_NAME)
    reader.only(raw, ("workspace", "sources", "clients", "rules", "mail"), "")
    where, head = "[workspace] ", reader.table(raw, "workspace")
    in_head = reader.within("workspace")
    in_head.only(head, ("name", "timezone", "as_of", "ignore"), where)
    clients = tuple(
        _client(reader.within("clients", place), table)
        for place, table in enumerate(reader.tables(raw, "clients"))
    )
    _refuse_twice(reader, clients)
    return Workspace(
        root=root,
        name=in_head.get(head, "name", where, in_head.text) or root.resolve().name,
        timezone=_timezone(in_head, head, where),
        as_of=in_head.get(head, "as_of", where, in_head.day_that_came),
        sources=tuple(
            _source(reader.within("sources", place), table)
            for place, table in enumerate(reader.tables(raw, "sources"))
        ),
        clients=clients,
        rules=_rules(reader.within("rules"), reader.table(raw, "rules")),
        retired=tuple(name for name in reader.table(raw, "rules") if name in retired_rules()),
        mail=_mail(reader.within("mail"), reader.table(raw, "mail")) if "mail" in raw else None,
        ignore=in_head.get(head, "ignore", where, in_head.texts) or (),
        text=text,
    )


def _timezone(reader: TomlReader, table: dict[str, Any], where: str) -> str | None:
    timezone = reader.get(table, "timezone", where, reader.text)
    if timezone is not None:
        try:
            ZoneInfo(timezone)
        except (KeyError, ValueError, OSError) as error:
            raise reader.wrong(
                where + "timezone",
                f"'{timezone}' is no known time zone",
                "write one such as Europe/Lisbon",
            ) from error
    return timezone


def _source(reader: TomlReader, table: dict[str, Any]) -> Source:
    where = "[[sources]] "
    reader.only(table, ("files", "mapping", "from", "until"), where)
    source = Source(
        files=reader.need(table, "files", where, _globs(reader)),
        mapping=reader.need(table, "mapping", where, reader.text),
        from_on=reader.get(table, "from", where, reader.day),
        until_on=reader.get(table, "until", where, reader.day),
    )
    named = [*(("files", each) for each in source.files), ("mapping", source.mapping)]
    for key, value in named:
        if Path(value).is_absolute() or ".." in Path(value).parts:
            raise reader.wrong(
                where + key, f"'{value}' leads out of the workspace", "name files inside it"
            )
    return source


def is_client_id(text: str) -> bool:
    """Whether a text can be a client's id, and so the name of a folder."""
    return _CLIENT_ID.match(text) is not None


def _globs(reader: TomlReader) -> Callable[[Any, str], tuple[str, ...]]:
    """Reads a glob, or a list of them."""

    def read(value: Any, key: str) -> tuple[str, ...]:
        if not isinstance(value, list):
            return (reader.text(value, key),)
        if not value:
            raise reader.wrong(key, "this list is empty", "name files")
        return tuple(reader.text(each, key) for each in value)

    return read


def _client(reader: TomlReader, table: dict[str, Any]) -> Client:
    where = "[[clients]] "
    known = (
        "id",
        "aliases",
        "name",
        "email",
        "until",
        "mail",
        "units",
        "bodyweight_kg",
        "bring_up",
        "hold_back",
        "targets",
        "changes",
        "phases",
        "waived",
        "guide",
    )
    reader.only(table, known, where)
    client_id = reader.need(table, "id", where, reader.text)
    if not is_client_id(client_id):
        raise reader.wrong(
            where + "id", f"'{client_id}' is no id", "use a-z, 0-9 and single hyphens"
        )
    if client_id in OUR_FOLDERS:
        raise reader.wrong(
            where + "id",
            f"'{client_id}' is the name of a folder of ours in out/",
            f"write another id, and '{client_id}' under aliases if exports call the client so",
        )
    where = f"[[clients]] {client_id}: "
    units: Unit = reader.choice(table.get("units", "kg"), where + "units", UNITS)
    guide = reader.table(table, "guide", where)
    return Client(
        id=client_id,
        name=reader.get(table, "name", where, reader.header_text) or client_id,
        aliases=reader.get(table, "aliases", where, reader.texts) or (),
        email=reader.get(table, "email", where, reader.header_text),
        until=reader.get(table, "until", where, reader.day),
        mail=table.get("mail") is None or reader.flag(table["mail"], where + "mail"),
        units=units,
        bodyweight_kg=reader.get(table, "bodyweight_kg", where, reader.positive),
        bring_up=reader.get(table, "bring_up", where, reader.texts) or (),
        hold_back=reader.get(table, "hold_back", where, reader.texts) or (),
        targets=tuple(
            _target(reader, item, where, units) for item in reader.tables(table, "targets", where)
        ),
        changes=tuple(_change(reader, item, where) for item in reader.tables(table, "changes")),
        phases=tuple(_phase(reader, item, where) for item in reader.tables(table, "phases")),
        waived=tuple(_waived(reader, item, where) for item in reader.tables(table, "waived")),
        guide=tuple(_guide(reader, muscle, guide, where) for muscle in guide),
    )


def _target(reader: TomlReader, table: dict[str, Any], where: str, units: Unit) -> Target:
    where += "targets "
    reader.only(table, ("exercise", "load", "reps"), where)
    return Target(
        exercise=reader.need(table, "exercise", where, reader.text),
        load_kg=to_kg(reader.need(table, "load", where, reader.positive), units),
        reps=reader.need(table, "reps", where, reader.whole),
    )


def _change(reader: TomlReader, table: dict[str, Any], where: str) -> Change:
    where += "changes "
    reader.only(table, ("on", "note", "exercise", "code", "subject"), where)
    change = Change(
        changed_on=reader.need(table, "on", where, reader.day),
        note=reader.need(table, "note", where, reader.text),
        exercise=reader.get(table, "exercise", where, reader.text),
        code=reader.get(table, "code", where, reader.text),
        subject=reader.get(table, "subject", where, reader.text),
    )
    if change.code is not None and change.code not in finding_codes():
        raise reader.wrong(
            where + "code",
            f"'{change.code}' is no finding",
            did_you_mean(change.code, finding_codes()),
        )
    if change.code is None and change.subject is not None:
        raise reader.wrong(where + "subject", "it stands without a code", "name the finding, too")
    return change


def _phase(reader: TomlReader, table: dict[str, Any], where: str) -> Phase:
    where += "phases "
    reader.only(table, ("kind", "from", "to"), where)
    phase = Phase(
        kind=reader.need(table, "kind", where, reader.text),
        from_on=reader.need(table, "from", where, reader.day),
        to_on=reader.get(table, "to", where, reader.day),
    )
    if phase.kind not in PHASE_KINDS:
        raise reader.wrong(
            where + "kind", f"'{phase.kind}' is no phase", f"write one of {', '.join(PHASE_KINDS)}"
        )
    if phase.to_on is not None and phase.to_on < phase.from_on:
        raise reader.wrong(where + "to", f"{phase.to_on} is before 'from'", "mend one of the two")
    return phase


def finding_codes() -> list[str]:
    """Codes of all findings: the names of their models."""
    return sorted(path.stem for path in (resource("sql") / "findings").glob("*.sql"))


def _waived(reader: TomlReader, table: dict[str, Any], where: str) -> Waived:
    where += "waived "
    reader.only(table, ("code", "subject", "until", "why"), where)
    waived = Waived(
        code=reader.need(table, "code", where, reader.text),
        subject=reader.get(table, "subject", where, reader.text),
        until_on=reader.get(table, "until", where, reader.day),
        why=reader.get(table, "why", where, reader.text),
    )
    known = finding_codes()
    if waived.code not in known:
        raise reader.wrong(
            where + "code",
            f"'{waived.code}' is no finding",
            did_you_mean(waived.code, known),
        )
    if waived.code in HEALTH_CODES and (waived.until_on is None or waived.why is None):
        raise reader.wrong(
            where + ("until" if waived.until_on is None else "why"),
            f"'{waived.code}' is a matter of health and cannot be put aside for good",
            "give it both 'until', at most 28 days away, and 'why'",
        )
    return waived


def _guide(reader: TomlReader, muscle: str, table: dict[str, Any], where: str) -> Guide:
    where += f"guide {muscle} "
    entry = reader.table(table, muscle, where)
    reader.only(entry, ("week", "session"), where)
    return Guide(
        muscle=muscle,
        week=reader.get(entry, "week", where, reader.pair),
        session=reader.get(entry, "session", where, reader.pair),
    )


def _rules(reader: TomlReader, table: dict[str, Any]) -> Rules:
    where, known = "[rules] ", all_rules()
    reader.only(table, (*known, *retired_rules()), where)
    values = {}
    for name, value in table.items():
        if name in retired_rules():  # `check` says so
            continue
        number = reader.number(value, where + name)
        if not 0 <= number < float("inf"):
            raise reader.wrong(where + name, f"{value!r} is negative", "write 0 or more")
        if known[name].is_whole and number != int(number):
            raise reader.wrong(where + name, f"{value!r} is no whole number", "write one")
        values[name] = int(number) if known[name].is_whole else number
    return Rules(**values)


def _mail(reader: TomlReader, table: dict[str, Any]) -> MailSettings:
    where = "[mail] "
    known = (
        "host",
        "port",
        "security",
        "from",
        "subject",
        "coach",
        "reply_to",
        "ca_file",
        "secrets_file",
        "timeout_seconds",
        "total_seconds",
    )
    reader.only(table, known, where)
    ports: dict[Security, int] = {"starttls": 587, "tls": 465, "none": 25}
    security = reader.choice(table.get("security", "starttls"), where + "security", tuple(ports))
    host = reader.need(table, "host", where, reader.header_text)
    if security == "none" and not is_loopback(host):
        raise reader.wrong(
            where + "security",
            f"\"none\" is for a server on this machine only, not for '{host}'",
            'write "starttls" or "tls"',
        )
    return MailSettings(
        host=host,
        port=reader.get(table, "port", where, reader.whole) or ports[security],
        security=security,
        sender=reader.need(table, "from", where, reader.header_text),
        subject=reader.get(table, "subject", where, reader.header_text) or MailSettings.subject,
        coach=reader.get(table, "coach", where, reader.header_text),
        reply_to=reader.get(table, "reply_to", where, reader.header_text),
        ca_file=reader.get(table, "ca_file", where, reader.text),
        secrets_file=reader.get(table, "secrets_file", where, reader.text),
        timeout_seconds=reader.get(table, "timeout_seconds", where, reader.positive)
        or MailSettings.timeout_seconds,
        total_seconds=reader.get(table, "total_seconds", where, reader.positive)
        or MailSettings.total_seconds,
    )


def _refuse_twice(reader: TomlReader, clients: tuple[Client, ...]) -> None:
    seen: dict[str, int] = {}
    for place, client in enumerate(clients):
        for spelling in sorted({client.id, *(alias.casefold() for alias in client.aliases)}):
            first = seen.setdefault(spelling, place)
            if first != place:
                lines = [reader.within("clients", each).lines[0][0] for each in (first, place)]
                raise ConfigError(
                    f"{CONFIG_NAME}:{lines[1]}: two [[clients]] claim '{spelling}', this and the "
                    f"one of line {lines[0]}; each id and alias belongs to one client."
                )
