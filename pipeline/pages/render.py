"""Page data to HTML: the only module that knows Jinja, and css-inline for mails.

A page is one file: style and script stand in it, nothing is fetched, and a content security policy
lets only these two, named by their digests, take effect. All text is escaped; only drawings that
pages/charts made, and notes that pages/coach_note rendered, are taken as markup.
"""

from __future__ import annotations

import base64
import hashlib
import html
import re
from functools import lru_cache

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from pipeline.pages.next_sheet import NextSheet
from pipeline.pages.page_data import ClientPage, RosterPage, SidePage, Table
from pipeline.pages.theme import theme
from pipeline.resources import resource
from pipeline.visible import visible


def render_client(page: ClientPage) -> str:
    """One client's page."""
    return _render("client.html", page)


def render_side(page: SidePage) -> str:
    """A page beside a client's: evidence, or years."""
    return _render("side.html", page)


def render_roster(page: RosterPage) -> str:
    """The coach's page."""
    return _render("roster.html", page)


def render_next(page: NextSheet) -> str:
    """The sheet for a client's next session."""
    return _render("next.html", page)


def render_mail(template: str, **values: object) -> str:
    """A template of a mail filled with values, its styles at the elements."""
    import css_inline

    text = _environment().get_template(template).render(colour=theme().light, **values)
    inliner = css_inline.CSSInliner(load_remote_stylesheets=False)
    return str(inliner.inline(text))


def _render(name: str, page: ClientPage | RosterPage | SidePage | NextSheet) -> str:
    script, style = "", _style()
    if isinstance(page, RosterPage):
        script = _script()
        style += _labels("roster", page.table) + _labels("month", page.month)
    return (
        _environment()
        .get_template(name)
        .render(
            page=page,
            style=Markup(style),
            script=Markup(script),
            policy=_policy(style, script),
        )
    )


def _labels(section: str, table: Table | None) -> str:
    """What the cells of a table are called where it is set as a list: once, not in every cell."""
    columns = table.columns if table else ()
    labels = "".join(
        f'  #{section} td:nth-child({place})::before {{ content: "{column.label}"; }}\n'
        for place, column in enumerate(columns, start=1)
        if place > 1
    )
    return f"@media (max-width: 62rem) {{\n{labels}}}\n"


@lru_cache(maxsize=1)
def _environment() -> Environment:
    environment = Environment(
        loader=FileSystemLoader(resource("reports")),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=_shown,
    )
    environment.filters["drawing"] = _drawing
    environment.filters["command"] = _command
    environment.filters["noted"] = _noted
    return environment


def _shown(value: object) -> object:
    """What a template prints: markup as it is, text without what steers a browser or a screen."""
    return visible(value) if isinstance(value, str) and not isinstance(value, Markup) else value


def _drawing(svg: str) -> Markup:
    """A drawing of pages/charts; its words were escaped there."""
    return Markup(visible(svg))


def _noted(html: str) -> Markup:
    """A note as pages/coach_note rendered it; what was raw in it was escaped there."""
    return Markup(html)


def _command(text: str) -> Markup:
    """Text inside a double-quoted attribute; single quotes, common in commands, stay one byte."""
    return Markup(html.escape(visible(text), quote=False).replace('"', "&quot;"))


@lru_cache(maxsize=1)
def _style() -> str:
    sheet = (resource("reports") / "page.css").read_text(encoding="utf-8")
    plain = re.sub(r"/\*.*?\*/\s*", "", sheet, flags=re.DOTALL)
    return theme().css() + plain


@lru_cache(maxsize=1)
def _script() -> str:
    return (resource("reports") / "roster.js").read_text(encoding="utf-8").strip()


def _policy(style: str, script: str) -> str:
    """What the page may do: its own style and script, and nothing from anywhere."""
    scripts = _digest(script) if script else "'none'"
    return (
        f"default-src 'none'; style-src {_digest(style)}; script-src {scripts}; "
        "base-uri 'none'; form-action 'none'"
    )


def _digest(text: str) -> str:
    digest = hashlib.sha256(text.encode()).digest()
    return f"'sha256-{base64.b64encode(digest).decode()}'"
