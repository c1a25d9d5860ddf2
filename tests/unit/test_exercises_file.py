"""The workspace's exercises.csv: spellings, new exercises, changed ones, and its mistakes."""

from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.errors import ConfigError
from pipeline.names.catalogue import Catalogue, Exercise, Resolution
from pipeline.names.exercises_file import (
    append_mappings,
    counted_once,
    load_catalogue,
    suggested_mappings,
)
from pipeline.resources import resource

SEEDS = resource("sql") / "seeds"
HEADER = "name,exercise,movement,load_basis,bodyweight_share,direct,indirect\n"


def loaded(folder: Path, text: str) -> Catalogue:
    path = folder / "exercises.csv"
    path.write_text(text, encoding="utf-8")
    return load_catalogue(path)


def test_a_missing_file_leaves_the_catalogue_as_it_is(tmp_path: Path) -> None:
    with_file = load_catalogue(tmp_path / "exercises.csv")
    assert with_file.exercises == load_catalogue().exercises


def test_a_file_with_only_notes_or_only_a_header_changes_nothing(tmp_path: Path) -> None:
    for text in ("", "# nothing yet\n", HEADER, f"# a note, with a comma\n{HEADER}\n# more\n"):
        catalogue = loaded(tmp_path, text)
        assert catalogue.resolve("squat").how == "catalogue"
        assert catalogue.exercises == load_catalogue().exercises


def test_a_line_maps_a_spelling_to_a_known_exercise_or_alias(tmp_path: Path) -> None:
    catalogue = loaded(tmp_path, f"{HEADER}Big bench,Bench Press,,,,,\nThe pull,RDL,,,,,\n")
    assert catalogue.resolve("big  BENCH") == Resolution("big  BENCH", "bench press", "workspace")
    assert catalogue.resolve("the pull").exercise == "romanian deadlift"


def test_two_columns_suffice_for_mappings(tmp_path: Path) -> None:
    catalogue = loaded(tmp_path, "name,exercise\nDay one press,overhead press\n")
    assert catalogue.resolve("day one press").exercise == "overhead press"


def test_the_workspace_overrules_the_catalogue(tmp_path: Path) -> None:
    catalogue = loaded(tmp_path, "name,exercise\nSquat,front squat\n")
    assert catalogue.resolve("squat") == Resolution("squat", "front squat", "workspace")
    assert catalogue.resolve("back squat").exercise == "back squat"
    assert catalogue.resolve("Squats").exercise == "front squat"


def test_a_new_exercise_is_defined_with_its_muscles(tmp_path: Path) -> None:
    line = "Cambered Bar Squat,,compound,total,,quads;Upper back,glutes; quads\n"
    catalogue = loaded(tmp_path, HEADER + line)
    assert catalogue.exercises["cambered bar squat"] == Exercise(
        "cambered bar squat", "compound", "total", 0.0, ("quads", "upper_back"), ("glutes",)
    )
    assert catalogue.resolve("cambered bar squat").how == "workspace"
    assert catalogue.resolve("Cambered-Bar Squats").exercise == "cambered bar squat"


def test_a_spelling_may_lead_to_an_exercise_defined_further_down(tmp_path: Path) -> None:
    text = f"{HEADER}CBS,cambered squat,,,,,\ncambered squat,,compound,,,quads,glutes\n"
    assert loaded(tmp_path, text).resolve("cbs").exercise == "cambered squat"


def test_a_known_exercise_is_redefined_and_blank_cells_keep_its_values(tmp_path: Path) -> None:
    before = load_catalogue().exercises["back squat"]
    after = loaded(tmp_path, f"{HEADER}Squat,,,,,quads;glutes,\n").exercises["back squat"]
    assert (after.movement, after.load_basis) == (before.movement, before.load_basis)
    assert (after.direct, after.indirect) == (("quads", "glutes"), ())


def test_work_without_a_counted_muscle_is_known_all_the_same(tmp_path: Path) -> None:
    catalogue = loaded(tmp_path, f"{HEADER}Neck curl,,isolation,total,,none,\n")
    assert catalogue.resolve("neck curls").exercise == "neck curl"
    assert catalogue.exercises["neck curl"].direct == ()


