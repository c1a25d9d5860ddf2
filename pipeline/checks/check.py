"""What `setledger check` says: what is wrong, where, and how to mend it; and what waits for a word.

It looks at the workspace's files as they stand and at the published database. Nothing is changed
but the verdicts of the data contract, which reach ledger.checks through a locked work copy, and
only if they differ from those that stand there; if another run holds the lock, they are left.
"""

from __future__ import annotations

import contextlib
import difflib
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass, field
from datetime import date
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Literal

import duckdb

from pipeline import clock
from pipeline.checks import contract
from pipeline.errors import BusyError, ConfigError, ExportError, SetledgerError
from pipeline.ledger import loading as ledger
from pipeline.ledger import store
from pipeline.ledger.forgotten import Forgotten, standing, without
from pipeline.ledger.loading import Context, Export, Version
from pipeline.ledger.sources import read_files, refuse_shared_name
from pipeline.names.catalogue import Catalogue
from pipeline.names.clients import plain
from pipeline.names.exercises_file import append_mappings, load_catalogue, suggested_mappings
from pipeline.names.spelling import fold
from pipeline.settings.addresses import is_address, is_one_mailbox
from pipeline.settings.mapping import Mapping
from pipeline.settings.mapping_file import read_mapping
from pipeline.settings.workspace import (
    CONFIG_NAME,
    Client,
    Source,
    Workspace,
    as_of_day,
    catalogue_of,
)

if TYPE_CHECKING:
    from pathlib import Path

    from pipeline.checks.contract import Verdict

Severity = Literal["wrong", "open", "note"]

EXERCISES = "exercises.csv"
NEAREST = 3


@dataclass(frozen=True)
class Remark:
    """One thing that check has to say."""

    severity: Severity
    """wrong: must be mended; open: waits for a person's word; note: good to know."""
    topic: str
    """What it is about: workspace, sources, versions, clients, names, files, days or contract."""
    where: str
    """File, with line where there is one, or table."""
    text: str
    """What is the matter and how to mend it, in sentences; `where` is not repeated in it."""
    detail: dict[str, Any] = field(default_factory=dict)
    """The same in figures, for --json."""


@dataclass(frozen=True)
class Report:
    """All that check found."""

    remarks: tuple[Remark, ...]
    verdicts: tuple[Verdict, ...]
    sets: int
    """Sets that count in the ledger."""

    @property
    def exit_code(self) -> int:
        """0 if nothing needs a person."""
        return 1 if any(each.severity != "note" for each in self.remarks) else 0


def check(workspace: Workspace) -> Report:
    """Look at the whole workspace; SetledgerError only if its store cannot be read at all."""
    as_of = as_of_day(workspace, None)
    catalogue, remarks = _catalogue(workspace)
    remarks += _sources(workspace)
    remarks += _clients(workspace, as_of)
    remarks += _muscles_and_targets(workspace, catalogue)
    remarks += _mail(workspace)
    if not workspace.database.exists():
        remarks.append(
            Remark(
                "note",
                "versions",
                workspace.database.name,
                "nothing is loaded yet; `setledger run` does it all.",
            )
        )
        return Report(tuple(remarks), (), 0)
    remarks += _held(workspace)
    with contextlib.closing(duckdb.connect(str(workspace.database), read_only=True)) as con:
        remarks += _side_files(workspace, con)
        remarks += _found_clients(workspace, con)
        remarks += _names(workspace, con, catalogue)
        remarks += _equal_days(con)
        remarks += _set_aside(con)
        scope = contract.contract_scope(workspace, as_of)
        verdicts = contract.validate(con, scope)
        remarks += _contract(con, verdicts)
        is_news = contract.differs(con, verdicts)
        sets = _rows(con, "select count(*) from ledger.sets where replaced_by is null")[0][0]
    if is_news:
        _keep(workspace, verdicts)
    return Report(tuple(remarks), tuple(verdicts), int(sets))


def _rows(con: duckdb.DuckDBPyConnection, sql: str, *given: Any) -> list[tuple[Any, ...]]:
    return con.execute(sql, list(given) or None).fetchall()


def _keep(workspace: Workspace, verdicts: Sequence[Verdict]) -> None:
    """The verdicts into ledger.checks, unless another run is going on."""
    with contextlib.suppress(BusyError, OSError), ledger.opened_work(workspace) as work:
        contract.store_verdicts(work.con, verdicts)
        work.is_checked = work.is_dirty = True
        work.publish()


