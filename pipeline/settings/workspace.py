"""The workspace: setledger.toml as frozen classes, and where its files stand."""

from __future__ import annotations

import ipaddress
import re
import tomllib
from collections.abc import Callable
from dataclasses import dataclass, field, fields
from datetime import date
from email.utils import getaddresses
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, TypeVar, cast
from zoneinfo import ZoneInfo

from pipeline import clock
from pipeline.errors import ConfigError, UsageError
from pipeline.names.nearest import nearest
from pipeline.resources import resource
from pipeline.settings.rules import Rules
from pipeline.units import Unit, to_kg

if TYPE_CHECKING:
    from pipeline.names.catalogue import Catalogue

T = TypeVar("T")

CONFIG_NAME = "setledger.toml"
PHASE_KINDS = ("cut", "gain", "deload", "pause", "care")
_ADDRESS = re.compile(r"[^@\s,;<>\"]+@[^@\s,;<>\".]+(\.[^@\s,;<>\".]+)+\Z")
CLIENT_ID = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*\Z")


@dataclass(frozen=True)
class Source:
    """Exports that one mapping reads."""

    files: str
    """Glob relative to the workspace."""
    mapping: str
    from_on: date | None = None
    until_on: date | None = None
    """Days outside from_on … until_on are not taken from this source."""


@dataclass(frozen=True)
class Target:
    """A load for a number of repetitions that a client wants to reach."""

    exercise: str
    load_kg: float
    reps: int


@dataclass(frozen=True)
class Change:
    """What was changed in a client's training, and when."""

    changed_on: date
    note: str


@dataclass(frozen=True)
class Phase:
    """A dated phase: cut, gain, deload, pause or care. Without an end it goes on."""

    kind: str
    from_on: date
    to_on: date | None = None


@dataclass(frozen=True)
class Guide:
    """Hard sets a week and a session for one muscle; None leaves the default."""

    muscle: str
    week: tuple[float, float] | None = None
    session: tuple[float, float] | None = None


@dataclass(frozen=True)
class Client:
    """One client as the coach describes them; everything but the id has a default."""

    id: str
    name: str
    aliases: tuple[str, ...] = ()
    email: str | None = None
    until: date | None = None
    mail: bool = True
    units: Unit = "kg"
    bodyweight_kg: float | None = None
    bring_up: tuple[str, ...] = ()
    hold_back: tuple[str, ...] = ()
    targets: tuple[Target, ...] = ()
    changes: tuple[Change, ...] = ()
    phases: tuple[Phase, ...] = ()
    guide: tuple[Guide, ...] = ()


@dataclass(frozen=True)
class MailSettings:
    """How mails go out; the secrets come from the environment or a file of mode 0600."""

    host: str
    port: int
    security: Literal["starttls", "tls", "none"]
    sender: str
    subject: str = "{client}: training review {period}"
    coach: str | None = None
    reply_to: str | None = None
    ca_file: str | None = None
    secrets_file: str | None = None
    timeout_seconds: float = 30.0


@dataclass(frozen=True)
class Workspace:
    """A workspace folder and what its setledger.toml says."""

    root: Path
    name: str
    timezone: str | None
    as_of: date | None
    sources: tuple[Source, ...]
    clients: tuple[Client, ...]
    rules: Rules = field(default_factory=Rules)
    mail: MailSettings | None = None
    text: str = ""
    """setledger.toml as read, to find the line that a message is about."""

    @property
    def database(self) -> Path:
        """The published database; derived from the store."""
        return self.root / "setledger.duckdb"

    @property
    def store(self) -> Path:
        """The folder that is the truth: lock, journal, each export version."""
        return self.root / ".setledger"

    @property
    def out(self) -> Path:
        """Where pages and mails are written."""
        return self.root / "out"

    def client(self, client_id: str) -> Client:
        """The configured client, or one with defaults."""
        for client in self.clients:
            if client.id == client_id:
                return client
        return Client(id=client_id, name=client_id)


