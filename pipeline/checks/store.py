"""Remarks on .setledger/: journal, sent log and each kept version, verified by their digests."""

from __future__ import annotations

from collections.abc import Iterator

from pipeline.checks.remarks import Remark
from pipeline.errors import BusyError, KeptVersionError
from pipeline.ledger import journal, store, versions
from pipeline.ledger.database import look_into
from pipeline.ledger.soundness import State, look, unnamed
from pipeline.settings.workspace import Workspace

_TOPIC = "store"


def kept(workspace: Workspace) -> Iterator[Remark]:
    """What is wrong with what is kept; a damaged version is made again from exports/ if it can be.

    Nothing is mended while another run is going on.
    """
    if not workspace.store.exists():
        return
    state = look(workspace.store, look_into(workspace.database))
    for sentence in (*state.faults, *state.mail_faults, *state.mended):
        where, _, text = sentence.partition(": ")
        yield Remark("wrong", _TOPIC, where, text or sentence)
    if state.faults:
        where = f".setledger/{journal.NAME}"
        text = "`setledger rebuild --salvage` takes what is sound and says what is lost."
        yield Remark("open", _TOPIC, where, text)
    try:
        with store.locked(workspace.store):
            yield from _versions(workspace, state)
    except BusyError:
        text = "the kept versions are not looked at, for another run is going on."
        yield Remark("note", _TOPIC, ".setledger/exports", text)
    for sha256 in unnamed(workspace.store, state.events):
        yield Remark(
            "note",
            _TOPIC,
            f".setledger/exports/{sha256}.zst",
            "no line of the journal names this kept version, as after a run that was killed or a "
            "salvage; it does not count.",
        )


def _versions(workspace: Workspace, state: State) -> Iterator[Remark]:
    """Each kept version read and compared with its digest."""
    taken_back = {each["load_id"] for each in state.events if each["event"] == "unload"}
    seen: set[str] = set()
    for event in state.events:
        if event["event"] != "load" or event["load_id"] in taken_back:
            continue
        if journal.kept_digest(event) in seen:
            continue
        seen.add(journal.kept_digest(event))
        said: list[str] = []
        try:
            versions.kept_content(workspace.store, event, state.events, said)
        except KeptVersionError as error:
            yield Remark.of(error, _TOPIC)
        for sentence in said:
            where, _, text = sentence.partition(": ")
            yield Remark("open", _TOPIC, where, text)