def _placed(error: SetledgerError, topic: str, severity: Severity = "wrong") -> Remark:
    """A remark from an error, whose message starts with the place."""
    where, _, text = str(error).partition(": ")
    return Remark(severity, topic, where, text or str(error))


# The files of the workspace


def _catalogue(workspace: Workspace) -> tuple[Catalogue, list[Remark]]:
    """The catalogue with the workspace's exercises.csv, or without it and what is wrong in it."""
    try:
        return catalogue_of(workspace), []
    except ConfigError as error:
        return load_catalogue(), [_placed(error, "names")]


def _sources(workspace: Workspace) -> list[Remark]:
    if not workspace.sources:
        return [
            Remark(
                "wrong",
                "sources",
                CONFIG_NAME,
                "no [[sources]] entry names files to read; add one, or let "
                "`setledger draft-mapping FILE` write mapping and entry.",
            )
        ]
    remarks: list[Remark] = []
    names: dict[str, str] = {}
    taken: dict[Path, str] = {}
    journal = store.read_journal(workspace.store / "loads.jsonl")
    for source in workspace.sources:
        try:
            mapping = read_mapping(workspace.root / source.mapping, source.mapping)
            refuse_shared_name(names, mapping, source)
            exports, errors = read_files(workspace, source, taken)
        except (ConfigError, ExportError) as error:
            remarks.append(_placed(error, "sources"))
            continue
        remarks += [_placed(error, "sources") for error in errors]
        if not exports and not errors:
            remarks.append(_no_files(workspace, source, mapping, journal))
        unread = ledger.unread(journal, mapping.name, exports)
        for export in exports:
            remarks += _export(workspace, source, mapping, export, journal, export in unread)
    return remarks


def _no_files(
    workspace: Workspace, source: Source, mapping: Mapping, journal: list[store.Event]
) -> Remark:
    where = _line(workspace, source.files)
    if ledger.active_loads(journal, mapping.name):
        return Remark(
            "note",
            "sources",
            where,
            f"no file matches {source.files} any more; what was loaded from it stays "
            "until `setledger unload`.",
        )
    return Remark(
        "open",
        "sources",
        where,
        f"no file matches {source.files}; put exports there or mend the pattern.",
    )


def _export(
    workspace: Workspace,
    source: Source,
    mapping: Mapping,
    export: Export,
    journal: list[store.Event],
    is_unread: bool,
) -> list[Remark]:
    """What loading would say of one file; nothing if it is loaded as it stands."""
    forgotten = Forgotten.of(journal)
    if export.sha256 in forgotten.passed_over:
        return []
    version = Version(mapping, source.from_on, source.until_on, Context.of(workspace))
    seen = [
        event
        for event in journal
        if event["event"] == "load"
        and (event["source"], event["sha256"]) == (mapping.name, export.sha256)
    ]
    if seen and not is_unread:
        unloaded = {each["load_id"] for each in journal if each["event"] == "unload"}
        if seen[-1]["load_id"] in unloaded:
            return [
                Remark(
                    "note",
                    "versions",
                    export.path,
                    "this file was unloaded and stays so; change it to have it read again.",
                )
            ]
        if seen[-1]["version"] == version.sha256:
            return []
    try:
        known = ledger.known_spellings(journal)
        rows = ledger.read_version(export, version, clock.today(workspace.timezone), known)
        rows = without(rows, forgotten)
    except (ConfigError, ExportError) as error:
        return [_placed(error, "sources")]
    share = ledger.share_set_aside(rows)
    limit = workspace.rules.set_aside_share
    counts = (
        f"{rows.sets.height:,} sets and {rows.lines_set_aside:,} lines that cannot be loaded"
        f" ({share:.1%})"
    )
    news = "is not loaded yet" if is_unread else "is read anew, for its mapping or clients changed"
    if share > limit:
        return [
            Remark(
                "open",
                "sources",
                export.path,
                f"{news}: {counts}, above the limit of {limit:.3g}; look at the mapping "
                f"{source.mapping}, or raise [rules] set_aside_share.",
            )
        ]
    return [Remark("note", "sources", export.path, f"{news}: {counts}; `setledger run` does it.")]


