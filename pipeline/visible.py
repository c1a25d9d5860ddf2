"""Text that files and servers gave, made safe where it is shown: what steers becomes a mark.

A control character in a name could move a terminal's cursor, turn the reading order of a line, or
be no character of SVG at all. It stays in the data as it came; pages, pictures, mails and the
terminal show a mark for it. Each of them calls `visible` in one place, where text goes out.
"""

from __future__ import annotations

import json
import re
from typing import Any

_UNSEEN = re.compile(
    # C0 but for tab and line end, DEL, C1; zero-width space, line and paragraph separator, what
    # turns the reading order, invisible operators, byte order mark; what is no character at all
    "[\x00-\x08\x0b-\x1f\x7f-\x9f\u200b\u2028-\u202e\u2060-\u206f\ufeff\ud800-\udfff\ufffe\uffff]"
)
# joiners and the marks of direction stay: scripts and emoji need them, and they turn nothing


def visible(text: str) -> str:
    """The text with a mark for each character that steers: ␛ for escape, [U+202E] for others."""
    return _UNSEEN.sub(_mark, text)


def _mark(found: re.Match[str]) -> str:
    code = ord(found[0])
    if code < 0x20:
        return chr(0x2400 + code)
    return "␡" if code == 0x7F else f"[U+{code:04X}]"


def json_text(value: Any, indent: int | None = None) -> str:
    """A value as JSON of the same meaning, in which such characters stand as escapes."""
    text = json.dumps(value, default=str, ensure_ascii=False, indent=indent)
    return _UNSEEN.sub(lambda found: f"\\u{ord(found[0]):04x}", text)
