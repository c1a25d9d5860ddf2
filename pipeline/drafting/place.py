"""Where a draft goes in the workspace: its mapping, its export, its [[sources]] entry."""

from __future__ import annotations

import glob
from collections.abc import Sequence
from dataclasses import dataclass
from fnmatch import fnmatch
from pathlib import Path

from pipeline.drafting.draft import Draft
from pipeline.drafting.mapping_text import mapping_text, open_sentence, quoted
from pipeline.drafting.steps import draft_export
from pipeline.drafting.trial import (
    commonest_reasons,
    counted_lines,
    preview_of,
    rules_and_tomorrow,
    try_mapping,
)
from pipeline.errors import ConfigError, ExportError, SetledgerError, UsageError
from pipeline.names.clients import slug
from pipeline.names.exercises_file import load_catalogue
from pipeline.reading.export_files import content_of, files_of
from pipeline.settings.mapping_file import read_mapping
from pipeline.settings.new_workspace import make_workspace
from pipeline.settings.workspace import CONFIG_NAME, Source, Workspace
from pipeline.settings.workspace_file import find_workspace, parse_workspace


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
            draft = _drafted(data, path.name, workspace)
            text = mapping_text(draft, slug(path.stem), path.name, data)
            written.append(_result("-", text, draft, path.name, data, workspace, ()))
        except ExportError as error:
            errors.append(error)
    return written, errors


def _draft_into(workspace: Workspace, path: Path, data: bytes, output: str | None) -> Written:
    plan = _plan(workspace, path, output, data)
    draft = _drafted(data, plan.shown, workspace)
    target = Path(output) if output else workspace.root / plan.mapping
    name = _free_name(workspace, slug(Path(plan.mapping).stem))
    text = mapping_text(draft, name, plan.shown, data)
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
    return _result(str(target), text, draft, plan.shown, data, workspace, tuple(notes))


def _drafted(data: bytes, shown: str, workspace: Workspace | None) -> Draft:
    own = workspace.root / "exercises.csv" if workspace else None
    return draft_export(data, shown, load_catalogue(own), *rules_and_tomorrow(workspace))


def _result(
    path: str,
    text: str,
    draft: Draft,
    shown: str,
    data: bytes,
    workspace: Workspace | None,
    notes: tuple[str, ...],
) -> Written:
    trial = try_mapping(text, shown, data, workspace)
    where = path if path != "-" else "the mapping"
    opens = tuple(open_sentence(each, where) for each in draft.opens)
    preview: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    if trial.loaded is None:
        warnings = (f"{shown}: the draft cannot be tried: {trial.trouble}",)
    else:
        preview = preview_of(trial.loaded, draft)
        notes = (*notes, counted_lines(trial.loaded, shown))
        limit = rules_and_tomorrow(workspace)[0].set_aside_share
        share = trial.loaded.lines_set_aside / max(trial.loaded.lines_read, 1)
        if share > limit:
            warnings = (
                f"{shown}: {trial.loaded.lines_set_aside} of {trial.loaded.lines_read} lines would "
                f"be set aside, above the limit of {limit:.0%}: {commonest_reasons(trial.loaded)}",
            )
    return Written(path, text, notes, opens, preview, (*warnings, *draft.doubts))


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
    mapping = f"mappings/{slug(path.stem)}.toml"
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
    if not export.exists() and any(fnmatch(shown, each) for each in source.files):
        return [export]
    return [each.resolve() for each in files_of(workspace, source)[0]]


def _with_source(workspace: Workspace, plan: _Plan) -> str | None:
    """setledger.toml with an entry for the export at its end; None if none is to be added."""
    if plan.source is not None or Path(plan.mapping).is_absolute():
        return None
    gap = "" if not workspace.text or workspace.text.endswith("\n") else "\n"
    entry = (
        "\n[[sources]]\n"
        f"files = {quoted(glob.escape(plan.shown))}\n"
        f"mapping = {quoted(plan.mapping)}\n"
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