def _held(workspace: Workspace) -> list[Remark]:
    journal = store.read_journal(workspace.store / "loads.jsonl")
    return [
        Remark(
            "open",
            "versions",
            event["path"],
            f"this version is held: {event['held_because']}. Look at it, then "
            f"`setledger load --accept {event['path']}`, or mend the export.",
            {"load_id": event["load_id"]},
        )
        for event in ledger.held_loads(journal)
    ]


# What setledger.toml says of clients


def _line(workspace: Workspace, text: str, client_id: str | None = None, key: str = "") -> str:
    """setledger.toml with the line on which a text stands, in the block of a client if one.

    Where several hold it, the one that sets `key`.
    """
    lines = list(enumerate(workspace.text.splitlines(), start=1))
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


def _clients(workspace: Workspace, as_of: date) -> list[Remark]:
    remarks: list[Remark] = []
    forgotten = standing(workspace)
    for client in workspace.clients:
        if client.email is not None and not is_address(client.email):
            remarks.append(
                Remark(
                    "wrong",
                    "clients",
                    _line(workspace, client.email, client.id, "email"),
                    f"{client.id}: '{client.email}' is no mail address; write one such as "
                    "name@example.org.",
                )
            )
        if forgotten.has(client.id):
            remarks.append(
                Remark(
                    "note",
                    "clients",
                    _line(workspace, client.id, client.id, "id"),
                    f"{client.id}: this client was forgotten and gets no page; take the block out, "
                    f"or `setledger forget {client.id} --readmit`.",
                )
            )
        remarks += _phases(workspace, client, as_of)
        remarks += [
            Remark(
                "note",
                "clients",
                _line(workspace, str(change.changed_on), client.id, "on"),
                f"{client.id}: the change of {change.changed_on} lies ahead; the report "
                "compares from that day on.",
            )
            for change in client.changes
            if change.changed_on > as_of
        ]
    return remarks


def _phases(workspace: Workspace, client: Client, as_of: date) -> Iterator[Remark]:
    phases = sorted(client.phases, key=lambda phase: phase.from_on)
    for phase in phases:
        if phase.from_on > as_of:
            yield Remark(
                "note",
                "clients",
                _line(workspace, str(phase.from_on), client.id, "from"),
                f"{client.id}: the phase {phase.kind} from {phase.from_on} lies ahead; it "
                "counts from that day on.",
            )
    for earlier, later in pairwise(phases):
        if earlier.to_on is None or later.from_on <= earlier.to_on:
            end = earlier.to_on or "its open end"
            yield Remark(
                "open",
                "clients",
                _line(workspace, str(later.from_on), client.id, "from"),
                f"{client.id}: the phase {later.kind} from {later.from_on} begins before "
                f"{earlier.kind} from {earlier.from_on} is over ({end}); give the earlier "
                "one a `to` before it.",
            )


def _muscles_and_targets(workspace: Workspace, catalogue: Catalogue) -> list[Remark]:
    muscles = [each.muscle for each in catalogue.muscles]
    remarks: list[Remark] = []
    for client in workspace.clients:
        named = [("bring_up", each) for each in client.bring_up]
        named += [("hold_back", each) for each in client.hold_back]
        named += [("guide", each.muscle) for each in client.guide]
        for key, muscle in named:
            if muscle not in muscles:
                near = difflib.get_close_matches(muscle.lower(), muscles, n=1, cutoff=0.5)
                hint = f"did you mean '{near[0]}'?" if near else f"known are {', '.join(muscles)}."
                remarks.append(
                    Remark(
                        "wrong",
                        "clients",
                        _line(workspace, muscle, client.id, key),
                        f"{client.id}: {key} names '{muscle}', which is no muscle here; {hint}",
                        {"nearest": near},
                    )
                )
        remarks += [
            Remark(
                "open",
                "clients",
                _line(workspace, muscle, client.id),
                f"{client.id}: '{muscle}' stands under bring_up and hold_back; keep one.",
            )
            for muscle in sorted(set(client.bring_up) & set(client.hold_back))
        ]
        remarks += [
            Remark(
                "wrong",
                "clients",
                _line(workspace, target.exercise, client.id, "exercise"),
                f"{client.id}: the target '{target.exercise}' is no known exercise; "
                f"{_nearest_words(catalogue, target.exercise)}",
                {"nearest": catalogue.nearest(target.exercise, NEAREST)},
            )
            for target in client.targets
            if catalogue.resolve(target.exercise).how == "unknown"
        ]
    return remarks


