"""On which line of setledger.toml something stands, so that a remark can point there."""

from __future__ import annotations

import re
from itertools import pairwise

from pipeline.files import lines_of
from pipeline.settings.workspace import CONFIG_NAME, Workspace


def config_line(
    workspace: Workspace, text: str, client_id: str | None = None, key: str = ""
) -> str:
    """setledger.toml with the line on which a text stands, in the block of a client if one.

    Where several hold it, the one that sets `key`.
    """
    lines = list(enumerate(lines_of(workspace.text), start=1))
    if client_id is not None:
        starts = [place for place, (_, line) in enumerate(lines) if _opens_client(line)]
        for start, end in pairwise([*starts, len(lines)]):
            block = lines[start:end]
            if any(
                re.match(rf"\s*id\s*=\s*[\"']{re.escape(client_id)}[\"']", line)
                for _, line in block
            ):
                lines = block
                break
    found = [(number, line) for number, line in lines if text in line.split(" #")[0]]
    found.sort(key=lambda each: not re.match(rf"\s*{re.escape(key)}\s*=", each[1]))
    return f"{CONFIG_NAME}:{found[0][0]}" if found else CONFIG_NAME


def _opens_client(line: str) -> bool:
    return re.match(r"\s*\[\[\s*clients\s*\]\]", line) is not None