def is_address(text: str) -> bool:
    """Whether a text can be a mail address."""
    return _ADDRESS.match(text) is not None and len(text) <= 254


def is_one_mailbox(text: str) -> bool:
    """Whether a text is one address, alone or as "Name <address>"."""
    found = [address for _, address in getaddresses([text])]
    return len(found) == 1 and is_address(found[0])


def is_loopback(host: str) -> bool:
    """Whether a host is this machine."""
    if host.lower() == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def find_workspace(folder: Path) -> Workspace:
    """The workspace in `folder`."""
    path = folder / CONFIG_NAME
    if not path.is_file():
        raise UsageError(
            f"{folder}: there is no {CONFIG_NAME} here; go to a workspace, name one with -w, "
            "or make one with `setledger init DIR`."
        )
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise ConfigError(f"{path}: cannot be read as UTF-8 text ({error}).") from error
    return parse_workspace(text, folder)


def parse_workspace(text: str, root: Path) -> Workspace:
    """The workspace that a setledger.toml's text describes; errors name line and key."""
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise ConfigError(f"{CONFIG_NAME}: this is not valid TOML ({error}).") from error
    reader = _Reader(text)
    reader.only(raw, ("workspace", "sources", "clients", "rules", "mail"), "")
    head = reader.table(raw, "workspace", "")
    reader.only(head, ("name", "timezone", "as_of"), "[workspace] ")
    timezone = reader.get(head, "timezone", "[workspace] ", reader.text_value)
    if timezone is not None:
        try:
            ZoneInfo(timezone)
        except (KeyError, ValueError, OSError) as error:
            raise reader.wrong(
                "[workspace] timezone",
                f"'{timezone}' is no known time zone",
                "write one such as Europe/Lisbon",
            ) from error
    clients = tuple(
        _client(reader.within("clients", place), table)
        for place, table in enumerate(reader.tables(raw, "clients"))
    )
    _refuse_twice(reader, clients)
    return Workspace(
        root=root,
        name=reader.get(head, "name", "[workspace] ", reader.text_value) or root.resolve().name,
        timezone=timezone,
        as_of=reader.get(head, "as_of", "[workspace] ", reader.day),
        sources=tuple(
            _source(reader.within("sources", place), table)
            for place, table in enumerate(reader.tables(raw, "sources"))
        ),
        clients=clients,
        rules=_rules(reader, reader.table(raw, "rules", "")),
        mail=_mail(reader, reader.table(raw, "mail", "")) if "mail" in raw else None,
        text=text,
    )


def _opens(line: str) -> str:
    """The header that a line is, without spaces; empty for any other line."""
    found = re.match(r"\s*(\[\[?\s*[\w.\s\"'-]+\]\]?)", line)
    return re.sub(r"\s", "", found[1]) if found else ""


def _is_part(header: str, table: str) -> bool:
    """Whether a header opens a table inside a block: [[clients.targets]], [clients.guide]."""
    return header.lstrip("[").startswith(f"{table}.")