def _nearest_words(catalogue: Catalogue, name: str) -> str:
    near = catalogue.nearest(name, NEAREST)
    if not near:
        return f"nothing known is near; define it in {EXERCISES}."
    listed = ", ".join(f"{exercise} ({score:.0f})" for exercise, score in near)
    return f"nearest are {listed}."


def _mail(workspace: Workspace) -> list[Remark]:
    if workspace.mail is None:
        return []
    remarks = []
    for key, value in (
        ("from", workspace.mail.sender),
        ("coach", workspace.mail.coach),
        ("reply_to", workspace.mail.reply_to),
    ):
        if value is not None and not is_one_mailbox(value):
            remarks.append(
                Remark(
                    "wrong",
                    "workspace",
                    _line(workspace, value, None, key),
                    f"[mail] {key}: '{value}' holds no mail address; write one such as "
                    "coach@example.org.",
                )
            )
    remarks += [
        Remark(
            "note",
            "clients",
            _line(workspace, client.id, client.id, "id"),
            f"{client.id}: has no email, so `setledger send` passes over; add one, or "
            "mail = false.",
        )
        for client in workspace.clients
        if client.email is None and client.mail
    ]
    return remarks


# The workspace's own tables


def _side_files(workspace: Workspace, con: duckdb.DuckDBPyConnection) -> list[Remark]:
    remarks: list[Remark] = []
    known = {each for (each,) in _rows(con, "select distinct client_id from ledger.sets")}
    known |= {client.id for client in workspace.clients}
    try:
        weigh_ins = ledger.file_weigh_ins(workspace)
    except ConfigError as error:
        weigh_ins, remarks = [], [_placed(error, "files")]
    for client_id, _, _, name, line in weigh_ins:
        if client_id not in known:
            remarks.append(_stranger(f"{name}:{line}", client_id, known))
    try:
        corrections = ledger.read_corrections(workspace)
    except ConfigError as error:
        return [*remarks, _placed(error, "files")]
    remarks += _corrections(con, corrections, known)
    return remarks


def _stranger(where: str, client_id: str, known: Iterable[str]) -> Remark:
    near = difflib.get_close_matches(plain(client_id), sorted(known), n=1, cutoff=0.5)
    hint = f"did you mean '{near[0]}'?" if near else "it is nobody's id, name or alias."
    return Remark("wrong", "files", where, f"client '{client_id}' is unknown; {hint}")


def _corrections(
    con: duckdb.DuckDBPyConnection, corrections: list[tuple[Any, ...]], known: set[str]
) -> Iterator[Remark]:
    """Lines of corrections.csv that change nothing, or that two lines say differently."""
    logged = _logged_on(con, {(row[1], row[2]) for row in corrections})
    first: dict[tuple[Any, ...], tuple[int, str]] = {}
    for line, client_id, day, exercise, n, name, value, _ in corrections:
        where = f"{ledger.CORRECTIONS}:{line}"
        if client_id not in known:
            yield _stranger(where, client_id, known)
            continue
        lifts = logged.get((client_id, day), [])
        count = max((sets for names, sets in lifts if exercise.lower() in names), default=0)
        if not lifts:
            yield Remark(
                "wrong",
                "files",
                where,
                f"matches no set: {client_id} has none on {day}; mend client or day.",
            )
        elif not count:
            found = ", ".join(sorted({names[0] for names, _ in lifts}))
            yield Remark(
                "wrong",
                "files",
                where,
                f"matches no set: {client_id} did no '{exercise}' on {day}; logged are {found}.",
            )
        elif n > count:
            yield Remark(
                "wrong",
                "files",
                where,
                f"matches no set: '{exercise}' has {count} sets on {day}, not {n}; mend n.",
            )
        key = (client_id, day, exercise.lower(), n, name)
        if key in first and first[key][1] != value:
            yield Remark(
                "wrong",
                "files",
                where,
                f"line {first[key][0]} corrects the same {name} of the same set to "
                "another value; keep one.",
            )
        first.setdefault(key, (line, value))


