"""A draft as a mapping file with reasons, tried on its export, and its place in the workspace."""

from __future__ import annotations

import glob
import json
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from fnmatch import fnmatch
from pathlib import Path

from pipeline import clock
from pipeline.drafting.guesses import Guess, Open, Value
from pipeline.drafting.steps import Draft, draft
from pipeline.errors import ConfigError, ExportError, SetledgerError, UsageError
from pipeline.names.catalogue import Catalogue
from pipeline.names.clients import ClientIndex, slug
from pipeline.reading.cells import shortened
from pipeline.reading.export import read_export
from pipeline.reading.export_files import content_of, files_of
from pipeline.reading.normalise import Normalised, normalise
from pipeline.resources import resource
from pipeline.settings.mapping import OPEN_MARK, Mapping, parse_mapping, read_mapping
from pipeline.settings.new_workspace import make_workspace
from pipeline.settings.rules import Rules
from pipeline.settings.workspace import (
    CONFIG_NAME,
    Source,
    Workspace,
    find_workspace,
    parse_workspace,
)

SHOWN_ROWS = 5
"""First rows that are shown as they would load."""

_SECTIONS = ("file", "layout", "columns", "formats", "values", "constants")
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+\Z")


@dataclass(frozen=True)
class Trial:
    """What a mapping makes of its export, with the first reading of each open key."""

    loaded: Normalised | None
    """None: the mapping cannot be tried, and `trouble` says why."""
    trouble: str | None = None


@dataclass(frozen=True)
class Written:
    """A mapping that was drafted, where it stands, and what a person should know."""

    path: str
    """The mapping file; "-" where it goes to standard output."""
    text: str
    notes: tuple[str, ...]
    """What was done beside, in sentences."""
    opens: tuple[str, ...]
    """A sentence for each key that was left open."""
    preview: tuple[str, ...]
    """The first rows as they would load, as lines of text."""
    warnings: tuple[str, ...]
    """What will not load, in sentences; makes the exit code 1."""

    @property
    def needs_person(self) -> bool:
        """Whether something is still to be chosen or will not load."""
        return bool(self.opens or self.warnings)


@dataclass(frozen=True)
class _Plan:
    """Where a draft and its export are to stand."""

    export: Path
    shown: str
    mapping: str
    copies_from: Path | None
    source: Source | None
    """The source that covers the file already."""


def draft_mappings(
    files: Sequence[Path], folder: Path, output: str | None
) -> tuple[list[Written], list[SetledgerError]]:
    """A mapping for each file, written where it belongs; a file that holds no log is an error.

    `folder` is the workspace, made if there is none. `output`: None writes
    mappings/<file stem>.toml; "-" writes nothing; else the mapping file's path.
    Raises UsageError or ConfigError before anything is written.
    """
    if output not in (None, "-") and len(files) > 1:
        raise UsageError("-o names one file, but several exports are given; draft them one by one.")
    if output == "-":
        return _drafts_only(files, folder)
    written: list[Written] = []
    errors: list[SetledgerError] = []
    for path in files:
        try:
            data = content_of(path, str(path))
            if not (folder / CONFIG_NAME).is_file():
                _drafted(data, path.name, None)
                make_workspace(folder)
            written.append(_draft_into(find_workspace(folder), path, data, output))
        except (ExportError, UsageError) as error:
            errors.append(error)
    return written, errors


def _drafts_only(files: Sequence[Path], folder: Path) -> tuple[list[Written], list[SetledgerError]]:
    workspace = find_workspace(folder) if (folder / CONFIG_NAME).is_file() else None
    written: list[Written] = []
    errors: list[SetledgerError] = []
    for path in files:
        try:
            data = content_of(path, str(path))
            found = _drafted(data, path.name, workspace)
            text = mapping_text(found, _name(path.stem), path.name, data)
            written.append(_result("-", text, found, path.name, data, workspace, ()))
        except ExportError as error:
            errors.append(error)
    return written, errors


