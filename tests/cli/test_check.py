"""`setledger check`: what is wrong, where, and how to mend it; exit 1 if it needs a person."""

from __future__ import annotations

import json
import shutil
from datetime import date
from pathlib import Path
from typing import Any

import duckdb
import pytest
from click.testing import CliRunner, Result

from pipeline.cli import cli
from pipeline.errors import ConfigError
from pipeline.ledger import loading, store
from pipeline.ledger.replay import opened_work
from pipeline.outcome import Outcome
from pipeline.review.inputs import build_inputs, resolve_names
from pipeline.runs import run as runs
from pipeline.runs.load import load
from pipeline.settings.workspace import as_of_day
from pipeline.settings.workspace_file import find_workspace
from tests.conftest import unasked

CONFIG = """\
[workspace]
name = "Check"
as_of = 2026-06-30

[[sources]]
files = "exports/log*.csv"
mapping = "mappings/log.toml"

[[clients]]
id = "ines"
email = "ines@example.org"
"""

MAPPING = """\
name = "log"
[columns]
client = "who"
performed_on = "day"
exercise = "lift"
load = "load"
reps = "reps"
[formats]
load_unit = "kg"
"""

EXPORT = "who,day,lift,load,reps\n" + "".join(
    f"ines,2026-06-{day:02d},{lift},{60 + day},8\n"
    for day in range(1, 26)
    for lift in ("bench press", "bench press", "back squat")
)


TODAY = "1782777600"
"""SOURCE_DATE_EPOCH of 2026-06-30."""


class Room:
    """A workspace in good order, for tests to spoil."""

    def __init__(self, folder: Path, *, is_made: bool = False) -> None:
        self.folder = folder
        if is_made:
            return
        for name in ("exports", "mappings"):
            (folder / name).mkdir()
        self.write("setledger.toml", CONFIG)
        self.write("mappings/log.toml", MAPPING)
        self.write("exports/log.csv", EXPORT)

    def write(self, name: str, text: str) -> None:
        (self.folder / name).write_text(text)

    def add(self, name: str, text: str) -> None:
        with (self.folder / name).open("a") as file:
            file.write(text)

    def load(self) -> None:
        """Load, ask the data contract, publish: a run without models and pages."""
        workspace = find_workspace(self.folder)
        with opened_work(workspace) as work:
            load(work, Outcome())
            runs.check_changes(work, Outcome(), as_of_day(workspace, None))
            work.publish()

    def spoil(self, sql: str) -> None:
        """Change the published database behind the tool's back."""
        with duckdb.connect(str(self.folder / "setledger.duckdb")) as con:
            con.execute(sql)

    def check(self, *options: str) -> Result:
        return CliRunner().invoke(cli, ["check", "-w", str(self.folder), *options])

    def remarks(self, *options: str) -> list[dict[str, Any]]:
        """What check says, most grave first, as (severity, where, text, …)."""
        found: list[dict[str, Any]] = json.loads(self.check("--json", *options).output)["remarks"]
        return found

    def said(self) -> list[tuple[str, str, str]]:
        return [(each["severity"], each["where"], each["text"]) for each in self.remarks()]