def _logged_on(
    con: duckdb.DuckDBPyConnection, days: set[tuple[str, date]]
) -> dict[tuple[str, date], list[tuple[tuple[str, ...], int]]]:
    """Per client and day: (names, lower case, the exercise's first; sets) of each exercise."""
    logged: dict[tuple[str, date], list[tuple[tuple[str, ...], int]]] = {}
    for client_id, day in sorted(days):
        for exercise, spellings, sets in _rows(
            con,
            "select lower(exercise), list(distinct lower(exercise_raw)), count(*)"
            " from ledger.current_sets where client_id = ? and performed_on = ?"
            " group by exercise order by exercise",
            client_id,
            day,
        ):
            logged.setdefault((client_id, day), []).append(((exercise, *spellings), sets))
    return logged


# What the ledger holds


def _found_clients(workspace: Workspace, con: duckdb.DuckDBPyConnection) -> list[Remark]:
    if not workspace.clients:
        return []
    found = {
        client_id: (sets, first, last)
        for client_id, sets, first, last in _rows(
            con,
            "select client_id, count(*), min(performed_on), max(performed_on) from ledger.sets"
            " where replaced_by is null group by all order by client_id",
        )
    }
    listed = {client.id for client in workspace.clients}
    strangers = [client_id for client_id in found if client_id not in listed]
    remarks = [
        Remark(
            "note",
            "clients",
            "ledger.sets",
            f"'{client_id}' ({sets:,} sets, {first} to {last}) is loaded and not listed: gets "
            "no page and no mail. List them under [[clients]], or name the spelling under "
            "aliases of the client it is.",
            {"client_id": client_id, "sets": sets},
        )
        for client_id, (sets, first, last) in found.items()
        if client_id in strangers
    ]
    for client in workspace.clients:
        if client.id in found:
            continue
        near = difflib.get_close_matches(client.id, strangers, n=1, cutoff=0.5)
        hint = f" '{near[0]}' is loaded and not listed: is that who is meant?" if near else ""
        remarks.append(
            Remark(
                "open",
                "clients",
                _line(workspace, client.id, client.id, "id"),
                f"{client.id}: no set of this client is loaded; name the spelling of the "
                f"export under aliases.{hint}",
            )
        )
    return remarks


def unknown_names(con: duckdb.DuckDBPyConnection, catalogue: Catalogue) -> dict[str, int]:
    """Spellings that the catalogue does not know, with how many sets that count bear them."""
    found = _rows(
        con,
        "select exercise_raw, count(*) as sets from ledger.sets where replaced_by is null"
        " group by all order by sets desc, exercise_raw",
    )
    return {name: sets for name, sets in found if catalogue.resolve(name).how == "unknown"}


def _names(
    workspace: Workspace, con: duckdb.DuckDBPyConnection, catalogue: Catalogue
) -> Iterator[Remark]:
    for name, sets in unknown_names(con, catalogue).items():
        near = catalogue.nearest(name, NEAREST)
        yield Remark(
            "open",
            "names",
            EXERCISES,
            f"'{name}' ({sets:,} sets) is no known exercise, so it counts for no muscle; "
            f"{_nearest_words(catalogue, name)} Map or define it there; "
            "`setledger check --write` begins the line.",
            {"name": name, "sets": sets, "nearest": near},
        )
    for (name,) in _rows(
        con, "select distinct exercise_raw from ledger.sets where replaced_by is null order by all"
    ):
        taken = catalogue.resolve(name)
        if taken.how == "near":
            yield Remark(
                "note",
                "names",
                EXERCISES,
                f"'{name}' is taken for '{taken.exercise}' ({taken.score:.0f} of 100 "
                "alike); map it there if it is something else.",
                {"name": name, "exercise": taken.exercise, "score": taken.score},
            )


