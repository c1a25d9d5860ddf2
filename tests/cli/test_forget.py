"""Forgetting a client: nothing of it stays, the others are as before, nothing brings it back."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path
from typing import Any

import duckdb
import pytest
import zstandard

from pipeline.errors import UsageError
from pipeline.ledger import erasure, kept_rows, store
from pipeline.ledger.journal import read_journal
from pipeline.ledger.replay import opened_work
from pipeline.ledger.sent_mails import SentLog
from pipeline.ledger.versions import read_again
from pipeline.outcome import Outcome
from pipeline.resources import resource
from pipeline.runs import forget as forgetting
from pipeline.runs import run as runs
from pipeline.runs.load import load
from pipeline.settings.workspace_file import find_workspace

GONE = "sunniva"
"""Shares exports/notebook.csv with Wren."""


def tables(folder: Path, besides: str = GONE) -> dict[str, list[tuple[Any, ...]]]:
    """Every table, without the rows of one client."""
    with duckdb.connect(str(folder / "setledger.duckdb"), read_only=True) as con:
        names = con.execute(
            "select table_schema || '.' || table_name from information_schema.tables"
            " where table_schema in ('ledger', 'review') order by all"
        ).fetchall()
        found = {}
        for (name,) in names:
            columns = [row[0] for row in con.execute(f"describe {name}").fetchall()]
            where = f"where client_id <> '{besides}'" if "client_id" in columns else ""
            found[name] = con.execute(f"select * from {name} {where} order by all").fetchall()
        return found


def kept_texts(folder: Path) -> list[bytes]:
    """All that the workspace's own store and outputs hold, unpacked."""
    texts = []
    for path in folder.rglob("*"):
        if not path.is_file() or path.parts[len(folder.parts)] in ("exports", "mappings"):
            continue
        content = path.read_bytes()
        if path.suffix == ".zst":
            content = zstandard.ZstdDecompressor().decompress(content)
            if content.startswith(b"PK"):
                rows = kept_rows.unpack(content)
                frames = (rows.sets, rows.set_aside, rows.bodyweights, rows.owners)
                content = "".join(frame.write_csv() for frame in frames).encode()
        if path.name != "setledger.toml":
            texts.append(content)
    return texts


WEIGH_INS = (resource("sample_exports") / "bodyweight.csv").read_bytes()
OWN_MODEL = "select client_id, performed_on, count(*) as n from ledger.current_sets group by all"
CORRECTIONS = b"client,day,exercise,n,field,value,reason\r\n# typed on the phone\r\n"


