"""The error tree: every failure a user can mend is one of these, with its exit code.

SetledgerError            base; exit 2
├── UsageError            wrong use of a command; exit 2
├── ConfigError           setledger.toml, a mapping or a side file says something unusable; exit 2
│   └── OpenKeyError      a mapping leaves open what only a person can tell; exit 1
├── ExportError           one export cannot be read; other files go on; exit 1
├── NothingReadableError  no source could be read at all; exit 2
├── DamageError           .setledger/ is damaged so that sets would be lost silently; exit 2
├── DatabaseError         the database, derived data, is damaged; exit 2
├── KeptVersionError      a version that was read cannot be read again; exit 2
├── ModelError            a SQL model failed; the last good database stays; exit 2
├── MailError             a mail was refused or could not be sent; exit 1
└── BusyError             another run, or another program, holds the workspace; exit 3
"""

from __future__ import annotations


class SetledgerError(Exception):
    """A failure said in one or two plain sentences: what, where, how to mend."""

    exit_code = 2


class UsageError(SetledgerError):
    """The command was called in a way that cannot work."""


class ConfigError(SetledgerError):
    """A file that the user writes (TOML or CSV) holds something unusable."""


class OpenKeyError(ConfigError):
    """A mapping leaves a key open that two readings fit; its source is passed over."""

    exit_code = 1


class ExportError(SetledgerError):
    """One export cannot be read; the others go on."""

    exit_code = 1


class NothingReadableError(SetledgerError):
    """No source could be read at all, so nothing was changed."""


class DamageError(SetledgerError):
    """Going on would lose sets, bring a forgotten client back or send a mail twice."""


class DatabaseError(SetledgerError):
    """The database cannot be read; it can be made again from what was read."""


class KeptVersionError(SetledgerError):
    """What is kept of a version is missing or damaged, and no file in exports/ is its equal."""


class ModelError(SetledgerError):
    """A SQL model failed; the last good database stays in place."""


class MailError(SetledgerError):
    """A mail could not be sent."""

    exit_code = 1


class BusyError(SetledgerError):
    """Another run is going on in this workspace, or another program holds the database."""

    exit_code = 3
