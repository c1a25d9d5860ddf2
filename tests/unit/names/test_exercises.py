"""The catalogue's seeds are sound, and spellings are resolved as a coach would resolve them."""

from __future__ import annotations

import csv
import time
from collections import Counter
from pathlib import Path

import pytest

from pipeline.names.catalogue import Catalogue
from pipeline.names.exercises_file import load_catalogue
from pipeline.names.spelling import fold
from pipeline.resources import resource

SEEDS = resource("sql") / "seeds"
SPELLINGS = Path(__file__).parents[2] / "data" / "spellings.csv"
MUSCLES = [
    *("chest", "front_delts", "side_delts", "rear_delts", "lats", "upper_back", "traps"),
    *("spinal_erectors", "biceps", "triceps", "forearms", "quads", "hamstrings", "glutes"),
    *("adductors", "abductors", "calves", "abs"),
]
NO_DIRECT_WORK = {"external rotation", "tibialis raise", "bird dog"}
"""The first two train none of the 18 muscles, the third holds a position without a load."""

WITH_DUMBBELLS_AND_BODY = {
    *("lunge", "walking lunge", "reverse lunge", "lateral lunge", "curtsy lunge", "step-up"),
    *("split squat", "deficit split squat", "bulgarian split squat"),
}
"""Dumbbells in both hands are carried with the body, of which one leg lifts all but the shanks."""


def rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.fixture(scope="module")
def catalogue() -> Catalogue:
    return load_catalogue()


