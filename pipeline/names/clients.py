"""Whose line it is: from a spelling in an export to a client's id."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

SOLE_CLIENT = "lifter"
"""Id of the sets of an export that names no client, where none is configured."""

OUR_FOLDERS = frozenset({"mail"})
"""Names of folders in out/ that are ours, so no client's id: out/mail holds mails."""

_LETTERS = str.maketrans(
    {"ß": "ss", "æ": "ae", "œ": "oe", "ø": "o", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "ı": "i"}
)


def slug(spelling: str) -> str:
    """An id of a-z, 0-9 and "-" for a spelling; never empty.

    Accents are dropped; a letter that has no ASCII form is written as "u" and its code point.
    """
    folded = unicodedata.normalize("NFKD", spelling.casefold().translate(_LETTERS))
    letters = (
        letter if letter.isascii() else f"-u{ord(letter):x}-"
        for letter in folded
        if not unicodedata.combining(letter) and (letter.isascii() or letter.isalnum())
    )
    text = re.sub(r"[^a-z0-9]+", "-", "".join(letters)).strip("-")
    return text or "-".join(f"u{ord(letter):x}" for letter in spelling) or SOLE_CLIENT


def plain(spelling: str) -> str:
    """A spelling without differences of case, of spaces and of Unicode composition."""
    return " ".join(unicodedata.normalize("NFC", spelling).casefold().split())


@dataclass(frozen=True)
class Resolution:
    """Spellings of one file: the ids they stand for, and those that a person must settle."""

    ids: Mapping[str, str]
    """Spelling to client id."""
    ambiguous: Mapping[str, str]
    """Spelling to why it was not taken, in words."""


@dataclass(frozen=True)
class ClientIndex:
    """The configured spellings, and the spelling under which each other id is already known."""

    configured: Mapping[str, str] = field(default_factory=dict)
    """Plain spelling (id, name or alias) to client id."""
    ids: tuple[str, ...] = ()
    """Ids of the configured clients."""
    known: Mapping[str, str] = field(default_factory=dict)
    """Id to the spelling that first gave it, from earlier files."""

    @classmethod
    def of(
        cls,
        clients: Iterable[tuple[str, str | None, Sequence[str]]],
        known: Mapping[str, str] | None = None,
    ) -> ClientIndex:
        """The index of clients given as (id, name, aliases); ids win over names, first one wins."""
        configured: dict[str, str] = {}
        clients = tuple(clients)
        for client_id, _, _ in clients:
            configured.setdefault(plain(client_id), client_id)
        for client_id, _, aliases in clients:
            for alias in aliases:
                configured.setdefault(plain(alias), client_id)
        for client_id, name, _ in clients:
            if name:
                configured.setdefault(plain(name), client_id)
        return cls(configured, tuple(client_id for client_id, _, _ in clients), dict(known or {}))

    @property
    def sole(self) -> str:
        """Whose sets they are where the export does not say: the only client, else "lifter"."""
        return self.ids[0] if len(self.ids) == 1 else SOLE_CLIENT

    def resolve(self, spellings: Iterable[str]) -> Resolution:
        """The ids of all spellings of a file, looked at together.

        An unlisted spelling gives its slug; where two spellings that differ in more than case and
        spaces give one slug, neither is taken unless one is known from before. Nor is one whose
        slug is the name of a folder of ours.
        """
        ids: dict[str, str] = {}
        claims: dict[str, dict[str, list[str]]] = {}
        for spelling in sorted(set(spellings)):
            listed = self.configured.get(plain(spelling))
            if listed is not None:
                ids[spelling] = listed
            else:
                claims.setdefault(slug(spelling), {}).setdefault(plain(spelling), []).append(
                    spelling
                )
        ambiguous: dict[str, str] = {}
        for client_id, claimants in claims.items():
            holder = self._holder(client_id, claimants)
            for claimant, written in claimants.items():
                for spelling in written:
                    if claimant == holder:
                        ids[spelling] = client_id
                    else:
                        ambiguous[spelling] = self._doubt(spelling, client_id, claimants)
        return Resolution(ids, ambiguous)

    def _holder(self, client_id: str, claimants: Mapping[str, list[str]]) -> str | None:
        """The plain spelling that has the id."""
        if client_id in self.ids or client_id in OUR_FOLDERS:
            return None
        if client_id in self.known:
            return plain(self.known[client_id])
        return next(iter(claimants)) if len(claimants) == 1 else None

    def _doubt(self, spelling: str, client_id: str, claimants: Mapping[str, list[str]]) -> str:
        if client_id in OUR_FOLDERS:
            return (
                f"'{spelling}' gives the id '{client_id}', which is the name of a folder of ours "
                "in out/; name the spelling under aliases of its client in setledger.toml."
            )
        others = [name for names in claimants.values() for name in names if name != spelling]
        if client_id in self.ids:
            others = [client_id]
        elif client_id in self.known:
            others = [self.known[client_id]]
        return (
            f"'{spelling}' and '{others[0]}' both give the id '{client_id}'; "
            "name each spelling under aliases of its client in setledger.toml."
        )