class _Reader:
    """Checks TOML values and finds the line of setledger.toml that an error is about."""

    def __init__(self, text: str) -> None:
        self.lines = list(enumerate(text.splitlines(), start=1))

    def within(self, table: str, place: int) -> _Reader:
        """The same for one [[table]] block, so that a line is looked for in the right one."""
        starts = [
            index for index, (_, line) in enumerate(self.lines) if _opens(line) == f"[[{table}]]"
        ]
        block = _Reader("")
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

    def wrong(self, key: str, what: str, mend: str) -> ConfigError:
        return ConfigError(f"{self.place(key)}: {what}; {mend}.")

    def place(self, key: str) -> str:
        """setledger.toml with the first line that sets the key, and the key."""
        name = re.escape(key.split()[-1])
        patterns = (
            rf"\s*(\[+[\w.]*)?[\"']?{name}[\"']?\s*(=|\])",
            rf".*[\s{{,.]{name}\s*=",
            r"\s*\[\[",
        )
        for pattern in patterns[: 3 if key.startswith("[[") else 2]:
            for number, line in self.lines:
                if re.match(pattern, line):
                    return f"{CONFIG_NAME}:{number}: {key}"
        return f"{CONFIG_NAME}: {key}"

    def only(self, table: dict[str, Any], known: tuple[str, ...], where: str) -> None:
        for key in table:
            if key not in known:
                near = nearest(key, known)
                mend = f"did you mean '{near[0]}'?" if near else f"known are {', '.join(known)}."
                raise ConfigError(f"{self.place(where + key)}: this key is unknown; {mend}")

    def table(self, raw: dict[str, Any], key: str, where: str) -> dict[str, Any]:
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
            raise ConfigError(f"{CONFIG_NAME}{at}: {where}lacks '{key}'; add it.")
        return read(table[key], where + key)

    def text_value(self, value: Any, key: str) -> str:
        if not isinstance(value, str) or not value.strip():
            raise self.wrong(key, "this is no text", 'write it in quotes, such as "text"')
        return value

    def header_text(self, value: Any, key: str) -> str:
        text = self.text_value(value, key)
        if any(ord(mark) < 32 or ord(mark) == 127 for mark in text):
            raise self.wrong(key, "it holds a line break or control character", "take it out")
        return text

    def texts(self, value: Any, key: str) -> tuple[str, ...]:
        if not isinstance(value, list) or not all(isinstance(item, str) for item in value):
            raise self.wrong(key, "this is no list of texts", 'write ["one", "two"]')
        return tuple(value)

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

    def pair(self, value: Any, key: str) -> tuple[float, float]:
        is_pair = isinstance(value, list) and len(value) == 2
        low, high = (self.number(end, key) for end in value) if is_pair else (1.0, 0.0)
        if not 0 <= low <= high:
            raise self.wrong(key, f"{value!r} is no range", "write [low, high], such as [8, 20]")
        return low, high


def _source(reader: _Reader, table: dict[str, Any]) -> Source:
    where = "[[sources]] "
    reader.only(table, ("files", "mapping", "from", "until"), where)
    source = Source(
        files=reader.need(table, "files", where, reader.text_value),
        mapping=reader.need(table, "mapping", where, reader.text_value),
        from_on=reader.get(table, "from", where, reader.day),
        until_on=reader.get(table, "until", where, reader.day),
    )
    for key, value in (("files", source.files), ("mapping", source.mapping)):
        if Path(value).is_absolute() or ".." in Path(value).parts:
            raise reader.wrong(
                where + key, f"'{value}' leads out of the workspace", "name files inside it"
            )
    return source


def _client(reader: _Reader, table: dict[str, Any]) -> Client:
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
        "guide",
    )
    reader.only(table, known, where)
    client_id = reader.need(table, "id", where, reader.text_value)
    if not CLIENT_ID.match(client_id):
        raise reader.wrong(
            where + "id", f"'{client_id}' is no id", "use a-z, 0-9 and single hyphens"
        )
    where = f"[[clients]] {client_id}: "
    units = reader.get(table, "units", where, reader.text_value) or "kg"
    if units not in ("kg", "lb"):
        raise reader.wrong(where + "units", f"'{units}' is no unit", 'write "kg" or "lb"')
    guide = reader.table(table, "guide", where)
    return Client(
        id=client_id,
        name=reader.get(table, "name", where, reader.header_text) or client_id,
        aliases=reader.get(table, "aliases", where, reader.texts) or (),
        email=reader.get(table, "email", where, reader.header_text),
        until=reader.get(table, "until", where, reader.day),
        mail=table.get("mail") is None or reader.flag(table["mail"], where + "mail"),
        units=cast(Unit, units),
        bodyweight_kg=reader.get(table, "bodyweight_kg", where, reader.positive),
        bring_up=reader.get(table, "bring_up", where, reader.texts) or (),
        hold_back=reader.get(table, "hold_back", where, reader.texts) or (),
        targets=tuple(
            _target(reader, item, where, cast(Unit, units))
            for item in reader.tables(table, "targets", where)
        ),
        changes=tuple(_change(reader, item, where) for item in reader.tables(table, "changes")),
        phases=tuple(_phase(reader, item, where) for item in reader.tables(table, "phases")),
        guide=tuple(_guide(reader, muscle, guide, where) for muscle in guide),
    )