class TestSeeds:
    def test_the_eighteen_muscles_and_six_body_parts_stand_in_order(self) -> None:
        found = rows(SEEDS / "muscles.csv")
        assert sorted(row["muscle"] for row in found) == sorted(MUSCLES)
        assert [int(row["position"]) for row in found] == list(range(1, 19))
        parts: dict[str, set[str]] = {}
        for row in found:
            parts.setdefault(row["body_part"], set()).add(row["muscle"])
        assert parts == {
            "legs": {"quads", "hamstrings", "glutes", "adductors", "abductors", "calves"},
            "chest": {"chest"},
            "back": {"lats", "upper_back", "traps"},
            "shoulders": {"front_delts", "side_delts", "rear_delts"},
            "arms": {"biceps", "triceps", "forearms"},
            "trunk": {"abs", "spinal_erectors"},
        }

    def test_low_ends_apply_to_the_seven_groups_of_the_guide(self) -> None:
        groups = {
            row["muscle"]: row["low_end_group"]
            for row in rows(SEEDS / "muscles.csv")
            if row["low_end_group"]
        }
        assert groups == {
            "chest": "chest",
            "lats": "back",
            "upper_back": "back",
            "quads": "quads",
            "hamstrings": "hamstrings",
            "side_delts": "side_delts",
            "biceps": "biceps",
            "triceps": "triceps",
        }

    def test_every_exercise_has_a_direct_muscle_and_names_no_muscle_twice(self) -> None:
        exercises = [row["exercise"] for row in rows(SEEDS / "exercises.csv")]
        roles = rows(SEEDS / "exercise_muscles.csv")
        pairs = Counter((row["exercise"], row["muscle"]) for row in roles)
        assert [pair for pair, times in pairs.items() if times > 1] == []
        assert {row["role"] for row in roles} == {"direct", "indirect"}
        assert {row["muscle"] for row in roles} == set(MUSCLES)
        direct = {row["exercise"] for row in roles if row["role"] == "direct"}
        assert set(exercises) - direct == NO_DIRECT_WORK
        assert len(exercises) >= 220

    def test_names_and_aliases_are_unique_in_plain_lower_case(self) -> None:
        names = [
            name
            for row in rows(SEEDS / "exercises.csv")
            for name in (row["exercise"], *filter(None, row["aliases"].split("|")))
        ]
        assert [name for name, times in Counter(map(fold, names)).items() if times > 1] == []
        assert [name for name in names if name != " ".join(name.lower().split())] == []

    def test_shares_and_bases_fit_each_other(self) -> None:
        for row in rows(SEEDS / "exercises.csv"):
            share = float(row["bodyweight_share"])
            assert row["movement"] in ("compound", "isolation"), row
            assert row["load_basis"] in ("total", "per_hand", "added", "assisted", "none"), row
            assert 0 <= share <= 1, row
            lifts_the_body = row["exercise"] in WITH_DUMBBELLS_AND_BODY
            assert lifts_the_body <= (row["load_basis"] == "per_hand"), row
            assert (share > 0) == (row["load_basis"] in ("added", "assisted") or lifts_the_body), (
                row
            )

    def test_a_phrase_of_the_vocabulary_stands_once(self) -> None:
        words = Counter(fold(row["words"]) for row in rows(SEEDS / "exercise_words.csv"))
        assert [phrase for phrase, times in words.items() if times > 1] == []

    @pytest.mark.parametrize(
        ("exercise", "direct", "indirect"),
        [  # the definitions of this project
            ("incline barbell press", {"chest", "front_delts"}, {"triceps"}),
            ("overhead press", {"front_delts"}, {"side_delts", "triceps"}),
            ("bench press", {"chest"}, {"front_delts", "triceps"}),
        ],
    )
    def test_pressing_roles_are_those_of_the_definitions(
        self, catalogue: Catalogue, exercise: str, direct: set[str], indirect: set[str]
    ) -> None:
        found = catalogue.exercises[exercise]
        assert (set(found.direct), set(found.indirect)) == (direct, indirect)

    @pytest.mark.parametrize(
        ("exercise", "direct", "indirect"),
        [
            ("tibialis raise", "", ""),
            ("external rotation", "", ""),
            ("back squat", "quads glutes adductors", "spinal_erectors"),
            ("front squat", "quads glutes adductors", "spinal_erectors upper_back"),
            ("hack squat", "quads", "glutes adductors"),
            ("split jerk", "quads", "glutes front_delts side_delts triceps"),
            ("power clean", "glutes quads traps", "hamstrings spinal_erectors upper_back"),
            (
                "snatch",
                "quads glutes traps",
                "adductors hamstrings spinal_erectors upper_back side_delts front_delts",
            ),
            ("close-grip push-up", "chest triceps", "front_delts"),
            ("floor press", "chest triceps", "front_delts"),
            ("board press", "chest triceps", "front_delts"),
            ("bird dog", "", "spinal_erectors glutes"),
            ("superman", "spinal_erectors", "glutes hamstrings"),
            ("back extension", "spinal_erectors", "glutes hamstrings"),
            ("45-degree back extension", "spinal_erectors glutes hamstrings", ""),
            ("straight-arm pulldown", "lats", "triceps"),
            ("upright row", "side_delts traps", "front_delts biceps"),
        ],
    )
    def test_roles_are_those_that_the_readme_of_the_seeds_gives_reasons_for(
        self, catalogue: Catalogue, exercise: str, direct: str, indirect: str
    ) -> None:
        found = catalogue.exercises[exercise]
        assert set(found.direct) == set(direct.split())
        assert set(found.indirect) == set(indirect.split())

    def test_what_is_trained_one_side_after_the_other_is_loaded_per_hand(
        self, catalogue: Catalogue
    ) -> None:
        assert {
            catalogue.exercises[exercise].load_basis
            for exercise in (
                *("single-leg leg press", "single-leg leg extension", "single-leg curl"),
                *("standing leg curl", "cable hip abduction", "cable hip adduction"),
                *("single-arm lat pulldown", "machine glute kickback", "meadows row", "side bend"),
            )
        } == {"per_hand"}

    @pytest.mark.parametrize("bar", ["seal row", "spider curl", "wrist curl", "reverse wrist curl"])
    def test_dumbbells_in_place_of_a_bar_make_a_lift_of_their_own(
        self, catalogue: Catalogue, bar: str
    ) -> None:
        found = catalogue.resolve(f"{bar} (DB)").exercise
        assert found == f"dumbbell {bar}"
        assert catalogue.exercises[found].load_basis == "per_hand"
        assert catalogue.exercises[found].direct == catalogue.exercises[bar].direct