_EQUAL_DAYS = """
    with lifts as (
        select
            client_id,
            performed_on,
            source,
            load_id,
            lower(exercise_raw) as lift,
            load_kg,
            reps,
            count(*) as sets,
        from ledger.sets
        where
            replaced_by is null
            and (client_id, performed_on) in (
                select (client_id, performed_on)
                from ledger.sets
                where replaced_by is null
                group by client_id, performed_on
                having count(distinct source) > 1
            )
        group by all
    ),

    days as (
        select distinct client_id, performed_on, source
        from lifts
    ),

    pairs as (
        select
            one.client_id,
            one.source as one_source,
            other.source as other_source,
            count(*) as days,
            min(one.performed_on) as first_on,
            max(one.performed_on) as last_on,
        from days as one
        inner join days as other
            on
                one.client_id = other.client_id
                and one.performed_on = other.performed_on
                and one.source < other.source
        group by all
    ),

    alike as (
        select
            one.client_id,
            one.source as one_source,
            other.source as other_source,
            sum(least(one.sets, other.sets))::bigint as alike_sets,
        from lifts as one
        inner join lifts as other
            on
                one.client_id = other.client_id
                and one.performed_on = other.performed_on
                and one.source < other.source
                and one.lift = other.lift
                and one.load_kg is not distinct from other.load_kg
                and one.reps = other.reps
        group by all
    ),

    files as (
        select lifts.client_id, lifts.source, list_sort(list(distinct loads.path)) as paths
        from lifts
        inner join ledger.loads as loads on lifts.load_id = loads.load_id
        group by all
    )

    select
        pairs.*,
        coalesce(alike.alike_sets, 0) as alike_sets,
        one_files.paths || other_files.paths as paths,
    from pairs
    left join alike using (client_id, one_source, other_source)
    inner join files as one_files
        on pairs.client_id = one_files.client_id and pairs.one_source = one_files.source
    inner join files as other_files
        on pairs.client_id = other_files.client_id and pairs.other_source = other_files.source
    order by pairs.client_id, pairs.one_source, pairs.other_source
"""


def _equal_days(con: duckdb.DuckDBPyConnection) -> Iterator[Remark]:
    """Two sources of one client on one day: both count, which may be meant or may be twice."""
    for client_id, one, other, days, first, last, alike, paths in _rows(con, _EQUAL_DAYS):
        span = f"on {first}" if first == last else f"between {first} and {last}"
        counted = f"on {days} days" if days > 1 else "on one day"
        twice = (
            f"{alike:,} of their sets are equal in exercise, load and repetitions, so they may be "
            "counted twice: `setledger unload` one, or part them by `from` and `until`."
            if alike
            else "No set is in both; if it is one training twice, `setledger unload` one, or part "
            "them by `from` and `until`."
        )
        yield Remark(
            "open" if alike else "note",
            "days",
            ", ".join(paths),
            f"{client_id}: the sources '{one}' and '{other}' both give sets {counted} "
            f"({span}), and both count. {twice}",
            {
                "client_id": client_id,
                "sources": [one, other],
                "days": days,
                "first_on": str(first),
                "last_on": str(last),
                "equal_sets": alike,
            },
        )


def _set_aside(con: duckdb.DuckDBPyConnection) -> Iterator[Remark]:
    for path, lines, reasons in _rows(
        con,
        """
        with reasons as (
            select loads.load_id, loads.path, aside.reason, count(*) as lines
            from ledger.set_aside as aside
            inner join ledger.loads as loads on aside.load_id = loads.load_id
            where loads.state = 'loaded'
            group by all
        )

        select
            path,
            sum(lines)::bigint,
            string_agg(replace(reason, '_', ' ') || ' ' || lines, ', ' order by lines desc, reason),
        from reasons
        group by load_id, path
        order by load_id
        """,
    ):
        counted = "one line is" if lines == 1 else f"{lines:,} lines are"
        yield Remark(
            "note",
            "versions",
            path,
            f'{counted} set aside ({reasons}); `setledger query "from '
            'ledger.set_aside"` lists them with their reasons.',
            {"lines": lines},
        )


# The data contract


def _contract(con: duckdb.DuckDBPyConnection, verdicts: Sequence[Verdict]) -> Iterator[Remark]:
    paths = dict(_rows(con, "select load_id, path from ledger.loads"))
    for each in verdicts:
        if each.is_met or each.key == "client_listed":
            continue
        where = paths.get(each.load_id, "the ledger") if each.load_id else "the ledger"
        detail = {
            "expectation": each.expectation,
            "load_id": each.load_id,
            "unexpected": each.unexpected,
            "share": each.share,
        }
        if each.key == "fresh":
            yield Remark(
                "open",
                "contract",
                where,
                f"{each.sentence} Export anew, or set [workspace] as_of to the day that "
                "you look at.",
                detail,
            )
        elif each.key == "set_aside_share":
            yield Remark(
                "open",
                "contract",
                where,
                f"{each.sentence} Look at ledger.set_aside and mend mapping or export.",
                detail,
            )
        else:
            yield Remark(
                "wrong",
                "contract",
                where,
                f"{each.sentence} `setledger rebuild` makes the ledger again from what "
                "was read; if it stays so, report it as a fault of the tool.",
                detail,
            )


