"""The coach's own word to a client, notes/<client>/<YYYY-MM>.md, as a page and a mail show it."""

from __future__ import annotations

from datetime import date
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.pages.page_data import CoachNote
from pipeline.settings.toml_reader import text_of

if TYPE_CHECKING:
    from markdown_it import MarkdownIt

FOLDER = "notes"


def note_path(root: Path, client_id: str, day: date) -> Path:
    """Where the word to a client for the month of a day stands."""
    return root / FOLDER / client_id / f"{day:%Y-%m}.md"


def read_note(root: Path, client_id: str, day: date) -> CoachNote | None:
    """The word for the month of a day; None where there is none, or nothing in it.

    ConfigError for a file that is no text.
    """
    path = note_path(root, client_id, day)
    if not path.exists():
        return None
    text = text_of(path, str(path.relative_to(root))).removeprefix("\ufeff").strip()
    return CoachNote(text, _markdown().render(text).strip()) if text else None


@lru_cache(maxsize=1)
def _markdown() -> MarkdownIt:
    """CommonMark without what would reach out of a page: raw HTML is escaped, pictures are links.

    A heading of whatever rank is one of the third, below "From your coach".
    """
    from markdown_it import MarkdownIt

    markdown = MarkdownIt("commonmark", {"html": False}).disable("image")
    markdown.add_render_rule("heading_open", lambda *_: "<h3>")
    markdown.add_render_rule("heading_close", lambda *_: "</h3>\n")
    return markdown
