"""Where drafts go in the workspace: a mapping and a [[sources]] entry for each shape."""

from __future__ import annotations

import glob
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fnmatch import fnmatch
from pathlib import Path

from pipeline.drafting.draft import Draft
from pipeline.drafting.file_globs import common_words, globs_for
from pipeline.drafting.file_owners import settle_whose
from pipeline.drafting.mapping_text import mapping_text, open_sentence, quoted
from pipeline.drafting.shapes import Candidate, candidate_of, grouped, joint_draft, told_by_others
from pipeline.drafting.trial import (
    commonest_reasons,
    counted_lines,
    lines_at_fault,
    preview_of,
    rules_and_tomorrow,
    try_mapping,
)
from pipeline.errors import ConfigError, ExportError, SetledgerError, UsageError
from pipeline.files import is_within
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
    """Where an export is to stand, and who reads it already."""

    export: Path
    shown: str
    copies_from: Path | None
    source: Source | None
    """The source that covers the file already."""


def draft_mappings(
    files: Sequence[Path], folder: Path, output: str | None
) -> tuple[list[Written], list[SetledgerError]]:
    """A mapping for each shape, written where it belongs; a file that holds no log is an error.

    `folder` is the workspace, made if there is none. `output`: None writes
    mappings/<file stem>.toml; "-" writes nothing; else the mapping file's path.
    Raises UsageError or ConfigError before anything is written.
    """
    files = _expanded(files)
    if output not in (None, "-") and len(files) > 1:
        raise UsageError("-o names one file, but several exports are given; draft them one by one.")
    has_room = (folder / CONFIG_NAME).is_file()
    workspace = find_workspace(folder) if has_room else None
    errors: list[SetledgerError] = []
    passed: list[str] = []
    candidates: list[Candidate] = []
    plans: dict[str, _Plan] = {}
    for path in files:
        try:
            data = content_of(path, str(path))
            plan = _plan(workspace, folder, path, output, data, is_alone=len(files) == 1)
            if plan is None:
                passed.append(str(path))
                continue
            shown = plan.shown if workspace and output != "-" else path.name
            candidates.append(_candidate(path, shown, data, workspace))
            plans[shown] = plan
        except (ExportError, UsageError) as error:
            errors.append(error)
    if candidates and workspace is None and output != "-":
        make_workspace(folder)
        workspace = find_workspace(folder)
        named = {each.shown: plans[each.shown] for each in candidates}
        candidates = [replace(each, shown=named[each.shown].shown) for each in candidates]
        plans = {plan.shown: plan for plan in named.values()}
    written = [
        _written(folder, group, plans, output)
        for group in _sound_groups(_by_source(candidates, plans), workspace)
    ]
    if passed and not written and not errors:
        raise UsageError(
            f"{', '.join(passed)}: read by a [[sources]] entry and its mapping already; to draft "
            "one anew, name it alone, with -o and another mapping file."
        )
    return written, errors


def _expanded(files: Sequence[Path]) -> list[Path]:
    """The files; of a pattern that the shell left, those it finds.

    Of several, folders and what programs leave beside an open file are passed over.
    """
    found: list[Path] = []
    for path in files:
        is_pattern = glob.has_magic(path.name) and not path.exists()
        found += (sorted(path.parent.glob(path.name)) if is_pattern else []) or [path]
    if len(found) == 1:
        return found
    return [
        path
        for path in dict.fromkeys(found)
        if not (path.is_dir() or path.name.startswith((".", "~$")))
    ]


def _candidate(path: Path, shown: str, data: bytes, workspace: Workspace | None) -> Candidate:
    own = workspace.root / "exercises.csv" if workspace else None
    return candidate_of(path, shown, data, load_catalogue(own), *rules_and_tomorrow(workspace))


def _by_source(candidates: Sequence[Candidate], plans: dict[str, _Plan]) -> list[list[Candidate]]:
    """The files by the source that covers them already, if any: one mapping is for one source."""
    found: dict[Source | None, list[Candidate]] = {}
    for each in candidates:
        found.setdefault(plans[each.shown].source, []).append(each)
    return list(found.values())


def _sound_groups(
    parted: list[list[Candidate]], workspace: Workspace | None
) -> list[list[Candidate]]:
    """The files by shape; one that the shape's mapping reads worse than its own stands alone."""
    groups: list[list[Candidate]] = []
    for group in (group for part in parted for group in grouped(part)):
        draft = _joint(group, workspace)
        worse = [each for each in group if _reads_worse(each, draft, workspace)]
        groups += [[each for each in group if each not in worse], *([each] for each in worse)]
    return [group for group in groups if group]


