"""Forty invented people, each judged by three readers before any rule was tuned, and by us.

`logs.csv.gz` holds their sets, `people.json` what they said of themselves, `briefs.md.gz` the
figures and lists that the readers saw, `verdicts.json` what each reader would change first, what
else would be acceptable, and what would be harmful to say. The readers saw neither our rules nor
our output. `python tests/panel/panel.py` prints where we stand beside them.
"""

from __future__ import annotations

import csv
import gzip
import json
import sys
import tempfile
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import duckdb

from pipeline.ledger.replay import opened_work
from pipeline.outcome import Outcome
from pipeline.review.build import build
from pipeline.runs.load import load
from pipeline.settings.workspace_file import find_workspace

HERE = Path(__file__).parent
AS_OF = date(2026, 9, 27)
MUSCLES = {"back": ("lats", "upper_back"), "side delts": ("side_delts",)}
"""What a person calls a muscle, where it is not our own word."""

NAMED = {
    "chest", "front_delts", "rear_delts", "traps", "spinal_erectors", "biceps", "triceps",
    "forearms", "quads", "hamstrings", "glutes", "adductors", "abductors", "calves", "abs",
}  # fmt: skip

ACTIONS = {
    "care": ("led_by_professional",),
    "strength_drop": ("ask_recovery",),
    "pain_note": ("ask_pain",),
    "return": ("ease_back_in",),
    "log": ("fix_log", "ask_attendance"),
    "attendance": ("ask_attendance",),
    "take_back": ("undo_change",),
    "extension": ("drop_extensions",),
    "failure": ("stop_before_failure",),
    "rest": ("add_rest_day",),
    "session_size": ("spread_sessions",),
    "effort": ("closer_to_failure",),
    "volume": ("more_sets",),
    "volume above": ("fewer_sets",),
    "priority": ("shift_priority",),
    "overlap": ("swap_front_for_side_rear",),
    "turnover": ("keep_exercises",),
    "stall": ("change_stalled_lift",),
    "jump": ("slow_the_jump",),
    "absent": ("start_muscle",),
    "unclear effort": ("fix_log",),
    "unclear attendance": ("ask_attendance",),
    "unclear wait": ("wait", "nothing"),
}
"""A finding's code, with its subject where that decides, to the readers' words for its advice."""

MAPPING = """
name = "panel"
[columns]
client = "person"
performed_on = "date"
exercise = "exercise"
load = "load"
load_unit = "unit"
reps = "reps"
rir = "rir"
set_kind = "kind"
notes = "notes"
[formats]
date = "%Y-%m-%d"
[values.set_kind]
drop = "extension"
"""


@dataclass(frozen=True)
class Judged:
    """One person: what we say first, and how it stands to the readers."""

    person: str
    code: str
    """Our finding, "" for nothing to change."""
    subject: str
    actions: tuple[str, ...]
    firsts: tuple[str, ...]
    """What each reader would change first."""
    is_accepted: bool
    """Whether what we say is the first or an acceptable change of at least one reader."""
    is_harmful: bool
    """Whether a reader calls it harmful to say."""


def read(name: str) -> list[dict[str, Any]]:
    """A list of this folder's files."""
    rows: list[dict[str, Any]] = json.loads((HERE / name).read_text(encoding="utf-8"))
    return rows


def make_workspace(folder: Path) -> None:
    """The forty logs as one export, and the people's own words as settings."""
    (folder / "exports").mkdir(parents=True)
    (folder / "mappings").mkdir()
    (folder / "exports/panel.csv").write_bytes(gzip.decompress((HERE / "logs.csv.gz").read_bytes()))
    (folder / "mappings/panel.toml").write_text(MAPPING, encoding="utf-8")
    blocks = [
        f'[workspace]\nname = "Harbour Lane Barbell Room"\nas_of = {AS_OF}\n'
        '[[sources]]\nfiles = "exports/panel.csv"\nmapping = "mappings/panel.toml"\n'
    ]
    weigh_ins = []
    for each in read("people.json"):
        lines = [f'[[clients]]\nid = "{each["id"]}"\nname = "{each["name"]}"']
        lines.append(f"bodyweight_kg = {float(each['bodyweight_kg'])}")
        for key, names in (
            ("bring_up", each["muscles_to_bring_up"]),
            ("hold_back", each["muscles_held_back"]),
        ):
            ours = [muscle for name in names for muscle in MUSCLES.get(name, (name,))]
            lines.append(f"{key} = {json.dumps(ours)}")
        for change in each["noted_changes"]:
            lines.append("[[clients.changes]]")
            lines.append(f"on = {change['date']}\nnote = {json.dumps(change['words'])}")
        for phase in each["phases"]:
            end = f"\nto = {phase['end']}" if phase["end"] else ""
            lines.append(
                f'[[clients.phases]]\nkind = "{phase["kind"]}"\nfrom = {phase["start"]}{end}'
            )
        blocks.append("\n".join(lines) + "\n")
        weigh_ins += [(each["id"], row["date"], row["kg"]) for row in each["bodyweight_readings"]]
    (folder / "setledger.toml").write_text("\n".join(blocks), encoding="utf-8")
    with (folder / "bodyweight.csv").open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([("client", "day", "bodyweight_kg"), *weigh_ins])