@pytest.fixture(scope="module")
def before(july: Path, setledger: Any, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo with a month's pages, mails and notes, and lines of hers in the side files."""
    folder = tmp_path_factory.mktemp("before") / "club"
    shutil.copytree(july, folder)
    for who in (GONE, "wren"):
        note = folder / "notes" / who / "2026-07.md"
        note.parent.mkdir(parents=True)
        note.write_text(f"A good month, {who}.\n", encoding="utf-8")
    (folder / "bodyweight.csv").write_bytes(WEIGH_INS + b"S. Aas,2026-07-01,66.5\n")
    (folder / "corrections.csv").write_bytes(
        CORRECTIONS + b'sunniva,2026-07-06,back squat,1,reps,8,"typed\r\ntwice"\r\n'
    )
    models = folder / "models"
    models.mkdir()
    (models / "days.sql").write_text(OWN_MODEL, encoding="utf-8")
    (models / "broken.sql").write_text(OWN_MODEL, encoding="utf-8")
    for words in (
        ("build",),
        ("next", "--client", GONE),
        ("next", "--client", "wren"),
        ("send", "--dry-run"),
    ):
        done = setledger(*words, "-w", str(folder), cwd=folder)
        assert done.returncode == 0, done.stderr
    (models / "broken.sql").write_text("select nope", encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def after(before: Path, setledger: Any, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same, with one client forgotten."""
    folder = tmp_path_factory.mktemp("after") / "club"
    shutil.copytree(before, folder)
    done = setledger("forget", GONE, "--yes", "-w", str(folder), cwd=folder)
    assert done.returncode == 1, done.stderr
    [told] = done.stderr.splitlines()
    assert told.startswith("models/broken.sql:1: "), "all else was done"
    (folder / "models" / "broken.sql").unlink()
    assert re.search(r"3.?000 sets and 2 weigh-ins in the ledger", done.stdout)
    assert "exports/notebook.csv is your own file" in done.stdout
    assert done.stdout.count("is your own file") == 3  # setledger.toml and the mapping, too
    assert (
        "  1 note in notes/, 1 line in bodyweight.csv, 1 line in corrections.csv\n" in done.stdout
    )
    return folder


def test_nothing_that_the_tool_keeps_names_the_client(after: Path) -> None:
    for content in kept_texts(after):
        assert GONE.encode() not in content.lower()
        assert b"S. Aas" not in content
    assert not (after / "out" / GONE).exists()
    assert GONE not in (after / "out" / "2026-07-31.html").read_text(encoding="utf-8").lower()
    assert "Wren Talbot" in (after / "out" / "2026-07-31.html").read_text(encoding="utf-8")


def test_no_own_table_and_no_sheet_of_hers_stays(before: Path, after: Path) -> None:
    def own(folder: Path) -> dict[str, set[str]]:
        with duckdb.connect(str(folder / "setledger.duckdb"), read_only=True) as con:
            names = con.execute(
                "select table_name from duckdb_tables() where schema_name = 'own'"
            ).fetchall()
            return {
                name: {
                    row[0] for row in con.execute(f"select client_id from own.{name}").fetchall()
                }
                for (name,) in names
            }

    assert set(own(before)) == {"broken", "days"}
    assert GONE in own(before)["broken"]
    assert own(after) == {"days": own(before)["days"] - {GONE}}
    assert (before / "out" / GONE / "next.html").is_file()
    assert not (after / "out" / GONE).exists()
    assert (after / "out" / "wren" / "next.html").is_file()


def test_her_notes_and_lines_are_gone_and_all_else_in_the_files_is_as_it_was(after: Path) -> None:
    notes = [path for path in (after / "notes").rglob("*") if path.is_file()]
    assert [path.relative_to(after).as_posix() for path in notes] == ["notes/wren/2026-07.md"]
    assert (after / "bodyweight.csv").read_bytes() == WEIGH_INS
    assert (after / "corrections.csv").read_bytes() == CORRECTIONS


def test_the_rows_of_all_others_are_equal_to_the_last_bit(before: Path, after: Path) -> None:
    old, new = tables(before), tables(after)
    assert set(new["ledger.set_aside"]) < set(old["ledger.set_aside"]), "one damaged line is hers"
    apart = {
        "ledger.set_aside",
        "ledger.loads",
        "ledger.checks",
        "ledger.contract_asked",
        "ledger.exercise_names",
        "ledger.meta",
        "review.run",
    }
    # the last column is the share of a shared export's lines that were not read: hers are gone
    others = {row[0] for row in new["review.coverage"]}
    kept = [row[:-1] for row in old.pop("review.coverage") if row[0] in others]
    assert [row[:-1] for row in new.pop("review.coverage")] == kept
    assert {name for name in old if old[name] != new[name]} <= apart
    assert len(new["ledger.sets"]) > 20_000


def test_counts_of_a_shared_export_are_those_of_the_lines_that_stay(after: Path) -> None:
    with duckdb.connect(str(after / "setledger.duckdb"), read_only=True) as con:
        [(read, loaded, aside, sets)] = con.execute(
            "select lines_read, lines_loaded, lines_set_aside, sets_loaded from ledger.loads"
            " where path = 'exports/notebook.csv'"
        ).fetchall()
        [(lines, counted)] = con.execute(
            "select count(distinct source_line), count(*) from ledger.sets"
            " join ledger.loads using (load_id) where path = 'exports/notebook.csv'"
        ).fetchall()
    assert read == loaded + aside
    assert (loaded, sets) == (lines, counted)


@pytest.mark.slow
def test_a_rebuild_gives_equal_tables(after: Path, setledger: Any, tmp_path: Path) -> None:
    folder = tmp_path / "again"
    shutil.copytree(after, folder)
    # the broken own model is gone since
    assert setledger("build", "-w", str(folder), cwd=folder).returncode == 0
    standing = tables(folder)
    (folder / "setledger.duckdb").unlink()
    assert setledger("rebuild", "-w", str(folder), cwd=folder).returncode == 0
    rebuilt = tables(folder)
    asked = {"ledger.checks", "ledger.contract_asked"}
    assert {name for name in standing if standing[name] != rebuilt[name]} <= asked


def test_a_run_brings_nobody_back_and_changes_nothing(
    after: Path, setledger: Any, tmp_path: Path
) -> None:
    folder = tmp_path / "again"
    shutil.copytree(after, folder)
    assert setledger("run", "-w", str(folder), cwd=folder).returncode == 0
    with duckdb.connect(str(folder / "setledger.duckdb"), read_only=True) as con:
        assert con.execute(f"from ledger.sets where client_id = '{GONE}'").fetchall() == []
    assert not (folder / "out" / GONE).exists()
    told = setledger("check", "-w", str(folder), cwd=folder).stdout
    assert "sunniva: this client was forgotten and gets no page; take the block out" in told


def test_it_asks_first(after: Path, setledger: Any) -> None:
    done = setledger("forget", "wren", "-w", str(after), cwd=after)
    assert done.returncode == 2
    assert "Remove them for good? [y/N]" in done.stdout
    assert (after / "out" / "wren" / "latest.html").exists()


def test_an_unknown_client_is_one_sentence(after: Path, setledger: Any) -> None:
    done = setledger("forget", "nobody", "--yes", "-w", str(after), cwd=after)
    assert done.returncode == 2
    assert done.stderr.startswith("nobody: no such client is known here; clients are ines, kofi")


@pytest.mark.parametrize("name", ["..", ".", "mail", "../exports", "ines/.."])
def test_what_is_no_client_s_id_is_nobody_and_no_folder(before: Path, name: str) -> None:
    with pytest.raises(UsageError, match="no such client is known here"):
        forgetting.plan(find_workspace(before), name)


# Exports that come again


CONFIG = """
[workspace]
name = "Again"
as_of = 2026-06-30
[[sources]]
files = "exports/*.csv"
mapping = "mappings/log.toml"
"""
MAPPING = """
name = "log"
[columns]
client = "who"
performed_on = "day"
exercise = "lift"
load = "kg"
reps = "reps"
bodyweight = "bw"
[formats]
load_unit = "kg"
"""


def lines_of(who: str, days: range, load: int = 60) -> list[str]:
    return [
        f"{who},2026-05-{day:02},{lift},{load},8,80"
        for day in days
        for lift in ("back squat", "bench press")
    ]


class Room:
    """A small workspace without [[clients]]: everyone found is one."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        for name in ("exports", "mappings"):
            (folder / name).mkdir()
        (folder / "setledger.toml").write_text(CONFIG, encoding="utf-8")
        (folder / "mappings/log.toml").write_text(MAPPING, encoding="utf-8")

    def export(self, *groups: list[str], name: str = "log.csv") -> None:
        lines = ["who,day,lift,kg,reps,bw", *(line for group in groups for line in group)]
        (self.folder / "exports" / name).write_text("\n".join(lines), encoding="utf-8")

    def run(self, *groups: list[str]) -> None:
        if groups:
            self.export(*groups)
        assert runs.run(find_workspace(self.folder)).problems == []

    def load(self) -> None:
        """A run without models and pages."""
        outcome = Outcome()
        with opened_work(find_workspace(self.folder)) as work:
            load(work, outcome)
            work.publish()
        assert outcome.problems == []

    def forget(self, client_id: str) -> forgetting.Removal:
        workspace = find_workspace(self.folder)
        with store.locked(workspace.store):
            removal = forgetting.plan(workspace, client_id)
            forgetting.forget(workspace, removal, Outcome())
        return removal

    def readmit(self, client_id: str) -> None:
        erasure.readmit(find_workspace(self.folder), client_id)

    def clients(self) -> dict[str, int]:
        with duckdb.connect(str(self.folder / "setledger.duckdb"), read_only=True) as con:
            return dict(
                con.execute(
                    "select client_id, count(*) from ledger.current_sets group by all order by all"
                ).fetchall()
            )

    def names(self, client_id: str) -> bool:
        """Whether a client is named anywhere in what the tool keeps."""
        word = re.compile(rb"(?i)\b%s\b" % client_id.encode())
        return any(word.search(text) for text in kept_texts(self.folder))

    def rebuilt_equals(self) -> bool:
        standing = tables(self.folder, besides="")
        runs.rebuild(find_workspace(self.folder))
        again = tables(self.folder, besides="")
        asked = {"ledger.checks", "ledger.contract_asked"}
        return all(standing[name] == again[name] for name in standing.keys() - asked)


@pytest.fixture
def room(tmp_path: Path, without_contract: None) -> Room:
    return Room(tmp_path)


def test_a_longer_export_brings_the_others_days_only(room: Room) -> None:
    room.run(lines_of("Ines", range(1, 5)), lines_of("Kofi", range(1, 5)))
    room.forget("ines")
    assert room.clients() == {"kofi": 8}
    room.run(
        lines_of("Ines", range(1, 9)),
        lines_of("Kofi", range(1, 9)),
        lines_of("INES ", range(9, 10)),
    )
    assert room.clients() == {"kofi": 16}
    assert room.rebuilt_equals()
    assert not room.names("ines")


def test_lines_in_the_sent_log_go_too(room: Room) -> None:
    room.run(lines_of("Ines", range(1, 5)), lines_of("Kofi", range(1, 5)))
    book = SentLog.of(room.folder / ".setledger")
    for client in ("ines", "kofi"):
        book.note(client, "2026-05", f"<{len(client)}@x.org>", f"{client}@example.org", "sent")
    assert room.forget("ines").mails == 1
    left = SentLog.of(room.folder / ".setledger").entries
    assert [entry.client_id for entry in left] == ["kofi"]
    with duckdb.connect(str(room.folder / "setledger.duckdb"), read_only=True) as con:
        rows = con.execute("select client_id, recipient, state from ledger.mails").fetchall()
    assert rows == [("kofi", "kofi@example.org", "sent")]
    assert not room.names("ines")


def test_an_export_of_the_client_alone_is_passed_over_and_not_read_twice(room: Room) -> None:
    room.export(lines_of("Ines", range(1, 5)), name="a.csv")
    room.export(lines_of("Kofi", range(1, 5)), name="b.csv")
    room.run()
    removal = room.forget("ines")
    assert (removal.versions_whole, removal.versions_part) == (["exports/a.csv"], [])
    room.load()
    room.export(lines_of("Ines", range(1, 7)), name="a.csv")
    room.load()
    journal = read_journal(room.folder / ".setledger")
    assert [event["event"] for event in journal][-1] == "passed_over"
    room.load()
    assert read_journal(room.folder / ".setledger") == journal
    assert room.clients() == {"kofi": 8}
    assert len(list((room.folder / ".setledger/exports").iterdir())) == 1


def test_a_person_s_word_lets_the_client_in_again(room: Room) -> None:
    room.run(lines_of("Ines", range(1, 5)), lines_of("Kofi", range(1, 5)))
    room.forget("ines")
    room.load()
    room.readmit("ines")
    room.run()
    assert room.clients() == {"ines": 8, "kofi": 8}
    assert room.rebuilt_equals()
    with pytest.raises(UsageError, match="was not forgotten here"):
        room.readmit("ines")


@pytest.mark.slow
def test_two_clients_of_one_export_can_be_forgotten_one_after_the_other(room: Room) -> None:
    room.run(*(lines_of(who, range(1, 4)) for who in ("Ines", "Kofi", "Wren")))
    room.forget("ines")
    room.forget("kofi")
    assert room.clients() == {"wren": 6}
    assert room.rebuilt_equals()
    assert not room.names("kofi")
    room.readmit("kofi")
    room.run()
    assert room.clients() == {"kofi": 6, "wren": 6}


@pytest.mark.slow
def test_the_last_client_can_be_forgotten(room: Room) -> None:
    room.run(lines_of("Ines", range(1, 5)))
    room.forget("ines")
    assert room.clients() == {}
    assert list((room.folder / ".setledger/exports").iterdir()) == []


@pytest.mark.slow
def test_a_corrected_mapping_reads_the_others_again(room: Room) -> None:
    room.run(lines_of("Ines", range(1, 5)), lines_of("Kofi", range(1, 5)))
    room.forget("ines")
    mapping = MAPPING.replace('load_unit = "kg"', 'load_unit = "lb"')
    (room.folder / "mappings/log.toml").write_text(mapping, encoding="utf-8")
    room.run()
    with duckdb.connect(str(room.folder / "setledger.duckdb"), read_only=True) as con:
        loads = con.execute("select distinct client_id, load_kg from ledger.current_sets")
        assert loads.fetchall() == [("kofi", pytest.approx(60 * 0.45359237))]
    assert room.rebuilt_equals()


class Killed(BaseException):
    """Stands for a kill: nothing catches it."""


@pytest.mark.parametrize(
    "moment",
    ["runs.forget._clean_logs", "ledger.journal.rewrite_journal", "ledger.versions.drop_unneeded"],
)
@pytest.mark.slow
def test_a_kill_in_between_is_finished_by_the_same_command(
    room: Room, moment: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    room.run(lines_of("Ines", range(1, 5)), lines_of("Kofi", range(1, 5)))
    with monkeypatch.context() as patched:

        def killed(*_given: Any) -> None:
            raise Killed

        patched.setattr(f"pipeline.{moment}", killed)
        with pytest.raises(Killed):
            room.forget("ines")
    room.forget("ines")
    assert room.clients() == {"kofi": 8}
    assert not room.names("ines")
    assert room.rebuilt_equals()


def test_packed_rows_come_back_equal(room: Room) -> None:
    room.export(lines_of("Ines", range(1, 5)), lines_of("Kofi", range(1, 5)))
    room.load()
    workspace = find_workspace(room.folder)
    events = read_journal(workspace.store)
    rows = read_again(workspace.store, events[-1], events)
    again = kept_rows.unpack(kept_rows.pack(rows))
    assert again.sets.equals(rows.sets)
    assert again.owners.equals(rows.owners)
    assert again.bodyweights.equals(rows.bodyweights)
    assert (again.first_on, again.lines_read, again.spellings) == (
        rows.first_on, rows.lines_read, rows.spellings,
    )  # fmt: skip
    assert kept_rows.pack(again) == kept_rows.pack(rows)


# What a client may see


def test_no_page_holds_another_client_s_name_note_or_id(demo: Path) -> None:
    """Each client page against the names, aliases, ids and logged notes of all the others."""
    workspace = find_workspace(demo)
    with duckdb.connect(str(demo / "setledger.duckdb"), read_only=True) as con:
        notes = con.execute(
            "select distinct client_id, notes from ledger.sets where length(notes) > 3"
        ).fetchall()
        lines = con.execute(
            "select distinct client_id, path from ledger.sets join ledger.loads using (load_id)"
        ).fetchall()
    shared = {path for _, path in lines if sum(each == path for _, each in lines) > 1}
    assert shared == {"exports/notebook.csv"}
    for client in workspace.clients:
        page = (demo / "out" / client.id / "latest.html").read_text(encoding="utf-8")
        page = re.sub(r"<style>.*?</style>", "", page, flags=re.DOTALL)
        own = {text for owner, text in notes if owner == client.id}
        for other in workspace.clients:
            if other.id == client.id:
                continue
            secrets = [other.id, other.name, *other.aliases, other.email or other.id]
            secrets += [text for owner, text in notes if owner == other.id and text not in own]
            for secret in secrets:
                found = re.search(rf"(?<![\w-]){re.escape(secret)}(?![\w-])", page)
                assert found is None, (client.id, secret)


def test_the_log_and_the_book_are_the_owner_s_alone(after: Path) -> None:
    for name in ("run-log.jsonl", ".setledger/loads.jsonl"):
        assert (after / name).stat().st_mode & 0o077 == 0, name
    for path in (after / "out").rglob("*"):
        assert path.stat().st_mode & 0o077 == 0, path
    for line in (after / "run-log.jsonl").read_text(encoding="utf-8").splitlines():
        assert json.loads(line)