def _joint(group: Sequence[Candidate], workspace: Workspace | None) -> Draft:
    own = workspace.root / "exercises.csv" if workspace else None
    return joint_draft(group, load_catalogue(own), *rules_and_tomorrow(workspace))


def _reads_worse(each: Candidate, draft: Draft, workspace: Workspace | None) -> bool:
    """Whether a file loses lines or sets by a draft that is not its own."""
    if draft is each.draft:
        return False
    joint, own = (
        try_mapping(mapping_text(one, "trial", each.shown, each.data), each.shown, each.data,
                    workspace).loaded
        for one in (draft, each.draft)
    )  # fmt: skip
    if joint is None or own is None:
        return joint is None
    return joint.sets.height < own.sets.height or joint.lines_set_aside > own.lines_set_aside


def _written(
    folder: Path, group: list[Candidate], plans: dict[str, _Plan], output: str | None
) -> Written:
    """The mapping of a shape, written with its source and copies, or only shown."""
    is_shown_only = output == "-"
    workspace = find_workspace(folder) if (folder / CONFIG_NAME).is_file() else None
    draft = _joint(group, workspace)
    notes = [*told_by_others(group, draft), *settle_whose(draft, group, workspace)]
    first = group[0]
    listed = ", ".join(each.shown for each in group)
    if is_shown_only or workspace is None:
        text = mapping_text(draft, slug(first.path.stem), listed, first.data)
        return _result("-", text, draft, group, workspace, tuple(notes))
    source = plans[first.shown].source
    mapping = _mapping_path(workspace, group, source, output)
    name = _free_name(workspace, slug(Path(mapping).stem))
    text = mapping_text(draft, name, listed, first.data)
    config = _with_source(workspace, group, plans, source, mapping)
    for each in group:
        plan = plans[each.shown]
        if plan.copies_from is not None:
            plan.export.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            plan.export.write_bytes(each.data)
            notes.append(f"{each.path} is copied to {each.shown}.")
    target = Path(output) if output else workspace.root / mapping
    target.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    target.write_text(text, encoding="utf-8")
    if config is not None:
        text_of_config, files = config
        (workspace.root / CONFIG_NAME).write_text(text_of_config, encoding="utf-8")
        notes.append(f"{CONFIG_NAME} has a new [[sources]] entry for {', '.join(files)}.")
    elif source is not None and source.mapping != mapping:
        notes.append(
            f"{CONFIG_NAME}: a [[sources]] entry reads {listed} already, with "
            f"{source.mapping}; name {mapping} there to use this draft."
        )
    elif source is None:
        notes.append(
            f"{target} lies outside the workspace, so no [[sources]] entry was added; copy it to "
            "mappings/ to use it."
        )
    return _result(str(target), text, draft, group, workspace, tuple(notes))


def _result(
    path: str,
    text: str,
    draft: Draft,
    group: Sequence[Candidate],
    workspace: Workspace | None,
    notes: tuple[str, ...],
) -> Written:
    where = path if path != "-" else "the mapping"
    opens = tuple(open_sentence(each, where) for each in draft.opens)
    preview: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    limit = rules_and_tomorrow(workspace)[0].set_aside_share
    for each in group:
        trial = try_mapping(text, each.shown, each.data, workspace)
        if trial.loaded is None:
            warnings += (f"{each.shown}: the draft cannot be tried: {trial.trouble}",)
            continue
        preview = preview or preview_of(trial.loaded, draft)
        notes = (*notes, counted_lines(trial.loaded, each.shown))
        damaged = lines_at_fault(trial.loaded)
        if damaged / max(trial.loaded.lines_read, 1) > limit:
            warnings += (
                f"{each.shown}: {damaged} of {trial.loaded.lines_read} lines would "
                f"be set aside, above the limit of {limit:.0%}: {commonest_reasons(trial.loaded)}",
            )
    unread = ", ".join(
        f"'{each.column}' ({each.reason})" for each in draft.unread if each.is_filled
    )
    if unread:
        notes = (*notes, f"Not read: {unread}.")
    return Written(path, text, notes, opens, preview, (*warnings, *draft.doubts))