def test_a_file_from_a_spreadsheet_with_semicolons_and_byte_mark_is_read(tmp_path: Path) -> None:
    text = "\ufeffname;exercise;movement;load_basis;bodyweight_share;direct;indirect\r\n"
    text += 'Ring thing;;compound;added;0,8;"chest;triceps";\r\n'
    found = loaded(tmp_path, text).exercises["ring thing"]
    assert (found.bodyweight_share, found.direct) == (0.8, ("chest", "triceps"))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("nmae,exercise\n", ["exercises.csv:1", 'unknown column "nmae"', 'nearest: "name"']),
        ("name,direct\n", ["exercises.csv:1", 'column "exercise" is missing']),
        ("name,exercise,name\n", ["exercises.csv:1", 'column "name" stands twice']),
        ("name,exercise\nA,bench pres\n", ["exercises.csv:2", '"bench pres"', '"bench press"']),
        ("name,exercise\n\nMine,\n", ["exercises.csv:3", '"Mine" is mapped to nothing']),
        ("name,exercise\nA,squat\na,deadlift\n", ["exercises.csv:3", "on line 2"]),
        ("name,exercise\nA,squat,x\n", ["exercises.csv:2", "more cells than the header"]),
        ('name,exercise\n"A,squat\n', ["exercises.csv:2", "quotes"]),
        (f"{HEADER}A,,compound,,,quad,\n", ["exercises.csv:2", '"quad"', 'nearest: "quads"']),
        (
            f"{HEADER}Ring thing,,compound,added,0.8,chest,\nMine,ring thin,,,,,\n",
            ["exercises.csv:3", '"ring thin"', 'nearest: "ring thing"'],
        ),
        (f"{HEADER}A,,compound,,,,quads\n", ["exercises.csv:2", "direct: is empty"]),
        (f"{HEADER}A,,compound,,,,\n", ["exercises.csv:2", 'new exercise "a" has no muscle']),
        (f"{HEADER}A,,,,,quads,\n", ["exercises.csv:2", "movement", "compound, isolation"]),
        (f"{HEADER}A,,big,,,quads,\n", ["exercises.csv:2", '"big" is not one of compound']),
        (f"{HEADER}A,,compound,both,,quads,\n", ["exercises.csv:2", "load_basis", "per_hand"]),
        (f"{HEADER}A,,compound,added,,lats,\n", ["exercises.csv:2", "bodyweight_share: needed"]),
        (f"{HEADER}A,,compound,added,64,lats,\n", ["exercises.csv:2", '"64"', "from 0 to 1"]),
        (f"{HEADER}A,,compound,added,nan,lats,\n", ["exercises.csv:2", '"nan"', "from 0 to 1"]),
        (
            f"{HEADER}A,,compound,,,lats,\nA,,compound,,,quads,\n",
            ["exercises.csv:3", "already defined on line 2"],
        ),
        (f'{HEADER}"A\nB",squat,,,,,\nC,nowhere,,,,,\n', ["exercises.csv:4", '"nowhere"']),
    ],
)
def test_a_mistake_says_where_what_and_how_to_mend_it(
    tmp_path: Path, text: str, said: list[str]
) -> None:
    with pytest.raises(ConfigError) as error:
        loaded(tmp_path, text)
    assert [piece for piece in said if piece not in str(error.value)] == []


def test_a_muscle_in_both_lists_is_direct_and_counts_once() -> None:
    assert counted_once(["quads", "quads"], ["glutes", "quads", "glutes"]) == (
        ("quads",),
        ("glutes",),
    )


class TestWrittenByCheck:
    def test_only_typing_slips_are_proposed(self) -> None:
        catalogue = load_catalogue()
        names = ["Romainan Deadlfit", "Paused front squat", "DB press", "Treadmill", "Squat"]
        assert suggested_mappings(names, catalogue) == [("Romainan Deadlfit", "romanian deadlift")]

    def test_lines_are_added_at_the_end_and_nothing_else_is_touched(self, tmp_path: Path) -> None:
        path = tmp_path / "exercises.csv"
        path.write_text("# ours\nexercise;name\nsquat;Big one", encoding="utf-8")
        assert append_mappings(path, [("Benhc, flat", "bench press"), ("big ONE", "deadlift")]) == [
            "bench press;Benhc, flat"
        ]
        text = path.read_text(encoding="utf-8")
        assert text == "# ours\nexercise;name\nsquat;Big one\nbench press;Benhc, flat\n"
        assert append_mappings(path, [("Benhc, flat", "back squat")]) == []
        assert path.read_text(encoding="utf-8") == text

    def test_an_absent_or_headless_file_gets_its_header(self, tmp_path: Path) -> None:
        for start in (None, "", "# nothing yet\n"):
            path = tmp_path / "exercises.csv"
            path.unlink(missing_ok=True)
            if start is not None:
                path.write_text(start, encoding="utf-8")
            append_mappings(path, [('The "big" one, heavy', "back squat")])
            kept = path.read_text(encoding="utf-8")
            assert kept == f'{start or ""}{HEADER}"The ""big"" one, heavy",back squat,,,,,\n'
            found = load_catalogue(path).resolve('the "BIG" one heavy')
            assert (found.exercise, found.how) == ("back squat", "workspace")