# Writing lines of exercises.csv


@dataclass(frozen=True)
class Written:
    """Lines that --write added to exercises.csv."""

    mapped: tuple[str, ...]
    """Lines that count: the spelling differs from a known exercise by a slip."""
    proposed: tuple[str, ...]
    """Lines that begin with # until a person has looked at them."""


def write_names(workspace: Workspace) -> Written:
    """Append a line for each unknown name; what is not all but certain stays a comment."""
    if not workspace.database.exists():
        return Written((), ())
    catalogue = catalogue_of(workspace)
    with contextlib.closing(duckdb.connect(str(workspace.database), read_only=True)) as con:
        names = unknown_names(con, catalogue)
    sure = suggested_mappings(names, catalogue)
    own = workspace.root / EXERCISES
    mapped = append_mappings(own, sure)
    proposed = _append_proposals(own, [name for name in names if name not in dict(sure)], catalogue)
    return Written(tuple(mapped), tuple(proposed))


def _append_proposals(path: Path, names: Sequence[str], catalogue: Catalogue) -> list[str]:
    """Lines "# name,nearest exercise": take the # away, or name another exercise."""
    if not names:
        return []
    if not path.exists():
        path.write_text("name,exercise\n", encoding="utf-8")
    text = path.read_text(encoding="utf-8-sig")
    header = next((line for line in text.splitlines() if line and line[0] != "#"), "")
    delimiter = ";" if "," not in header and ";" in header else ","
    held = {
        fold(line[1:].split(delimiter)[0].strip(' "'))
        for line in text.splitlines()
        if line.startswith("#")
    }
    lines = []
    for name in names:
        if fold(name) in held or any(mark in name for mark in "\r\n"):
            continue
        near = catalogue.nearest(name, 1)
        quoted = f'"{name}"' if delimiter in name or '"' in name else name
        lines.append(f"# {quoted}{delimiter}{near[0][0] if near else ''}")
    if lines:
        gap = "" if not text or text.endswith("\n") else "\n"
        with path.open("a", encoding="utf-8", newline="") as file:
            file.write(gap + "\n".join(lines) + "\n")
    return lines


# Saying it

_HEADINGS: dict[Severity, str] = {
    "wrong": "To be mended",
    "open": "Waiting for you",
    "note": "Good to know",
}


def as_lines(report: Report, written: Written | None, *, with_notes: bool = True) -> Iterator[str]:
    """The report for a person, the gravest first."""
    if written is not None:
        yield from _written_lines(written)
    for severity, heading in _HEADINGS.items():
        remarks = [each for each in report.remarks if each.severity == severity]
        if remarks and (with_notes or severity != "note"):
            yield heading
            yield from (f"  {each.where}: {each.text}" for each in remarks)
            yield ""
    if with_notes and report.verdicts:
        unmet = sum(not each.is_met for each in report.verdicts)
        asked = len({each.key for each in report.verdicts})
        held = f"{unmet} verdicts against it" if unmet else "all hold"
        yield f"Data contract: {asked} expectations of {report.sets:,} sets, {held}."
    if with_notes and not report.exit_code:
        yield "Nothing needs a person."


def _written_lines(written: Written) -> Iterator[str]:
    if not written.mapped and not written.proposed:
        yield f"{EXERCISES}: nothing to write."
    if written.mapped:
        yield f"{EXERCISES}: these lines were added and count with the next run"
        yield from (f"  {line}" for line in written.mapped)
    if written.proposed:
        yield f"{EXERCISES}: these lines were added; take the # away from those that are right"
        yield from (f"  {line}" for line in written.proposed)
    yield ""


def as_json(report: Report, written: Written | None) -> dict[str, Any]:
    """The report for a machine."""
    return {
        "exit_code": report.exit_code,
        "remarks": [asdict(each) for each in report.remarks],
        "contract": [
            {
                "load_id": each.load_id,
                "expectation": each.expectation,
                "column_name": each.column_name,
                "is_met": each.is_met,
                "unexpected": each.unexpected,
                "share": each.share,
            }
            for each in report.verdicts
        ],
        "written": None if written is None else asdict(written),
    }