def _draft_into(workspace: Workspace, path: Path, data: bytes, output: str | None) -> Written:
    plan = _plan(workspace, path, output, data)
    found = _drafted(data, plan.shown, workspace)
    target = Path(output) if output else workspace.root / plan.mapping
    name = _free_name(workspace, _name(Path(plan.mapping).stem))
    text = mapping_text(found, name, plan.shown, data)
    config = _with_source(workspace, plan)
    notes = []
    if plan.copies_from is not None:
        plan.export.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        plan.export.write_bytes(data)
        notes.append(f"{path} is copied to {plan.shown}.")
    target.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    target.write_text(text, encoding="utf-8")
    if config is not None:
        (workspace.root / CONFIG_NAME).write_text(config, encoding="utf-8")
        notes.append(f"{CONFIG_NAME} has a new [[sources]] entry for {plan.shown}.")
    elif plan.source is not None and plan.source.mapping != plan.mapping:
        notes.append(
            f"{CONFIG_NAME}: a [[sources]] entry reads {plan.shown} already, with "
            f"{plan.source.mapping}; name {plan.mapping} there to use this draft."
        )
    elif plan.source is None:
        notes.append(
            f"{target} lies outside the workspace, so no [[sources]] entry was added; copy it to "
            "mappings/ to use it."
        )
    return _result(str(target), text, found, plan.shown, data, workspace, tuple(notes))


def _drafted(data: bytes, shown: str, workspace: Workspace | None) -> Draft:
    own = workspace.root / "exercises.csv" if workspace else None
    catalogue = Catalogue.load(resource("sql") / "seeds", own)
    return draft(data, shown, catalogue, _rules(workspace), _tomorrow(workspace))


def _rules(workspace: Workspace | None) -> Rules:
    return workspace.rules if workspace else Rules()


def _tomorrow(workspace: Workspace | None) -> date:
    return clock.today(workspace.timezone if workspace else None) + timedelta(days=1)


# Where things stand


def _plan(workspace: Workspace, path: Path, output: str | None, data: bytes) -> _Plan:
    root = workspace.root.resolve()
    inside = path.resolve().is_relative_to(root)
    export = path.resolve() if inside else root / "exports" / path.name
    shown = str(export.relative_to(root))
    if not inside and export.exists() and export.read_bytes() != data:
        raise UsageError(
            f"{shown}: another file of that name is in the workspace already; rename {path} first."
        )
    copies_from = path if not inside and not export.exists() else None
    covering = [
        source for source in workspace.sources if export in _matched(workspace, source, export)
    ]
    source = covering[0] if covering else None
    mapping = f"mappings/{_name(path.stem)}.toml"
    if source is not None and not (root / source.mapping).exists():
        mapping = source.mapping
    if output:
        target = Path(output).resolve()
        mapping = str(target.relative_to(root)) if target.is_relative_to(root) else str(target)
    if (root / mapping).exists():
        raise UsageError(
            f"{mapping}: this mapping exists and is not overwritten; name another with -o, or "
            "remove it first."
        )
    return _Plan(export, shown, mapping, copies_from, source)


def _matched(workspace: Workspace, source: Source, export: Path) -> list[Path]:
    """Files that a source's glob finds, or would find once the export is copied."""
    shown = str(export.relative_to(workspace.root.resolve()))
    if not export.exists() and fnmatch(shown, source.files):
        return [export]
    return [each.resolve() for each in files_of(workspace, source)[0]]


def _with_source(workspace: Workspace, plan: _Plan) -> str | None:
    """setledger.toml with an entry for the export at its end; None if none is to be added."""
    if plan.source is not None or Path(plan.mapping).is_absolute():
        return None
    gap = "" if not workspace.text or workspace.text.endswith("\n") else "\n"
    entry = (
        "\n[[sources]]\n"
        f"files = {_quoted(glob.escape(plan.shown))}\n"
        f"mapping = {_quoted(plan.mapping)}\n"
    )
    text = f"{workspace.text}{gap}{entry}"
    try:
        parse_workspace(text, workspace.root)
    except ConfigError as error:
        raise ConfigError(
            f"{CONFIG_NAME}: an entry for {plan.shown} cannot be added at its end ({error}); "
            "add it by hand."
        ) from error
    return text


def _free_name(workspace: Workspace, name: str) -> str:
    taken = set()
    for source in workspace.sources:
        try:
            taken.add(read_mapping(workspace.root / source.mapping, source.mapping).name)
        except ConfigError:
            taken.add(Path(source.mapping).stem)
    return next(
        each for each in (name, *(f"{name}-{n}" for n in range(2, 10_000))) if each not in taken
    )


def _name(stem: str) -> str:
    """A file stem as the name of a source and of its mapping file."""
    return slug(stem)


# The text


