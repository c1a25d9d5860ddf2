"""The reference of all tables from the comments in the database: as Markdown, or one HTML page."""

from __future__ import annotations

from collections.abc import Iterator
from html import escape

import duckdb

from pipeline.review.query import Described, describe_columns, describe_tables, find_table

HEAD = ("Column", "Type", "Unit", "Meaning")
STYLE = (
    "body{font:1rem/1.5 system-ui,sans-serif;max-width:70rem;margin:2rem auto;padding:0 1rem;"
    "color-scheme:light dark}table{border-collapse:collapse;width:100%}"
    "th,td{text-align:left;vertical-align:top;padding:.25rem .75rem .25rem 0;"
    "border-bottom:1px solid #8886}"
)

Tables = list[tuple[Described, list[Described]]]


def reference(con: duckdb.DuckDBPyConnection, form: str, table: str | None = None) -> str:
    """Every table with its columns, or one, as "md" or "html"."""
    only = None if table is None else find_table(con, table)
    tables = [
        (each, describe_columns(con, each.name))
        for each in describe_tables(con)
        if only in (None, each.name)
    ]
    return "\n".join(_html(tables) if form == "html" else _markdown(tables)) + "\n"


def _cells(column: Described) -> tuple[str, ...]:
    return column.name, column.kind, column.unit or "", column.meaning


def _markdown(tables: Tables) -> Iterator[str]:
    yield "# Tables"
    for one, columns in tables:
        yield f"\n## {one.name}\n\n{_plain(one.meaning)}\n"
        yield f"| {' | '.join(HEAD)} |\n|{' --- |' * len(HEAD)}"
        for column in columns:
            yield f"| {' | '.join(_plain(cell) for cell in _cells(column))} |"


def _plain(text: str) -> str:
    """Text that Markdown takes for no markup."""
    for mark in "\\`*_|[]":
        text = text.replace(mark, f"\\{mark}")
    return escape(" ".join(text.split()), quote=False)


def _html(tables: Tables) -> Iterator[str]:
    yield '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">'
    yield '<meta name="viewport" content="width=device-width">'
    yield f"<title>Tables</title>\n<style>{STYLE}</style>\n</head>\n<body>\n<h1>Tables</h1>"
    names = [escape(one.name) for one, _ in tables]
    links = ", ".join(f'<a href="#{name}">{name}</a>' for name in names)
    yield f"<p>{links}</p>"
    for one, columns in tables:
        name = escape(one.name)
        yield f'<h2 id="{name}">{name}</h2>\n<p>{escape(one.meaning)}</p>\n<table>'
        yield "<tr>" + "".join(f'<th scope="col">{each}</th>' for each in HEAD) + "</tr>"
        for column in columns:
            yield "<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in _cells(column)) + "</tr>"
        yield "</table>"
    yield "</body>\n</html>"