class TestSpellings:
    """tests/data/spellings.csv was labelled by hand before anything was measured.

    Rules were mended on the part "tune" only. "held_out", 143 names labelled and measured last, was
    looked at once: precision 112 of 112, recall 112 of 114. An earlier held-out part of 320, now in
    "tune", gave 286 of 287 and 286 of 291.

    "fresh", 237 names with tails, labels in front and 74 traps, was labelled before tails and
    labels were known: precision 39 of 50, recall 39 of 163; afterwards 163 of 165 and 163 of 163.
    "last", 154 names, was written when that was done and looked at once: precision 99 of 100,
    recall 99 of 105. Labels mended since, as the trade does not leave them open: "Hyper", "Raise
    the back", "Rudern mit KH", and in the older parts "DB press", "dumbbell press", "French press",
    "B-stance RDL", "45 degree back extensions".
    """

    LABELS = rows(SPELLINGS)

    def test_the_list_covers_languages_shorthand_slips_and_traps(
        self, catalogue: Catalogue
    ) -> None:
        kinds = Counter(row["kind"] for row in self.LABELS)
        assert len(self.LABELS) >= 320
        assert kinds["trap"] >= 60
        assert set(kinds) == {
            *("english", "german", "french", "spanish", "portuguese", "italian", "dutch"),
            *("abbreviation", "brackets", "typo", "tail", "label", "trap"),
        }
        assert {row["exercise"] for row in self.LABELS} - {""} <= catalogue.exercises.keys()

    @pytest.mark.parametrize("part", ["tune", "held_out", "fresh", "last"])
    def test_hardly_any_answer_is_wrong_and_few_are_missing(
        self, catalogue: Catalogue, part: str
    ) -> None:
        labels = [row for row in self.LABELS if row["part"] == part]
        answers = [(row["exercise"], catalogue.resolve(row["raw"])) for row in labels]
        given = [(label, answer) for label, answer in answers if answer.how != "unknown"]
        right = sum(label == answer.exercise for label, answer in given)
        assert right / len(given) >= 0.99
        assert right / sum(label != "" for label, _ in answers) >= 0.97

    def test_no_trap_is_walked_into(self, catalogue: Catalogue) -> None:
        wrong = []
        for row in self.LABELS:
            answer = catalogue.resolve(row["raw"])
            if row["kind"] == "trap" and answer.how != "unknown":
                wrong += [row["raw"]] if answer.exercise != row["exercise"] else []
        assert wrong == []

    @pytest.mark.parametrize("raw", ["press", "row", "curl", "raise", "cable press", "kickback"])
    def test_a_bare_word_of_many_lifts_stays_unknown(self, catalogue: Catalogue, raw: str) -> None:
        answer = catalogue.resolve(raw)
        assert (answer.how, answer.exercise, answer.score) == ("unknown", raw.lower(), None)

    def test_how_says_which_way_a_name_was_found(self, catalogue: Catalogue) -> None:
        ways = {
            "Front  Squat": "catalogue",
            "Barbell bench-press": "catalogue",
            "Bench Press (Barbell)": "rule",
            "Romanain deadlift": "near",
            "Treadmill": "unknown",
        }
        assert {raw: catalogue.resolve(raw).how for raw in ways} == ways
        assert [catalogue.resolve(raw).score is not None for raw in ways] == [
            way == "near" for way in ways.values()
        ]

    def test_an_unknown_name_is_kept_in_lower_case_with_single_spaces(
        self, catalogue: Catalogue
    ) -> None:
        assert catalogue.resolve("  Sled   DRAG ").exercise == "sled drag"
        assert catalogue.resolve("").how == "unknown"

    def test_two_lifts_in_one_name_are_never_taken_for_one(self, catalogue: Catalogue) -> None:
        assert catalogue.resolve("Bench press / incline press").how == "unknown"
        assert catalogue.resolve("Bench and incline press").how == "unknown"
        assert catalogue.resolve("Bench press / Bankdrücken").exercise == "bench press"

    def test_a_belt_worn_is_no_belt_squat(self, catalogue: Catalogue) -> None:
        meant = {
            "Squat with belt": "back squat",
            "Squat no belt": "back squat",
            "Belt squat": "belt squat",
            "Belt squat with belt": "belt squat",
            "Squat (belt)": "squat (belt)",
        }
        assert {raw: catalogue.resolve(raw).exercise for raw in meant} == meant

    def test_bands_beside_a_barbell_are_left_out_and_nowhere_else(
        self, catalogue: Catalogue
    ) -> None:
        meant = {
            "Bench press with bands": "bench press",
            "Lateral raise with bands": "band lateral raise",
            "Pull-up with bands": "pull-up with bands",
            "Chest press with bands": "chest press with bands",
        }
        assert {raw: catalogue.resolve(raw).exercise for raw in meant} == meant

    @pytest.mark.parametrize(
        "label", ["A1 ", "B2) ", "C. ", "(D1) ", "3a: ", "#4 ", "E2 - ", "🔥 "]
    )
    def test_a_place_in_the_session_is_left_out(self, catalogue: Catalogue, label: str) -> None:
        assert catalogue.resolve(f"{label}Hip thrust").exercise == "hip thrust"
        assert catalogue.resolve(f"{label}45 hyper").exercise == "45-degree back extension"

    def test_degrees_are_left_out_only_beside_incline_or_decline(
        self, catalogue: Catalogue
    ) -> None:
        assert catalogue.resolve("Incline bench press 30°").exercise == "incline barbell press"
        assert catalogue.resolve("Bench press 30°").how == "unknown"

    def test_every_spelling_of_the_catalogue_leads_to_its_exercise_by_rule_too(
        self, catalogue: Catalogue
    ) -> None:
        lost = [
            (name, row["exercise"])
            for row in rows(SEEDS / "exercises.csv")
            for name in (row["exercise"], *filter(None, row["aliases"].split("|")))
            if catalogue.resolve(f"A1) {name}").exercise != row["exercise"]
        ]
        assert lost == []

    def test_distinct_names_come_back_once_in_order(self, catalogue: Catalogue) -> None:
        found = catalogue.resolve_all(["RDL", "Squat", "RDL"])
        assert [answer.exercise_raw for answer in found] == ["RDL", "Squat"]

    def test_two_thousand_names_are_resolved_in_well_under_a_second(
        self, catalogue: Catalogue
    ) -> None:
        names = [f"{row['raw']}{tail}" for row in self.LABELS for tail in ("", " x", " (b)", "s")]
        assert len(set(names)) > 2000
        start = time.process_time()  # not the clock: other work on the machine is not ours
        catalogue.resolve_all(names)
        assert time.process_time() - start < 1.0


class TestNearest:
    @pytest.mark.parametrize(
        ("raw", "first"),
        [
            ("Romainan Deadlfit", "romanian deadlift"),
            ("Bench Pres Barbel", "bench press"),
            ("incline dumbel pres", "incline dumbbell press"),
        ],
    )
    def test_several_slips_lead_to_the_nearest_known(
        self, catalogue: Catalogue, raw: str, first: str
    ) -> None:
        assert catalogue.resolve(raw).how == "unknown"
        assert catalogue.nearest(raw, n=1)[0][0] == first

    def test_scores_fall_and_lie_between_0_and_100(self, catalogue: Catalogue) -> None:
        found = catalogue.nearest("paused front squat", n=5)
        scores = [score for _, score in found]
        assert len(found) == 5
        assert scores == sorted(scores, reverse=True)
        assert all(0 <= score <= 100 for score in scores)
        assert {"front squat", "pause squat"} <= {name for name, _ in found}
