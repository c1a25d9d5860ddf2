"""Whether .setledger/ is whole: journal, tombstones and sent log against the database's memory.

A file that was cut at a line end looks sound by itself; the database knows that there was more.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from pipeline.errors import DamageError
from pipeline.ledger import journal, store
from pipeline.ledger.database import Seen, row_of
from pipeline.ledger.journal import Event
from pipeline.ledger.json_lines import Reading
from pipeline.ledger.sent_mails import NAME as SENT_LOG
from pipeline.ledger.sent_mails import SentLog

SALVAGE = (
    "put it back from a backup, or let `setledger rebuild --salvage` take what is sound and say "
    "what is lost."
)
_JOURNAL, _TOMBSTONES, _MAILS = (
    f".setledger/{name}" for name in (journal.NAME, journal.TOMBSTONES, SENT_LOG)
)


_WITH_DIGESTS = 2
"""Since this version of the tables a line of the journal has a digest."""


@dataclass
class State:
    """What .setledger/ holds, and what is wrong with it."""

    reading: Reading
    """The journal."""
    sent_log: SentLog
    seen: Seen | None = None
    """What the database has seen of it."""
    is_bare: bool = False
    """Whether it is as the first version of the tool left it."""
    is_outdated: bool = False
    """Whether the database is from before the journal was last written anew."""
    faults: list[str] = field(default_factory=list)
    """Sentences on damage by which sets would be lost or a forgotten client come back."""
    mail_faults: list[str] = field(default_factory=list)
    """Sentences on damage by which a mail could go out twice."""
    mended: list[str] = field(default_factory=list)
    """Sentences on what the next writing mends."""

    @property
    def events(self) -> list[Event]:
        """The sound journal lines."""
        return self.reading.lines

    def refuse_damage(self) -> None:
        """DamageError where a command must not go on."""
        if self.faults:
            raise DamageError(
                " ".join(self.faults) + " Sets could be lost or a forgotten client come back, so "
                f"nothing was changed; {SALVAGE}"
            )


def look(folder: Path, seen: Seen | None) -> State:
    """The state of a store beside a database that has seen this much; None: nobody can tell.

    DamageError where a newer version of the tool wrote it.
    """
    number = journal.format_of(folder)
    if number is not None and number > journal.FORMAT:
        raise DamageError(
            f"{folder}: a newer setledger wrote this folder; update this one. Nothing was changed."
        )
    is_bare = journal.may_be_bare(folder) and (
        seen is None or seen.schema_version < _WITH_DIGESTS or not seen.events
    )
    state = State(journal.examine(folder), SentLog.of(folder), seen, is_bare)
    if not is_bare and state.reading.is_bare:
        state.faults.append(f"{_JOURNAL}: its lines have no digests any more.")
    state.faults += _worded(_JOURNAL, state.reading.faults)
    _compare_journal(state, seen)
    _compare_tombstones(state, folder, seen)
    state.mail_faults += _worded(_MAILS, state.sent_log.faults)
    if seen is not None and not state.is_outdated:
        _compare_mails(state, seen)
    if state.mail_faults:
        state.mail_faults[-1] += (
            " A mail could go out twice, so none is sent until you say so: `setledger send "
            f"--client ID --force` for one client, or {SALVAGE}"
        )
    return state


def _worded(name: str, faults: list[str]) -> list[str]:
    if not faults:
        return []
    more = f" and {len(faults) - 5} more" if len(faults) > 5 else ""
    return [f"{name}: {', '.join(faults[:5])}{more}."]


def _compare_journal(state: State, seen: Seen | None) -> None:
    if seen is None or not seen.events:
        return
    events, digests = state.events, state.reading.digests
    if seen.schema_version < _WITH_DIGESTS:
        if any(event["event"] == "taken_over" for event in events):
            state.is_outdated = True
            return
    elif seen.rewritings < journal.rewritings(events):
        state.is_outdated = True
        return
    if len(events) < seen.events:
        if not state.reading.faults:
            held = f"ends after {len(events)}" if events else "is gone: it holds 0"
            state.faults.append(
                f"{_JOURNAL}: {held} lines, but the database knows of {seen.events}."
            )
    elif seen.journal_digest is not None and digests[seen.events - 1] != seen.journal_digest:
        state.faults.append(
            f"{_JOURNAL}: line {seen.events} is another one than the database knows."
        )


def _compare_tombstones(state: State, folder: Path, seen: Seen | None) -> None:
    reading = journal.examine_tombstones(folder)
    told = journal.tombstones_of(state.events)
    if any(line not in told for line in reading.lines):
        state.faults.append(
            f"{_JOURNAL}: it does not know of all who were forgotten ({_TOMBSTONES} does)."
        )
    is_late = state.is_outdated or state.is_bare or seen is None or seen.events < len(state.events)
    if reading.faults or (len(reading.lines) < len(told) and not is_late):
        how = "was damaged" if reading.faults else "was not whole"
        state.mended.append(f"{_TOMBSTONES} {how}; it is written again from the journal.")


def _compare_mails(state: State, seen: Seen) -> None:
    rows = {row_of(entry) for entry in state.sent_log.entries}
    lost = [row for row in seen.mails if row not in rows]
    if lost and not state.sent_log.faults:
        few = "a line" if len(lost) == 1 else f"{len(lost)} lines"
        state.mail_faults.append(f"{_MAILS}: {few} that the database knows of are not there.")


def unnamed(folder: Path, events: list[Event]) -> list[str]:
    """Kept contents that no journal line names."""
    needed = {journal.kept_digest(event) for event in events if event["event"] == "load"}
    return sorted(each for each in store.kept_contents(folder) if each not in needed)