def _plan(
    workspace: Workspace | None,
    folder: Path,
    path: Path,
    output: str | None,
    data: bytes,
    *,
    is_alone: bool,
) -> _Plan | None:
    """Where an export stands or is to stand; None: of several files, one that is read already."""
    root = folder.resolve()
    inside = bool(is_within(path, root))
    export = path.resolve() if inside else root / "exports" / path.name
    shown = str(export.relative_to(root))
    if output == "-":
        return _Plan(export, shown, None, None)
    if not inside and export.exists() and export.read_bytes() != data:
        raise UsageError(
            f"{shown}: another file of that name is in the workspace already; rename {path} first."
        )
    copies_from = path if not inside and not export.exists() else None
    sources = workspace.sources if workspace else ()
    covering = [
        each for each in sources if workspace and export in _matched(workspace, each, export)
    ]
    source = covering[0] if covering else None
    if source is not None and (root / source.mapping).exists() and not is_alone:
        return None
    if is_alone and workspace is not None:
        mapping = _own_mapping(workspace, path, source, output)
        if (root / mapping).exists():
            raise UsageError(
                f"{mapping}: this mapping exists and is not overwritten; name another with -o, or "
                "remove it first."
            )
    return _Plan(export, shown, copies_from, source)


def _own_mapping(
    workspace: Workspace, path: Path, source: Source | None, output: str | None
) -> str:
    """The mapping file of one export, as setledger.toml names it."""
    root = workspace.root.resolve()
    if output:
        target = Path(output).resolve()
        return str(target.relative_to(root)) if target.is_relative_to(root) else str(target)
    if source is not None and not (root / source.mapping).exists():
        return source.mapping
    return f"mappings/{slug(path.stem)}.toml"


def _mapping_path(
    workspace: Workspace, group: Sequence[Candidate], source: Source | None, output: str | None
) -> str:
    """The mapping file of a shape: that of its one file, else by the words that its files share."""
    mapping = _own_mapping(workspace, group[0].path, source, output)
    if output or (source is not None and mapping == source.mapping):
        return mapping
    stem = Path(mapping).stem
    if len(group) > 1:
        stem = slug(" ".join(common_words(each.shown for each in group)) or "shape")
    taken = {each.mapping for each in workspace.sources}
    for name in (stem, *(f"{stem}-{number}" for number in range(2, 10_000))):
        mapping = f"mappings/{name}.toml"
        if mapping not in taken and not (workspace.root / mapping).exists():
            return mapping
    raise UsageError(f"mappings/{stem}.toml: there are too many mappings of that name.")


def _matched(workspace: Workspace, source: Source, export: Path) -> list[Path]:
    """Files that a source's glob finds, or would find once the export is copied."""
    shown = str(export.relative_to(workspace.root.resolve()))
    if not export.exists() and any(fnmatch(shown, each) for each in source.files):
        return [export]
    return [each.resolve() for each in files_of(workspace, source)[0]]


def _with_source(
    workspace: Workspace,
    group: Sequence[Candidate],
    plans: dict[str, _Plan],
    source: Source | None,
    mapping: str,
) -> tuple[str, list[str]] | None:
    """setledger.toml with an entry for a shape at its end, and its globs; None: none is added."""
    if source is not None or Path(mapping).is_absolute():
        return None
    shown = [each.shown for each in group]
    files = globs_for(shown, _other_files(workspace, plans))
    gap = "" if not workspace.text or workspace.text.endswith("\n") else "\n"
    entry = (
        "\n[[sources]]\n"
        f"files = {quoted(files[0] if len(files) == 1 else files)}\n"
        f"mapping = {quoted(mapping)}\n"
    )
    text = f"{workspace.text}{gap}{entry}"
    try:
        parse_workspace(text, workspace.root)
    except ConfigError as error:
        raise ConfigError(
            f"{CONFIG_NAME}: an entry for {', '.join(shown)} cannot be added at its end ({error}); "
            "add it by hand."
        ) from error
    return text, files


def _other_files(workspace: Workspace, plans: dict[str, _Plan]) -> list[str]:
    """Every file in exports/, and beside the exports that are drafted."""
    root = workspace.root.resolve()
    folders = {plan.export.parent for plan in plans.values() if plan.export.parent.is_dir()}
    found = {path for folder in folders for path in folder.iterdir()}
    found |= set((root / "exports").rglob("*"))
    return [*(str(path.relative_to(root)) for path in found), *plans]


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