def _target(reader: _Reader, table: dict[str, Any], where: str, units: Unit) -> Target:
    where += "targets "
    reader.only(table, ("exercise", "load", "reps"), where)
    return Target(
        exercise=reader.need(table, "exercise", where, reader.text_value),
        load_kg=to_kg(reader.need(table, "load", where, reader.positive), units),
        reps=reader.need(table, "reps", where, reader.whole),
    )


def _change(reader: _Reader, table: dict[str, Any], where: str) -> Change:
    where += "changes "
    reader.only(table, ("on", "note"), where)
    return Change(
        changed_on=reader.need(table, "on", where, reader.day),
        note=reader.need(table, "note", where, reader.text_value),
    )


def _phase(reader: _Reader, table: dict[str, Any], where: str) -> Phase:
    where += "phases "
    reader.only(table, ("kind", "from", "to"), where)
    phase = Phase(
        kind=reader.need(table, "kind", where, reader.text_value),
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


def _guide(reader: _Reader, muscle: str, table: dict[str, Any], where: str) -> Guide:
    where += f"guide {muscle} "
    entry = reader.table(table, muscle, where)
    reader.only(entry, ("week", "session"), where)
    return Guide(
        muscle=muscle,
        week=reader.get(entry, "week", where, reader.pair),
        session=reader.get(entry, "session", where, reader.pair),
    )


def _rules(reader: _Reader, table: dict[str, Any]) -> Rules:
    where = "[rules] "
    kinds = {rule.name: type(rule.default) for rule in fields(Rules)}
    reader.only(table, tuple(kinds), where)
    values: dict[str, Any] = {}
    for key, value in table.items():
        number = reader.number(value, where + key)
        if not 0 <= number < float("inf"):
            raise reader.wrong(where + key, f"{value!r} is negative", "write 0 or more")
        if kinds[key] is int and number != int(number):
            raise reader.wrong(where + key, f"{value!r} is no whole number", "write one")
        values[key] = int(number) if kinds[key] is int else number
    return Rules(**values)


def _mail(reader: _Reader, table: dict[str, Any]) -> MailSettings:
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
    )
    reader.only(table, known, where)
    security = reader.get(table, "security", where, reader.text_value) or "starttls"
    if security not in ("starttls", "tls", "none"):
        raise reader.wrong(
            where + "security", f"'{security}' is not known", 'write "starttls", "tls" or "none"'
        )
    ports = {"starttls": 587, "tls": 465, "none": 25}
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
        security=cast(Literal["starttls", "tls", "none"], security),
        sender=reader.need(table, "from", where, reader.header_text),
        subject=reader.get(table, "subject", where, reader.header_text) or MailSettings.subject,
        coach=reader.get(table, "coach", where, reader.header_text),
        reply_to=reader.get(table, "reply_to", where, reader.header_text),
        ca_file=reader.get(table, "ca_file", where, reader.text_value),
        secrets_file=reader.get(table, "secrets_file", where, reader.text_value),
        timeout_seconds=reader.get(table, "timeout_seconds", where, reader.positive) or 30.0,
    )


def _refuse_twice(reader: _Reader, clients: tuple[Client, ...]) -> None:
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


def as_of_day(workspace: Workspace, wanted: date | None) -> date:
    """The as-of day: as asked, else as the workspace says, else today there."""
    return wanted or workspace.as_of or clock.today(workspace.timezone)


def catalogue_of(workspace: Workspace) -> Catalogue:
    """The catalogue with the workspace's own exercises.csv, if it has one."""
    from pipeline.names.catalogue import Catalogue

    own = workspace.root / "exercises.csv"
    return Catalogue.load(resource("sql") / "seeds", own if own.exists() else None)