def mapping_text(found: Draft, name: str, shown: str, data: bytes) -> str:
    """The mapping as TOML, with a comment on each guess."""
    lines = [
        f"# Drafted from {_one_line(shown)}. The number before a reason is how sure it is, 0 to 1.",
    ]
    if found.opens:
        lines.append(
            f'# Lines that begin with "{OPEN_MARK}" are still to be chosen: take the mark away '
            "before the right one."
        )
    lines += ["", f"name = {_quoted(name)}"]
    sections: dict[str, list[str]] = {
        "file": _file_lines(found, name, data),
        "layout": _layout_lines(found),
    }
    for guess in found.guesses:
        if guess.section not in ("file", "layout"):
            sections.setdefault(guess.section, []).extend(_guess_lines(guess))
    for each in found.opens:
        sections.setdefault(each.section, []).extend(_open_lines(each))
    if found.unread:
        sections.setdefault("columns", []).append("")
        sections["columns"].append("# Not read:")
        sections["columns"] += [
            f"#   {_quoted(each.column)}: {_one_line(each.reason)}" for each in found.unread
        ]
    for section in sorted(sections, key=lambda each: _SECTIONS.index(each.split(".")[0])):
        if sections[section]:
            lines += ["", f"[{section}]", *sections[section]]
    return "\n".join(lines) + "\n"


def _file_lines(found: Draft, name: str, data: bytes) -> list[str]:
    sniffed = found.sniffed
    lines = [
        line for guess in found.guesses if guess.section == "file" for line in _guess_lines(guess)
    ]
    if not sniffed.has_header:
        lines += [f"# 0.95: {sniffed.header_reason}", "header = false"]
    is_found = sniffed.has_header and _finds_header(found, data)
    if not is_found and (sniffed.has_header or sniffed.skip_rows):
        lines += [f"# 0.9: {sniffed.skip_rows} lines stand before the first that counts",
                  f"skip_rows = {sniffed.skip_rows}"]  # fmt: skip
    elif sniffed.skip_rows:
        lines.append(
            f"# The header is line {sniffed.skip_rows + 1}: {sniffed.header_reason}. It is found "
            "by its names, wherever it stands."
        )
    return lines


def _finds_header(found: Draft, data: bytes) -> bool:
    """Whether the reader finds the header by the columns' names."""
    form = {guess.key: guess.value for guess in found.guesses if guess.section == "file"}
    text = "\n".join(f"{key} = {_quoted(value)}" for key, value in form.items())
    mapping = parse_mapping(f"[file]\n{text}\n{_STUB}", "draft")
    names = [str(guess.value) for guess in found.guesses if guess.section == "columns"]
    read = read_export(data, mapping.file, "draft", names)
    return read.written_header == found.sniffed.export.written_header


_STUB = '[columns]\nperformed_on = "a"\nexercise = "b"\nreps = "c"\n'


def _layout_lines(found: Draft) -> list[str]:
    meant = {
        "sets": "a row is one set, or several alike ones",
        "exercises": "one cell lists the sets of a row",
        "wide": "several columns hold the sets of a row",
        "days": "a row is a day, and each other column an exercise whose cells list the sets",
    }
    lines = [f"# {meant[found.rows]}", f"rows = {_quoted(found.rows)}"]
    for guess in found.guesses:
        if guess.section == "layout":
            lines += _guess_lines(guess)
    return lines


def _guess_lines(guess: Guess) -> list[str]:
    return [
        f"# {guess.confidence:g}: {_one_line(guess.reason)}",
        f"{_key(guess.key)} = {_quoted(guess.value)}",
    ]


def _open_lines(each: Open) -> list[str]:
    return [
        "",
        f"# {_one_line(each.reason)}",
        *(f"{OPEN_MARK}{_key(key)} = {_quoted(value)}" for key, value in each.readings),
        "",
    ]


def _key(key: str) -> str:
    return key if _BARE_KEY.match(key) else _quoted(key)


def _quoted(value: Value) -> str:
    """A value as TOML writes it: JSON's strings are basic strings of TOML, but for DEL."""
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007F")


def _one_line(text: str) -> str:
    """A comment of one line, without control characters."""
    return "".join(char if char.isprintable() else " " for char in " ".join(text.split()))


# The trial