@pytest.fixture
def room(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Room:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", TODAY)
    return Room(tmp_path)


def made(folder: Path, *, is_asked: bool) -> Path:
    """A workspace in good order, loaded."""
    with pytest.MonkeyPatch.context() as patches:
        patches.setenv("SOURCE_DATE_EPOCH", TODAY)
        if not is_asked:
            unasked(patches)
        Room(folder).load()
    return folder


@pytest.fixture(scope="module")
def made_asked(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return made(tmp_path_factory.mktemp("asked"), is_asked=True)


@pytest.fixture(scope="module")
def made_unasked(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return made(tmp_path_factory.mktemp("unasked"), is_asked=False)


@pytest.fixture
def asked(made_asked: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Room:
    """Loaded, and the data contract is asked in each check."""
    monkeypatch.setenv("SOURCE_DATE_EPOCH", TODAY)
    shutil.copytree(made_asked, tmp_path, dirs_exist_ok=True)
    return Room(tmp_path, is_made=True)


@pytest.fixture
def loaded(
    made_unasked: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, without_contract: None
) -> Room:
    """Loaded, without the data contract."""
    monkeypatch.setenv("SOURCE_DATE_EPOCH", TODAY)
    shutil.copytree(made_unasked, tmp_path, dirs_exist_ok=True)
    return Room(tmp_path, is_made=True)


# In order


def test_a_workspace_in_order_needs_nobody(asked: Room) -> None:
    done = asked.check()
    assert done.exit_code == 0
    assert done.output.splitlines()[-1] == "Nothing needs a person."
    assert "of 75 sets, all hold." in done.output
    assert asked.said() == []


def test_quiet_says_nothing_where_all_is_well(loaded: Room) -> None:
    assert loaded.check("--quiet").output == ""


def test_before_the_first_load_the_files_are_looked_at(room: Room) -> None:
    assert room.said() == [
        (
            "note",
            "exports/log.csv",
            "is not loaded yet: 75 sets and 0 lines that cannot be loaded (0.0%); `setledger run` "
            "does it.",
        ),
        ("note", "setledger.duckdb", "nothing is loaded yet; `setledger run` does it all."),
    ]
    assert room.check().exit_code == 0
    assert not (room.folder / ".setledger").exists()


def test_json_holds_the_verdicts_and_the_exit_code(asked: Room) -> None:
    answer = json.loads(asked.check("--json").output)
    assert (answer["exit_code"], answer["written"]) == (0, None)
    assert {
        "load_id": None,
        "expectation": "A set has 1 to 100 repetitions.",
        "column_name": "reps",
        "is_met": True,
        "unexpected": 0,
        "share": 0.0,
    } in answer["contract"]


def test_check_changes_nothing_where_the_verdicts_stand(asked: Room) -> None:
    before = {path: path.stat().st_mtime_ns for path in asked.folder.rglob("*") if path.is_file()}
    asked.check()
    after = {path: path.stat().st_mtime_ns for path in asked.folder.rglob("*") if path.is_file()}
    assert after == before


# Sources and mappings


def test_no_source_at_all(room: Room) -> None:
    room.write("setledger.toml", "")
    assert room.said()[0][:2] == ("wrong", "setledger.toml")
    assert room.check().exit_code == 1


def test_a_mapping_that_is_not_there(room: Room) -> None:
    (room.folder / "mappings/log.toml").unlink()
    assert room.said()[0] == (
        "wrong",
        "mappings/log.toml",
        "this mapping file does not exist; write it, or let `setledger draft-mapping` write one.",
    )


def test_a_column_that_the_file_lacks(room: Room) -> None:
    room.write("mappings/log.toml", MAPPING.replace('"reps"', '"repetitions"'))
    severity, where, text = room.said()[0]
    assert (severity, where) == ("wrong", "mappings/log.toml")
    assert "repetitions" in text
    assert "reps" in text


def test_a_pattern_that_finds_no_file_names_its_line(room: Room) -> None:
    (room.folder / "exports/log.csv").unlink()
    assert room.said()[0] == (
        "open",
        "setledger.toml:6",
        "no file matches exports/log*.csv; put exports there or mend the pattern.",
    )


def test_a_removed_file_is_only_noted(loaded: Room) -> None:
    (loaded.folder / "exports/log.csv").unlink()
    [(severity, where, text)] = loaded.said()
    assert (severity, where) == ("note", "setledger.toml:6")
    assert "stays until `setledger unload`" in text


def test_a_new_file_of_damaged_lines_is_named_before_it_is_loaded(loaded: Room) -> None:
    loaded.write("exports/log-b.csv", EXPORT.replace(",8\n", ",eight\n"))
    assert loaded.said() == [
        (
            "open",
            "exports/log-b.csv",
            "is not loaded yet: 0 sets and 75 lines that cannot be loaded (100.0%), above the "
            "limit of 0.02; look at the mapping mappings/log.toml, or raise [rules] "
            "set_aside_share.",
        )
    ]


def test_a_mapping_changed_since_is_noted(loaded: Room) -> None:
    loaded.add("mappings/log.toml", "\n# another word\n")
    [(severity, where, text)] = loaded.said()
    assert (severity, where) == ("note", "exports/log.csv")
    assert text.startswith("is read anew, for its mapping or clients changed: 75 sets")


def test_a_file_that_cannot_be_read_beside_one_that_can(loaded: Room) -> None:
    (loaded.folder / "exports/log-folder.csv").mkdir()
    assert loaded.said() == [
        ("wrong", "exports/log-folder.csv", "this is a folder, not an export; name files.")
    ]


def test_an_unloaded_file_is_noted(loaded: Room) -> None:
    loading.unload(find_workspace(loaded.folder), "exports/log.csv")
    assert ("note", "exports/log.csv") in [each[:2] for each in loaded.said()]


def test_a_held_version_waits_for_a_word(loaded: Room) -> None:
    bench = "\n".join(line for line in EXPORT.splitlines() if "squat" not in line)
    loaded.write("exports/log.csv", bench + "\n")
    loaded.load()
    [(severity, where, text)] = loaded.said()
    assert (severity, where) == ("open", "exports/log.csv")
    assert text == (
        "held back, and what was loaded before still counts: 33% of ines's sets that were loaded "
        "for the days from 2026-06-01 to 2026-06-25 are no longer in it. If the file is right as "
        "it is now, `setledger load --accept exports/log.csv`; else mend or export it again."
    )


# Clients


def _with_client(room: Room, text: str) -> None:
    room.write("setledger.toml", CONFIG + text)


@pytest.mark.parametrize(
    ("lines", "severity", "line", "text"),
    [
        (
            'bring_up = ["uper_back"]',
            "wrong",
            12,
            "ines: bring_up names 'uper_back', which is no muscle here; did you mean 'upper_back'?",
        ),
        (
            'hold_back = ["chest"]\nbring_up = ["chest"]',
            "open",
            12,
            "ines: 'chest' stands under bring_up and hold_back; keep one.",
        ),
        (
            "[clients.guide]\nside_delt = { week = [8, 20] }",
            "wrong",
            13,
            "ines: guide names 'side_delt', which is no muscle here; did you mean 'side_delts'?",
        ),
        (
            '[[clients.phases]]\nkind = "cut"\nfrom = 2026-05-01\n'
            '[[clients.phases]]\nkind = "deload"\nfrom = 2026-06-01\nto = 2026-06-07',
            "open",
            17,
            "ines: the phase deload from 2026-06-01 begins before cut from 2026-05-01 is over "
            "(its open end); give the earlier one a `to` before it.",
        ),
        (
            '[[clients.phases]]\nkind = "cut"\nfrom = 2026-08-01',
            "note",
            14,
            "ines: the phase cut from 2026-08-01 lies ahead; it counts from that day on.",
        ),
        (
            '[[clients.changes]]\non = 2026-08-01\nnote = "a rest day more"',
            "note",
            13,
            "ines: the change of 2026-08-01 lies ahead; the report compares from that day on.",
        ),
    ],
)
def test_what_setledger_toml_says_of_a_client(
    loaded: Room, lines: str, severity: str, line: int, text: str
) -> None:
    _with_client(loaded, lines + "\n")
    assert loaded.said() == [(severity, f"setledger.toml:{line}", text)]


@pytest.mark.parametrize("spelling", ["Kniebeuge", "bennch press"])
def test_a_target_in_a_spelling_of_the_log_is_no_fault(loaded: Room, spelling: str) -> None:
    target = f'[[clients.targets]]\nexercise = "{spelling}"\nload = 80\nreps = 5\n'
    _with_client(loaded, target + '[clients.guide]\n"Side delts" = { week = [8, 20] }\n')
    assert loaded.said() == []


def test_a_change_of_an_unknown_exercise_names_the_nearest(loaded: Room) -> None:
    change = '[[clients.changes]]\non = 2026-03-01\nnote = "new"\nexercise = "bench bounce"\n'
    _with_client(loaded, change)
    [(severity, where, text)] = loaded.said()
    assert (severity, where) == ("wrong", "setledger.toml:15")
    assert text.startswith("ines: the change of 'bench bounce' is no known exercise; nearest are")


def test_a_target_on_an_unknown_exercise_names_the_nearest(loaded: Room) -> None:
    _with_client(
        loaded,
        '[[clients.targets]]\nexercise = "bench bounce press"\nload = 80\nreps = 5\n',
    )
    [(severity, where, text)] = loaded.said()
    assert (severity, where) == ("wrong", "setledger.toml:13")
    assert text.startswith("ines: the target 'bench bounce press' is no known exercise; nearest")
    assert "bench press (" in text


@pytest.mark.parametrize("address", ["ines", "ines@", "ines@gym", "a b@gym.org", "a@b@gym.org"])
def test_an_address_that_can_be_none(loaded: Room, address: str) -> None:
    loaded.write("setledger.toml", CONFIG.replace("ines@example.org", address))
    assert loaded.said() == [
        (
            "wrong",
            "setledger.toml:11",
            f"ines: '{address}' is no mail address; write one such as name@example.org.",
        )
    ]


def test_the_coach_s_addresses_are_looked_at_too(loaded: Room) -> None:
    loaded.add(
        "setledger.toml",
        '[mail]\nhost = "mail.example.org"\nfrom = "Harbour Lane <desk@example.org>"\n'
        'coach = "the coach"\n',
    )
    assert [each[:2] for each in loaded.said()] == [("wrong", "setledger.toml:15")]


def test_a_client_twice_is_an_unreadable_setledger_toml(loaded: Room) -> None:
    loaded.add("setledger.toml", '[[clients]]\nid = "ines"\n')
    done = loaded.check()
    assert isinstance(done.exception, ConfigError)
    assert done.exception.exit_code == 2
    assert "two [[clients]] claim 'ines'" in str(done.exception)


def test_a_client_without_sets_and_the_stranger_who_may_be_meant(loaded: Room) -> None:
    loaded.write("setledger.toml", CONFIG.replace('id = "ines"', 'id = "ines-duarte"'))
    loaded.load()
    assert [each for each in loaded.said() if each[0] != "note"] == [
        (
            "open",
            "setledger.toml:10",
            "ines-duarte: no set of this client is loaded; name the spelling of the export under "
            "aliases. 'ines' is loaded and not listed: is that who is meant?",
        )
    ]


def test_an_unlisted_client_is_named_and_needs_nobody(loaded: Room) -> None:
    loaded.add("exports/log.csv", "Kofi B.,2026-06-20,bench press,100,5\n")
    loaded.load()
    assert loaded.said() == [
        (
            "note",
            "setledger.toml",
            "'Kofi B.' (1 set, 2026-06-20) is loaded and not listed: the page is made, no mail "
            "goes out. `setledger client add kofi-b --name 'Kofi B.'` lists this client; or name "
            "the spelling under aliases of the client it is.",
        )
    ]
    assert loaded.check().exit_code == 0


# Corrections and weigh-ins


HEADER = "client,day,exercise,n,field,value,reason\n"


@pytest.mark.parametrize(
    ("line", "text"),
    [
        ("ines,2026-06-01,bench press,2,reps,9,x", None),
        (
            "ines,2026-06-01,bench press,3,reps,9,x",
            "matches no set: 'bench press' has 2 sets on 2026-06-01, not 3; mend n.",
        ),
        (
            "ines,2026-06-01,deadlift,1,reps,9,x",
            "matches no set: ines did no 'deadlift' on 2026-06-01; logged are back squat, bench "
            "press.",
        ),
        (
            "ines,2026-06-29,bench press,1,reps,9,x",
            "matches no set: ines has none on 2026-06-29; mend client or day.",
        ),
        (
            "inez,2026-06-01,bench press,1,reps,9,x",
            "client 'inez' is unknown; did you mean 'ines'?",
        ),
        ("ines,2026-06-01,bench press,1,reps,many,x", "reps = 'many' is no number."),
    ],
)
def test_a_correction_that_changes_nothing_is_named(
    loaded: Room, line: str, text: str | None
) -> None:
    loaded.write("corrections.csv", HEADER + line + "\n")
    expected = [] if text is None else [("wrong", "corrections.csv:2", text)]
    assert loaded.said() == expected


def test_two_corrections_of_one_value_are_named(loaded: Room) -> None:
    line = "ines,2026-06-01,bench press,1,reps,{},x\n"
    loaded.write("corrections.csv", HEADER + line.format(9) + line.format(10))
    assert loaded.said() == [
        (
            "wrong",
            "corrections.csv:3",
            "line 2 corrects the same reps of the same set to another value; keep one.",
        )
    ]


def test_weigh_ins_of_nobody_are_named(loaded: Room) -> None:
    loaded.write(
        "bodyweight.csv", "client,day,bodyweight_kg\nines,2026-06-01,64\nmax,2026-06-01,80\n"
    )
    assert loaded.said() == [
        (
            "wrong",
            "bodyweight.csv:3",
            "client 'max' is unknown; it is nobody's id, name or alias.",
        )
    ]


# Names


STRANGE = "ines,2026-06-20,harbour drag,40,10\n" * 2


def test_an_unknown_name_gets_the_nearest_known_ones_with_scores(loaded: Room) -> None:
    loaded.add("exports/log.csv", STRANGE)
    loaded.load()
    [remark] = loaded.remarks()
    assert (remark["severity"], remark["topic"]) == ("open", "names")
    assert remark["text"].startswith("'harbour drag' (2 sets) is no known exercise")
    assert (remark["detail"]["name"], remark["detail"]["sets"]) == ("harbour drag", 2)
    scores = [score for _, score in remark["detail"]["nearest"]]
    assert len(scores) == 3
    assert scores == sorted(scores, reverse=True)
    assert all(0 <= score < 92 for score in scores)


def test_write_begins_lines_that_a_person_ends(loaded: Room) -> None:
    """What is not all but certain stays a comment; the file is otherwise as it was."""
    loaded.add("exports/log.csv", STRANGE + "ines,2026-06-20,pier lunge,20,10\n")
    loaded.load()
    own = "name,exercise,movement,direct\ndock press,bench press,,\n"
    loaded.write("exercises.csv", own)
    done = loaded.check("--write")
    text = (loaded.folder / "exercises.csv").read_text()
    assert text.startswith(own)
    added = text.removeprefix(own).splitlines()
    assert [line.split(",")[0] for line in added] == ["# harbour drag", "# pier lunge"]
    assert all(f"  {line}" in done.output for line in added)
    assert done.exit_code == 1
    assert "nothing to write" in loaded.check("--write").output
    assert (loaded.folder / "exercises.csv").read_text() == text
    loaded.write("exercises.csv", text.replace("# pier lunge,", "pier lunge,"))
    assert [each["detail"]["name"] for each in loaded.remarks()] == ["harbour drag"]


def test_write_makes_the_file_where_there_is_none(loaded: Room) -> None:
    loaded.add("exports/log.csv", STRANGE)
    loaded.load()
    loaded.check("--write")
    header, line = (loaded.folder / "exercises.csv").read_text().splitlines()
    assert header == "name,exercise"
    assert line.startswith("# harbour drag,")


def test_a_broken_exercises_csv_is_named_with_its_line(loaded: Room) -> None:
    loaded.write("exercises.csv", "name,exercise\ndock press,no such lift\n")
    severity, where, text = loaded.said()[0]
    assert (severity, where) == ("wrong", "exercises.csv:2")
    assert "no such lift" in text


# Days, lines, the contract


OTHER = CONFIG.replace(
    "[[clients]]",
    '[[sources]]\nfiles = "exports/other.csv"\nmapping = "mappings/other.toml"\n\n[[clients]]',
)


def test_two_sources_on_equal_days_are_named(room: Room, without_contract: None) -> None:
    """Five days in both, ten sets of them equal in exercise, load and repetitions."""
    room.write("setledger.toml", OTHER)
    room.write("mappings/other.toml", MAPPING.replace('"log"', '"other"'))
    lines = [line for line in EXPORT.splitlines() if "06-0" in line and "bench" in line][:10]
    room.write("exports/other.csv", "\n".join(["who,day,lift,load,reps", *lines]) + "\n")
    room.load()
    [remark] = room.remarks()
    assert (remark["severity"], remark["where"]) == ("open", "exports/log.csv, exports/other.csv")
    assert remark["detail"] == {
        "client_id": "ines",
        "sources": ["log", "other"],
        "days": 5,
        "first_on": "2026-06-01",
        "last_on": "2026-06-05",
        "equal_sets": 10,
    }
    room.write("exports/other.csv", "who,day,lift,load,reps\nines,2026-06-01,leg curl,30,12\n")
    loading.unload(find_workspace(room.folder), "exports/other.csv")
    room.load()
    [remark] = room.remarks()
    assert (remark["severity"], remark["detail"]["equal_sets"]) == ("note", 0)


def test_lines_set_aside_are_counted_with_their_reasons(loaded: Room) -> None:
    loaded.add("exports/log.csv", "ines,2026-06-31,bench press,60,8\n")
    loaded.load()
    assert loaded.said() == [
        (
            "note",
            "exports/log.csv",
            'one line is set aside (not a date 1); `setledger query "from ledger.set_aside"` '
            "lists them with their reasons.",
        )
    ]


def test_a_ledger_changed_by_hand_breaks_the_contract(asked: Room) -> None:
    asked.spoil("update ledger.sets set reps = -8 where source_line = 2")
    done = asked.check()
    assert done.exit_code == 1
    assert (
        "  the ledger: A set has 1 to 100 repetitions. Not so in one row (1.3% of those looked "
        "at): -8. `setledger rebuild` makes the ledger again" in done.output
    )
    with duckdb.connect(str(asked.folder / "setledger.duckdb"), read_only=True) as con:
        assert con.execute("select expectation from ledger.checks where not is_met").fetchall() == [
            ("A set has 1 to 100 repetitions.",)
        ]


def test_stale_data_wait_for_a_word_in_check_and_not_in_a_run(
    room: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The newest set is of 25 June; 45 days later is 9 August."""
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1786320000")  # 2026-08-10
    room.write("setledger.toml", CONFIG.replace("2026-06-30", "2026-08-09"))
    room.load()
    assert room.said() == []
    room.write("setledger.toml", CONFIG.replace("2026-06-30", "2026-08-10"))
    [(severity, _, text)] = room.said()
    assert severity == "open"
    assert text.startswith(
        "the newest set is of 25 June 2026, 46 days before the as-of day (2026-08-10). Export anew"
    )
    workspace = find_workspace(room.folder)
    with opened_work(workspace, from_scratch=True) as work:
        outcome = Outcome()
        resolve_names(work.con, build_inputs(workspace, date(2026, 8, 10)))
        runs.check_changes(work, outcome, as_of_day(workspace, None))
        assert outcome.problems == []


def test_verdicts_are_left_where_another_run_is_going_on(asked: Room) -> None:
    asked.spoil("update ledger.sets set reps = -8 where source_line = 2")
    with store.locked(asked.folder / ".setledger"):
        assert asked.check().exit_code == 1
    with duckdb.connect(str(asked.folder / "setledger.duckdb"), read_only=True) as con:
        assert con.execute("from ledger.checks where not is_met").fetchall() == []


def test_a_check_of_an_unchanged_ledger_asks_nothing_again(
    asked: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object) -> list[Any]:
        raise AssertionError("the verdicts stand")

    monkeypatch.setattr("pipeline.checks.check.validate", refuse)
    done = asked.check()
    assert done.exit_code == 0
    assert "of 75 sets, all hold." in done.output
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1782864000")  # the day after
    assert asked.check().exit_code == 0


@pytest.mark.parametrize(
    "spoilt",
    [
        "update ledger.sets set reps = 9 where source_line = 2",
        "update ledger.loads set lines_read = lines_read + 1",
        "delete from ledger.exercise_names",
        "update ledger.sets set performed_on = '2030-01-01' where source_line = 2",
    ],
)
def test_a_ledger_that_changed_since_is_asked(
    asked: Room, spoilt: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked.spoil(spoilt)
    times: list[int] = []
    monkeypatch.setattr(
        "pipeline.checks.check.validate",
        lambda *_: times.append(1) or [],  # type: ignore[func-returns-value]
    )
    asked.check()
    assert times == [1]


# Said once


def test_what_is_alike_is_said_once_and_the_worst_first(loaded: Room) -> None:
    loaded.add("exports/log.csv", STRANGE + "ines,2026-06-20,pier lunge,20,10\n")
    loaded.load()
    loaded.write("exercises.csv", "name,exercise\ndock press,no such lift\n")
    lines = loaded.check().output.splitlines()
    assert lines[0] == "To be mended"
    assert lines[3:7] == [
        "Waiting for you",
        "  exercises.csv: 2 names are no known exercises, so their sets count for no muscle; map "
        "or define them there, `setledger check --write` begins the lines",
        "    'harbour drag' (2 sets); nearest are drag curl (48), dragon flag (8), inverted row "
        "(8).",
        "    'pier lunge' (1 set); nearest are lunge (67), lateral lunge (54), reverse lunge (54).",
    ]


def test_of_very_many_names_the_most_frequent_are_listed(loaded: Room) -> None:
    loaded.add(
        "exports/log.csv", "".join(f"ines,2026-06-20,pier {n:04d} drag,20,10\n" for n in range(300))
    )
    loaded.load()
    lines = loaded.check().output.splitlines()
    assert lines[1].startswith("  exercises.csv: 300 names are no known exercises")
    assert lines[27] == "    and 275 more; --json lists them all"
    assert len(loaded.remarks()) == 300


def test_equal_sets_of_two_clients_are_named(loaded: Room) -> None:
    """Two days of four sets under another spelling, and one day that is not quite the same."""
    same = "".join(
        f"{who},2026-06-{day},{lift},{day},8\n"
        for who in ("Ines D.", "ines-duarte")
        for day in (26, 27, 28)
        for lift in ("bench press", "deadlift", "leg curl", "Kniebeuge")
    ).replace("Ines D.,2026-06-28,deadlift,28", "Ines D.,2026-06-28,deadlift,30")
    loaded.add("exports/log.csv", same)
    loaded.load()
    [(where, text)] = [each[1:] for each in loaded.said() if each[0] == "open"]
    assert (where, text) == (
        "setledger.toml",
        "'ines-d' and 'ines-duarte' have the same 8 sets on 2 days from 2026-06-26 to 2026-06-27. "
        "If they are one person, write ines-duarte into the aliases of 'ines-d' (or `setledger "
        "client add ines-d --name NAME --alias ines-duarte`), or name the client in the mapping's "
        "[constants]; `setledger run` then reads them as one.",
    )


def test_a_target_that_the_client_never_logged_is_noted(loaded: Room) -> None:
    _with_client(loaded, '[[clients.targets]]\nexercise = "front squat"\nload = 80\nreps = 5\n')
    assert loaded.said() == [
        (
            "note",
            "setledger.toml:13",
            "ines: the target 'front squat' meets no set: 'front squat' was never logged; nearest: "
            "back squat.",
        )
    ]