def build_panel(folder: Path) -> Path:
    """A workspace with its review built; gives the database."""
    make_workspace(folder)
    workspace, outcome = find_workspace(folder), Outcome()
    with opened_work(workspace) as work:
        load(work, outcome)
        build(work, outcome, AS_OF)
        work.publish()
    return workspace.database


def judged(database: Path) -> list[Judged]:
    """Every person, ours beside the readers'."""
    with duckdb.connect(str(database), read_only=True) as con:
        first = {
            person: (code, subject, standing)
            for person, code, subject, standing in con.execute(
                "select client_id, code, subject, evidence ->> 'standing' from review.findings"
                " where is_first_change"
            ).fetchall()
        }
    verdicts = read("verdicts.json")
    answers = []
    for person in sorted({each["person"] for each in verdicts}):
        code, subject, standing = first.get(person, ("", "", None))
        if code == "overlap":  # filed under front delts; it names side or rear delts as well
            subject = ""
        actions = ACTIONS.get(
            f"{code} {standing or subject}", ACTIONS.get(code, ("nothing", "wait"))
        )
        readers = [each for each in verdicts if each["person"] == person]
        accepted = [(each["first"], each["subject"]) for each in readers]
        accepted += [
            (one["code"], one["subject"]) for each in readers for one in each["acceptable"]
        ]
        harmful = [one for each in readers for one in each["harmful"]]
        answers.append(
            Judged(
                person,
                code,
                subject,
                actions,
                tuple(each["first"] for each in readers),
                is_accepted=any(
                    action in actions and _is_about(theirs, subject) for action, theirs in accepted
                ),
                is_harmful=any(
                    one["code"] in actions and one["subject"] in ("", subject) for one in harmful
                )
                and not any(each["first"] in actions for each in readers),
            )
        )
    return answers


def _is_about(theirs: str, ours: str) -> bool:
    """Whether two subjects are one; a muscle is another only where both name a muscle."""
    known = {one for muscles in MUSCLES.values() for one in muscles} | NAMED
    return not (theirs in known and ours in known) or theirs in ours or ours in theirs


def agreement() -> tuple[int, int, int]:
    """People on whom all readers agree; a reader's first in another's accepted set, of how many."""
    verdicts = read("verdicts.json")
    people = sorted({each["person"] for each in verdicts})
    same, inside, pairs = 0, 0, 0
    for person in people:
        readers = [each for each in verdicts if each["person"] == person]
        same += len({each["first"] for each in readers}) == 1
        for one in readers:
            for other in readers:
                if one is not other:
                    pairs += 1
                    inside += one["first"] in {
                        other["first"],
                        *(each["code"] for each in other["acceptable"]),
                    }
    return same, inside, pairs


def main() -> None:
    """Print a line a person and the counts."""
    with tempfile.TemporaryDirectory() as folder:
        found = judged(build_panel(Path(folder) / "panel"))
    lines = [
        f"{each.person}  {each.code or '(nothing)':14} {each.subject:24} "
        f"{', '.join(sorted(set(each.firsts))):44} "
        f"{'accepted' if each.is_accepted else 'NOT ACCEPTED'}"
        f"{' HARMFUL' if each.is_harmful else ''}"
        for each in found
    ]
    same, inside, pairs = agreement()
    lines += [
        f"accepted: {sum(each.is_accepted for each in found)} of {len(found)}",
        f"harmful: {sum(each.is_harmful for each in found)}",
        f"readers: of one mind on {same}; one's first in another's accepted set: {inside}/{pairs}",
    ]
    sys.stdout.write("\n".join(lines) + "\n")


if __name__ == "__main__":
    main()