def settled(text: str) -> str:
    """A mapping's text with the first reading of each group that is still open chosen."""
    lines: list[str] = []
    group: list[str] = []
    for line in (*text.split("\n"), ""):
        if line.strip() and (line.startswith(OPEN_MARK) or line[0] not in "#["):
            group.append(line)
            continue
        chosen = [each for each in group if not each.startswith(OPEN_MARK)]
        lines += chosen or [each.removeprefix(OPEN_MARK) for each in group[:1]]
        group = []
        lines.append(line)
    return "\n".join(lines)


def try_mapping(text: str, shown: str, data: bytes, workspace: Workspace | None) -> Trial:
    """What a drafted mapping makes of its export."""
    clients = workspace.clients if workspace else ()
    index = ClientIndex.of((each.id, each.name, each.aliases) for each in clients)
    try:
        mapping = parse_mapping(settled(text), shown)
        return Trial(_read(data, mapping, shown, index, workspace))
    except (ConfigError, ExportError) as error:
        return Trial(None, str(error))


def _read(
    data: bytes, mapping: Mapping, shown: str, index: ClientIndex, workspace: Workspace | None
) -> Normalised:
    export = read_export(data, mapping.file, shown, mapping.column_names)
    return normalise(export, mapping, 0, index, _tomorrow(workspace), _rules(workspace))


def _result(
    path: str,
    text: str,
    found: Draft,
    shown: str,
    data: bytes,
    workspace: Workspace | None,
    notes: tuple[str, ...],
) -> Written:
    trial = try_mapping(text, shown, data, workspace)
    where = path if path != "-" else "the mapping"
    opens = tuple(_open_sentence(each, where) for each in found.opens)
    preview: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    if trial.loaded is None:
        warnings = (f"{shown}: the draft cannot be tried: {trial.trouble}",)
    else:
        preview = _preview(trial.loaded, found)
        notes = (*notes, _counts(trial.loaded, shown))
        limit = _rules(workspace).set_aside_share
        share = trial.loaded.lines_set_aside / max(trial.loaded.lines_read, 1)
        if share > limit:
            warnings = (
                f"{shown}: {trial.loaded.lines_set_aside} of {trial.loaded.lines_read} lines would "
                f"be set aside, above the limit of {limit:.0%}: {_reasons(trial.loaded)}",
            )
    return Written(path, text, notes, opens, preview, (*warnings, *found.doubts))


def _open_sentence(each: Open, where: str) -> str:
    readings = " or ".join(f"{_key(key)} = {_quoted(value)}" for key, value in each.readings)
    return f"{where}: [{each.section}] {readings} is left open: {each.reason}."


def _counts(loaded: Normalised, shown: str) -> str:
    told = f"{shown}: {loaded.lines_loaded} of {loaded.lines_read} lines give "
    told += f"{loaded.sets.height} sets"
    if loaded.lines_set_aside:
        told += f"; {loaded.lines_set_aside} would be set aside: {_reasons(loaded)}"
    return told if told.endswith(".") else f"{told}."


def _reasons(loaded: Normalised) -> str:
    """The first line of each of the commonest reasons."""
    grouped = loaded.set_aside.group_by("reason", maintain_order=True).first()
    parts = [
        f"line {row['source_line']}: {row['explanation'].rstrip('.')}"
        for row in grouped.head(3).iter_rows(named=True)
    ]
    return "; ".join(parts) + "."


def _preview(loaded: Normalised, found: Draft) -> tuple[str, ...]:
    """The first sets as a table of text."""
    columns = ("source_line", "client_id", "performed_on", "exercise_raw", "set_kind", "load_kg",
               "reps", "rir", "rpe")  # fmt: skip
    names = ("line", "client", "day", "exercise", "kind", "load kg", "reps", "RIR", "RPE")
    rows = loaded.sets.select(columns).head(SHOWN_ROWS)
    kept = [
        place
        for place, column in enumerate(columns)
        if column not in ("rir", "rpe") or loaded.sets[column].null_count() < loaded.sets.height
    ]
    table = [[names[place] for place in kept]]
    table += [[_shown(row[place]) for place in kept] for row in rows.iter_rows()]
    widths = [max(len(line[place]) for line in table) for place in range(len(kept))]
    lines = [
        "  ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)).rstrip()
        for line in table
    ]
    if found.opens:
        lines.insert(0, "With the first reading of what is open:")
    return tuple(lines)


def _shown(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, float):
        return f"{value:.2f}".rstrip("0").rstrip(".")
    return shortened(str(value), 32)
