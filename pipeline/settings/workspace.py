"""The workspace: setledger.toml as frozen classes, and where its files stand."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Literal

from pipeline import clock
from pipeline.names.catalogue import Catalogue
from pipeline.names.exercises_file import load_catalogue
from pipeline.settings.addresses import is_address
from pipeline.settings.rules import Rules
from pipeline.units import Unit

Security = Literal["starttls", "tls", "none"]

CONFIG_NAME = "setledger.toml"
PHASE_KINDS = ("cut", "gain", "deload", "pause", "care")


@dataclass(frozen=True)
class Source:
    """Exports that one mapping reads."""

    files: tuple[str, ...]
    """Globs relative to the workspace."""
    mapping: str
    from_on: date | None = None
    until_on: date | None = None
    """Days outside from_on … until_on are not taken from this source."""

    @property
    def shown(self) -> str:
        """Its globs as a message names them."""
        return ", ".join(self.files)


@dataclass(frozen=True)
class Target:
    """A load for a number of repetitions that a client wants to reach."""

    exercise: str
    load_kg: float
    reps: int


@dataclass(frozen=True)
class Change:
    """What was changed in a client's training, and when; with an exercise, of that lift."""

    changed_on: date
    note: str
    exercise: str | None = None
    code: str | None = None
    """The finding that it was adopted from."""
    subject: str | None = None


@dataclass(frozen=True)
class Phase:
    """A dated phase: cut, gain, deload, pause or care. Without an end it goes on."""

    kind: str
    from_on: date
    to_on: date | None = None


@dataclass(frozen=True)
class Waived:
    """A finding that the coach has put aside: of a code, or of one subject of it."""

    code: str
    subject: str | None = None
    until_on: date | None = None
    why: str | None = None


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
    waived: tuple[Waived, ...] = ()
    guide: tuple[Guide, ...] = ()
    is_listed: bool = True
    """Whether setledger.toml lists the client; who is found beside those listed is not."""

    def has_left(self, day: date) -> bool:
        """Whether the client's last day with us is over."""
        return self.until is not None and self.until < day

    def no_mail_because(self, day: date) -> str | None:
        """Why no mail goes to the client at a day; None: one goes."""
        if not self.is_listed:
            return "not listed"
        if not self.mail:
            return "mail = false"
        if self.has_left(day):
            return "left"
        return None if self.email and is_address(self.email) else "no address"


@dataclass(frozen=True)
class MailSettings:
    """How mails go out; the secrets come from the environment or a file of mode 0600."""

    host: str
    port: int
    security: Security
    sender: str
    subject: str = "{client}: training review {period}"
    coach: str | None = None
    reply_to: str | None = None
    ca_file: str | None = None
    secrets_file: str | None = None
    timeout_seconds: float = 30.0
    """Of one answer of the server."""
    total_seconds: float = 1800.0
    """After so long no mail of a batch is begun any more."""


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
    retired: tuple[str, ...] = ()
    """Keys of [rules] that an earlier version knew; they do nothing."""
    mail: MailSettings | None = None
    ignore: tuple[str, ...] = ()
    """Globs of files in exports/ that no source is to read, and that nobody need hear of."""
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


def as_of_day(workspace: Workspace, wanted: date | None) -> date:
    """The as-of day: as asked, else as the workspace says, else today there."""
    return wanted or workspace.as_of or clock.today(workspace.timezone)


def catalogue_of(workspace: Workspace) -> Catalogue:
    """The catalogue with the workspace's own exercises.csv, if it has one."""
    return load_catalogue(workspace.root / "exercises.csv")
