"""Whose rows the files of a shape hold where no column says: decided once, and written down."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from pipeline.drafting.draft import Draft
from pipeline.drafting.shapes import Candidate
from pipeline.names.clients import SOLE_CLIENT, plain
from pipeline.reading.file_names import name_in, shared_words
from pipeline.reading.whose import labelled
from pipeline.settings.workspace import Client, Workspace


def settle_whose(
    draft: Draft, group: Sequence[Candidate], workspace: Workspace | None
) -> list[str]:
    """Puts into the draft whose rows they are; gives sentences for the terminal."""
    if draft.client is not None or "client" in draft.taken.values():
        return []
    shown = [each.shown for each in group]
    shared = shared_words(shown)
    names = {each: name_in(each, shared) for each in shown}
    label = next((str(each.value) for each in draft.guesses if each.section == "client"), None)
    above = {each.shown: name for each in group if label and (name := _above(each, label))}
    names |= above
    clients = workspace.clients if workspace else ()
    if label is None and (beside := _words_beside(names.values(), clients)):
        shared = tuple(dict.fromkeys((*shared, *beside)))
        names = {each: name_in(each, shared) for each in shown}
    only = clients[0] if len(clients) == 1 else None
    if only and label is None and len({plain(each) for each in names.values()}) == 1:
        name = next(iter(names.values()))
        is_listed = plain(name) in {plain(each) for each in (only.id, only.name, *only.aliases)}
        words = [] if is_listed else [each for each in re.split(r"[\s-]+", name) if each]
        draft.guess("client", "file_name", True, 0.85, "so that another's file is not taken for it")
        if words:
            draft.guess("client", "without", words, 0.85, "no name of a client so far")
        draft.guess("client", "otherwise", only.id, 0.9, "the only [[clients]]")
        return [f"{', '.join(shown)}: no column names a client; the sets are those of {only.id}."]
    if label is None and not any(names.values()):
        reason = "no column names a client, and neither does the file's name so far"
    else:
        reason = "no column names the client; the file's name does, without dates and numbers"
    draft.guess("client", "file_name", True, 0.85, reason)
    if shared:
        reason = "words that all files share, or beside the name of one of [[clients]]"
        draft.guess("client", "without", list(shared), 0.9, reason)
    nameless = [each for each, name in names.items() if not name]
    said = [
        f"{each}: no column names a client; the sets are those of '{name}', by "
        f"{'a line above the header' if each in above else 'the name of the file'}."
        for each, name in names.items()
        if name
    ]
    if nameless:
        owner = clients[0].id if len(clients) == 1 else SOLE_CLIENT
        said.append(
            f"{', '.join(nameless)}: nothing names a client, neither a column nor the file's name; "
            f"the sets are those of '{owner}'. A file's name with the client's in it tells more."
        )
    return said


def _words_beside(names: Iterable[str], clients: Sequence[Client]) -> list[str]:
    """Words beside a listed client's spelling, where each name holds exactly one client's."""
    beside: list[str] = []
    for name in names:
        words = re.split(r"[\s-]+", plain(name.replace("-", " ")))
        left = {
            client.id: [word for word in words if word not in told]
            for client in clients
            for each in (client.id, client.name, *client.aliases)
            if (told := re.split(r"[\s-]+", plain(each.replace("-", " ")))) and {*told} <= {*words}
        }
        if len(left) != 1:
            return []
        beside += left.popitem()[1]
    return list(dict.fromkeys(beside))


def _above(candidate: Candidate, label: str) -> str | None:
    """The name that a line above the header gives."""
    sniffed = candidate.draft.sniffed
    for line in sniffed.preamble:
        found = labelled(line, sniffed.delimiter)
        if found and plain(found[0]) == plain(label):
            return found[1]
    return None
